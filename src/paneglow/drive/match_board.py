"""Brightness matching on a wired board: exact drive values first, found together with the rail they pull down."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.board_circuit import Settings
from paneglow.drive.knobs import (
    DARK_MA,
    LEAST_RESISTOR_OHM,
    Knob,
    build_knobs,
    most_mean_ma,
    on_share_frac,
    pin_ohm,
    string_currents_ma,
    string_light,
    string_voltage_v,
)
from paneglow.drive.matching import Matched, MatchProblem, match_light
from paneglow.drive.records import Circuit, LedString, OperatingPoint
from paneglow.drive.series import MOST_OHM, Series
from paneglow.drive.solve import solve_point
from paneglow.drive.supplies import supply_source

FloatArray = npt.NDArray[np.float64]

ROUNDS = 25
SETTLED_FRAC = 1e-4  # change of a drive value that no longer matters: far below the step of any resistor
START_FRAC = 0.1  # of a knob's greatest value, to start one that is dark as designed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchTask:
    """What is to be matched, on which board.

    Attributes
    ----------
    wire : callable
        Circuit at given settings.
    windows : tuple of str
        Chosen windows.
    light : ndarray, shape (window, led)
        Luminance of each chosen window from each LED of the circuit at its test current [cd/m2].
    beside_cd_m2 : ndarray, shape (window,)
        What they get from LEDs outside the circuit.
    ratio, level_cd_m2
        See `MatchProblem`.
    window_of : dict
        Window that each LED is meant for, by ref.
    scanned : frozenset of str
        Refs that are dimmed by their share of a scan.
    series : Series
    depth_frac : float
        State of the supply at which windows are matched [1].
    """

    wire: Callable[[Settings], Circuit]
    windows: tuple[str, ...]
    light: FloatArray
    beside_cd_m2: FloatArray
    ratio: FloatArray
    level_cd_m2: float | None
    window_of: dict[str, str | None]
    scanned: frozenset[str]
    series: Series = "E24"
    depth_frac: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExactMatch:
    """Drive values before any rounding, and the board at them."""

    matched: Matched
    knobs: tuple[Knob, ...]
    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    luminance_cd_m2: FloatArray
    problem: MatchProblem


def match_exactly(task: MatchTask) -> ExactMatch:
    """Drive values that match the windows, as if any resistor could be bought.

    Raises
    ------
    RangeError
        If what is not turned already takes more than the supply has.

    Notes
    -----
    Light is linear in current only nearly, and every LED lowers the rail for all others. So both are taken as straight
    about the present state, the linear program is solved, the whole circuit is solved at its answer, and so on until
    nothing changes.
    """
    settings = Settings(brightness=dict.fromkeys(sorted(task.scanned), 1.0))
    circuit = task.wire(settings)
    point = solve_point(circuit, depth_frac=task.depth_frac)
    knobs = build_knobs(circuit, point=point, window_of=task.window_of, chosen=task.windows, scanned=task.scanned)
    value = _start(circuit, point=point, knobs=knobs)
    problem = _straightened(task, circuit=circuit, point=point, knobs=knobs, value=value)
    matched = match_light(problem)
    for turn in range(ROUNDS):
        # Later steps are halved: where a limit and the rail chase each other, the full step would swing
        new = value + (1.0 if turn < ROUNDS // 2 else 0.5) * (matched.value - value)
        settings = _settings(circuit, point=point, knobs=knobs, value=new, settings=settings)
        circuit = task.wire(settings)
        point = solve_point(circuit, depth_frac=task.depth_frac)
        change = np.abs(new - value).max(initial=0.0) / max(float(new.max(initial=0.0)), DARK_MA)
        value = new
        if change < SETTLED_FRAC:
            break
        problem = _straightened(task, circuit=circuit, point=point, knobs=knobs, value=value)
        matched = match_light(problem)
    return ExactMatch(
        matched=matched,
        knobs=knobs,
        settings=settings,
        circuit=circuit,
        point=point,
        luminance_cd_m2=board_luminance_cd_m2(task, point=point),
        problem=problem,
    )


def board_luminance_cd_m2(task: MatchTask, *, point: OperatingPoint) -> FloatArray:
    """Luminance of the chosen windows at an operating point [cd/m2], shape (window,)."""
    return np.asarray(task.light @ point.light_frac + task.beside_cd_m2)


def rail_voltage_v(point: OperatingPoint) -> float:
    """Voltage of the rail, averaged over the cycle [V]."""
    return float(point.share_frac @ point.supply_v)


def _start(circuit: Circuit, *, point: OperatingPoint, knobs: tuple[Knob, ...]) -> FloatArray:
    currents_ma = string_currents_ma(circuit, point=point)
    rail_v = rail_voltage_v(point)
    values = []
    for knob in knobs:
        if knob.kind == "brightness":
            values.append(1.0)
            continue
        most = _most(circuit, knob=knob, rail_v=rail_v, point=point)
        present = float(currents_ma[list(knob.strings)].max())
        values.append(present if present > DARK_MA else START_FRAC * most)
    return np.array(values)


def _most(circuit: Circuit, *, knob: Knob, rail_v: float, point: OperatingPoint) -> float:
    if knob.kind == "brightness":
        return 1.0
    strings = [circuit.strings[number] for number in knob.strings]
    return min(
        most_mean_ma(circuit, string=string, rail_v=rail_v, point=point) / share
        for string, share in zip(strings, knob.pattern, strict=True)
    )


def _straightened(
    task: MatchTask, *, circuit: Circuit, point: OperatingPoint, knobs: tuple[Knob, ...], value: FloatArray
) -> MatchProblem:
    """The board about its present state, as a linear problem."""
    rail_v = rail_voltage_v(point)
    order = {ref: number for number, ref in enumerate(circuit.refs)}
    light, load_ma, turned = [], [], np.zeros(len(circuit.refs), dtype=np.bool_)
    currents_ma = string_currents_ma(circuit, point=point)
    for knob, now in zip(knobs, value, strict=True):
        column, load = np.zeros(len(task.windows)), 0.0
        for number, share in zip(knob.strings, knob.pattern, strict=True):
            string = circuit.strings[number]
            columns = [order[ref] for ref in string.refs]
            turned[columns] = True
            per_value = _light_per_value(circuit, string=string, knob=knob, now=now, share=share, point=point)
            column += task.light[:, columns] @ per_value
            load += share if knob.kind != "brightness" else currents_ma[number] / max(now, DARK_MA)
        light.append(column)
        load_ma.append(load)
    fixed_light = np.where(turned, 0.0, point.light_frac)
    taken_ma = float(np.dot(load_ma, _present(knobs=knobs, value=value, currents_ma=currents_ma)))
    return MatchProblem(
        light=np.array(light).T.reshape(len(task.windows), len(knobs)),
        fixed_cd_m2=task.light @ fixed_light + task.beside_cd_m2,
        ratio=task.ratio,
        most=np.array([_most(circuit, knob=knob, rail_v=rail_v, point=point) for knob in knobs]),
        load_ma=np.array(load_ma),
        load_most_ma=max(circuit.supply.continuous_max_ma - max(point.mean_supply_ma - taken_ma, 0.0), 0.0),
        level_cd_m2=task.level_cd_m2,
    )


def _light_per_value(
    circuit: Circuit, *, string: LedString, knob: Knob, now: float, share: float, point: OperatingPoint
) -> FloatArray:
    """Light of each LED of a string per unit of its knob, about the present value."""
    if knob.kind == "brightness":
        order = {ref: number for number, ref in enumerate(circuit.refs)}
        return np.array([point.light_frac[order[ref]] for ref in string.refs]) / max(now, DARK_MA)
    on_ma = max(now * share, DARK_MA) / on_share_frac(circuit, string=string)
    return string_light(circuit, string=string, on_ma=on_ma, point=point) / max(now, DARK_MA)


def _present(*, knobs: tuple[Knob, ...], value: FloatArray, currents_ma: FloatArray) -> FloatArray:
    """Values that the knobs have in the solved circuit, which may lag behind what was asked."""
    return np.array(
        [
            now if knob.kind == "brightness" else float(currents_ma[list(knob.strings)].max()) / max(knob.pattern)
            for knob, now in zip(knobs, value, strict=True)
        ]
    )


def _settings(
    circuit: Circuit, *, point: OperatingPoint, knobs: tuple[Knob, ...], value: FloatArray, settings: Settings
) -> Settings:
    """Resistors, sinks and brightness that give the knobs their values on the rail as it will then be."""
    currents_ma = string_currents_ma(circuit, point=point)
    now = _present(knobs=knobs, value=value, currents_ma=currents_ma)
    more_ma = sum(
        float((new - old) * sum(knob.pattern))
        for knob, new, old in zip(knobs, value, now, strict=True)
        if knob.kind != "brightness"
    )
    source = supply_source(circuit.supply, depth_frac=point.depth_frac)
    rail_v = rail_voltage_v(point) - 1e-3 * (source.fast_ohm + source.slow_ohm) * more_ma
    ohm, sink_ma, brightness = dict(settings.resistor_ohm), dict(settings.sink_ma), dict(settings.brightness)
    for knob, new in zip(knobs, value, strict=True):
        for number, share in zip(knob.strings, knob.pattern, strict=True):
            string = circuit.strings[number]
            if knob.kind == "brightness":
                brightness |= dict.fromkeys(string.refs, float(new))
            elif knob.kind == "sink":
                sink_ma[string.refs] = new * share / on_share_frac(circuit, string=string)
            else:
                ohm[string.refs] = resistor_for_ohm(
                    circuit, string=string, mean_ma=new * share, rail_v=rail_v, point=point
                )
    return Settings(resistor_ohm=ohm, sink_ma=sink_ma, brightness=brightness)


def resistor_for_ohm(
    circuit: Circuit, *, string: LedString, mean_ma: float, rail_v: float, point: OperatingPoint
) -> float:
    """Resistance that lets a mean current through a string on a rail [ohm], within what can be bought."""
    on_ma = mean_ma / on_share_frac(circuit, string=string)
    if on_ma <= DARK_MA:
        return MOST_OHM
    left_v = rail_v - string_voltage_v(circuit, string=string, on_ma=on_ma, point=point)
    return float(np.clip(1e3 * left_v / on_ma - pin_ohm(circuit, string=string), LEAST_RESISTOR_OHM, MOST_OHM))
