"""Brightness matching on a wired board: exact drive values, found together with the rail they pull down."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from paneglow.drive.circuit import Circuit, OperatingPoint, Settings, solve_point
from paneglow.drive.matching.level import FloatArray, Matched, MatchProblem, match_light
from paneglow.drive.matching.series import Series
from paneglow.drive.matching.variables import (
    DARK_MA,
    DriveVariable,
    Strings,
    build_strings,
    build_variables,
    greatest_values,
    present_values,
    settings_for,
)

ROUNDS = 25
UNCHANGED_FRAC = 1e-4  # change of a drive value that no longer matters: far below the step of any resistor
START_FRAC = 0.1  # of a variable's greatest value, to start one that is dark as designed


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

    def luminance_cd_m2(self, point: OperatingPoint) -> FloatArray:
        """Luminance of the chosen windows at an operating point [cd/m2], shape (window,)."""
        return np.asarray(self.light @ point.light_frac + self.beside_cd_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExactMatch:
    """Drive values before any rounding, and the board at them."""

    matched: Matched
    variables: tuple[DriveVariable, ...]
    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    luminance_cd_m2: FloatArray
    problem: MatchProblem


def match_exactly(task: MatchTask) -> ExactMatch:
    """Drive values that match the windows, as if any resistor could be bought.

    Parameters
    ----------
    task : MatchTask

    Raises
    ------
    DesignError
        If the circuit cannot be wired.
    RangeError
        If what no variable sets already takes more than the supply has.

    Notes
    -----
    Light is linear in current only nearly, and every LED lowers the rail for all others. So both are taken as straight
    about the present state, the linear problem is solved, the whole circuit is solved at its answer, and so on until
    nothing changes.
    """
    settings = Settings(brightness=dict.fromkeys(sorted(task.scanned), 1.0))
    circuit = task.wire(settings)
    point = solve_point(circuit, depth_frac=task.depth_frac)
    strings = build_strings(circuit, point=point)
    variables = build_variables(
        circuit, strings=strings, window_of=task.window_of, chosen=task.windows, scanned=task.scanned
    )
    value = present_values(variables, strings=strings, settings=settings)
    dark = value <= DARK_MA
    if dark.any():
        value = np.where(dark, START_FRAC * greatest_values(variables, strings=strings, circuit=circuit), value)
        circuit, point, strings, settings = _at(task, value, variables, strings, circuit, point, settings)
    for turn in range(ROUNDS):
        problem = _straightened(
            task, circuit=circuit, point=point, strings=strings, variables=variables, settings=settings
        )
        matched = match_light(problem)
        # Later steps are halved: where a limit and the rail chase each other, the full step would swing
        new = value + (1.0 if turn < ROUNDS // 2 else 0.5) * (matched.value - value)
        circuit, point, strings, settings = _at(task, new, variables, strings, circuit, point, settings)
        change = np.abs(new - value).max(initial=0.0) / max(float(new.max(initial=0.0)), DARK_MA)
        value = new
        if change < UNCHANGED_FRAC:
            break
    return ExactMatch(
        matched=matched,
        variables=variables,
        settings=settings,
        circuit=circuit,
        point=point,
        luminance_cd_m2=task.luminance_cd_m2(point),
        problem=problem,
    )


def _at(
    task: MatchTask,
    value: FloatArray,
    variables: tuple[DriveVariable, ...],
    strings: Strings,
    circuit: Circuit,
    point: OperatingPoint,
    settings: Settings,
) -> tuple[Circuit, OperatingPoint, Strings, Settings]:
    """The board with its variables at other values, solved."""
    settings = settings_for(
        value, variables=variables, strings=strings, circuit=circuit, point=point, settings=settings
    )
    circuit = task.wire(settings)
    point = solve_point(circuit, depth_frac=task.depth_frac, near=point)
    return circuit, point, build_strings(circuit, point=point), settings


def _straightened(
    task: MatchTask,
    *,
    circuit: Circuit,
    point: OperatingPoint,
    strings: Strings,
    variables: tuple[DriveVariable, ...],
    settings: Settings,
) -> MatchProblem:
    """The board about its present state, as a linear problem."""
    value = present_values(variables, strings=strings, settings=settings)
    light = np.zeros((len(task.windows), len(variables)))
    set_here = np.zeros(len(circuit.refs), dtype=np.bool_)
    load_ma = np.array([sum(variable.pattern) for variable in variables])
    for number, variable in enumerate(variables):
        own = np.isin(strings.string_of, variable.strings)
        set_here |= own
        light[:, number] = task.light[:, own] @ point.light_frac[own] / max(value[number], DARK_MA)
        if variable.kind == "brightness":
            load_ma[number] = strings.mean_ma[list(variable.strings)].sum() / max(value[number], DARK_MA)
    taken_ma = float(load_ma @ value)
    return MatchProblem(
        light=light,
        fixed_cd_m2=task.light @ np.where(set_here, 0.0, point.light_frac) + task.beside_cd_m2,
        ratio=task.ratio,
        most=greatest_values(variables, strings=strings, circuit=circuit),
        load_ma=load_ma,
        load_most_ma=max(circuit.supply.continuous_max_ma - max(point.mean_supply_ma - taken_ma, 0.0), 0.0),
        level_cd_m2=task.level_cd_m2,
    )
