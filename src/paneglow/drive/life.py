"""How long a cell keeps every window at its goal: the charge is followed, hour by hour, to the first that drops."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.drive.load import LoadCurve, build_load_curve, window_luminance_cd_m2
from paneglow.drive.records import (
    Circuit,
    DailyUse,
    LifeAnswer,
    LifeEnd,
    LifePoint,
    LifeStage,
    RailSupply,
    WindowLight,
)
from paneglow.drive.solve import solve_point
from paneglow.physics import CellCurve, CellState, drain_cell

FloatArray = npt.NDArray[np.float64]

LIFE_MOST_H = 87_660.0  # ten years, beyond which shelf and corrosion decide; our choice
DEPTH_STEP = 1 / 400  # the near well sinks by no more than this in one step
DAY_H = 24.0
BISECTIONS = 50
DARK_CD_M2 = 1e-12  # stands for no light on a logarithmic scale
SHOWN_TIMES = 200  # points of the run that are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moment:
    """The run at the end of one step."""

    calendar_h: float
    lit_h: float
    drawn_mah: float
    state: CellState


def build_life(circuit: Circuit, *, light: WindowLight, use: DailyUse | None = None) -> LifeAnswer:
    """Follow a supply until a window drops below its goal.

    Parameters
    ----------
    circuit : Circuit
    light : WindowLight
        Light of each LED in each window, and the goals.
    use : DailyUse, optional
        Hours a day; day and night where absent.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it stands.
    RangeError
        If the light does not fit the LEDs, or the hours are not 0 to 24.

    Notes
    -----
    What the board draws is solved at some fifty depths of the cell. Between them the current is taken as straight; each
    step drains both wells of the cell exactly at the current of its middle. The light is what it is while lit; a cell
    that recovers overnight shows its goal again for a while, the answer is the first time a window is below it.
    """
    daily = use or DailyUse()
    check_between("hours_per_day", daily.hours_per_day, lower=0.01, upper=DAY_H)
    if isinstance(circuit.supply, RailSupply):
        return _steady_answer(circuit, light=light)
    load = build_load_curve(circuit, supply=circuit.supply, light=light)
    stop = min(load.stop_depth_frac, 1.0)
    targets = np.minimum(load.window_depth_frac, stop)
    last = float(np.max(targets, initial=0.0, where=light.goal_cd_m2 > 0.0)) if np.any(light.goal_cd_m2 > 0.0) else stop
    run = list(_run(circuit.supply.curve, load=load, daily=daily, last_depth=last, marks=(*targets, stop)))
    return _answer(circuit, light=light, load=load, run=run, stop=stop)


def _answer(circuit: Circuit, *, light: WindowLight, load: LoadCurve, run: list[_Moment], stop: float) -> LifeAnswer:
    near = np.maximum.accumulate([moment.state.near_frac for moment in run])
    lit_h = np.array([moment.lit_h for moment in run])
    calendar_h = np.array([moment.calendar_h for moment in run])
    asked = light.goal_cd_m2 > 0.0
    window_h = np.array(
        [
            _first_h(min(depth, stop), near=near, hours=lit_h) if goal else math.inf
            for depth, goal in zip(load.window_depth_frac, asked, strict=True)
        ]
    )
    depths = np.where(asked, load.window_depth_frac, math.inf)
    first = int(np.argmin(depths)) if np.any(asked) else None
    dropped = first is not None and depths[first] <= stop
    end_depth = float(depths[first]) if first is not None and dropped else stop
    end_h = _first_h(end_depth, near=near, hours=lit_h)
    end = _end(end_depth, end_h=end_h, dropped=dropped, stop=stop)
    kept = np.unique(np.linspace(0, len(run) - 1, SHOWN_TIMES).astype(int))
    shown = np.array([run[number].state.near_frac for number in kept])
    return LifeAnswer(
        end=end,
        limiting_window=light.names[first] if first is not None and dropped and end != "not reached" else None,
        lit_h=end_h,
        calendar_h=_first_h(end_depth, near=near, hours=calendar_h),
        window_lit_h=window_h,
        stages=_stages(circuit, light=light, end=end, near=near, lit_h=lit_h, end_depth=end_depth, end_h=end_h),
        time_h=calendar_h[kept],
        drawn_mah=np.array([run[number].drawn_mah for number in kept]),
        supply_v=np.interp(shown, load.depth_frac, load.terminal_v),
        luminance_cd_m2=_shown_light(load, depths=shown),
    )


def _shown_light(load: LoadCurve, *, depths: FloatArray) -> FloatArray:
    """Luminance at depths, shape (depth, window); straight in its logarithm, as light that falls by decades is."""
    logs = np.log(np.maximum(load.luminance_cd_m2, DARK_CD_M2))
    shown = [np.exp(np.interp(depths, load.depth_frac, column)) for column in logs.T]
    return np.array(shown).T.reshape(len(depths), -1)


def _end(end_depth: float, *, end_h: float, dropped: bool, stop: float) -> LifeEnd:
    if end_depth <= 0.0:
        return "never met"
    if not math.isfinite(end_h):
        return "not reached"
    if dropped:
        return "window below goal"
    return "supply cut off" if stop < 1.0 else "supply empty"


def _stages(
    circuit: Circuit,
    *,
    light: WindowLight,
    end: LifeEnd,
    near: FloatArray,
    lit_h: FloatArray,
    end_depth: float,
    end_h: float,
) -> tuple[LifePoint, ...]:
    places: list[tuple[LifeStage, float, float]] = [("fresh", 0.0, 0.0)]
    if end not in ("never met", "not reached"):
        half_depth = float(np.interp(0.5 * end_h, lit_h, near))
        places += [("half", 0.5 * end_h, half_depth), ("end", end_h, end_depth)]
    return tuple(
        _life_point(circuit, light=light, stage=stage, lit_h=hours, depth=depth) for stage, hours, depth in places
    )


def _life_point(circuit: Circuit, *, light: WindowLight, stage: LifeStage, lit_h: float, depth: float) -> LifePoint:
    point = solve_point(circuit, depth_frac=min(depth, 1.0))
    luminance = window_luminance_cd_m2(circuit, light=light, point=point)
    return LifePoint(stage=stage, lit_h=lit_h, point=point, luminance_cd_m2=luminance)


def _steady_answer(circuit: Circuit, *, light: WindowLight) -> LifeAnswer:
    fresh = _life_point(circuit, light=light, stage="fresh", lit_h=0.0, depth=0.0)
    missed = fresh.luminance_cd_m2 < light.goal_cd_m2
    hours = np.where(missed, 0.0, math.inf)
    worst = int(np.argmin(hours)) if np.any(missed) else None
    return LifeAnswer(
        end="not reached" if worst is None else "never met",
        limiting_window=None if worst is None else light.names[worst],
        lit_h=float(np.min(hours, initial=math.inf)),
        calendar_h=float(np.min(hours, initial=math.inf)),
        window_lit_h=hours,
        stages=(fresh,),
        time_h=np.zeros(1),
        drawn_mah=np.zeros(1),
        supply_v=np.array([fresh.point.supply_v.min()]),
        luminance_cd_m2=fresh.luminance_cd_m2[np.newaxis],
    )


def _first_h(depth: float, *, near: FloatArray, hours: FloatArray) -> float:
    """Hours at which the near well first reached a depth; infinite where it did not."""
    if depth <= 0.0:
        return 0.0
    reached = np.flatnonzero(near >= depth - 1e-12)
    return float(hours[reached[0]]) if reached.size else math.inf


def _run(
    curve: CellCurve, *, load: LoadCurve, daily: DailyUse, last_depth: float, marks: tuple[float, ...]
) -> Iterator[_Moment]:
    """Moments of the run: every step, and each first arrival at a marked depth."""
    depths, currents = load.depth_frac, load.mean_ma
    moment = _Moment(calendar_h=0.0, lit_h=0.0, drawn_mah=0.0, state=CellState())
    waiting = sorted({mark for mark in marks if 0.0 < mark <= last_depth})
    yield moment
    while waiting and moment.calendar_h < LIFE_MOST_H:
        lit_until_h = moment.calendar_h + (daily.hours_per_day if daily.hours_per_day < DAY_H else LIFE_MOST_H)
        while waiting and moment.calendar_h < lit_until_h - 1e-9:
            now_ma = float(np.interp(moment.state.near_frac, depths, currents))
            hours = min(lit_until_h - moment.calendar_h, _step_h(curve, current_ma=now_ma))
            halfway = drain_cell(curve, moment.state, current_ma=now_ma, hours=0.5 * hours)
            middle_ma = float(np.interp(halfway.near_frac, depths, currents))
            hours, arrived = _until(curve, moment.state, current_ma=middle_ma, hours=hours, depth=waiting[0])
            if arrived:
                del waiting[0]
            moment = _after(curve, moment, current_ma=middle_ma, hours=hours, lit=True)
            yield moment
        if waiting and daily.hours_per_day < DAY_H:
            rest_h = DAY_H - daily.hours_per_day
            moment = _after(curve, moment, current_ma=daily.idle_ma, hours=rest_h, lit=False)
            yield moment


def _step_h(curve: CellCurve, *, current_ma: float) -> float:
    sinking_per_h = (current_ma / curve.capacity_mah + curve.self_discharge_per_h) / curve.near_frac
    return DEPTH_STEP / sinking_per_h if sinking_per_h > 0.0 else LIFE_MOST_H


def _until(curve: CellCurve, state: CellState, *, current_ma: float, hours: float, depth: float) -> tuple[float, bool]:
    """Hours of a step until the near well reaches a depth, all of them where it does not; and whether it does."""

    def near(after_h: float) -> float:
        return drain_cell(curve, state, current_ma=current_ma, hours=after_h).near_frac

    if near(hours) < depth:
        return hours, False
    low, high = 0.0, hours
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if near(middle) >= depth else (middle, high)
    return high, True


def _after(curve: CellCurve, moment: _Moment, *, current_ma: float, hours: float, lit: bool) -> _Moment:
    return _Moment(
        calendar_h=moment.calendar_h + hours,
        lit_h=moment.lit_h + (hours if lit else 0.0),
        drawn_mah=moment.drawn_mah + current_ma * hours,
        state=drain_cell(curve, moment.state, current_ma=current_ma, hours=hours),
    )
