"""The life of a supply as it is reported: hours of light and evenings, windows apart, over the ranges left open."""

import math
from collections.abc import Mapping

import numpy as np
from pydantic import Field

from paneglow.drive.circuit import Circuit, solve_point
from paneglow.drive.life.run import DailyUse, FloatArray, LifeEnd, StageName, WindowLight, follow_supply
from paneglow.units import NonNegativeFloat, PositiveFloat, Record

HALF_LIGHT_FRAC = 0.5  # what a window without a goal is followed to: one stop below fresh; our choice


class LifeStage(Record):
    """The board at one stage of the supply's life."""

    stage: StageName  # Fresh, half of the life, or its end
    lit_h: NonNegativeFloat = Field(description="Hours of light so far [h].")
    supply_v: NonNegativeFloat = Field(description="Terminal voltage while lit, least within the cycle [V].")
    led_ma: tuple[NonNegativeFloat, ...] = Field(description="Mean current of every LED, in the order of `leds` [mA].")


class WindowLife(Record):
    """One window as the supply runs down."""

    name: str  # Name of the window
    fresh_cd_m2: NonNegativeFloat = Field(description="On a fresh supply, by wired LEDs [cd/m2].")
    goal_cd_m2: NonNegativeFloat = Field(description="Least mean luminance that wired LEDs must give [cd/m2].")
    goal_stated: bool = Field(description="Whether it is the design's; else half of the fresh luminance.")
    met_when_fresh: bool = Field(description="Whether a fresh supply meets it; the life counts only windows that do.")
    lit_h: NonNegativeFloat | None = Field(
        description="Hours of light until it drops below; null: it does not, 0: it never met it [h]."
    )
    luminance_cd_m2: tuple[NonNegativeFloat, ...] = Field(description="At the times of the run [cd/m2].")


class SupplyLife(Record):
    """How long the supply keeps windows at their goals; the run beside it, in calendar hours."""

    end: LifeEnd  # What ends it
    limiting_window: str | None = Field(description="First window to drop below its goal.")
    lit_h: NonNegativeFloat | None = Field(description="Hours of light until then; null: it does not end [h].")
    evenings: NonNegativeFloat | None = Field(description="The same over `hours_per_day`; null: it does not end [1].")
    calendar_h: NonNegativeFloat | None = Field(description="Hours since it was first switched on until then [h].")
    shortest_h: NonNegativeFloat | None = Field(description="Hours of light in the worst case; null: no end [h].")
    shortest_case: str  # Which ends of the ranges give the shortest life
    longest_h: NonNegativeFloat | None = Field(description="Hours of light in the best case; null: no end [h].")
    longest_case: str  # Which ends of the ranges give the longest life
    hours_per_day: PositiveFloat  # Lit time each day
    stages: tuple[LifeStage, ...]  # The board when fresh, at half of the life and at its end
    time_h: tuple[NonNegativeFloat, ...] = Field(description="Hours since it was first switched on [h].")
    supply_v: tuple[NonNegativeFloat, ...] = Field(description="Terminal voltage while lit [V].")
    windows: tuple[WindowLife, ...]  # The windows


def build_supply_life(
    circuit: Circuit,
    *,
    names: tuple[str, ...],
    luminance_cd_m2: FloatArray,
    beside_cd_m2: FloatArray,
    asked_cd_m2: float | None,
    cases: Mapping[str, Circuit],
    use: DailyUse,
) -> SupplyLife:
    """Follow a supply at the nominal values and in every case, until the first window drops below its goal.

    Parameters
    ----------
    circuit : Circuit
        With nominal values.
    names : tuple of str
        Windows that its LEDs light.
    luminance_cd_m2 : ndarray, shape (window, led)
        From each LED at its test current [cd/m2]; in relation only where no goal is asked.
    beside_cd_m2 : ndarray, shape (window,)
        From light that no circuit drives [cd/m2].
    asked_cd_m2 : float or None
        Least mean luminance that the design asks of every window [cd/m2]; None where it asks none.
    cases : mapping
        The circuit at the ends of its ranges, by words for each.
    use : DailyUse

    Raises
    ------
    DesignError
        If a circuit cannot be wired as it stands.
    RangeError
        If the light does not fit the LEDs, or the hours are not 0 to 24.

    Notes
    -----
    A window that misses the stated goal when fresh is a missed goal, not the end of a life: it is named and left out.
    Where no window meets it, or none is stated, every window is followed to half of its fresh luminance.
    """
    unasked = WindowLight(names=names, luminance_cd_m2=luminance_cd_m2, goal_cd_m2=np.zeros(len(names)))
    fresh = unasked.at(solve_point(circuit))
    stated = np.maximum((asked_cd_m2 or 0.0) - np.maximum(beside_cd_m2, 0.0), 0.0)
    met = fresh >= stated
    by_goal = asked_cd_m2 is not None and bool(met.any())
    goals = stated if by_goal else HALF_LIGHT_FRAC * fresh
    light = WindowLight(
        names=names, luminance_cd_m2=luminance_cd_m2, goal_cd_m2=np.where(met, goals, 0.0) if by_goal else goals
    )
    nominal = follow_supply(circuit, light=light, use=use)
    hours = {"nominal": nominal.lit_h}
    hours |= {words: follow_supply(other, light=light, use=use).lit_h for words, other in cases.items()}
    shortest, longest = min(hours, key=hours.__getitem__), max(hours, key=hours.__getitem__)
    lasts_h = np.where(met, nominal.window_lit_h, 0.0) if by_goal else nominal.window_lit_h
    return SupplyLife(
        end=nominal.end,
        limiting_window=nominal.limiting_window,
        lit_h=_hours(nominal.lit_h),
        evenings=_hours(nominal.lit_h / use.hours_per_day),
        calendar_h=_hours(nominal.calendar_h),
        shortest_h=_hours(hours[shortest]),
        shortest_case=shortest,
        longest_h=_hours(hours[longest]),
        longest_case=longest,
        hours_per_day=use.hours_per_day,
        stages=tuple(
            LifeStage(
                stage=stage.stage,
                lit_h=stage.lit_h,
                supply_v=float(stage.point.supply_v.min()),
                led_ma=tuple(stage.point.mean_current_ma.tolist()),
            )
            for stage in nominal.stages
        ),
        time_h=tuple(nominal.time_h.tolist()),
        supply_v=tuple(nominal.supply_v.tolist()),
        windows=tuple(
            WindowLife(
                name=name,
                fresh_cd_m2=float(fresh[number]),
                goal_cd_m2=float(goals[number]),
                goal_stated=by_goal,
                met_when_fresh=bool(met[number]),
                lit_h=_hours(float(lasts_h[number])),
                luminance_cd_m2=tuple(nominal.luminance_cd_m2[:, number].tolist()),
            )
            for number, name in enumerate(names)
        ),
    )


def _hours(value: float) -> float | None:
    """JSON has no infinity: hours that do not end are null."""
    return value if math.isfinite(value) else None
