"""Matched drive values as they can be bought and set: preferred resistors, whole steps of brightness, within limits."""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from paneglow.drive.board_circuit import Settings
from paneglow.drive.limits import limit_uses
from paneglow.drive.match_board import ExactMatch, MatchTask, board_luminance_cd_m2, rail_voltage_v
from paneglow.drive.records import Circuit, LedString, LimitUse, OperatingPoint
from paneglow.drive.series import MOST_OHM, Series, preferred_neighbours, preferred_ohm
from paneglow.drive.solve import solve_point
from paneglow.drive.strings import build_string_table, string_lights, strings_on_ma

FloatArray = npt.NDArray[np.float64]
Refs = tuple[str, ...]

BRIGHTNESS_STEPS = 256  # an eight-bit PWM, what every small controller has; common practice, no source
SINK_DIGITS = 3  # a sink is set by a resistor or a register, finer than this is not kept
STARTS = 13  # common levels that the rounding is tried at, over one step of the series
START_SPAN = 0.12  # natural logarithm: about a step of E24 (10^(1/24) is 1.10)
SWEEPS = 6
LEVEL_WEIGHT = 0.15  # a common level 10 % off what was asked counts as 1.5 % of unevenness; our choice
OVERDRAW_WEIGHT = 20.0  # a hundredth above what the supply has counts as 20 % of unevenness: hardly ever taken
RETREATS = 120  # steps back from limits; each is one preferred value of one string, or 3 % of a sink
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
        Common level of the windows within reach that these values come nearest to.
    agreement_frac : float
        Greatest departure of a window within reach from the level times its ratio [1].
    exceeded : tuple of LimitUse
        Limits that are passed whatever the match chose, since other parts of the circuit pass them.
    """

    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    luminance_cd_m2: FloatArray
    level_cd_m2: float
    agreement_frac: float
    exceeded: tuple[LimitUse, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Choice:
    """Resistors that a string may get, the mean current and the luminance that each gives, [candidate, window]."""

    refs: Refs
    ohms: tuple[float, ...]
    mean_ma: FloatArray
    luminance_cd_m2: FloatArray


def match_bought(task: MatchTask, *, exact: ExactMatch) -> BoughtMatch:
    """Round an exact match to preferred resistors so that windows stay as equal as can be and no limit is passed.

    Notes
    -----
    Rounding each resistor by itself leaves up to 7 % per window (the step from 1.3 to 1.5). The common level is free
    within a step, so it is chosen where the roundings agree best, then single resistors are moved by one value for as
    long as that helps.
    """
    settings = _whole_steps(exact.settings)
    choices = tuple(_choices(task, exact=exact))
    if choices:
        best = min(_starts(task, exact=exact, choices=choices), key=lambda found: found[0])
        chosen = {choice.refs: choice.ohms[pick] for choice, pick in zip(choices, best[1], strict=True)}
        settings = replace(settings, resistor_ohm={**settings.resistor_ohm, **chosen})
    settings = _within_limits(task, settings=settings, turned=_turned(exact))
    circuit = task.wire(settings)
    point = solve_point(circuit, depth_frac=task.depth_frac)
    luminance = board_luminance_cd_m2(task, point=point)
    level, agreement = common_level(luminance, ratio=task.ratio, within=exact.matched.within_reach)
    return BoughtMatch(
        settings=settings,
        circuit=circuit,
        point=point,
        luminance_cd_m2=luminance,
        level_cd_m2=level,
        agreement_frac=agreement,
        exceeded=_exceeded(circuit),
    )


def common_level(
    luminance_cd_m2: FloatArray, *, ratio: FloatArray, within: npt.NDArray[np.bool_]
) -> tuple[float, float]:
    """Level that the greatest departure from is least, and that departure: the middle of the extremes.

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


def _turned(exact: ExactMatch) -> tuple[LedString, ...]:
    return tuple(exact.circuit.strings[number] for knob in exact.knobs for number in knob.strings)


def _whole_steps(settings: Settings) -> Settings:
    """Brightness and sinks rounded down to what can be set, so that no limit is passed by rounding."""
    return Settings(
        resistor_ohm=settings.resistor_ohm,
        sink_ma={refs: _floor_digits(value) for refs, value in settings.sink_ma.items()},
        brightness={
            ref: math.floor(value * BRIGHTNESS_STEPS + 1e-9) / BRIGHTNESS_STEPS
            for ref, value in settings.brightness.items()
        },
    )


def _floor_digits(value: float) -> float:
    if value <= 0.0:
        return 0.0
    scale = 10.0 ** (SINK_DIGITS - 1 - math.floor(math.log10(value)))
    return math.floor(value * scale) / scale


def _choices(task: MatchTask, *, exact: ExactMatch) -> Iterator[_Choice]:
    for knob in exact.knobs:
        if knob.kind != "resistor":
            continue
        for number in knob.strings:
            string = exact.circuit.strings[number]
            ohms = _candidates(
                exact.settings.resistor_ohm[string.refs], series=task.series, alone=len(knob.strings) == 1
            )
            yield _choice(task, exact=exact, number=number, ohms=ohms)


def _choice(task: MatchTask, *, exact: ExactMatch, number: int, ohms: tuple[float, ...]) -> _Choice:
    # The same string once per candidate
    table = build_string_table(exact.circuit, point=exact.point, numbers=[number] * len(ohms))
    on_ma = strings_on_ma(table, resistor_ohm=np.array(ohms), rail_v=rail_voltage_v(exact.point))
    light = string_lights(table, on_ma=on_ma).reshape(len(ohms), -1)
    columns = table.leds[: light.shape[1]]
    return _Choice(
        refs=exact.circuit.strings[number].refs,
        ohms=ohms,
        mean_ma=table.on_share_frac * on_ma,
        luminance_cd_m2=light @ task.light[:, columns].T,
    )


def _candidates(ohm: float, *, series: Series, alone: bool) -> tuple[float, ...]:
    """Preferred values from two below to two above; the next ones only where LEDs of one window should stay alike."""
    below, above = preferred_neighbours(ohm, series=series)
    if not alone:
        return tuple(sorted({below, above}))
    lower, _ = preferred_neighbours(below * (1.0 - 1e-6), series=series)
    _, higher = preferred_neighbours(above * (1.0 + 1e-6), series=series)
    return tuple(sorted({lower, below, above, higher}))


def _budget_ma(exact: ExactMatch) -> float:
    """What the supply has for the strings whose resistors are chosen, once all else is served [mA]."""
    loads = exact.problem.load_ma * exact.matched.value
    others = sum(load for load, knob in zip(loads, exact.knobs, strict=True) if knob.kind != "resistor")
    return max(exact.problem.load_most_ma - float(others), 0.0)


def _starts(
    task: MatchTask, *, exact: ExactMatch, choices: tuple[_Choice, ...]
) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Good roundings and how bad each is: one from every common level tried."""
    beside = exact.luminance_cd_m2 - _exact_light(task, exact=exact, choices=choices)
    for shift in np.linspace(-START_SPAN / 2, START_SPAN / 2, STARTS):
        picks = [
            _nearest(choice, ohm=exact.settings.resistor_ohm[choice.refs] * math.exp(-shift)) for choice in choices
        ]
        yield _improved(task, exact=exact, choices=choices, beside=beside, picks=picks)


def _exact_light(task: MatchTask, *, exact: ExactMatch, choices: tuple[_Choice, ...]) -> FloatArray:
    """Luminance that the strings to be rounded give before rounding, shape (window,)."""
    order = {ref: number for number, ref in enumerate(exact.circuit.refs)}
    columns = [order[ref] for choice in choices for ref in choice.refs]
    return np.asarray(task.light[:, columns] @ exact.point.light_frac[columns])


def _nearest(choice: _Choice, *, ohm: float) -> int:
    return min(range(len(choice.ohms)), key=lambda pick: abs(math.log(choice.ohms[pick] / ohm)))


def _improved(
    task: MatchTask, *, exact: ExactMatch, choices: tuple[_Choice, ...], beside: FloatArray, picks: list[int]
) -> tuple[float, tuple[int, ...]]:
    """Move single resistors, one at a time, for as long as windows become more equal by it."""
    budget_ma = _budget_ma(exact)

    def badness(tried: Sequence[int]) -> float:
        luminance = beside + sum(choice.luminance_cd_m2[pick] for choice, pick in zip(choices, tried, strict=True))
        level, departure = common_level(luminance, ratio=task.ratio, within=exact.matched.within_reach)
        asked = exact.matched.level_cd_m2
        off = abs(math.log(level / asked)) if level > 0.0 and asked > 0.0 else 0.0
        drawn_ma = float(sum(choice.mean_ma[pick] for choice, pick in zip(choices, tried, strict=True)))
        return departure + LEVEL_WEIGHT * off + OVERDRAW_WEIGHT * max(drawn_ma - budget_ma, 0.0) / max(budget_ma, 1e-9)

    best = badness(picks)
    for _ in range(SWEEPS):
        before = best
        for place, choice in enumerate(choices):
            for pick in range(len(choice.ohms)):
                tried = [*picks[:place], pick, *picks[place + 1 :]]
                found = badness(tried)
                if found < best - 1e-12:
                    best, picks = found, tried
        if best == before:
            break
    return best, tuple(picks)


def _exceeded(circuit: Circuit) -> tuple[LimitUse, ...]:
    """Limits passed where currents are greatest, on a fresh supply."""
    uses = limit_uses(circuit, point=solve_point(circuit))
    return tuple(use for use in uses if use.exceeded and use.quantity != "reverse voltage")


def _within_limits(task: MatchTask, *, settings: Settings, turned: tuple[LedString, ...]) -> Settings:
    """Settings a little weaker, string by string, until no limit is passed or nothing is left to weaken."""
    for _ in range(RETREATS):
        exceeded = _exceeded(task.wire(settings))
        blamed = set(itertools.chain.from_iterable(_blamed(use, turned=turned) for use in exceeded))
        weaker = _weaker(settings, strings=[string for string in turned if string.refs in blamed], series=task.series)
        if not blamed or weaker == settings:
            break
        settings = weaker
    return settings


def _blamed(use: LimitUse, *, turned: tuple[LedString, ...]) -> Iterator[Refs]:
    """Strings that can relieve a limit: those of the LED or the pin, else all."""
    for string in turned:
        ends = {"led": string.refs, "pin": (string.from_terminal, string.to_terminal)}
        if use.name in ends.get(use.kind, (use.name,)):
            yield string.refs


def _weaker(settings: Settings, *, strings: list[LedString], series: Series) -> Settings:
    ohm, sink_ma, brightness = dict(settings.resistor_ohm), dict(settings.sink_ma), dict(settings.brightness)
    for string in strings:
        if string.refs in ohm:
            ohm[string.refs] = preferred_ohm(min(ohm[string.refs] * 1.001, MOST_OHM), series=series, at_least=True)
        elif string.refs in sink_ma:
            sink_ma[string.refs] = _floor_digits(RETREAT_FRAC * sink_ma[string.refs])
        else:
            lit = {ref: brightness[ref] for ref in string.refs if ref in brightness}
            brightness |= {ref: max(value - 1.0 / BRIGHTNESS_STEPS, 0.0) for ref, value in lit.items()}
    return Settings(resistor_ohm=ohm, sink_ma=sink_ma, brightness=brightness)
