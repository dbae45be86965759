"""Light of every window over the life of a cell as a line drawing, its labels kept apart."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from paneglow.report.numbers import to_digits

WIDTH, HEIGHT = 720.0, 300.0  # of the drawing, in its own units
LEFT, RIGHT, TOP, BOTTOM = 54.0, 150.0, 22.0, 42.0  # margins for tick and line labels
LABEL_STEP = 14.0  # least distance of two line labels
DECADES_MOST = 4.0  # below a ten-thousandth of the brightest nothing is drawn
TICKS = 6  # about so many along the time
DAYS_FROM_H = 96.0  # longer lives are told in days
NICE = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeLine:
    """What one window shows over time, and the least that it is asked to show (0 for nothing)."""

    name: str
    luminance_cd_m2: Sequence[float]
    goal_cd_m2: float
    swatch_hex: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """One line, its label at the right end, and the thin leader between them."""

    name: str
    path: str
    swatch_hex: str
    limiting: bool
    end_y: float
    label_y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A tick and its words; `at` is x of a time or y of a luminance."""

    at: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeChart:
    """Everything the template draws; y downward."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    lines: tuple[DrawnLine, ...]
    goals: tuple[float, ...]
    times: tuple[Tick, ...]
    levels: tuple[Tick, ...]
    time_unit: str
    end_x: float | None


def build_life_chart(
    time_h: Sequence[float], *, lines: Sequence[LifeLine], limiting: str | None, end_h: float | None
) -> LifeChart | None:
    """Lay out the drawing.

    Parameters
    ----------
    time_h : sequence of float
        Rising times of the points of every line [h], at least two.
    lines : sequence of LifeLine
    limiting : str or None
        Name of the window that ends the life.
    end_h : float or None
        When it ends, on the same axis as `time_h` [h].

    Returns
    -------
    LifeChart or None
        None where there is nothing to draw: no time passes, or no window is lit.
    """
    shown = [line for line in lines if max(line.luminance_cd_m2, default=0.0) > 0.0]
    if len(time_h) < 2 or time_h[-1] <= time_h[0] or not shown:
        return None
    highest = max(max(line.luminance_cd_m2) for line in shown)
    lowest = min(value for line in shown for value in (*line.luminance_cd_m2, line.goal_cd_m2) if value > 0.0)
    top_log = math.log10(highest) + 0.05
    bottom_log = max(math.log10(lowest) - 0.05, top_log - DECADES_MOST)
    last_h = time_h[-1]

    def x_of(hours: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * hours / last_h

    def y_of(luminance: float) -> float:
        share = (top_log - math.log10(max(luminance, 10.0**bottom_log))) / (top_log - bottom_log)
        return TOP + (HEIGHT - TOP - BOTTOM) * min(max(share, 0.0), 1.0)

    ends = [y_of(line.luminance_cd_m2[-1]) for line in shown]
    unit, unit_h = ("days", 24.0) if last_h > DAYS_FROM_H else ("hours", 1.0)
    return LifeChart(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=HEIGHT - BOTTOM,
        lines=tuple(
            DrawnLine(
                name=line.name,
                path=_path([(x_of(h), y_of(value)) for h, value in zip(time_h, line.luminance_cd_m2, strict=True)]),
                swatch_hex=line.swatch_hex,
                limiting=line.name == limiting,
                end_y=end,
                label_y=label,
            )
            for line, end, label in zip(shown, ends, _spread(ends), strict=True)
        ),
        goals=tuple(sorted({round(y_of(line.goal_cd_m2), 6) for line in shown if line.goal_cd_m2 > 0.0})),
        times=tuple(Tick(at=x_of(unit_h * value), words=f"{value:g}") for value in _round_steps(last_h / unit_h)),
        levels=tuple(
            Tick(at=y_of(value), words=to_digits(value, digits=1)) for value in _levels(bottom_log, top_log=top_log)
        ),
        time_unit=unit,
        end_x=None if end_h is None or not 0.0 < end_h <= last_h else x_of(end_h),
    )


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _spread(places: Sequence[float]) -> list[float]:
    """Places moved apart to at least one label height, in the same order, and kept on the drawing."""
    order = sorted(range(len(places)), key=lambda number: places[number])
    spread = list(places)
    for before, after in zip(order, order[1:], strict=False):
        spread[after] = max(spread[after], spread[before] + LABEL_STEP)
    over = max((spread[number] for number in order[-1:]), default=0.0) - (HEIGHT - BOTTOM)
    if over > 0.0:
        spread[order[-1]] -= over
        for after, before in zip(order[::-1], order[-2::-1], strict=False):
            spread[before] = min(spread[before], spread[after] - LABEL_STEP)
    return spread


def _round_steps(last: float) -> list[float]:
    """Round numbers from 0 to at most the last, about `TICKS` of them."""
    rough = last / TICKS
    decade = 10.0 ** math.floor(math.log10(rough))
    step = decade * next(nice for nice in NICE if nice * decade >= rough * (1.0 - 1e-9))
    return [step * number for number in range(int(last / step + 1e-9) + 1)]


def _levels(bottom_log: float, *, top_log: float) -> list[float]:
    """Round luminances: decades, with 2 and 5 between them where the axis is short."""
    mantissas = (1.0,) if top_log - bottom_log > 2.0 else (1.0, 2.0, 5.0)
    decades = range(math.floor(bottom_log), math.ceil(top_log) + 1)
    values = (mantissa * 10.0**decade for decade in decades for mantissa in mantissas)
    return [value for value in values if bottom_log <= math.log10(value) <= top_log]
