"""Cells that run down: open-circuit voltage and resistance against charge drawn, sag, and capacity against load.

A cell is two wells of charge joined by slow diffusion: only the near well feeds the terminals, so that a heavy load
empties it early and a rest refills it (Manwell and McGowan, Solar Energy 50:399, 1993). Both voltage and resistance
follow the depth of the near well.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_above, check_between
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]
Table = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellCurve:
    """A cell, or several alike in series.

    Attributes
    ----------
    capacity_mah : float
        Charge of both wells, drawn so slowly that they stay level [mAh].
    depth_frac : tuple of float
        Depth of the table entries, rising from 0 (fresh) to 1 (empty) [1].
    open_circuit_v : tuple of float
        Voltage without load at those depths, after rest, not rising [V].
    resistance_ohm : tuple of float
        Voltage lost per current that has flowed for seconds, at those depths, not falling [ohm].
    fast_frac : float
        Share of that resistance that acts at once [1]; the rest averages over pulses shorter than its lag.
    near_frac : float
        Share of the capacity in the near well [1], above 0.
    levelling_per_h : float
        Rate at which a difference between the wells dies away at rest [1/h].
    self_discharge_per_h : float
        Share of the capacity lost on the shelf [1/h].
    cutoff_v : float or None
        Voltage under load below which protection cuts the cell off [V]; None where there is no protection.
    """

    capacity_mah: float
    depth_frac: Table
    open_circuit_v: Table
    resistance_ohm: Table
    fast_frac: float = 1.0
    near_frac: float = 1.0
    levelling_per_h: float = 1.0
    self_discharge_per_h: float = 0.0
    cutoff_v: float | None = None

    def __post_init__(self) -> None:
        check_above("capacity_mah", self.capacity_mah, lower=0.0)
        check_between("fast_frac", self.fast_frac, lower=0.0, upper=1.0)
        check_between("near_frac", self.near_frac, lower=1e-3, upper=1.0)
        check_above("levelling_per_h", self.levelling_per_h, lower=0.0)
        check_between("self_discharge_per_h", self.self_discharge_per_h, lower=0.0)
        depth, volts, ohms = (np.asarray(t) for t in (self.depth_frac, self.open_circuit_v, self.resistance_ohm))
        if not depth.shape == volts.shape == ohms.shape or depth.size < 2 or depth[0] != 0.0 or depth[-1] != 1.0:
            raise RangeError("a cell needs as many voltages and resistances as depths, from depth 0 to depth 1")
        if np.any(np.diff(depth) <= 0.0) or np.any(np.diff(volts) > 0.0) or np.any(np.diff(ohms) < 0.0):
            raise RangeError("with rising depth the voltage of a cell must not rise and its resistance must not fall")
        check_above("open_circuit_v at depth 1", float(volts[-1]), lower=0.0)
        check_above("resistance_ohm at depth 0", float(ohms[0]), lower=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CellState:
    """Depth of both wells [1], 0 fresh to 1 empty."""

    near_frac: float = 0.0  # Depth of the near well, which feeds the terminals
    far_frac: float = 0.0  # Depth of the far well


def cell_open_circuit_v(curve: CellCurve, depth_frac: npt.ArrayLike) -> FloatArray:
    """Voltage without load at depths of the near well [V], linear between entries and constant outside.

    Parameters
    ----------
    curve : CellCurve
    depth_frac : array_like, shape (...)
        0 fresh to 1 empty [1].
    """
    return np.asarray(np.interp(np.asarray(depth_frac, dtype=np.float64), curve.depth_frac, curve.open_circuit_v))


def cell_resistance_ohm(curve: CellCurve, depth_frac: npt.ArrayLike) -> FloatArray:
    """Resistance to lasting current at depths of the near well [ohm], linear between entries, constant outside.

    Parameters
    ----------
    curve : CellCurve
    depth_frac : array_like, shape (...)
        0 fresh to 1 empty [1].
    """
    return np.asarray(np.interp(np.asarray(depth_frac, dtype=np.float64), curve.depth_frac, curve.resistance_ohm))


def cells_in_series(curve: CellCurve, count: int) -> CellCurve:
    """Equal cells in series: voltages, cut-off and resistances add, charge does not.

    Parameters
    ----------
    curve : CellCurve
        One of them.
    count : int
        How many, at least 1.

    Raises
    ------
    RangeError
        If there is none.
    """
    check_between("cells in series", count, lower=1)
    return replace(
        curve,
        open_circuit_v=tuple(count * volt for volt in curve.open_circuit_v),
        resistance_ohm=tuple(count * ohm for ohm in curve.resistance_ohm),
        cutoff_v=None if curve.cutoff_v is None else count * curve.cutoff_v,
    )


def drawn_frac(curve: CellCurve, state: CellState) -> float:
    """Share of the capacity that is gone, load and shelf together [1].

    Parameters
    ----------
    curve : CellCurve
    state : CellState
    """
    return curve.near_frac * state.near_frac + (1.0 - curve.near_frac) * state.far_frac


def drain_cell(curve: CellCurve, state: CellState, *, current_ma: float, hours: float) -> CellState:
    """State after a time at constant current, exact.

    Parameters
    ----------
    curve : CellCurve
    state : CellState
        Before.
    current_ma : float
        Drawn [mA], 0 for a rest.
    hours : float
        How long [h].

    Notes
    -----
    With u the share gone, d the difference near - far, i = I/C + shelf loss and K the levelling rate:
    u' = i and d' = i/near - K d, both solved in closed form.

    References
    ----------
    J. F. Manwell, J. G. McGowan, "Lead acid battery storage model for hybrid energy systems", Solar Energy 50:399
    (1993): two wells and a constant rate between them. Solved here for depths instead of charges.
    """
    rate_per_h = current_ma / curve.capacity_mah + curve.self_discharge_per_h
    gone = drawn_frac(curve, state) + rate_per_h * hours
    faded = math.exp(-curve.levelling_per_h * hours)
    settled = rate_per_h / (curve.near_frac * curve.levelling_per_h)
    gap = (state.near_frac - state.far_frac) * faded + settled * (1.0 - faded)
    return CellState(near_frac=gone + (1.0 - curve.near_frac) * gap, far_frac=gone - curve.near_frac * gap)
