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
    Light is in proportion to current only nearly, and every LED lowers the rail for all others. Both are taken as they
    are at the present state, the linear problem is solved, the whole circuit is solved at its answer, and so on until
    nothing changes.
    """
    state = _State.of(task, Settings(brightness=dict.fromkeys(sorted(task.scanned), 1.0)))
    variables = build_variables(
        state.circuit, strings=state.strings, window_of=task.window_of, chosen=task.windows, scanned=task.scanned
    )
    value = state.values(variables)
    if np.any(value <= DARK_MA):
        most = greatest_values(variables, strings=state.strings, circuit=state.circuit)
        value = np.where(value <= DARK_MA, START_FRAC * most, value)
        state = state.moved(task, value, variables=variables)
    for turn in range(ROUNDS):
        problem = _linear_problem(task, state=state, variables=variables)
        matched = match_light(problem)
        # Later steps are halved: where a limit and the rail chase each other, the full step would swing
        new = value + (1.0 if turn < ROUNDS // 2 else 0.5) * (matched.value - value)
        state = state.moved(task, new, variables=variables)
        change = np.abs(new - value).max(initial=0.0) / max(float(new.max(initial=0.0)), DARK_MA)
        value = new
        if change < UNCHANGED_FRAC:
            break
    return ExactMatch(
        matched=matched,
        variables=variables,
        settings=state.settings,
        circuit=state.circuit,
        point=state.point,
        luminance_cd_m2=task.luminance_cd_m2(state.point),
        problem=problem,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """A board at some settings, solved."""

    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    strings: Strings

    @classmethod
    def of(cls, task: MatchTask, settings: Settings, *, near: OperatingPoint | None = None) -> "_State":
        circuit = task.wire(settings)
        point = solve_point(circuit, depth_frac=task.depth_frac, near=near)
        return cls(settings=settings, circuit=circuit, point=point, strings=build_strings(circuit, point=point))

    def values(self, variables: tuple[DriveVariable, ...]) -> FloatArray:
        return present_values(variables, strings=self.strings, settings=self.settings)

    def moved(self, task: MatchTask, value: FloatArray, *, variables: tuple[DriveVariable, ...]) -> "_State":
        """The board with its variables at other values."""
        settings = settings_for(
            value,
            variables=variables,
            strings=self.strings,
            circuit=self.circuit,
            point=self.point,
            settings=self.settings,
        )
        return _State.of(task, settings, near=self.point)


def _linear_problem(task: MatchTask, *, state: _State, variables: tuple[DriveVariable, ...]) -> MatchProblem:
    """The board about its present state, as a linear problem."""
    value, strings, point = state.values(variables), state.strings, state.point
    # Efficiency rises with current and droops, so light is no constant times the value; from round to round it is taken
    # as one. Its tangent gets there in fewer rounds, but is flat at next to no current and can keep an LED dark
    light, fixed_frac = np.zeros((len(task.windows), len(variables))), point.light_frac.copy()
    load_ma = np.array([sum(variable.pattern) for variable in variables])
    for number, variable in enumerate(variables):
        own = np.isin(strings.string_of, variable.strings)
        light[:, number] = task.light[:, own] @ point.light_frac[own] / max(value[number], DARK_MA)
        fixed_frac[own] = 0.0
        if variable.kind == "brightness":
            load_ma[number] = strings.mean_ma[list(variable.strings)].sum() / max(value[number], DARK_MA)
    supply_ma = state.circuit.supply.continuous_max_ma
    return MatchProblem(
        light=light,
        fixed_cd_m2=task.light @ fixed_frac + task.beside_cd_m2,
        ratio=task.ratio,
        most=greatest_values(variables, strings=strings, circuit=state.circuit),
        load_ma=load_ma,
        load_most_ma=max(supply_ma - max(point.mean_supply_ma - float(load_ma @ value), 0.0), 0.0),
        level_cd_m2=task.level_cd_m2,
    )
