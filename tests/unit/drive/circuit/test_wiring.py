import pytest
from numpy.testing import assert_allclose

from boards_under_drive import CHIP, cold_leds, rail
from paneglow.drive.circuit import (
    Pin,
    Resistor,
    build_circuit,
    charlieplex,
    joined_wirings,
    matrix_scan,
    pin_strings,
    rail_strings,
    solve_point,
)
from paneglow.errors import DesignError


def pins(*names):
    return [Pin(name=name, port="A", resistor=Resistor(ohm=100.0)) for name in names]


def solved(wiring, *, count):
    return solve_point(build_circuit(wiring, leds=cold_leds(("red",) * count), supply=rail(5.0), chip=CHIP))


def test_two_groups_of_pins_stand_side_by_side():
    wiring = joined_wirings(
        pin_strings({"P1": ["D1"]}, resistor_ohm={"P1": 150.0}, duties={"P1": 0.5}),
        pin_strings({"P2": ["D2"]}, resistor_ohm={"P2": 150.0}, sinking=True),
        rail_strings([["D3"]], resistor_ohm=[150.0]),
    )
    point = solved(wiring, count=3)
    assert point.mean_current_ma[0] == pytest.approx(0.5 * point.peak_current_ma[0], rel=1e-6)
    assert_allclose(point.mean_current_ma[1:], point.peak_current_ma[1:], rtol=1e-2)  # the rail sags a little with D1
    assert point.ghost_current_ma.max() < 1e-4


def test_what_stands_beside_a_scan_is_lit_in_all_its_phases_and_is_no_ghost():
    scan = matrix_scan([["D1"], ["D2"]], rows=pins("R1", "R2"), columns=pins("C1"))
    beside = [rail_strings([["D3"]], resistor_ohm=[220.0]), pin_strings({"P1": ["D4"]}, resistor_ohm={"P1": 220.0})]
    point = solved(joined_wirings(scan, *beside), count=4)
    assert point.meant.tolist() == [[True, False, True, True], [False, True, True, True]]
    assert_allclose(point.mean_current_ma[2:], point.peak_current_ma[2:], rtol=1e-6)
    assert_allclose(point.mean_current_ma[:2], 0.5 * point.peak_current_ma[:2], rtol=1e-4)
    assert point.ghost_current_ma.max() < 1e-4


def test_two_scans_have_no_common_cycle():
    first, second = (charlieplex([f"D{n}", f"D{n + 1}"], pins=pins(f"P{n}", f"P{n + 1}")) for n in (1, 3))
    with pytest.raises(DesignError, match="more than one scan"):
        joined_wirings(first, second)


def test_a_grid_of_the_wrong_size_is_refused():
    with pytest.raises(DesignError, match="2 row pins and 1 column pins"):
        matrix_scan([["D1"]], rows=pins("R1", "R2"), columns=pins("C1"))


def test_leds_that_are_not_wired_are_left_out():
    circuit = build_circuit(
        rail_strings([["D2"]], resistor_ohm=[150.0]), leds=cold_leds(("red", "blue")), supply=rail(5.0)
    )
    assert circuit.refs == ("D2",)


def test_a_place_without_an_led_and_a_dark_led_leave_the_share_of_the_rest():
    wiring = charlieplex(["D1", None, "D2"], pins=pins("P1", "P2", "P3"), scan="row", brightness={"D2": 0.25})
    point = solved(wiring, count=2)
    assert point.mean_current_ma[0] == pytest.approx(0.5 * point.peak_current_ma[0], rel=1e-4)  # two pins have a turn
    assert point.mean_current_ma[1] == pytest.approx(0.125 * point.peak_current_ma[1], rel=1e-4)
