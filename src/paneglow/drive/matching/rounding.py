"""Matched drive values as they can be bought and set, at the level where they agree best, within every limit."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.circuit import (
    Circuit,
    Load,
    OperatingPoint,
    SettingKind,
    Settings,
    circuit_loads,
    solve_point,
    supply_source,
)
from paneglow.drive.matching.exact import ExactMatch, MatchTask
from paneglow.drive.matching.level import BoolArray, FloatArray
from paneglow.drive.matching.series import MOST_OHM, Series, preferred_ohm, preferred_values
from paneglow.drive.matching.variables import DARK_MA, build_strings

IntArray = npt.NDArray[np.int64]

BRIGHTNESS_STEPS = 256  # an eight-bit PWM, what every small controller has; common practice, no source
SINK_DIGITS = 3  # a sink is set by a resistor or a register, finer than this is not kept
STEPS_EACH_SIDE = 3  # of a sink or a brightness that are looked at
REACH = 1.25  # of an exact resistance, up and down: two preferred values of E24, one of E12
NEAR = 1.12  # the same where LEDs of one window should stay alike: one preferred value of E24
OFF_MOST = 0.12  # how far (in its logarithm) the common level may leave what was found: a step of E24; our choice
LEVEL_WEIGHT = (
    0.1  # a common level 10 % off what was found counts as 1 % of unevenness: about as hard to see; our choice
)
OVERDRAW_WEIGHT = 20.0  # a hundredth above what the supply has counts as 20 % of unevenness: hardly ever taken
COMBINATIONS_MOST = 512  # of the values of one window's strings; of more, those far from the exact values are left out
STARTS = 12  # of the sets that agree best, each then improved value by value
SWEEPS = 6
TURNS = 3  # rounds in which junctions and rail follow what was chosen
RAIL_STEP_V = 0.01  # over which the answer of a string to its rail is taken as straight
RETREATS = 120  # steps back from limits; each is one preferred value of one resistor, or 3 % of a sink
RETREAT_FRAC = 0.97


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoughtMatch:
    """The match as it can be built.

    Attributes
    ----------
    settings : Settings
    circuit, point : Circuit, OperatingPoint
        At the state of the supply that was matched for.
    luminance_cd_m2 : ndarray, shape (window,)
    level_cd_m2 : float
        Common level of the windows held there that these values come nearest to.
    agreement_frac : float
        Greatest departure of such a window from the level times its ratio [1].
    exceeded : tuple of Load
        Limits that are passed whatever the match chose, since other parts of the circuit pass them.
    """

    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    luminance_cd_m2: FloatArray
    level_cd_m2: float
    agreement_frac: float
    exceeded: tuple[Load, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Choice:
    """What one resistor, sink or LED of a scan may be set to, and what each value gives.

    Attributes
    ----------
    nearest : ndarray of int, shape (value,)
        The values from the one nearest to the exact value to the farthest.
    rows : ndarray, shape (value, 2 + 2 window)
        Mean current [mA] and its change with the rail [mS], then luminance of each window [cd/m2], then the change of
        each with the rail [cd/m2 per V]: sums over all choices are those of the board.
    """

    kind: SettingKind
    name: str
    values: tuple[float, ...]
    nearest: IntArray
    rows: FloatArray


def match_bought(task: MatchTask, *, exact: ExactMatch) -> BoughtMatch:
    """Round an exact match to values that can be bought so that windows stay as equal as can be, within every limit.

    Parameters
    ----------
    task : MatchTask
    exact : ExactMatch
        Of that task.

    Raises
    ------
    DesignError
        If the circuit cannot be wired.

    Notes
    -----
    Rounding each value by itself leaves up to 7 % per window (the step from 1.3 to 1.5). The common level is free
    within a step of the series, and every level within it is looked at: of the values that each window can show, the
    closest set with one of each window is found by a sweep over all of them in order. The best sets are improved value
    by value with light of neighbours counted, then the whole circuit is solved; what the rail does is put in, and all
    of it done again until nothing gets better.
    """
    best, settings, point = math.inf, exact.settings, exact.point
    circuit, chosen = exact.circuit, exact.settings
    for _ in range(TURNS):
        settings = _closest_settings(task, exact=exact, circuit=circuit, point=point, settings=settings)
        circuit = task.wire(settings)
        point = solve_point(circuit, depth_frac=task.depth_frac, near=point)
        found = float(_badness(task.luminance_cd_m2(point), point.mean_supply_ma, task=task, exact=exact))
        if found >= best - 1e-9:
            break
        best, chosen = found, settings
    settings = _settings_within_limits(task, settings=chosen, exact=exact)
    circuit = task.wire(settings)
    point = solve_point(circuit, depth_frac=task.depth_frac)
    luminance = task.luminance_cd_m2(point)
    level, agreement = common_level(luminance, ratio=task.ratio, within=exact.matched.held)
    return BoughtMatch(
        settings=settings,
        circuit=circuit,
        point=point,
        luminance_cd_m2=luminance,
        level_cd_m2=level,
        agreement_frac=agreement,
        exceeded=_exceeded_loads(circuit),
    )


def common_level(luminance_cd_m2: FloatArray, *, ratio: FloatArray, within: BoolArray) -> tuple[float, float]:
    """Level that the greatest departure from is least [cd/m2], and that departure [1]: the middle of the extremes.

    Parameters
    ----------
    luminance_cd_m2, ratio : ndarray, shape (window,)
        Luminance [cd/m2], and what is asked of each over the level [1].
    within : ndarray of bool, shape (window,)
        Windows that count.

    Examples
    --------
    >>> level, departure = common_level(np.array([9.0, 11.0]), ratio=np.ones(2), within=np.ones(2, dtype=bool))
    >>> round(level, 6), round(departure, 6)
    (10.0, 0.1)
    """
    if not within.any():
        return 0.0, 0.0
    levels = luminance_cd_m2[within] / ratio[within]
    middle = 0.5 * (float(levels.min()) + float(levels.max()))
    return (middle, float(np.abs(levels / middle - 1.0).max())) if middle > 0.0 else (0.0, 0.0)


def _badness(
    luminance_cd_m2: FloatArray, drawn_ma: FloatArray | float, *, task: MatchTask, exact: ExactMatch
) -> FloatArray:
    """Unevenness of windows (..., window), with a little for another level and much for more than the supply has."""
    within, wanted = exact.matched.held, exact.matched.level_cd_m2
    budget_ma = exact.circuit.supply.continuous_max_ma
    over = np.maximum(np.asarray(drawn_ma) / budget_ma - 1.0, 0.0) * OVERDRAW_WEIGHT
    if not within.any() or wanted <= 0.0:
        return over
    levels = np.maximum(luminance_cd_m2[..., within] / task.ratio[within], DARK_MA * wanted)
    low, high = levels.min(axis=-1), levels.max(axis=-1)
    off = np.abs(np.log(0.5 * (low + high) / wanted))
    return np.asarray((high - low) / (high + low) + LEVEL_WEIGHT * off + np.maximum(off - OFF_MOST, 0.0) + over)


def _values(kind: SettingKind, value: float, *, series: Series, reach: float) -> tuple[float, ...]:
    """What can be bought or set about an exact value; never none."""
    if kind == "resistor":
        return preferred_values(value / reach, value * reach, series=series) or (preferred_ohm(value, series=series),)
    if value <= 0.0:
        return (0.0,)
    digits = SINK_DIGITS - 1 - math.floor(math.log10(value)) if kind == "sink" else 0
    steps = 10.0**digits if kind == "sink" else float(BRIGHTNESS_STEPS)
    middle = math.floor(value * steps + 1e-9)
    numbers = range(max(middle - STEPS_EACH_SIDE, 0), middle + STEPS_EACH_SIDE + 1)
    return tuple(number / steps for number in numbers if kind == "sink" or number <= BRIGHTNESS_STEPS)


def _choices(
    task: MatchTask, *, exact: ExactMatch, circuit: Circuit, point: OperatingPoint, settings: Settings
) -> Iterator[_Choice]:
    """All that can be chosen, and what each value gives while all else stays as it is at an operating point."""
    strings = build_strings(circuit, point=point)
    rails_v = strings.rail_v - np.array([0.0, RAIL_STEP_V])[:, np.newaxis, np.newaxis]
    for variable in exact.variables:
        reach = REACH if len(variable.names) == 1 else NEAR
        for name, numbers in variable.named_strings:
            wanted, now = exact.settings.value(variable.kind, name), settings.value(variable.kind, name)
            values = np.array(_values(variable.kind, wanted, series=task.series, reach=reach))
            own, lit_ma = np.isin(strings.string_of, numbers), np.maximum(strings.on_ma[numbers], DARK_MA)
            # Current over that at the operating point, [rail, value, string]
            if variable.kind == "resistor" and not variable.shared:
                factor = strings.currents_ma(values[:, np.newaxis], rail_v=rails_v)[..., numbers] / lit_ma
            elif variable.kind == "resistor":  # LEDs hardly change their voltage; solved again afterwards
                factor = np.broadcast_to((now / values)[:, np.newaxis], (2, len(values), len(numbers)))
            else:
                factor = np.broadcast_to((values / max(now, DARK_MA))[:, np.newaxis], (2, len(values), len(numbers)))
            if variable.kind == "brightness":
                light = factor[..., :1] * point.light_frac[own]
            else:
                on_ma = np.broadcast_to(strings.on_ma, (*factor.shape[:2], len(strings.on_ma))).copy()
                on_ma[..., numbers] *= factor
                light = strings.light_frac(on_ma)[..., own]
            mean_ma = factor @ strings.mean_ma[numbers]
            found = np.concatenate([mean_ma[..., np.newaxis], light @ task.light[:, own].T], axis=-1)
            change = (found[0] - found[1]) / RAIL_STEP_V
            yield _Choice(
                kind=variable.kind,
                name=name,
                values=tuple(values.tolist()),
                nearest=np.argsort(np.abs(values - wanted)),
                rows=np.concatenate([found[0, :, :1], change[:, :1], found[0, :, 1:], change[:, 1:]], axis=1),
            )


def _closest_settings(
    task: MatchTask, *, exact: ExactMatch, circuit: Circuit, point: OperatingPoint, settings: Settings
) -> Settings:
    """Values at which windows agree best by what each value gives, and what the rail does of it."""
    choices = tuple(_choices(task, exact=exact, circuit=circuit, point=point, settings=settings))
    if not choices:
        return settings
    strings, windows = build_strings(circuit, point=point), len(task.windows)
    numbers = [number for variable in exact.variables for number in variable.strings]
    beside = np.zeros(2 + 2 * windows)
    beside[0] = point.mean_supply_ma - float(strings.mean_ma[numbers].sum())
    others = np.where(np.isin(strings.string_of, numbers), 0.0, point.light_frac)
    beside[2 : 2 + windows] = task.beside_cd_m2 + task.light @ others
    source = supply_source(circuit.supply, depth_frac=point.depth_frac)
    source_kohm = 1e-3 * (source.fast_ohm + source.slow_ohm)

    def badness(total: FloatArray) -> FloatArray:
        fallen_v = source_kohm * (total[..., 0] - point.mean_supply_ma) / (1.0 + source_kohm * total[..., 1])
        luminance = total[..., 2 : 2 + windows] - fallen_v[..., np.newaxis] * total[..., 2 + windows :]
        return _badness(luminance, total[..., 0] - fallen_v * total[..., 1], task=task, exact=exact)

    def improved_picks(picks: list[int]) -> tuple[float, list[int]]:
        """Single values moved, one at a time, for as long as windows become more equal by it."""
        total = beside + sum(choice.rows[pick] for choice, pick in zip(choices, picks, strict=True))
        best = float(badness(total))
        for _ in range(SWEEPS):
            before = best
            for place, choice in enumerate(choices):
                tried = total + choice.rows - choice.rows[picks[place]]
                found = badness(tried)
                pick = int(np.argmin(found))
                if found[pick] < best - 1e-12:
                    best, picks[place], total = float(found[pick]), pick, tried[pick]
            if best == before:
                break
        return best, picks

    luminance = [choice.rows[:, 2 : 2 + windows] for choice in choices]
    sets = np.array(
        _close_sets(task, exact=exact, choices=choices, luminance=luminance, beside_cd_m2=beside[2 : 2 + windows])
    )
    totals = beside + sum(choice.rows[column] for choice, column in zip(choices, sets.T, strict=True))
    starts = sets[np.argsort(badness(totals))[:STARTS]].tolist()
    _, picks = min((improved_picks(start) for start in starts), key=lambda found: found[0])
    for choice, pick in zip(choices, picks, strict=True):
        settings = settings.changed(choice.kind, {choice.name: choice.values[pick]})
    return settings


def _close_sets(
    task: MatchTask,
    *,
    exact: ExactMatch,
    choices: tuple[_Choice, ...],
    luminance: list[FloatArray],
    beside_cd_m2: FloatArray,
) -> list[list[int]]:
    """Sets of one value of every choice each, such that the windows lie close together.

    Each window's level is counted over the values of the choices that light it most, with those of all others at
    their exact values. In the list of all windows' levels, in order, every stretch that holds each window at least
    once, and would not if it were shorter, is a set.
    """
    usual = [int(choice.nearest[0]) for choice in choices]
    whole = beside_cd_m2 + sum(light[pick] for light, pick in zip(luminance, usual, strict=True))
    home = [int(np.argmax(light[pick] / task.ratio)) for light, pick in zip(luminance, usual, strict=True)]
    entries: list[tuple[float, int, tuple[int, ...]]] = []
    members: dict[int, list[int]] = {}
    for window in np.flatnonzero(exact.matched.held).tolist():
        own = [place for place, at in enumerate(home) if at == window]
        lists = [choices[place].nearest.tolist() for place in own]
        while math.prod(len(values) for values in lists) > COMBINATIONS_MOST:
            max(lists, key=len).pop()
        members[window] = own
        for picks in itertools.product(*lists) if own else ():
            more = sum(
                float(luminance[place][pick, window] - luminance[place][usual[place], window])
                for place, pick in zip(own, picks, strict=True)
            )
            entries.append((math.log(max((whole[window] + more) / task.ratio[window], 1e-300)), window, picks))
    entries.sort()
    needed, sets = len({window for _, window, _ in entries}), [usual]
    # Upward, each stretch gives the highest level of every window in it, downward the lowest
    for ordered in (entries, entries[::-1]):
        latest: dict[int, tuple[int, ...]] = {}
        for _, window, picked in ordered:
            latest[window] = picked
            if len(latest) == needed:
                chosen = list(usual)
                for other, held in latest.items():
                    for place, pick in zip(members[other], held, strict=True):
                        chosen[place] = pick
                sets.append(chosen)
    return sets


def _exceeded_loads(circuit: Circuit) -> tuple[Load, ...]:
    """Limits passed where currents are greatest, on a fresh supply."""
    loads = circuit_loads(circuit, point=solve_point(circuit))
    return tuple(load for load in loads if load.exceeded and load.quantity != "reverse voltage")


def _settings_within_limits(task: MatchTask, *, settings: Settings, exact: ExactMatch) -> Settings:
    """Settings a little weaker, value by value, until no limit is passed or nothing is left to weaken."""
    for _ in range(RETREATS):
        circuit = task.wire(settings)
        exceeded = _exceeded_loads(circuit)
        weaker = settings
        for variable in exact.variables:
            for name, numbers in variable.named_strings:
                strings = [circuit.strings[number] for number in numbers]
                ends = {
                    "led": {ref for string in strings for ref in string.refs},
                    "pin": {end for string in strings for end in (string.from_terminal, string.to_terminal)},
                    "resistor": {name},
                }
                # A port, the chip and the supply are relieved by every string
                if any(load.name in ends.get(load.kind, {load.name}) for load in exceeded):
                    value = _weaker_value(variable.kind, settings.value(variable.kind, name), series=task.series)
                    weaker = weaker.changed(variable.kind, {name: value})
        if weaker == settings:
            break
        settings = weaker
    return settings


def _weaker_value(kind: SettingKind, value: float, *, series: Series) -> float:
    """The next value that lets less current flow."""
    if kind == "resistor":
        return preferred_ohm(min(value * 1.001, MOST_OHM), series=series, at_least=True)
    if kind == "brightness":
        return max(value - 1.0 / BRIGHTNESS_STEPS, 0.0)
    return _values("sink", RETREAT_FRAC * value, series=series, reach=1.0)[STEPS_EACH_SIDE] if value > 0.0 else 0.0
