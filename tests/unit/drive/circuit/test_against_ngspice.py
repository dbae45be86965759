"""Our solution against ngspice 39 (computed here, by its own reading of the circuit record)."""

from dataclasses import replace

import numpy as np
import pytest

from boards_under_drive import CHIP, cold_leds, rail
from paneglow.drive.circuit import (
    CellSupply,
    Pin,
    Resistor,
    build_circuit,
    build_supply,
    charlieplex,
    joined_wirings,
    matrix_scan,
    pin_strings,
    rail_strings,
    sink_strings,
    solve_point,
)
from spice_referee import NGSPICE, mean_pulsed_ma, solve_step

pytestmark = pytest.mark.skipif(NGSPICE is None, reason="ngspice is not installed (apt-get install ngspice)")

COLOURS = ("red", "green", "blue", "amber", "white", "orange", "yellow", "blue", "red", "green", "white", "amber")
PULSED_TOLERANCE = 0.01  # the promise; a transient has edges and a ripple of its own
TOLERANCE = 1e-4  # far inside the promise: both solve the same law, and the referee to a relative 1e-7
FLOOR_MA = 1e-5  # below 10 nA both sides stand on leakage


def refs(count):
    return [f"D{number}" for number in range(1, count + 1)]


def pins(count, *, ohm):
    return [Pin(name=f"P{number}", port="A", resistor=Resistor(ohm=ohm)) for number in range(1, count + 1)]


def assert_as_ngspice(circuit, *, voltage_v, resistance_ohm):
    point = solve_point(circuit)
    for number, phase in enumerate(circuit.phases):
        referee = solve_step(
            circuit,
            voltage_v=voltage_v,
            resistance_ohm=resistance_ohm,
            pins=dict(phase.pins),
            standing_ma=circuit.chip.standing_ma if circuit.chip else 0.0,
        )
        expected = [referee[ref] for ref in circuit.refs]
        np.testing.assert_allclose(point.led_current_ma[number], expected, rtol=TOLERANCE, atol=FLOOR_MA)
        assert max(expected) > 0.01, "nothing flows, so nothing was compared"


def test_a_resistor_per_led_from_five_volts():
    wiring = rail_strings([[ref] for ref in refs(8)], resistor_ohm=[150, 220, 330, 470, 680, 1000, 2200, 10000])
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:8]), supply=rail(5.0))
    assert_as_ngspice(circuit, voltage_v=5.0, resistance_ohm=0.5)


def test_every_colour_straight_on_a_sagging_cell_without_resistors():
    supply = rail(3.0, resistance_ohm=18.0)
    wiring = rail_strings([[ref] for ref in refs(6)], resistor_ohm=[0.0] * 6)
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:6]), supply=supply)
    assert_as_ngspice(circuit, voltage_v=3.0, resistance_ohm=18.0)


def test_series_strings_of_mixed_colours_at_twelve_volts():
    wiring = rail_strings([["D1", "D2", "D3"], ["D4", "D5"], ["D6"]], resistor_ohm=[180, 330, 680])
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:6]), supply=rail(12.0))
    assert_as_ngspice(circuit, voltage_v=12.0, resistance_ohm=0.5)


def test_series_strings_that_the_supply_can_hardly_open():
    wiring = rail_strings([["D1", "D2", "D3"], ["D4", "D5"]], resistor_ohm=[100, 100])
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:5]), supply=rail(4.5))
    assert_as_ngspice(circuit, voltage_v=4.5, resistance_ohm=0.5)


@pytest.mark.parametrize("sinking", [False, True], ids=["sourcing", "sinking"])
def test_pins_with_output_resistance(sinking):
    names = [f"P{number}" for number in range(1, 5)]
    wiring = pin_strings(
        {name: [ref] for name, ref in zip(names, refs(4), strict=True)},
        resistor_ohm=dict.fromkeys(names, 100.0),
        sinking=sinking,
    )
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:4]), supply=rail(3.3, resistance_ohm=5.0), chip=CHIP)
    assert_as_ngspice(circuit, voltage_v=3.3, resistance_ohm=5.0)


@pytest.mark.parametrize("idle", ["float", "opposite"])
def test_a_row_column_scan_of_three_by_four_with_dark_places(idle):
    grid = [["D1", "D2", "D3", "D4"], ["D5", "D6", None, "D7"], ["D8", "D9", "D10", "D11"]]
    rows = [Pin(name=f"R{number}", port="A") for number in (1, 2, 3)]
    columns = [Pin(name=f"C{number}", port="B", resistor=Resistor(ohm=82.0)) for number in (1, 2, 3, 4)]
    wiring = matrix_scan(grid, rows=rows, columns=columns, brightness={"D2": 0.0, "D9": 0.0}, idle=idle)
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:11]), supply=rail(5.0), chip=CHIP)
    assert_as_ngspice(circuit, voltage_v=5.0, resistance_ohm=0.5)


@pytest.mark.parametrize("scan", ["row", "led"])
def test_a_charlieplex_of_twelve(scan):
    wiring = charlieplex(refs(12), pins=pins(4, ohm=47.0), scan=scan)
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS), supply=rail(5.0), chip=CHIP)
    assert_as_ngspice(circuit, voltage_v=5.0, resistance_ohm=0.5)


def test_a_charlieplex_of_one_white_among_red_ones_that_ghost():
    wiring = charlieplex(refs(6), pins=pins(3, ohm=47.0), scan="led")
    mixed, alike = (
        build_circuit(wiring, leds=cold_leds((first, *["red"] * 5)), supply=rail(5.0), chip=CHIP)
        for first in ("white", "red")
    )
    assert_as_ngspice(mixed, voltage_v=5.0, resistance_ohm=0.5)
    # While the white one holds its 3 V, two red ones in series round the third pin are lit by the same 3 V
    assert solve_point(mixed).ghost_current_ma.max() > 1000.0 * solve_point(alike).ghost_current_ma.max()


def test_constant_current_sinks_with_and_without_room_left():
    wiring = joined_wirings(
        sink_strings([["D1", "D2"], ["D3"]], current_ma=10.0, dropout_v=0.3),
        sink_strings([["D4", "D5"]], current_ma=5.0, dropout_v=0.3),  # amber and white need all of the 5 V
    )
    circuit = build_circuit(wiring, leds=cold_leds(COLOURS[:5]), supply=rail(5.0))
    assert_as_ngspice(circuit, voltage_v=5.0, resistance_ohm=0.5)


def test_a_pulsed_board_on_a_cell_whose_slow_resistance_sees_the_mean():
    cell = build_supply("coin-2032")
    assert isinstance(cell, CellSupply)
    curve = replace(cell.curve, open_circuit_v=(3.0, 2.0), resistance_ohm=(40.0, 80.0), depth_frac=(0.0, 1.0))
    supply = replace(cell, curve=replace(curve, fast_frac=0.5))
    wiring = rail_strings([["D1"], ["D2"]], resistor_ohm=[100, 47], duty_frac=0.25)
    circuit = build_circuit(wiring, leds=cold_leds(("red", "green")), supply=supply)
    referee = mean_pulsed_ma(circuit, voltage_v=3.0, slow_ohm=20.0, fast_ohm=20.0, duty_frac=0.25)
    expected = [referee["D1"], referee["D2"]]
    np.testing.assert_allclose(solve_point(circuit).mean_current_ma, expected, rtol=PULSED_TOLERANCE)


def test_leds_in_parallel_on_one_shared_resistor():
    # 5 V over 100 ohm into three red ones: with a resistor each, every one would carry 27.5 mA
    names = ["R1"] * 3 + ["R2"]
    wiring = rail_strings([["D1"], ["D2"], ["D3"], ["D4"]], resistor_ohm=[100, 100, 100, 470], names=names)
    leds = cold_leds(("red", "amber", "green", "red"))
    assert_as_ngspice(build_circuit(wiring, leds=leds, supply=rail(5.0)), voltage_v=5.0, resistance_ohm=0.5)
