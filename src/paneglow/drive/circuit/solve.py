"""The operating point of a whole board at states of its supply, many states at once.

Nodal analysis: with incidence A and branch law i(v), F = A^T i(A v) = 0 and the Jacobian is A^T diag(i') A, symmetric
and positive definite. Along a Newton step d the slope F.d can only rise, so a step is halved until it no longer
overshoots; then every step lowers the co-content and the iteration converges from anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.drive.circuit.network import WIRE_OHM, Network, build_network
from paneglow.drive.circuit.parts import Source, supply_source
from paneglow.drive.circuit.records import Circuit, OperatingPoint
from paneglow.drive.circuit.steps import Step, build_steps, check_circuit
from paneglow.errors import DesignError
from paneglow.physics import (
    DiodeCurve,
    junction_slope_v,
    relative_light,
    saturation_ma,
    shockley_current_ma,
    stacked_curves,
)

FloatArray = npt.NDArray[np.float64]

# Hotter parts are destroyed rather than computed: absolute maximum of power LEDs on three public data sheets, seen
JUNCTION_MOST_C = 150.0
UNCHANGED_K = 0.01  # change of a junction temperature that no longer matters: below 0.1 mV
WARMING_ROUNDS = 60
# 10 pA, and 1e-10 of the greatest branch current: far below any light, well above rounding at 5 V over a 1 mohm wire
BALANCE_MA = 1e-8
BALANCE_FRAC = 1e-10
STEPS_MOST = 400  # hundreds of decades of current at one thermal voltage per step still fit
SLOPE_KEPT = 0.9  # a step is accepted once the slope along it has not turned steeper uphill than this share of it
HALVINGS_MOST = 60


def solve_point(circuit: Circuit, *, depth_frac: float = 0.0, near: OperatingPoint | None = None) -> OperatingPoint:
    """Currents, voltages, temperatures and light of every LED of a board.

    Parameters
    ----------
    circuit : Circuit
    depth_frac : float
        How far the supply is drawn down at its terminals, 0 fresh to 1 empty [1]; without meaning for a rail.
    near : OperatingPoint, optional
        Of nearly the same circuit: the search for the voltages starts there. Junctions still warm from the air's
        temperature, so that the answer does not depend on it.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it stands.
    RangeError
        If the depth is not 0 to 1.
    """
    return solve_points(circuit, depths_frac=(depth_frac,), near=near)[0]


def solve_points(
    circuit: Circuit, *, depths_frac: Sequence[float], near: OperatingPoint | None = None
) -> tuple[OperatingPoint, ...]:
    """Operating points at several depths of the supply, in their order.

    Parameters
    ----------
    circuit : Circuit
    depths_frac : sequence of float
        As for `solve_point` [1].
    near : OperatingPoint, optional
        As for `solve_point`.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it stands.
    RangeError
        If a depth is not 0 to 1.

    Notes
    -----
    All steps of the cycle are solved as one system. Junctions start at the air's temperature and warm by their
    mean electrical power (light carries a part of it away, which is left out: a little too warm) until nothing changes.
    """
    check_circuit(circuit)
    steps = build_steps(circuit)
    sources = tuple(supply_source(circuit.supply, depth_frac=float(depth)) for depth in depths_frac)
    slow = any(source.slow_ohm > 0.0 for source in sources)
    network = build_network(circuit, steps=steps, slow=slow)
    start_v = None if near is None or near.node_v.size != network.node_weight.size else near.node_v
    # A sparse system is large enough to be solved one state at a time
    groups = [[source] for source in sources] if scipy.sparse.issparse(network.table) else [list(sources)]
    points = [_solve_sources(circuit, steps=steps, network=network, sources=group, start_v=start_v) for group in groups]
    return tuple(point for group in points for point in group)


def _solve_sources(
    circuit: Circuit, *, steps: tuple[Step, ...], network: Network, sources: list[Source], start_v: FloatArray | None
) -> list[OperatingPoint]:
    """Operating points at several sources, junctions warmed until nothing changes."""
    curve = stacked_curves([led.curve for led in circuit.leds])
    thermal_k_per_w = np.array([led.thermal_k_per_w for led in circuit.leds])
    share_frac = np.array([step.share_frac for step in steps])
    junction_c = np.full((len(sources), len(circuit.leds)), circuit.ambient_c)
    node_v = np.zeros((len(sources), network.node_weight.size)) + (0.0 if start_v is None else start_v)
    for _ in range(WARMING_ROUNDS):
        law = _branch_law(network, sources=sources, curve=curve, junction_c=junction_c)
        balance = solve_network(network, law=law, start_v=node_v)
        node_v = balance.node_v
        power_mw = (balance.branch_v * balance.branch_ma)[:, network.diode].reshape(len(sources), len(steps), -1)
        warmth_k = 1e-3 * thermal_k_per_w * np.einsum("s,csl->cl", share_frac, power_mw)
        warm_c = np.minimum(circuit.ambient_c + warmth_k, JUNCTION_MOST_C)
        change_k, junction_c = np.abs(warm_c - junction_c), warm_c
        if np.all(change_k <= UNCHANGED_K):
            break
    return _operating_points(
        circuit, steps=steps, network=network, balance=balance, sources=sources, junction_c=junction_c
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Balance:
    """Solved voltages and currents, shapes (case, node) and (case, branch); Newton steps, residual of each case."""

    node_v: FloatArray
    branch_v: FloatArray
    branch_ma: FloatArray
    steps: int
    residual_ma: FloatArray


def _operating_points(
    circuit: Circuit,
    *,
    steps: tuple[Step, ...],
    network: Network,
    balance: Balance,
    sources: list[Source],
    junction_c: FloatArray,
) -> list[OperatingPoint]:
    """What the solved cases say of LEDs, pins, resistors and supply."""
    share_frac, named, none = np.array([step.share_frac for step in steps]), network.named, np.array([], dtype=np.int64)
    flux = stacked_curves([led.flux for led in circuit.leds])
    led_ma = balance.branch_ma[:, network.diode].reshape(len(sources), len(steps), -1)
    light = relative_light(led_ma, curve=flux, junction_c=junction_c[:, np.newaxis])
    meant = np.array([[ref in step.meant for ref in circuit.refs] for step in steps]).reshape(len(steps), -1)
    places = [("shared", number) for number in range(len(circuit.shared))]
    places += [("string", number) for number, string in enumerate(circuit.strings) if string.resistor is not None]
    places += [("pin", number) for number, pin in enumerate(circuit.pins) if pin.resistor is not None]
    points = []
    for case, source in enumerate(sources):
        branch_v, branch_ma = balance.branch_v[case], balance.branch_ma[case]
        weighted_mw = network.weight * branch_v * branch_ma
        pin_ma = [branch_ma[named["high", pin.name]] - branch_ma[named["low", pin.name]] for pin in circuit.pins]
        points.append(
            OperatingPoint(
                refs=circuit.refs,
                pin_names=tuple(pin.name for pin in circuit.pins),
                share_frac=share_frac,
                meant=meant,
                led_current_ma=led_ma[case],
                led_voltage_v=branch_v[network.diode].reshape(len(steps), -1),
                pin_current_ma=np.array(pin_ma).reshape(len(circuit.pins), len(steps)).T,
                resistor_power_mw=np.array([weighted_mw[named.get(place, none)].sum() for place in places]),
                supply_v=balance.node_v[case, named["rail", 0]],
                supply_current_ma=branch_ma[named["supply", 0]],
                junction_c=junction_c[case],
                light_frac=share_frac @ light[case],
                open_circuit_v=source.voltage_v,
                depth_frac=source.depth_frac,
                node_v=balance.node_v[case],
                steps_taken=balance.steps,
                residual_ma=float(balance.residual_ma[case]),
            )
        )
    return points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BranchLaw:
    """Branches at several states (cases) of supply and junctions; every array has the cases first.

    Attributes
    ----------
    conductance_ms, force_v : ndarray, shape (case, linear branch)
        I = conductance * (V + force).
    saturation_ma, slope_v, series_ohm : ndarray, shape (case, diode branch)
    """

    conductance_ms: FloatArray
    force_v: FloatArray
    saturation_ma: FloatArray
    slope_v: FloatArray
    series_ohm: FloatArray


def _branch_law(network: Network, *, sources: list[Source], curve: DiodeCurve, junction_c: FloatArray) -> BranchLaw:
    conductance_ms = np.tile(network.conductance_ms, (len(sources), 1))
    force_v = np.zeros_like(conductance_ms)
    volts, fast, slow = (
        np.array([[getattr(source, name)] for source in sources]) for name in ("voltage_v", "fast_ohm", "slow_ohm")
    )
    conductance_ms[:, network.fast] = 1e3 / np.maximum(fast, WIRE_OHM)
    conductance_ms[:, network.slow] = 1e3 / np.maximum(slow, WIRE_OHM)
    force_v[:, network.slow if network.slow.size else network.fast] = volts
    steps = network.diode.size // junction_c.shape[1]
    return BranchLaw(
        conductance_ms=conductance_ms,
        force_v=force_v,
        saturation_ma=np.tile(saturation_ma(curve, junction_c=junction_c), (1, steps)),
        slope_v=np.tile(junction_slope_v(curve, junction_c=junction_c), (1, steps)),
        series_ohm=np.tile(np.broadcast_to(curve.series_ohm, junction_c.shape), (1, steps)),
    )


def solve_network(network: Network, *, law: BranchLaw, start_v: FloatArray) -> Balance:
    """Node voltages at which the current into every node is balanced, for every case.

    Parameters
    ----------
    network : Network
    law : BranchLaw
    start_v : ndarray, shape (case, node)
        Where to start [V]; the result does not depend on it.

    Raises
    ------
    DesignError
        If no balance is found, which a network of rising branches always has: then a value in it is not a number.
    """
    table, weight = network.table, network.weight
    node_v = np.array(start_v, dtype=np.float64)
    branch_v = (table @ node_v.T).T
    branch_ma, conductance_ms = _branch_currents(network, law, branch_v, cases=slice(None))
    for step in range(STEPS_MOST):
        force_ma = (table.T @ (weight * branch_ma).T).T
        residual_ma = np.max(np.abs(force_ma) / network.node_weight, axis=1)
        open_cases = np.flatnonzero(~(residual_ma <= BALANCE_MA + BALANCE_FRAC * np.abs(branch_ma).max(axis=1)))
        if open_cases.size == 0:
            return Balance(node_v=node_v, branch_v=branch_v, branch_ma=branch_ma, steps=step, residual_ma=residual_ma)
        toward_v = _balancing_v(table, force_ma[open_cases], conductance_ms=(weight * conductance_ms)[open_cases])
        along_v = (table @ toward_v.T).T
        slope = np.einsum("cn,cn->c", force_ma[open_cases], toward_v)
        length = np.ones(open_cases.size)
        for _ in range(HALVINGS_MOST):
            tried_v = branch_v[open_cases] + length[:, np.newaxis] * along_v
            tried_ma, tried_ms = _branch_currents(network, law, tried_v, cases=open_cases)
            over = ~(np.einsum("b,cb,cb->c", weight, tried_ma, along_v) <= -SLOPE_KEPT * slope)
            if not over.any():
                break
            length[over] *= 0.5
        node_v[open_cases] += length[:, np.newaxis] * toward_v
        branch_v[open_cases] = (table @ node_v[open_cases].T).T
        branch_ma[open_cases], conductance_ms[open_cases] = tried_ma, tried_ms
    raise DesignError(
        f"circuit: its currents do not balance within {STEPS_MOST} steps; check its resistances and curves"
    )


def _balancing_v(
    table: "FloatArray | scipy.sparse.csr_array", force_ma: FloatArray, *, conductance_ms: FloatArray
) -> FloatArray:
    """Change of the node voltages that would cancel `force_ma` were all branches straight [V], shape (case, node)."""
    if scipy.sparse.issparse(table):
        return np.array([
            -scipy.sparse.linalg.splu((table.T @ scipy.sparse.diags_array(own_ms) @ table).tocsc()).solve(own_ma)
            for own_ms, own_ma in zip(conductance_ms, force_ma, strict=True)
        ])  # fmt: skip
    jacobian = (table.T * conductance_ms[:, np.newaxis]) @ table
    return np.asarray(np.linalg.solve(jacobian, -force_ma[..., np.newaxis])[..., 0])


def _branch_currents(
    network: Network, law: BranchLaw, branch_v: FloatArray, *, cases: npt.NDArray[np.int64] | slice
) -> tuple[FloatArray, FloatArray]:
    """Current [mA] and its slope [mS] of every branch of some cases, shape (case, branch)."""
    current_ma, slope_ms = np.zeros_like(branch_v), np.zeros_like(branch_v)
    current_ma[:, network.linear] = law.conductance_ms[cases] * (branch_v[:, network.linear] + law.force_v[cases])
    slope_ms[:, network.linear] = law.conductance_ms[cases]
    diode = {
        "saturation_ma": law.saturation_ma[cases],
        "slope_v": law.slope_v[cases],
        "series_ohm": law.series_ohm[cases],
    }
    diode_ma = shockley_current_ma(branch_v[:, network.diode], **diode)
    current_ma[:, network.diode] = diode_ma
    # dV/dI = Rs + nVt / (I + Is), written so that a blocked diode has slope 0 and not a division by 0
    carried_ma = np.maximum(diode_ma + diode["saturation_ma"], 0.0)
    slope_ms[:, network.diode] = carried_ma / (1e-3 * diode["series_ohm"] * carried_ma + diode["slope_v"])
    ratio = np.tanh(np.maximum(branch_v[:, network.sink], 0.0) / network.dropout_v)
    current_ma[:, network.sink] = network.sink_ma * ratio
    rising = branch_v[:, network.sink] > 0.0
    slope_ms[:, network.sink] = np.where(rising, network.sink_ma / network.dropout_v * (1.0 - ratio**2), 0.0)
    return current_ma, slope_ms
