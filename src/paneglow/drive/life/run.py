"""How long a supply keeps every window at its goal: the charge is followed, hour by hour, to the first that drops."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between, check_shape
from paneglow.drive.circuit import CellSupply, Circuit, OperatingPoint, solve_points
from paneglow.physics import CellCurve, CellState, drain_cell

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
LifeEnd = Literal["window below goal", "supply cut off", "supply empty", "not reached", "never met"]
StageName = Literal["fresh", "half", "end"]

LIFE_MOST_H = 87_660.0  # ten years, beyond which shelf and corrosion decide; our choice
DEPTH_STEP = 1 / 400  # the near well sinks by no more than this in one step
DAY_H = 24.0
BISECTIONS = 50
DARK_CD_M2 = 1e-12  # stands for no light on a logarithmic scale
SHOWN_TIMES = 121  # points of the run that are kept; days of rest still show as steps
PARTS_PER_ENTRY = 6  # solved depths between two entries of the cell's table; between them all is taken as straight
DEPTH_TOLERANCE = 1e-6  # of the depth at which a goal is just met; a thousandth of a per mille of the charge
NARROWINGS = 40
BEYOND_EMPTY = 2.0  # stands for "not down to empty"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowLight:
    """What windows get from LEDs, as traced, and the least that each must show.

    Attributes
    ----------
    names : tuple of str
        Windows.
    luminance_cd_m2 : ndarray, shape (window, led)
        From each LED at the test current of its part, LEDs in the order of `circuit.leds`.
    goal_cd_m2 : ndarray, shape (window,)
        Least mean luminance; 0 where the window is not followed.
    """

    names: tuple[str, ...]
    luminance_cd_m2: FloatArray
    goal_cd_m2: FloatArray

    def at(self, point: OperatingPoint) -> FloatArray:
        """Mean luminance of every window at an operating point [cd/m2], shape (window,)."""
        return np.asarray(self.luminance_cd_m2 @ point.light_frac)


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyUse:
    """How long the piece shines each day; the rest of the day only `idle_ma` flows."""

    hours_per_day: float = 24.0
    idle_ma: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LifePoint:
    """The board at one stage of the supply's life."""

    stage: StageName
    lit_h: float  # hours of light so far
    point: OperatingPoint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupplyRun:
    """A supply followed until the first window drops below its goal, or nothing is left.

    Attributes
    ----------
    end : LifeEnd
        What ended it: "not reached" is a supply that does not run down, or light beyond the longest time looked at;
        "never met" is a goal missed already when fresh.
    limiting_window : str or None
        The first window to drop below its goal.
    lit_h, calendar_h : float
        Hours of light, and hours since it was first switched on, until then; infinite where not reached.
    window_lit_h : ndarray, shape (window,)
        Hours of light until each window drops below its goal; infinite for one without a goal or that outlasts all.
    stages : tuple of LifePoint
        Fresh, at half of `lit_h`, and at the end; only fresh where the supply does not run down.
    time_h, drawn_mah, supply_v : ndarray, shape (time,)
        The run: calendar hours, charge drawn by load, terminal voltage while lit (least within the cycle).
    luminance_cd_m2 : ndarray, shape (time, window)
        While lit.
    """

    end: LifeEnd
    limiting_window: str | None
    lit_h: float
    calendar_h: float
    window_lit_h: FloatArray
    stages: tuple[LifePoint, ...]
    time_h: FloatArray
    drawn_mah: FloatArray
    supply_v: FloatArray
    luminance_cd_m2: FloatArray


def follow_supply(circuit: Circuit, *, light: WindowLight, use: DailyUse | None = None) -> SupplyRun:
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
    check_shape("luminance_cd_m2", light.luminance_cd_m2, shape=(len(light.names), len(circuit.leds)))
    check_shape("goal_cd_m2", light.goal_cd_m2, shape=(len(light.names),))
    if not isinstance(circuit.supply, CellSupply):
        return _steady_run(circuit, light=light)
    load = _load_curve(circuit, supply=circuit.supply, light=light)
    asked, stop = light.goal_cd_m2 > 0.0, min(load.stop_depth_frac, 1.0)
    targets = np.where(asked, np.minimum(load.window_depth_frac, stop), stop)
    marks = targets[asked].tolist() or [stop]
    moments = list(_moments(circuit.supply.curve, load=load, daily=daily, marks=marks))
    columns = ([moment.state.near_frac, moment.lit_h, moment.calendar_h, moment.drawn_mah] for moment in moments)
    near, lit_h, calendar_h, drawn_mah = np.array(list(columns)).T
    first = int(np.argmin(np.where(asked, load.window_depth_frac, math.inf))) if asked.any() else None
    dropped = first is not None and load.window_depth_frac[first] <= stop
    end_depth = float(load.window_depth_frac[first]) if first is not None and dropped else stop

    def reached_h(depth: float, hours: FloatArray) -> float:
        """Hours at which the near well first reached a depth; infinite where it did not."""
        there = np.flatnonzero(near >= depth - 1e-12)
        return 0.0 if depth <= 0.0 else float(hours[there[0]]) if there.size else math.inf

    end_h = reached_h(end_depth, lit_h)
    end: LifeEnd = "supply cut off" if stop < 1.0 else "supply empty"
    if end_depth <= 0.0:
        end = "never met"
    elif math.isinf(end_h):
        end = "not reached"
    elif dropped:
        end = "window below goal"
    places: list[tuple[StageName, float, float]] = [("fresh", 0.0, 0.0)]
    if end not in ("never met", "not reached"):
        half_depth = float(np.interp(0.5 * end_h, lit_h, np.maximum.accumulate(near)))
        places += [("half", 0.5 * end_h, half_depth), ("end", end_h, min(end_depth, 1.0))]
    points = solve_points(circuit, depths_frac=[depth for _, _, depth in places])
    kept = np.unique(np.linspace(0, len(moments) - 1, SHOWN_TIMES).round().astype(int))
    logs = np.log(np.maximum(load.luminance_cd_m2, DARK_CD_M2))  # straight in it, as light that falls by decades is
    shown = [np.exp(np.interp(near[kept], load.depth_frac, column)) for column in logs.T]
    return SupplyRun(
        end=end,
        limiting_window=light.names[first] if first is not None and dropped and end != "not reached" else None,
        lit_h=end_h,
        calendar_h=reached_h(end_depth, calendar_h),
        window_lit_h=np.array(
            [reached_h(depth, lit_h) if goal else math.inf for depth, goal in zip(targets, asked, strict=True)]
        ),
        stages=tuple(
            LifePoint(stage=stage, lit_h=hours, point=point)
            for (stage, hours, _), point in zip(places, points, strict=True)
        ),
        time_h=calendar_h[kept],
        drawn_mah=drawn_mah[kept],
        supply_v=np.interp(near[kept], load.depth_frac, load.terminal_v),
        luminance_cd_m2=np.array(shown).T.reshape(len(kept), -1),
    )


def _steady_run(circuit: Circuit, *, light: WindowLight) -> SupplyRun:
    (point,) = solve_points(circuit, depths_frac=(0.0,))
    luminance = light.at(point)
    hours = np.where(luminance < light.goal_cd_m2, 0.0, math.inf)
    least_h = float(np.min(hours, initial=math.inf))
    return SupplyRun(
        end="not reached" if least_h > 0.0 else "never met",
        limiting_window=None if least_h > 0.0 else light.names[int(np.argmin(hours))],
        lit_h=least_h,
        calendar_h=least_h,
        window_lit_h=hours,
        stages=(LifePoint(stage="fresh", lit_h=0.0, point=point),),
        time_h=np.zeros(1),
        drawn_mah=np.zeros(1),
        supply_v=np.array([point.supply_v.min()]),
        luminance_cd_m2=luminance[np.newaxis],
    )


# What a board draws and shows at every depth of its cell


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadCurve:
    """A board on its cell, from fresh to empty.

    Attributes
    ----------
    depth_frac : ndarray, shape (depth,)
        Depths of the near well that were solved [1], rising from 0 to 1.
    mean_ma, terminal_v : ndarray, shape (depth,)
        Mean current drawn; least terminal voltage within the cycle.
    luminance_cd_m2 : ndarray, shape (depth, window)
    stop_depth_frac : float
        Depth at which the cell's protection or the chip switches all off [1]; above 1 where neither does.
    window_depth_frac : ndarray, shape (window,)
        Depth at which each window drops below its goal [1]: 0 where it never meets it, above 1 where it never drops.
    """

    depth_frac: FloatArray
    mean_ma: FloatArray
    terminal_v: FloatArray
    luminance_cd_m2: FloatArray
    stop_depth_frac: float
    window_depth_frac: FloatArray


def _load_curve(circuit: Circuit, *, supply: CellSupply, light: WindowLight) -> LoadCurve:
    """Solve a board at depths from fresh to empty, and find where each window's goal and the supply end."""
    entries = supply.curve.depth_frac
    parts = [
        np.linspace(low, high, PARTS_PER_ENTRY, endpoint=False) for low, high in zip(entries, entries[1:], strict=False)
    ]
    depths = np.concatenate([*parts, [1.0]])
    least_v = max(supply.curve.cutoff_v or 0.0, circuit.chip.voltage_least_v if circuit.chip is not None else 0.0)
    least = np.append(light.goal_cd_m2, least_v)

    def values(points: tuple[OperatingPoint, ...]) -> FloatArray:
        """Luminance of the windows and, last, the least terminal voltage, shape (point, window + 1)."""
        return np.array([[*light.at(point), point.supply_v.min()] for point in points])

    points = solve_points(circuit, depths_frac=depths.tolist())
    table = values(points)

    def at(numbers: IntArray, wanted: FloatArray) -> FloatArray:
        solved = solve_points(circuit, depths_frac=wanted.tolist(), near=points[len(points) // 2])
        return values(solved)[np.arange(len(numbers)), numbers]

    ends = last_depths(depths, table, least=least, at=at)
    return LoadCurve(
        depth_frac=depths,
        mean_ma=np.array([point.mean_supply_ma for point in points]),
        terminal_v=table[:, -1],
        luminance_cd_m2=table[:, :-1],
        stop_depth_frac=float(ends[-1]),
        window_depth_frac=ends[:-1],
    )


def last_depths(
    depths: FloatArray, table: FloatArray, *, least: FloatArray, at: Callable[[IntArray, FloatArray], FloatArray]
) -> FloatArray:
    """Depths down to which values are at least what is asked, each found between two that were solved.

    Parameters
    ----------
    depths, table : ndarray, shape (depth,), (depth, value)
        Values that were solved, falling with depth.
    least : ndarray, shape (value,)
        What each must be at least.
    at : callable
        The values of these numbers, each at the depth beside it, solved.

    Returns
    -------
    ndarray, shape (value,)
        0 where it never is enough, `BEYOND_EMPTY` where it always is [1].

    Notes
    -----
    Regula falsi on all at once, the kept end halved where it stays.

    References
    ----------
    M. Dowell, P. Jarratt, "A modified regula falsi method", BIT 11:168 (1971): the Illinois rule.
    """
    below = table < least
    first = np.where(below.any(axis=0), below.argmax(axis=0), len(depths))
    found = np.where(first == 0, 0.0, np.where(first == len(depths), BEYOND_EMPTY, np.nan))
    wanted = np.flatnonzero(np.isnan(found))
    if wanted.size == 0:
        return found
    low, high = depths[first[wanted] - 1], depths[first[wanted]]
    # The ends as they were solved: solved again from another start, they could come out on the same side
    spare_low, spare_high = (table[first[wanted] - past, wanted] - least[wanted] for past in (1, 0))
    side, tried = np.zeros(wanted.size), low
    for _ in range(NARROWINGS):
        before, tried = tried, high - spare_high * (high - low) / (spare_high - spare_low)
        if np.all(np.abs(tried - before) <= DEPTH_TOLERANCE):
            break
        spare = at(wanted, tried) - least[wanted]
        enough = spare >= 0.0
        spare_high = np.where(enough, np.where(side > 0.0, 0.5 * spare_high, spare_high), spare)
        spare_low = np.where(enough, spare, np.where(side < 0.0, 0.5 * spare_low, spare_low))
        low, high, side = np.where(enough, tried, low), np.where(enough, high, tried), np.where(enough, 1.0, -1.0)
    found[wanted] = tried
    return found


# The run of a cell, step by step


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moment:
    """The run at the end of one step."""

    calendar_h: float
    lit_h: float
    drawn_mah: float
    state: CellState


def _moments(curve: CellCurve, *, load: LoadCurve, daily: DailyUse, marks: list[float]) -> Iterator[_Moment]:
    """Moments of the run: every step, and each first arrival at a marked depth, up to the last of them."""
    depths, currents = load.depth_frac, load.mean_ma
    moment = _Moment(calendar_h=0.0, lit_h=0.0, drawn_mah=0.0, state=CellState())
    waiting = sorted({mark for mark in marks if mark > 0.0})
    day_h = daily.hours_per_day if daily.hours_per_day < DAY_H else LIFE_MOST_H

    def after(hours: float, current_ma: float, *, lit: bool) -> _Moment:
        return _Moment(
            calendar_h=moment.calendar_h + hours,
            lit_h=moment.lit_h + (hours if lit else 0.0),
            drawn_mah=moment.drawn_mah + current_ma * hours,
            state=drain_cell(curve, moment.state, current_ma=current_ma, hours=hours),
        )

    yield moment
    while waiting and moment.calendar_h < LIFE_MOST_H:
        lit_until_h = moment.calendar_h + day_h
        while waiting and moment.calendar_h < lit_until_h - 1e-9:
            now_ma = float(np.interp(moment.state.near_frac, depths, currents))
            sinking_per_h = (now_ma / curve.capacity_mah + curve.self_discharge_per_h) / curve.near_frac
            step_h = DEPTH_STEP / sinking_per_h if sinking_per_h > 0.0 else LIFE_MOST_H
            hours = min(lit_until_h - moment.calendar_h, step_h)
            middle = drain_cell(curve, moment.state, current_ma=now_ma, hours=0.5 * hours)
            middle_ma = float(np.interp(middle.near_frac, depths, currents))
            further = after(hours, middle_ma, lit=True)
            if further.state.near_frac >= waiting[0]:
                low, high = 0.0, hours
                for _ in range(BISECTIONS):
                    tried = 0.5 * (low + high)
                    there = drain_cell(curve, moment.state, current_ma=middle_ma, hours=tried).near_frac >= waiting[0]
                    low, high = (low, tried) if there else (tried, high)
                further = after(high, middle_ma, lit=True)
                del waiting[0]
            moment = further
            yield moment
        if waiting and daily.hours_per_day < DAY_H:
            moment = after(DAY_H - daily.hours_per_day, daily.idle_ma, lit=False)
            yield moment
