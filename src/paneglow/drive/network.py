"""A circuit as nodes and branches: arrays for the solver, one block of nodes per step of the cycle.

Every branch runs between two nodes and its current never falls with its voltage. So the node equations are the gradient
of a convex function (the co-content: W. Millar, Phil. Mag. 42:1150, 1951) and have exactly one solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from paneglow.drive.incidence import GROUND_NODE, Incidence, build_incidence
from paneglow.drive.records import GROUND, RAIL, Chip, Circuit, LedString
from paneglow.drive.steps import Step
from paneglow.drive.supplies import Source
from paneglow.physics import build_junctions

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# A wire of some millimetres; keeps an ideal supply or a missing pin resistance from being an infinite conductance
WIRE_OHM = 1e-3
# About 1 nA per volt: reverse leakage of an LED, input leakage of a floating pin; from memory, 0.01 to 10 nA are usual
LEAK_OHM = 1e9
# A load that is not an LED stops drawing as its voltage goes; it draws 76 % of its current at this voltage; our choice
LOAD_KNEE_V = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """Branches of the whole cycle over its nodes.

    Attributes
    ----------
    incidence : Incidence
        Which nodes each branch joins.
    weight : ndarray, shape (branch,)
        Share of the cycle in which the branch exists [1]; balances are of charge over the cycle.
    linear, diode, sink : ndarray of int
        Branches by law. LEDs of a step stand together, steps in order.
    conductance_ms, force_v : ndarray, shape (linear branch,)
        I = conductance * (V + force) [mS, V].
    saturation_ma, slope_v, series_ohm : ndarray, shape (diode branch,)
    sink_ma, knee_v : ndarray, shape (sink branch,)
        I = sink_ma tanh(V / knee) for V above 0, else 0.
    node_weight : ndarray, shape (node,)
        Share of the cycle in which the node exists [1].
    named : dict
        Indices of branches, one per step: ("supply", 0), ("high", pin), ("low", pin), ("pin resistor", pin); those
        of ("resistor", string) in the steps that have it; and of the nodes ("rail", 0).
    """

    incidence: Incidence
    weight: FloatArray
    linear: IntArray
    conductance_ms: FloatArray
    force_v: FloatArray
    diode: IntArray
    saturation_ma: FloatArray
    slope_v: FloatArray
    series_ohm: FloatArray
    sink: IntArray
    sink_ma: FloatArray
    knee_v: FloatArray
    node_weight: FloatArray
    named: dict[tuple[str, str | int], IntArray]


@dataclass(slots=True)
class _Draft:
    """Branches as they are added; `ends` holds (from node, to node), the laws the numbers of theirs."""

    nodes: int = 0
    ends: list[tuple[int, int]] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    node_weights: list[float] = field(default_factory=list)
    linear: list[tuple[int, float, float]] = field(default_factory=list)
    diode: list[tuple[int, int]] = field(default_factory=list)  # branch, LED
    sink: list[tuple[int, float, float]] = field(default_factory=list)
    named: dict[tuple[str, str | int], list[int]] = field(default_factory=dict)
    weight: float = 1.0  # of what is being added

    def node(self) -> int:
        self.nodes += 1
        self.node_weights.append(self.weight)
        return self.nodes - 1

    def branch(self, start: int, end: int, *, name: tuple[str, str | int] | None = None) -> int:
        self.ends.append((start, end))
        self.weights.append(self.weight)
        if name is not None:
            self.named.setdefault(name, []).append(len(self.ends) - 1)
        return len(self.ends) - 1

    def resistor(
        self,
        start: int,
        end: int,
        *,
        ohm: float,
        force_v: float = 0.0,
        name: tuple[str, str | int] | None = None,
        closed: bool = True,
    ) -> None:
        conductance_ms = 1e3 / max(ohm, WIRE_OHM) if closed else 0.0
        self.linear.append((self.branch(start, end, name=name), conductance_ms, force_v))

    def load(self, start: int, end: int, *, current_ma: float, knee_v: float) -> None:
        self.sink.append((self.branch(start, end), current_ma, knee_v))


def build_network(circuit: Circuit, *, steps: Sequence[Step], source: Source, junction_c: npt.ArrayLike) -> Network:
    """Nodes and branches of a circuit over all steps of its cycle, at one state of the supply.

    Parameters
    ----------
    circuit : Circuit
    steps : sequence of Step
    source : Source
        Voltage and resistance of the supply. The slow part of its resistance sees the mean current of the cycle: one
        node is shared by all steps, which couples them.
    junction_c : array_like, shape (led,)
        Junction temperatures [deg C].
    """
    draft = _Draft()
    origin, force_v = GROUND_NODE, source.voltage_v
    if source.slow_ohm > 0.0:
        origin, force_v = draft.node(), 0.0
        draft.resistor(GROUND_NODE, origin, ohm=source.slow_ohm, force_v=source.voltage_v)
    for step in steps:
        draft.weight = step.share_frac
        rail = draft.node()
        draft.named.setdefault(("rail", 0), []).append(rail)
        draft.resistor(origin, rail, ohm=source.fast_ohm, force_v=force_v, name=("supply", 0))
        _add_step(draft, circuit=circuit, step=step, rail=rail)
    return _finished(draft, circuit=circuit, junction_c=junction_c)


def warmed_network(network: Network, *, circuit: Circuit, junction_c: npt.ArrayLike) -> Network:
    """The same network with its junctions at other temperatures [deg C], shape (led,)."""
    junctions = build_junctions([led.curve for led in circuit.leds], junction_c=junction_c)
    steps = len(network.diode) // max(len(circuit.leds), 1)
    return replace(
        network, saturation_ma=np.tile(junctions.saturation_ma, steps), slope_v=np.tile(junctions.slope_v, steps)
    )


def _add_step(draft: _Draft, *, circuit: Circuit, step: Step, rail: int) -> None:
    standing_ma = circuit.standing_ma + (0.0 if circuit.chip is None else circuit.chip.standing_ma)
    if standing_ma > 0.0:
        draft.load(rail, GROUND_NODE, current_ma=standing_ma, knee_v=LOAD_KNEE_V)
    terminals = {RAIL: rail, GROUND: GROUND_NODE}
    if circuit.chip is not None:
        terminals |= _add_pins(draft, circuit=circuit, chip=circuit.chip, step=step, rail=rail)
    index = {ref: number for number, ref in enumerate(circuit.refs)}
    ends: dict[str, tuple[int, int]] = {}
    for number, string in enumerate(circuit.strings):
        ends |= _add_string(draft, number, string=string, terminals=terminals, closed=step.strings_on[number])
    for ref in circuit.refs:
        draft.diode.append((draft.branch(*ends[ref]), index[ref]))
        draft.resistor(*ends[ref], ohm=LEAK_OHM)


def _add_pins(draft: _Draft, *, circuit: Circuit, chip: Chip, step: Step, rail: int) -> dict[str, int]:
    outer = {}
    for pin in circuit.pins:
        pad, state = draft.node(), step.pins[pin.name]
        draft.resistor(rail, pad, ohm=chip.high_ohm, name=("high", pin.name), closed=state == "high")
        draft.resistor(pad, GROUND_NODE, ohm=chip.low_ohm, name=("low", pin.name), closed=state == "low")
        draft.resistor(pad, GROUND_NODE, ohm=LEAK_OHM)
        outer[pin.name] = pad
        if pin.resistor_ohm > 0.0:
            outer[pin.name] = draft.node()
            draft.resistor(pad, outer[pin.name], ohm=pin.resistor_ohm, name=("pin resistor", pin.name))
    return outer


def _add_string(
    draft: _Draft, number: int, *, string: LedString, terminals: dict[str, int], closed: bool
) -> dict[str, tuple[int, int]]:
    """Add all of a string but its LEDs; the nodes between which each LED stands."""
    here, end = terminals[string.from_terminal], terminals[string.to_terminal]
    if string.resistor_ohm > 0.0 or not closed:
        here, start = draft.node(), here
        draft.resistor(start, here, ohm=string.resistor_ohm, name=("resistor", number), closed=closed)
    if string.sink is not None:
        end, foot = draft.node(), end
        draft.load(end, foot, current_ma=string.sink.current_ma, knee_v=string.sink.knee_v)
        draft.resistor(end, foot, ohm=LEAK_OHM)
    ends = {}
    for ref in string.refs:
        there = end if ref == string.refs[-1] else draft.node()
        ends[ref], here = (here, there), there
    return ends


def _finished(draft: _Draft, *, circuit: Circuit, junction_c: npt.ArrayLike) -> Network:
    linear, conductance_ms, force_v = _columns(draft.linear)
    sink, sink_ma, knee_v = _columns(draft.sink)
    diode = np.array([branch for branch, _ in draft.diode], dtype=np.int64)
    which = np.array([led for _, led in draft.diode], dtype=np.int64)
    junctions = build_junctions([led.curve for led in circuit.leds], junction_c=junction_c)
    return Network(
        incidence=build_incidence(draft.ends, nodes=draft.nodes),
        weight=np.array(draft.weights),
        linear=linear.astype(np.int64),
        conductance_ms=conductance_ms,
        force_v=force_v,
        diode=diode,
        saturation_ma=junctions.saturation_ma[which],
        slope_v=junctions.slope_v[which],
        series_ohm=junctions.series_ohm[which],
        sink=sink.astype(np.int64),
        sink_ma=sink_ma,
        knee_v=knee_v,
        node_weight=np.array(draft.node_weights),
        named={name: np.array(branches, dtype=np.int64) for name, branches in draft.named.items()},
    )


def _columns(rows: list[tuple[int, float, float]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]
