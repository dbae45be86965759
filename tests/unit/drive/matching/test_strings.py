from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from boards_under_drive import CHIP, led, rail
from paneglow.drive.circuit import build_circuit, joined_wirings, pin_strings, rail_strings, solve_point
from paneglow.drive.matching.variables import build_strings
from paneglow.physics import relative_light
from shockley import diode_voltage_v

STRINGS = [["D1"], ["D2", "D3"], ["D4", "D5", "D6"]]
WORDS = {"D1": "red", "D2": "red", "D3": "green", "D4": "amber", "D5": "red", "D6": "red", "D7": "white"}


@pytest.fixture(scope="module")
def board():
    wirings = (
        rail_strings(STRINGS, resistor_ohm=[330.0, 100.0, 22.0], duty_frac=0.5),
        pin_strings({"P1": ["D7"]}, resistor_ohm={"P1": 150.0}, duties={"P1": 0.25}),
    )
    leds = tuple(led(ref, word) for ref, word in WORDS.items())
    circuit = build_circuit(joined_wirings(*wirings), leds=leds, supply=rail(9.0), chip=CHIP)
    return circuit, solve_point(circuit)


def voltage_v(circuit, point, *, string, on_ma):
    """One LED after the other, by the scalar law."""
    order = {ref: number for number, ref in enumerate(circuit.refs)}
    return sum(
        float(diode_voltage_v(on_ma, curve=circuit.leds[order[ref]].curve, junction_c=point.junction_c[order[ref]]))
        for ref in string.refs
    )


def test_pins_and_duties_belong_to_their_strings(board):
    table = build_strings(board[0], point=board[1])
    assert_allclose(table.on_share_frac, [0.5, 0.5, 0.5, 0.25])
    assert_allclose(table.outer_ohm, [0.0, 0.0, 0.0, CHIP.high_ohm])


def test_voltages_are_those_of_single_leds_added(board):
    circuit, point = board
    on_ma = np.array([12.0, 3.0, 1e-4, 20.0])
    single = [voltage_v(circuit, point, string=s, on_ma=i) for s, i in zip(circuit.strings, on_ma, strict=True)]
    found_v = build_strings(circuit, point=point).voltage_v(on_ma)
    assert_allclose(found_v, single, rtol=1e-13)  # the same sums in another order


def test_lights_are_those_of_single_leds_for_their_share_of_the_cycle(board):
    circuit, point = board
    table = build_strings(circuit, point=point)
    on_ma = np.array([12.0, 3.0, 1e-4, 20.0])
    single = [
        table.on_share_frac[string]
        * float(relative_light(on_ma[string], curve=circuit.leds[number].flux, junction_c=point.junction_c[number]))
        for number, string in enumerate(table.string_of)
    ]
    # Roots of a cubic: the last Newton step of many stops when the slowest is there
    assert_allclose(table.light_frac(on_ma), single, rtol=1e-13)


@pytest.mark.parametrize("rail_v", [1.0, 2.2, 5.0, 9.0, 30.0])
def test_currents_are_the_roots_that_bracketing_finds(board, rail_v):
    circuit, point = board
    resistor_ohm = np.array([330.0, 0.0, 22.0, 1.0])
    table = build_strings(circuit, point=point)
    found_ma = table.currents_ma(resistor_ohm, rail_v=rail_v)

    def left_v(on_ma, *, number):
        ohm = resistor_ohm[number] + table.outer_ohm[number]
        return rail_v - voltage_v(circuit, point, string=circuit.strings[number], on_ma=on_ma) - 1e-3 * ohm * on_ma

    for number, current_ma in enumerate(found_ma):
        if left_v(1e-9, number=number) <= 0.0:
            assert current_ma == 0.0
            continue
        root_ma = brentq(lambda ma, number=number: left_v(ma, number=number), 0.0, 1e5, xtol=1e-13, rtol=1e-14)
        # Sixty halvings of the logarithm; and what 1e-15 V of rounding moves a current by that only begins
        assert current_ma == pytest.approx(root_ma, rel=1e-11, abs=1e-12)


def test_a_string_that_is_never_on_gives_no_light(board):
    circuit, point = board
    off = replace(circuit, strings=(replace(circuit.strings[0], duty_frac=0.0), *circuit.strings[1:]))
    table = build_strings(off, point=point)
    assert table.light_frac(np.full(4, 5.0))[0] == 0.0
