from dataclasses import replace

import numpy as np
import pytest

from boards_under_drive import CHIP, cold_leds, rail
from paneglow.drive.circuit import (
    Pin,
    Resistor,
    build_circuit,
    build_supply,
    charlieplex,
    circuit_loads,
    joined_wirings,
    matrix_scan,
    pin_strings,
    rail_strings,
    solve_point,
)
from paneglow.drive.circuit.limits import peak_limit_ma, pulses


def uses_of(circuit):
    point = solve_point(circuit)
    return point, {(use.kind, use.name, use.quantity): use for use in circuit_loads(circuit, point=point)}


def test_mean_and_peak_of_a_pulsed_led_meet_their_own_limits():
    leds = cold_leds(("red",))
    wiring = rail_strings([["D1"]], resistor_ohm=[62.0], duty_frac=0.1)
    circuit = build_circuit(wiring, leds=leds, supply=rail(5.0), cycle_hz=2000.0)  # pulses of 50 us
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
    columns = [Pin(name=f"C{number}", port="B", resistor=Resistor(ohm=100.0)) for number in (1, 2, 3)]
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
    pins = [Pin(name=f"P{number}", port="A", resistor=Resistor(ohm=100.0)) for number in (1, 2)]
    wiring = charlieplex(["D1", "D2"], pins=pins)
    circuit = build_circuit(wiring, leds=cold_leds(("red", "white")), supply=rail(5.0), chip=CHIP)
    point, uses = uses_of(circuit)
    assert uses["led", "D1", "reverse voltage"].used == pytest.approx(point.led_voltage_v[1, 1])
    assert not uses["led", "D1", "reverse voltage"].exceeded


def test_a_part_that_states_no_reverse_voltage_is_not_held_to_one():
    leds = tuple(replace(part, reverse_voltage_max_v=None) for part in cold_leds(("red",)))
    circuit = build_circuit(rail_strings([["D1"]], resistor_ohm=[150.0]), leds=leds, supply=rail(5.0))
    assert ("led", "D1", "reverse voltage") not in uses_of(circuit)[1]


def test_what_pins_source_and_what_they_sink_are_summed_apart_and_the_greater_counts():
    # Two pins that source and one that sinks on one port: 2 I out, I in
    wiring = joined_wirings(
        pin_strings({"P1": ["D1"], "P2": ["D2"]}, resistor_ohm={"P1": 220.0, "P2": 220.0}),
        pin_strings({"P3": ["D3"]}, resistor_ohm={"P3": 220.0}, sinking=True),
    )
    point, uses = uses_of(build_circuit(wiring, leds=cold_leds(("red",) * 3), supply=rail(5.0), chip=CHIP))
    out = point.pin_current_ma[0]
    assert uses["port", "A", "peak current"].used == pytest.approx(out[0] + out[1], rel=1e-9)
    assert uses["port", "A", "peak current"].used > 1.9 * np.abs(out).max()


@pytest.mark.parametrize(
    ("duty_frac", "width_s", "limit_ma"),
    [
        (0.1, 1e-4, 60.0),  # as data sheets state it
        (0.01, 1e-5, 60.0),  # shorter and rarer
        (0.1, 1e-3, 20.0),  # longer than stated: as lasting
        (1.0, 1e-4, 20.0),
        (0.1**0.5, 1e-4, (60.0 * 20.0) ** 0.5),  # half way between the duties, by ratio
    ],
)
def test_a_pulse_current_holds_for_its_duty_and_length(duty_frac, width_s, limit_ma):
    (part,) = cold_leds(("red",))
    assert (part.current_max_ma, part.peak_current_max_ma) == (20.0, 60.0)
    assert peak_limit_ma(part, duty_frac=duty_frac, width_s=width_s) == pytest.approx(limit_ma)


@pytest.mark.parametrize(("cycle_hz", "limit_ma"), [(2000.0, 60.0), (200.0, 20.0), (None, 20.0)])
def test_slow_pulses_are_held_to_the_lasting_current(cycle_hz, limit_ma):
    wiring = rail_strings([["D1"]], resistor_ohm=[62.0], duty_frac=0.1)
    circuit = build_circuit(wiring, leds=cold_leds(("red",)), supply=rail(5.0), cycle_hz=cycle_hz)
    assert uses_of(circuit)[1]["led", "D1", "peak current"].limit == pytest.approx(limit_ma)


def test_a_pulse_over_the_end_of_the_cycle_counts_as_one():
    share = np.array([0.2, 0.3, 0.4, 0.1])
    assert pulses(np.array([5.0, 0.0, 5.0, 5.0]), share_frac=share, cycle_hz=100.0) == pytest.approx((0.7, 0.007))
    assert pulses(np.full(4, 5.0), share_frac=share, cycle_hz=100.0) == pytest.approx((1.0, float("inf")))


def test_a_resistor_is_held_to_the_heat_it_may_take():
    wiring = rail_strings([["D1"]], resistor_ohm=[150.0], names=["R1"], power_max_mw=50.0)
    point, uses = uses_of(build_circuit(wiring, leds=cold_leds(("red",)), supply=rail(5.0)))
    heat = uses["resistor", "R1", "power"]
    assert heat.used == pytest.approx(1e-3 * 150.0 * point.mean_current_ma[0] ** 2, rel=1e-4)
    assert heat.exceeded
