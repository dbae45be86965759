"""Charge and energy are kept in every circuit, and there is one solution wherever the search starts."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from boards_under_drive import CHIP, led, rail
from paneglow.drive.circuit import Pin, Resistor, build_circuit, build_supply, charlieplex, rail_strings, solve_point
from paneglow.drive.circuit.network import LEAK_OHM

COLOURS = ("red", "amber", "green", "blue", "white")
colours = st.lists(st.sampled_from(COLOURS), min_size=6, max_size=6)
resistors = st.lists(st.floats(min_value=10.0, max_value=1e4), min_size=3, max_size=3)


def leds_of(words):
    return tuple(led(f"D{number}", word) for number, word in enumerate(words, start=1))


def charlieplexed(words, *, ohm, supply):
    pins = [Pin(name=f"P{number}", port="A", resistor=Resistor(ohm=ohm)) for number in (1, 2, 3)]
    refs = [f"D{number}" for number in range(1, 7)]
    return build_circuit(charlieplex(refs, pins=pins), leds=leds_of(words), supply=supply, chip=CHIP)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(words=colours, ohms=resistors, voltage_v=st.floats(min_value=1.5, max_value=12.0))
def test_all_power_of_the_supply_is_found_in_leds_and_resistors(words, ohms, voltage_v):
    wiring = rail_strings([["D1"], ["D2", "D3"], ["D4", "D5", "D6"]], resistor_ohm=ohms)
    point = solve_point(build_circuit(wiring, leds=leds_of(words), supply=rail(voltage_v)))
    given_mw = float(point.share_frac @ (point.supply_v * point.supply_current_ma))
    taken_mw = float(point.share_frac @ (point.led_voltage_v * point.led_current_ma).sum(axis=1))
    taken_mw += point.resistor_power_mw.sum()
    taken_mw += 1e3 * float(np.sum(point.led_voltage_v**2)) / LEAK_OHM  # beside every LED
    assert taken_mw == pytest.approx(given_mw, rel=1e-7, abs=1e-7)  # 10 pA may be left unbalanced at a node


@settings(max_examples=40, deadline=None, derandomize=True)
@given(words=colours, ohm=st.floats(min_value=1.0, max_value=1e3), voltage_v=st.floats(min_value=1.5, max_value=5.5))
def test_what_pins_source_they_also_sink(words, ohm, voltage_v):
    point = solve_point(charlieplexed(words, ohm=ohm, supply=rail(voltage_v)))
    # Every current of a charlieplex leaves one pin and enters another; leakage to ground is 5.5 nA a node
    assert_allclose(point.pin_current_ma.sum(axis=1), 0.0, atol=1e-4)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(words=colours, seed=st.integers(min_value=0, max_value=2**31))
def test_the_solution_does_not_depend_on_where_the_search_starts(words, seed):
    circuit = charlieplexed(words, ohm=47.0, supply=build_supply("coin-2032"))
    from_zero = solve_point(circuit, depth_frac=0.3)
    start_v = np.random.default_rng(seed).uniform(-20.0, 20.0, size=from_zero.node_v.size)
    from_anywhere = solve_point(circuit, depth_frac=0.3, near=replace(from_zero, node_v=start_v))
    # A floating node hangs on 1 nS: 1e-8 mA of imbalance is 10 mV there, and nothing anywhere that carries light
    assert_allclose(from_anywhere.led_current_ma, from_zero.led_current_ma, rtol=1e-6, atol=1e-6)
    assert_allclose(from_anywhere.supply_current_ma, from_zero.supply_current_ma, rtol=1e-6, atol=1e-6)


def test_the_order_of_the_leds_changes_nothing():
    words = ("red", "amber", "green", "blue", "white", "red")
    circuit = charlieplexed(words, ohm=100.0, supply=rail(5.0))
    turned = replace(circuit, leds=circuit.leds[::-1], strings=circuit.strings[::-1])
    assert_allclose(
        solve_point(turned).led_current_ma[:, ::-1], solve_point(circuit).led_current_ma, rtol=1e-6, atol=1e-7
    )
