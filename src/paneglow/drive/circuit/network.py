"""A circuit as nodes and branches: arrays for the solver, one block of nodes per step of the cycle.

Every branch runs between two nodes and its current never falls with its voltage. So the node equations are the gradient
of a convex function (the co-content: W. Millar, Phil. Mag. 42:1150, 1951) and have exactly one solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.drive.circuit.records import GROUND, RAIL, Chip, Circuit, LedString
from paneglow.drive.circuit.steps import Step

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

GROUND_NODE = -1
# Below this many nodes a dense solve takes less time than building sparse matrices does; measured, one core of 2026
DENSE_NODES_MOST = 150
# A wire of some millimetres; keeps an ideal supply or a missing pin resistance from being an infinite conductance
WIRE_OHM = 1e-3
# About 1 nA per volt: reverse leakage of an LED, input leakage of a floating pin; from memory, 0.01 to 10 nA are usual
LEAK_OHM = 1e9
# A load that is not an LED stops drawing as its voltage goes; it draws 76 % of its current at this voltage; our choice
LOAD_DROPOUT_V = 0.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """Branches of the whole cycle over its nodes, whatever the state of the supply.

    Attributes
    ----------
    table : array or sparse array, shape (branch, node)
        +1 where a branch leaves a node, -1 where it enters; ground has no column. Sparse for large scans.
    weight, node_weight : ndarray, shape (branch,), (node,)
        Share of the cycle in which the branch or node exists [1]; balances are of charge over the cycle.
    linear, diode, sink : ndarray of int
        Branches by law. Those of the supply are among the linear ones. LEDs of a step stand together, steps in order.
    conductance_ms : ndarray, shape (linear branch,)
        I = conductance * (V + force) [mS]; that of the supply, and all forces, come with its state.
    sink_ma, dropout_v : ndarray, shape (sink branch,)
        I = sink_ma tanh(V / dropout) for V above 0, else 0.
    slow, fast : ndarray of int
        Which linear branches are the supply's: the one whose resistance sees the mean of the cycle, if any, and one per
        step.
    named : dict
        Indices of branches, one per step that has it: ("supply", 0), ("high", pin), ("low", pin), and those of the
        resistors by number: ("shared", n), ("string", n), ("pin", n); and of the nodes ("rail", 0).
    """

    table: "FloatArray | scipy.sparse.csr_array"
    weight: FloatArray
    node_weight: FloatArray
    linear: IntArray
    conductance_ms: FloatArray
    slow: IntArray
    fast: IntArray
    diode: IntArray
    sink: IntArray
    sink_ma: FloatArray
    dropout_v: FloatArray
    named: dict[tuple[str, str | int], IntArray]


@dataclass(slots=True)
class _Draft:
    """Branches as they are added; `ends` holds (from node, to node), the laws the numbers of theirs."""

    nodes: int = 0
    ends: list[tuple[int, int]] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    node_weights: list[float] = field(default_factory=list)
    linear: list[tuple[int, float]] = field(default_factory=list)
    diode: list[int] = field(default_factory=list)
    sink: list[tuple[int, float, float]] = field(default_factory=list)
    named: dict[tuple[str, str | int], list[int]] = field(default_factory=dict)
    weight: float = 1.0  # of what is being added

    def node(self) -> int:
        self.nodes += 1
        self.node_weights.append(self.weight)
        return self.nodes - 1

    def branch(self, start: int, end: int) -> int:
        self.ends.append((start, end))
        self.weights.append(self.weight)
        return len(self.ends) - 1

    def resistor(
        self, start: int, end: int, *, ohm: float, name: tuple[str, str | int] | None = None, closed: bool = True
    ) -> None:
        if name is not None:
            self.named.setdefault(name, []).append(len(self.ends))
        self.linear.append((self.branch(start, end), 1e3 / max(ohm, WIRE_OHM) if closed else 0.0))


def build_network(circuit: Circuit, *, steps: Sequence[Step], slow: bool) -> Network:
    """Nodes and branches of a circuit over all steps of its cycle.

    Parameters
    ----------
    circuit : Circuit
    steps : sequence of Step
    slow : bool
        Whether a part of the supply's resistance sees the mean current of the cycle: one node is shared by all steps,
        which couples them.
    """
    draft, origin = _Draft(), GROUND_NODE
    if slow:
        origin = draft.node()
        draft.resistor(GROUND_NODE, origin, ohm=0.0)
    fast = []
    for step in steps:
        draft.weight = step.share_frac
        rail = draft.node()
        draft.named.setdefault(("rail", 0), []).append(rail)
        fast.append(len(draft.linear))
        draft.resistor(origin, rail, ohm=0.0, name=("supply", 0))
        _add_step(draft, circuit=circuit, step=step, rail=rail)
    ends = np.array(draft.ends, dtype=np.int64).reshape(-1, 2)
    real = ends != GROUND_NODE
    signs = np.broadcast_to([1.0, -1.0], ends.shape)[real]
    branches = np.broadcast_to(np.arange(len(ends))[:, np.newaxis], ends.shape)[real]
    table = scipy.sparse.csr_array((signs, (branches, ends[real])), shape=(len(ends), draft.nodes))
    linear = np.array(draft.linear, dtype=np.float64).reshape(-1, 2)
    sinks = np.array(draft.sink, dtype=np.float64).reshape(-1, 3)
    return Network(
        table=table.toarray() if draft.nodes <= DENSE_NODES_MOST else table,
        weight=np.array(draft.weights),
        node_weight=np.array(draft.node_weights),
        linear=linear[:, 0].astype(np.int64),
        conductance_ms=linear[:, 1],
        slow=np.arange(int(slow)),
        fast=np.array(fast, dtype=np.int64),
        diode=np.array(draft.diode, dtype=np.int64),
        sink=sinks[:, 0].astype(np.int64),
        sink_ma=sinks[:, 1],
        dropout_v=sinks[:, 2],
        named={name: np.array(branches, dtype=np.int64) for name, branches in draft.named.items()},
    )


def _add_step(draft: _Draft, *, circuit: Circuit, step: Step, rail: int) -> None:
    standing_ma = circuit.standing_ma + (0.0 if circuit.chip is None else circuit.chip.standing_ma)
    if standing_ma > 0.0:
        draft.sink.append((draft.branch(rail, GROUND_NODE), standing_ma, LOAD_DROPOUT_V))
    terminals = {RAIL: rail, GROUND: GROUND_NODE}
    for number, resistor in enumerate(circuit.shared):
        terminals[resistor.name] = draft.node()
        draft.resistor(rail, terminals[resistor.name], ohm=resistor.ohm, name=("shared", number))
    if circuit.chip is not None:
        terminals |= _add_pins(draft, circuit=circuit, chip=circuit.chip, step=step, rail=rail)
    ends: dict[str, tuple[int, int]] = {}
    for number, string in enumerate(circuit.strings):
        ends |= _add_string(draft, number, string=string, terminals=terminals, closed=step.strings_on[number])
    for ref in circuit.refs:
        draft.diode.append(draft.branch(*ends[ref]))
        draft.resistor(*ends[ref], ohm=LEAK_OHM)


def _add_pins(draft: _Draft, *, circuit: Circuit, chip: Chip, step: Step, rail: int) -> dict[str, int]:
    outer = {}
    for number, pin in enumerate(circuit.pins):
        pad, state = draft.node(), step.pins[pin.name]
        draft.resistor(rail, pad, ohm=chip.high_ohm, name=("high", pin.name), closed=state == "high")
        draft.resistor(pad, GROUND_NODE, ohm=chip.low_ohm, name=("low", pin.name), closed=state == "low")
        draft.resistor(pad, GROUND_NODE, ohm=LEAK_OHM)
        outer[pin.name] = pad
        if pin.resistor is not None and pin.resistor.ohm > 0.0:
            outer[pin.name] = draft.node()
            draft.resistor(pad, outer[pin.name], ohm=pin.resistor.ohm, name=("pin", number))
    return outer


def _add_string(
    draft: _Draft, number: int, *, string: LedString, terminals: dict[str, int], closed: bool
) -> dict[str, tuple[int, int]]:
    """Add all of a string but its LEDs; the nodes between which each LED stands."""
    here, end = terminals[string.from_terminal], terminals[string.to_terminal]
    ohm = 0.0 if string.resistor is None else string.resistor.ohm
    if ohm > 0.0 or not closed:
        here, start = draft.node(), here
        draft.resistor(start, here, ohm=ohm, name=("string", number), closed=closed)
    if string.sink is not None:
        end, foot = draft.node(), end
        draft.sink.append((draft.branch(end, foot), string.sink.current_ma, string.sink.dropout_v))
        draft.resistor(end, foot, ohm=LEAK_OHM)
    ends = {}
    for ref in string.refs:
        there = end if ref == string.refs[-1] else draft.node()
        ends[ref], here = (here, there), there
    return ends
