"""Node voltages of a network by damped Newton steps on its convex co-content."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.sparse.linalg import splu

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
    Nodal analysis: with incidence A and branch law i(v), F = A^T i(A v) = 0 and the Jacobian is A^T diag(i') A, sparse,
    symmetric and positive definite. Along a Newton step d the slope F.d can only rise, so a step is halved until it no
    longer overshoots; then every step lowers the co-content and the iteration converges from anywhere.
    """
    node_v = np.zeros(network.incidence.shape[1]) if start_v is None else start_v
    transposed = network.incidence.T.tocsr()
    for step in range(STEPS_MOST):
        branch_v = network.incidence @ node_v
        branch_ma, conductance_ms = _branches(network, branch_v)
        force = transposed @ (network.weight * branch_ma)
        residual_ma = float(np.max(np.abs(force) / network.node_weight))
        if residual_ma <= BALANCE_MA + BALANCE_FRAC * float(np.max(np.abs(branch_ma))):
            return Balance(node_v=node_v, branch_v=branch_v, branch_ma=branch_ma, steps=step, residual_ma=residual_ma)
        jacobian = (transposed @ sparse.diags_array(network.weight * conductance_ms) @ network.incidence).tocsc()
        toward_v = -splu(jacobian).solve(force)
        node_v = node_v + _step_length(network, node_v=node_v, toward_v=toward_v, slope=float(force @ toward_v)) * (
            toward_v
        )
    raise DesignError(
        f"circuit: its currents do not settle within {STEPS_MOST} steps; check its resistances and curves"
    )


def _step_length(network: Network, *, node_v: FloatArray, toward_v: FloatArray, slope: float) -> float:
    length, along_v = 1.0, network.incidence @ toward_v
    branch_v = network.incidence @ node_v
    for _ in range(HALVINGS_MOST):
        branch_ma, _ = _branches(network, branch_v + length * along_v)
        if float((network.weight * branch_ma) @ along_v) <= -SLOPE_KEPT * slope:
            break
        length *= 0.5
    return length


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
