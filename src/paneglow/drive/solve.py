"""The operating point of a whole board at one state of its supply."""

import numpy as np
import numpy.typing as npt

from paneglow.drive.network import Network, build_network, warmed_network
from paneglow.drive.newton import Balance, solve_network
from paneglow.drive.records import Circuit, OperatingPoint
from paneglow.drive.steps import Step, build_steps, check_circuit
from paneglow.drive.supplies import Source, supply_source
from paneglow.physics import relative_lights

FloatArray = npt.NDArray[np.float64]

JUNCTION_MOST_C = 150.0  # hotter parts are destroyed rather than computed; from memory of maximum junction ratings
SETTLED_K = 0.01  # change of a junction temperature that no longer matters: below 0.1 mV
WARMING_ROUNDS = 60


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

    Notes
    -----
    All steps of the cycle are solved as one system. Junctions start at the air's temperature and warm by their
    mean electrical power (light carries a part of it away, which is left out: a little too warm) until nothing changes.
    """
    check_circuit(circuit)
    source = supply_source(circuit.supply, depth_frac=depth_frac)
    return solve_at(circuit, steps=build_steps(circuit), source=source, start_v=None if near is None else near.node_v)


def solve_at(
    circuit: Circuit,
    *,
    steps: tuple[Step, ...],
    source: Source,
    start: OperatingPoint | None = None,
    start_v: FloatArray | None = None,
) -> OperatingPoint:
    """The operating point of a checked circuit, cut into steps, on a source; faster from one that is near.

    `start` gives junction temperatures and node voltages to start from, `start_v` the voltages alone.
    """
    thermal_k_per_w = np.array([led.thermal_k_per_w for led in circuit.leds])
    share_frac = np.array([step.share_frac for step in steps])
    junction_c = np.full(len(circuit.leds), circuit.ambient_c) if start is None else start.junction_c
    node_v = start_v if start is None else start.node_v
    network = build_network(circuit, steps=steps, source=source, junction_c=junction_c)
    if node_v is not None and len(node_v) != network.incidence.nodes:
        node_v = None  # of another circuit
    for turn in range(WARMING_ROUNDS):
        if turn > 0:
            network = warmed_network(network, circuit=circuit, junction_c=junction_c)
        balance = solve_network(network, start_v=node_v)
        node_v = balance.node_v
        power_mw = share_frac @ _by_step(balance.branch_v * balance.branch_ma, network.diode, steps=len(steps))
        warm_c = np.minimum(circuit.ambient_c + 1e-3 * thermal_k_per_w * power_mw, JUNCTION_MOST_C)
        settled = bool(np.all(np.abs(warm_c - junction_c) <= SETTLED_K))
        junction_c = warm_c
        if settled:
            break
    return _point(circuit, steps=steps, source=source, network=network, balance=balance, junction_c=junction_c)


def _by_step(branch_value: FloatArray, branches: npt.NDArray[np.int64], *, steps: int) -> FloatArray:
    return branch_value[branches].reshape(steps, -1)


def _point(
    circuit: Circuit,
    *,
    steps: tuple[Step, ...],
    source: Source,
    network: Network,
    balance: Balance,
    junction_c: FloatArray,
) -> OperatingPoint:
    share_frac = np.array([step.share_frac for step in steps])
    led_ma = _by_step(balance.branch_ma, network.diode, steps=len(steps))
    lights = relative_lights(led_ma, curves=[led.flux for led in circuit.leds], junction_c=junction_c)
    power_mw = balance.branch_v * balance.branch_ma

    def mean_power_mw(name: tuple[str, str | int]) -> float:
        branches = network.named.get(name, np.array([], dtype=np.int64))
        return float(network.weight[branches] @ power_mw[branches])

    pin_ma = [
        balance.branch_ma[network.named["high", pin.name]] - balance.branch_ma[network.named["low", pin.name]]
        for pin in circuit.pins
    ]
    return OperatingPoint(
        refs=circuit.refs,
        pin_names=tuple(pin.name for pin in circuit.pins),
        share_frac=share_frac,
        meant=np.array([[ref in step.meant for ref in circuit.refs] for step in steps]).reshape(len(steps), -1),
        led_current_ma=led_ma,
        led_voltage_v=_by_step(balance.branch_v, network.diode, steps=len(steps)),
        pin_current_ma=np.array(pin_ma).reshape(len(circuit.pins), len(steps)).T,
        resistor_power_mw=np.array([mean_power_mw(("resistor", number)) for number in range(len(circuit.strings))]),
        pin_resistor_power_mw=np.array([mean_power_mw(("pin resistor", pin.name)) for pin in circuit.pins]),
        supply_v=balance.node_v[network.named["rail", 0]],
        supply_current_ma=balance.branch_ma[network.named["supply", 0]],
        junction_c=junction_c,
        light_frac=share_frac @ lights,
        open_circuit_v=source.voltage_v,
        depth_frac=source.depth_frac,
        node_v=balance.node_v,
        steps_taken=balance.steps,
        residual_ma=balance.residual_ma,
    )
