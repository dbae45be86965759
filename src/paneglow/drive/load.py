"""What a board draws and shows at every depth of its cell, and the depths at which light or supply end."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.checks import check_shape
from paneglow.drive.records import CellSupply, Circuit, OperatingPoint, WindowLight
from paneglow.drive.solve import solve_at
from paneglow.drive.steps import build_steps, check_circuit
from paneglow.drive.supplies import supply_source

FloatArray = npt.NDArray[np.float64]

PARTS_PER_ENTRY = 6  # solved depths between two entries of the cell's table; between them all is taken as straight
DEPTH_TOLERANCE = 1e-6  # of the depth at which a goal is just met; a thousandth of a per mille of the charge


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


BEYOND_EMPTY = 2.0  # stands for "not down to empty"


def window_luminance_cd_m2(circuit: Circuit, *, light: WindowLight, point: OperatingPoint) -> FloatArray:
    """Mean luminance of every window at an operating point [cd/m2], shape (window,)."""
    check_shape("luminance_cd_m2_per_ma", light.luminance_cd_m2_per_ma, shape=(len(light.names), len(circuit.leds)))
    test_ma = np.array([led.flux.reference_ma for led in circuit.leds])
    return np.asarray(light.luminance_cd_m2_per_ma @ (test_ma * point.light_frac))


def build_load_curve(circuit: Circuit, *, supply: CellSupply, light: WindowLight) -> LoadCurve:
    """Solve a board at depths from fresh to empty, and find where each window's goal and the supply end.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it stands.
    RangeError
        If the light does not fit the LEDs of the circuit.
    """
    check_circuit(circuit)
    check_shape("goal_cd_m2", light.goal_cd_m2, shape=(len(light.names),))
    steps = build_steps(circuit)

    near: OperatingPoint | None = None

    def solve(depth: float) -> OperatingPoint:
        nonlocal near
        near = solve_at(circuit, steps=steps, source=supply_source(supply, depth_frac=depth), start=near)
        return near

    depths = _depths(supply.curve.depth_frac)
    points = [solve(depth) for depth in depths]
    luminance = np.array([window_luminance_cd_m2(circuit, light=light, point=point) for point in points])
    terminal_v = np.array([point.supply_v.min() for point in points])
    least_v = max(supply.curve.cutoff_v or 0.0, circuit.chip.voltage_least_v if circuit.chip is not None else 0.0)

    def shown(window: int) -> Callable[[float], float]:
        return lambda depth: float(window_luminance_cd_m2(circuit, light=light, point=solve(depth))[window])

    ends = [
        last_depth(depths, luminance[:, window], least=float(goal), at=shown(window))
        for window, goal in enumerate(light.goal_cd_m2)
    ]
    return LoadCurve(
        depth_frac=depths,
        mean_ma=np.array([point.mean_supply_ma for point in points]),
        terminal_v=terminal_v,
        luminance_cd_m2=luminance.reshape(len(depths), len(light.names)),
        stop_depth_frac=last_depth(
            depths, terminal_v, least=least_v, at=lambda depth: float(solve(depth).supply_v.min())
        ),
        window_depth_frac=np.array(ends),
    )


def _depths(entries: Sequence[float]) -> FloatArray:
    parts = [
        np.linspace(low, high, PARTS_PER_ENTRY, endpoint=False) for low, high in zip(entries, entries[1:], strict=False)
    ]
    return np.concatenate([*parts, [1.0]])


def last_depth(depths: FloatArray, values: FloatArray, *, least: float, at: Callable[[float], float]) -> float:
    """Depth down to which a value is at least `least`: 0 where it never is, beyond empty where it always is."""
    below = np.flatnonzero(values < least)
    if below.size == 0:
        return BEYOND_EMPTY
    if below[0] == 0:
        return 0.0
    ends = slice(below[0] - 1, below[0] + 1)
    # The ends as they were solved: solved again from another start, they could come out on the same side of `least`
    solved = dict(zip(depths[ends], values[ends], strict=True))

    def spare(depth: float) -> float:
        return (solved[depth] if depth in solved else at(depth)) - least

    low, high = solved
    return float(scipy.optimize.brentq(spare, low, high, xtol=DEPTH_TOLERANCE))
