"""Brightness matching on a wired board: exact drive values first, found together with the rail they pull down."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.board_circuit import Settings
from paneglow.drive.knobs import (
    LEAST_RESISTOR_OHM,
    Knob,
    build_knobs,
    most_mean_ma,
    string_currents_ma,
)
from paneglow.drive.matching import Matched, MatchProblem, match_light
from paneglow.drive.records import Circuit, OperatingPoint
from paneglow.drive.series import MOST_OHM, Series
from paneglow.drive.solve import solve_point
from paneglow.drive.strings import DARK_MA, StringTable, build_string_table, string_lights, string_voltages_v
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
        point = solve_point(circuit, depth_frac=task.depth_frac, near=point)
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
    table = build_string_table(circuit, point=point)
    values = []
    for knob, most in zip(knobs, _most(circuit, knobs=knobs, table=table, point=point), strict=True):
        if knob.kind == "brightness":
            values.append(1.0)
            continue
        present = float(currents_ma[list(knob.strings)].max())
        values.append(present if present > DARK_MA else START_FRAC * most)
    return np.array(values)


def _most(circuit: Circuit, *, knobs: tuple[Knob, ...], table: StringTable, point: OperatingPoint) -> FloatArray:
    """Greatest value of each knob, shape (knob,)."""
    most_ma = most_mean_ma(circuit, table=table, rail_v=rail_voltage_v(point))
    return np.array(
        [
            1.0 if knob.kind == "brightness" else float(np.min(most_ma[list(knob.strings)] / knob.pattern))
            for knob in knobs
        ]
    )


def _straightened(
    task: MatchTask, *, circuit: Circuit, point: OperatingPoint, knobs: tuple[Knob, ...], value: FloatArray
) -> MatchProblem:
    """The board about its present state, as a linear problem."""
    table = build_string_table(circuit, point=point)
    currents_ma = string_currents_ma(circuit, point=point)
    per_value = _light_per_value(table, point=point, knobs=knobs, value=value)
    knob_of = _knob_of(table, knobs=knobs)
    mine, own = knob_of >= 0, task.light[:, table.leds] * per_value
    light = np.zeros((len(task.windows), len(knobs)))
    np.add.at(light.T, knob_of[mine], own.T[mine])
    turned = np.zeros(len(circuit.refs), dtype=np.bool_)
    turned[table.leds[mine]] = True
    load_ma = [
        float(currents_ma[list(knob.strings)].sum()) / max(now, DARK_MA)
        if knob.kind == "brightness"
        else sum(knob.pattern)
        for knob, now in zip(knobs, value, strict=True)
    ]
    fixed_light = np.where(turned, 0.0, point.light_frac)
    taken_ma = float(np.dot(load_ma, _present(knobs=knobs, value=value, currents_ma=currents_ma)))
    return MatchProblem(
        light=light,
        fixed_cd_m2=task.light @ fixed_light + task.beside_cd_m2,
        ratio=task.ratio,
        most=_most(circuit, knobs=knobs, table=table, point=point),
        load_ma=np.array(load_ma),
        load_most_ma=max(circuit.supply.continuous_max_ma - max(point.mean_supply_ma - taken_ma, 0.0), 0.0),
        level_cd_m2=task.level_cd_m2,
    )


def _knob_of(table: StringTable, *, knobs: tuple[Knob, ...]) -> npt.NDArray[np.int64]:
    """Knob that turns each LED, shape (led,); -1 where none does."""
    of_string = np.full(table.strings, -1, dtype=np.int64)
    for number, knob in enumerate(knobs):
        of_string[list(knob.strings)] = number
    return of_string[table.string_of]


def _light_per_value(
    table: StringTable, *, point: OperatingPoint, knobs: tuple[Knob, ...], value: FloatArray
) -> FloatArray:
    """Light of each LED per unit of its string's knob, about the present value; shape (led,), 0 where none turns it."""
    mean_ma, knob_value, dimmed = np.zeros(table.strings), np.ones(table.strings), np.zeros(table.strings, np.bool_)
    turned = np.zeros(table.strings, np.bool_)
    for knob, now in zip(knobs, value, strict=True):
        strings = list(knob.strings)
        mean_ma[strings], knob_value[strings] = now * np.array(knob.pattern), max(now, DARK_MA)
        dimmed[strings], turned[strings] = knob.kind == "brightness", True
    on_ma = _on_ma(table, mean_ma=np.maximum(mean_ma, DARK_MA))
    light = np.where(dimmed[table.string_of], point.light_frac[table.leds], string_lights(table, on_ma=on_ma))
    return np.where(turned[table.string_of], light / knob_value[table.string_of], 0.0)


def _on_ma(table: StringTable, *, mean_ma: FloatArray) -> FloatArray:
    """Currents of strings while they are on [mA], shape (string,); 0 for one that never is."""
    share = table.on_share_frac
    return np.divide(mean_ma, share, out=np.zeros_like(share), where=share > 0.0)


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
    table = build_string_table(circuit, point=point)
    mean_ma = np.zeros(table.strings)
    for knob, new in zip(knobs, value, strict=True):
        mean_ma[list(knob.strings)] = new * np.array(knob.pattern)
    on_ma = _on_ma(table, mean_ma=mean_ma)
    wanted_ohm = resistors_for_ohm(table, on_ma=on_ma, rail_v=rail_v)
    ohm, sink_ma, brightness = dict(settings.resistor_ohm), dict(settings.sink_ma), dict(settings.brightness)
    for knob, new in zip(knobs, value, strict=True):
        for number in knob.strings:
            refs = circuit.strings[number].refs
            if knob.kind == "brightness":
                brightness |= dict.fromkeys(refs, float(new))
            elif knob.kind == "sink":
                sink_ma[refs] = float(on_ma[number])
            else:
                ohm[refs] = float(wanted_ohm[number])
    return Settings(resistor_ohm=ohm, sink_ma=sink_ma, brightness=brightness)


def resistors_for_ohm(table: StringTable, *, on_ma: FloatArray, rail_v: float) -> FloatArray:
    """Resistances that let strings carry currents while on, on a rail [ohm], within what can be bought; (string,)."""
    left_v = rail_v - string_voltages_v(table, on_ma=on_ma)
    lit = on_ma > DARK_MA
    wanted_ohm = np.divide(1e3 * left_v, on_ma, out=np.zeros_like(on_ma), where=lit) - table.pin_ohm
    return np.where(lit, np.clip(wanted_ohm, LEAST_RESISTOR_OHM, MOST_OHM), MOST_OHM)
