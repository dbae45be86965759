"""Node voltages of a network by damped Newton steps on its convex co-content."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.network import Network
from paneglow.errors import DesignError
from paneglow.physics import shockley_current_ma

FloatArray = npt.NDArray[np.float64]

# 10 pA, and 1e-10 of the greatest branch current: far below any light, well above rounding at 5 V over a 1 mohm wire
BALANCE_MA = 1e-8
BALANCE_FRAC = 1e-10
STEPS_MOST = 400  # hundreds of decades of current at one thermal voltage per step still fit
SLOPE_KEPT = 0.9  # a step is accepted once the slope along it has not turned steeper uphill than this share of it
HALVINGS_MOST = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balance:
    """Solved voltages and currents: arrays over nodes and branches of the network."""

    node_v: FloatArray
    branch_v: FloatArray
    branch_ma: FloatArray
    steps: int
    residual_ma: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """Node voltages, and what every branch does at them: voltage, current [mA] and its slope [mS]."""

    node_v: FloatArray
    branch_v: FloatArray
    branch_ma: FloatArray
    conductance_ms: FloatArray


def solve_network(network: Network, *, start_v: FloatArray | None = None) -> Balance:
    """Node voltages at which the current into every node is balanced.

    Parameters
    ----------
    network : Network
    start_v : ndarray, shape (node,), optional
        Where to start; all nodes at 0 V where absent. The result does not depend on it.

    Raises
    ------
    DesignError
        If no balance is found, which a network of rising branches always has: then a value in it is not a number.

    Notes
    -----
    Nodal analysis: with incidence A and branch law i(v), F = A^T i(A v) = 0 and the Jacobian is A^T diag(i') A,
    symmetric and positive definite. Along a Newton step d the slope F.d can only rise, so a step is halved until it no
    longer overshoots; then every step lowers the co-content and the iteration converges from anywhere.
    """
    state = _state(network, np.zeros(network.incidence.nodes) if start_v is None else start_v)
    for step in range(STEPS_MOST):
        force_ma = network.incidence.node_ma(network.weight * state.branch_ma)
        residual_ma = float(np.max(np.abs(force_ma) / network.node_weight))
        if residual_ma <= BALANCE_MA + BALANCE_FRAC * float(np.max(np.abs(state.branch_ma))):
            return Balance(
                node_v=state.node_v,
                branch_v=state.branch_v,
                branch_ma=state.branch_ma,
                steps=step,
                residual_ma=residual_ma,
            )
        toward_v = network.incidence.balancing_v(force_ma, conductance_ms=network.weight * state.conductance_ms)
        state = _stepped(network, state, toward_v=toward_v, slope=float(force_ma @ toward_v))
    raise DesignError(
        f"circuit: its currents do not settle within {STEPS_MOST} steps; check its resistances and curves"
    )


def _state(network: Network, node_v: FloatArray) -> _State:
    branch_v = network.incidence.branch_v(node_v)
    branch_ma, conductance_ms = _branches(network, branch_v)
    return _State(node_v=node_v, branch_v=branch_v, branch_ma=branch_ma, conductance_ms=conductance_ms)


def _stepped(network: Network, state: _State, *, toward_v: FloatArray, slope: float) -> _State:
    """The state after the longest of the halved steps that does not overshoot."""
    length, along_v = 1.0, network.incidence.branch_v(toward_v)
    for _ in range(HALVINGS_MOST):
        tried = _state(network, state.node_v + length * toward_v)
        if float((network.weight * tried.branch_ma) @ along_v) <= -SLOPE_KEPT * slope:
            return tried
        length *= 0.5
    return _state(network, state.node_v + length * toward_v)


def _branches(network: Network, branch_v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Current [mA] and its slope [mS] of every branch."""
    current_ma, slope_ms = np.zeros_like(branch_v), np.zeros_like(branch_v)
    current_ma[network.linear] = network.conductance_ms * (branch_v[network.linear] + network.force_v)
    slope_ms[network.linear] = network.conductance_ms
    diode_ma = shockley_current_ma(
        branch_v[network.diode],
        saturation_ma=network.saturation_ma,
        slope_v=network.slope_v,
        series_ohm=network.series_ohm,
    )
    current_ma[network.diode] = diode_ma
    # dV/dI = Rs + nVt / (I + Is), written so that a blocked diode has slope 0 and not a division by 0
    carried_ma = np.maximum(diode_ma + network.saturation_ma, 0.0)
    slope_ms[network.diode] = carried_ma / (1e-3 * network.series_ohm * carried_ma + network.slope_v)
    ratio = np.tanh(np.maximum(branch_v[network.sink], 0.0) / network.knee_v)
    current_ma[network.sink] = network.sink_ma * ratio
    rising = branch_v[network.sink] > 0.0
    slope_ms[network.sink] = np.where(rising, network.sink_ma / network.knee_v * (1.0 - ratio**2), 0.0)
    return current_ma, slope_ms
