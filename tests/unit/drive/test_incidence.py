import numpy as np
import pytest
from numpy.testing import assert_allclose

from boards_under_drive import led, rail
from paneglow.drive import build_circuit, rail_strings
from paneglow.drive import network as networks
from paneglow.drive.incidence import DENSE_NODES_MOST, GROUND_NODE, DenseIncidence, SparseIncidence, build_incidence
from paneglow.drive.network import build_network
from paneglow.drive.newton import solve_network
from paneglow.drive.steps import build_steps
from paneglow.drive.supplies import supply_source

# A ladder: ground to node 0, node 0 to 1, 1 to ground, and a branch that leaves and enters the same node
LADDER = [(GROUND_NODE, 0), (0, 1), (1, GROUND_NODE), (1, 1)]


@pytest.mark.parametrize("kind", [DenseIncidence, SparseIncidence])
def test_voltages_and_currents_follow_the_direction_of_branches(kind):
    incidence = kind(LADDER, nodes=2)
    assert incidence.nodes == 2
    assert_allclose(incidence.branch_v(np.array([3.0, 1.0])), [-3.0, 2.0, 1.0, 0.0])
    assert_allclose(incidence.node_ma(np.array([5.0, 2.0, 4.0, 9.0])), [-3.0, 2.0])


@pytest.mark.parametrize("kind", [DenseIncidence, SparseIncidence])
def test_the_balancing_step_cancels_the_force_of_straight_branches(kind):
    incidence, conductance_ms = kind(LADDER, nodes=2), np.array([1.0, 2.0, 4.0, 8.0])
    force_ma = np.array([0.7, -0.2])
    change_v = incidence.balancing_v(force_ma, conductance_ms=conductance_ms)
    assert_allclose(incidence.node_ma(conductance_ms * incidence.branch_v(change_v)), -force_ma, rtol=1e-12)


def test_small_networks_are_dense_and_large_ones_sparse():
    assert isinstance(build_incidence(LADDER, nodes=2), DenseIncidence)
    assert isinstance(build_incidence(LADDER, nodes=DENSE_NODES_MOST + 1), SparseIncidence)


def test_dense_and_sparse_solve_a_board_alike(monkeypatch):
    refs = [f"D{number}" for number in range(1, 13)]
    words = ("red", "green", "blue", "white")
    circuit = build_circuit(
        rail_strings([[ref] for ref in refs], resistor_ohm=[330.0] * 12),
        leds=tuple(led(ref, words[number % 4]) for number, ref in enumerate(refs)),
        supply=rail(5.0),
    )

    def solved():
        source = supply_source(circuit.supply, depth_frac=0.0)
        network = build_network(circuit, steps=build_steps(circuit), source=source, junction_c=25.0)
        return solve_network(network)

    dense = solved()
    monkeypatch.setattr(networks, "build_incidence", SparseIncidence)
    # Both stop at 1e-8 mA of imbalance; Newton's last step leaves far less
    assert_allclose(solved().branch_ma, dense.branch_ma, rtol=1e-10, atol=1e-10)
