from dataclasses import replace

import numpy as np
import pytest

from boards_under_drive import led, parts, rail
from paneglow.drive import (
    WindowLight,
    build_circuit,
    build_life,
    build_life_range,
    build_supply,
    circuit_corners,
    rail_strings,
    solve_point,
)
from paneglow.errors import DesignError

LEDS = (led("D1", "amber"), led("D2", "blue"))
PARTS = {"D1": parts()["tv-0603-amber"], "D2": parts()["tv-0603-blue"]}
LIGHT = WindowLight(names=("a", "b"), luminance_cd_m2_per_ma=np.diag([100.0, 80.0]), goal_cd_m2=np.array([8.0, 3.0]))


def circuit():
    wiring = rail_strings([["D1"], ["D2"]], resistor_ohm=[3300.0, 470.0])
    return build_circuit(wiring, leds=LEDS, supply=build_supply("coin-2032"))


def corners(board):
    return circuit_corners(board, parts=PARTS, supply_code="coin-2032")


def test_corners_reach_to_both_sides_of_the_nominal_light():
    board = circuit()
    light = {words: solve_point(corner).light_frac for words, corner in corners(board).items()}
    nominal = solve_point(board).light_frac
    assert np.all(light["weak supply, high forward voltage"] < nominal)
    assert np.all(light["strong supply, low forward voltage"] > nominal)


def test_the_range_holds_the_nominal_life_and_names_the_cases_at_its_ends():
    board = circuit()
    cases = {words: (corner, LIGHT) for words, corner in corners(board).items()}
    found = build_life_range(board, light=LIGHT, cases=cases)
    assert found.shortest_h <= found.nominal.lit_h <= found.longest_h
    shortest = build_life(cases[found.shortest_case][0], light=LIGHT)
    assert shortest.lit_h == pytest.approx(found.shortest_h)


def test_dimmer_light_is_a_case_like_any_other():
    board = circuit()
    dim = replace(LIGHT, luminance_cd_m2_per_ma=0.3 * LIGHT.luminance_cd_m2_per_ma)
    found = build_life_range(board, light=LIGHT, cases={"dim laminate": (board, dim)})
    assert (found.shortest_case, found.longest_case) == ("dim laminate", "nominal")


def test_an_led_without_a_part_is_told():
    with pytest.raises(DesignError, match="D2"):
        circuit_corners(circuit(), parts={"D1": PARTS["D1"]}, supply_code="coin-2032")


def test_a_rail_has_corners_too():
    board = replace(circuit(), supply=rail(5.0))
    found = circuit_corners(board, parts=PARTS, supply_code="usb")
    assert {corner.supply.voltage_v for corner in found.values()} == {4.75, 5.25}
