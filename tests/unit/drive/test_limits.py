from dataclasses import replace

import pytest

from boards_under_drive import CHIP, cold_leds, rail
from paneglow.drive import (
    Pin,
    build_circuit,
    build_supply,
    charlieplex,
    limit_uses,
    matrix_scan,
    pin_strings,
    rail_strings,
    solve_point,
)


def uses_of(circuit):
    point = solve_point(circuit)
    return point, {(use.kind, use.name, use.quantity): use for use in limit_uses(circuit, point=point)}


def test_mean_and_peak_of_a_pulsed_led_meet_their_own_limits():
    leds = cold_leds(("red",))
    circuit = build_circuit(rail_strings([["D1"]], resistor_ohm=[62.0], duty_frac=0.1), leds=leds, supply=rail(5.0))
    point, uses = uses_of(circuit)
    mean, peak = uses["led", "D1", "mean current"], uses["led", "D1", "peak current"]
    assert mean.used == pytest.approx(point.mean_current_ma[0])
    assert not mean.exceeded
    assert peak.limit == leds[0].peak_current_max_ma
    assert mean.limit < peak.used < peak.limit  # a steady current of that size would be too much


def test_pins_ports_and_chip_are_held_to_what_flows_at_once():
    names = ("P1", "P2", "P3")
    wiring = pin_strings({name: [f"D{name[1]}"] for name in names}, resistor_ohm=dict.fromkeys(names, 47.0))
    wiring = replace(wiring, pins=(*wiring.pins[:2], replace(wiring.pins[2], port="B")))
    chip = replace(CHIP, port_max_ma=40.0, chip_max_ma=60.0)
    circuit = build_circuit(wiring, leds=cold_leds(("red",) * 3), supply=rail(5.0), chip=chip)
    point, uses = uses_of(circuit)
    each = point.pin_current_ma[0]
    assert uses["pin", "P1", "peak current"].used == pytest.approx(each[0])
    assert uses["port", "A", "peak current"].used == pytest.approx(each[0] + each[1])
    assert uses["port", "B", "peak current"].used == pytest.approx(each[2])
    assert uses["chip", "controller", "peak current"].used == pytest.approx(each.sum())
    assert uses["pin", "P1", "peak current"].exceeded
    assert uses["port", "A", "peak current"].exceeded
    assert not uses["port", "B", "peak current"].exceeded


def test_a_row_pin_carries_its_whole_row_and_a_column_pin_one_led():
    rows = [Pin(name=f"R{number}", port="A") for number in (1, 2)]
    columns = [Pin(name=f"C{number}", port="B", resistor_ohm=100.0) for number in (1, 2, 3)]
    grid = [["D1", "D2", "D3"], ["D4", "D5", "D6"]]
    circuit = build_circuit(
        matrix_scan(grid, rows=rows, columns=columns), leds=cold_leds(("red",) * 6), supply=rail(5.0), chip=CHIP
    )
    _, uses = uses_of(circuit)
    row, column = uses["pin", "R1", "peak current"].used, uses["pin", "C1", "peak current"].used
    assert row == pytest.approx(3.0 * column, rel=1e-4)  # the rest is leakage of the row held in reverse


def test_a_cell_is_held_to_its_steady_and_its_pulse_rating():
    circuit = build_circuit(
        rail_strings([["D1"]], resistor_ohm=[100.0], duty_frac=0.25),
        leds=cold_leds(("red",)),
        supply=build_supply("coin-2032"),
    )
    point, uses = uses_of(circuit)
    steady, pulse = (uses["supply", circuit.supply.name, f"{which} current"] for which in ("mean", "peak"))
    assert (steady.limit, pulse.limit) == (3.0, 15.0)
    assert steady.used == pytest.approx(point.mean_supply_ma)
    assert pulse.used == pytest.approx(4.0 * steady.used, rel=1e-6)


def test_reverse_voltage_in_a_charlieplex_is_the_forward_voltage_of_its_twin():
    pins = [Pin(name=f"P{number}", port="A", resistor_ohm=100.0) for number in (1, 2)]
    wiring = charlieplex(["D1", "D2"], pins=pins)
    circuit = build_circuit(wiring, leds=cold_leds(("red", "white")), supply=rail(5.0), chip=CHIP)
    point, uses = uses_of(circuit)
    assert uses["led", "D1", "reverse voltage"].used == pytest.approx(point.led_voltage_v[1, 1])
    assert not uses["led", "D1", "reverse voltage"].exceeded


def test_a_part_that_states_no_reverse_voltage_is_not_held_to_one():
    leds = tuple(replace(part, reverse_voltage_max_v=None) for part in cold_leds(("red",)))
    circuit = build_circuit(rail_strings([["D1"]], resistor_ohm=[150.0]), leds=leds, supply=rail(5.0))
    assert ("led", "D1", "reverse voltage") not in uses_of(circuit)[1]
