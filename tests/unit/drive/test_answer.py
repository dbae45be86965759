"""The board and its scene at the currents of a solved circuit."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.catalog import read_catalog
from paneglow.design import CircuitGroup, DriveDesign, Supply
from paneglow.drive import at_test_currents, current_source, light_of, relit_scene, solve_drive, with_point
from sample_board import make_board, make_catalog, make_design
from sample_evaluation import make_scene

STRINGS = CircuitGroup(driver="rail", strings=(("D1",), ("D3",)), resistor_ohm=(1000.0,))


@pytest.fixture(scope="module")
def board():
    parts = read_catalog().parts
    made = make_board(make_catalog())
    codes = {"D1": "sv-1204-amber", "D2": "sv-1204-white", "D3": "sv-1204-red"}
    return replace(made, leds=tuple(replace(led, part=parts[codes[led.ref]]) for led in made.leds))


def wired(**changes):
    return make_design(supply=Supply(kind="usb"), circuit=(STRINGS,), **changes)


def test_nothing_wired_is_no_answer(board):
    assert solve_drive(make_design(supply=Supply(kind="usb")), board=board) is None


def test_currents_come_from_the_circuit_where_there_is_one_unless_the_design_says_otherwise():
    assert current_source(make_design()) == "design"
    assert current_source(wired()) == "circuit"
    assert current_source(wired(drive=DriveDesign(currents="design"))) == "design"


def test_only_wired_leds_change_their_current(board):
    answer = solve_drive(wired(), board=board)
    assert answer.circuit.refs == ("D1", "D3")
    after = with_point(board, point=answer.point)
    currents = {led.ref: led.current_ma for led in after.leds}
    assert currents["D2"] == 2.0  # as the design states it
    # 5 V less about 2 V over 1 kohm, less what source and rail take
    assert currents["D1"] == pytest.approx(3.0, abs=0.3)
    assert answer.point.mean_current_ma == pytest.approx([currents["D1"], currents["D3"]])


# Light is given in units of the test current, so an LED at its test current must come out with its own flux
def test_light_of_the_circuit_replaces_that_of_the_current(board):
    answer = solve_drive(wired(), board=board)
    at_test = at_test_currents(board, design=wired())
    scene = make_scene(at_test)
    lit = relit_scene(scene, board=at_test, light_frac=light_of(answer.point))
    fluxes = {emitter.ref: emitter.flux_lm for emitter in lit.emitters}
    was = {emitter.ref: emitter.flux_lm for emitter in scene.emitters}
    for ref, light in light_of(answer.point).items():
        assert fluxes[ref] == pytest.approx(was[ref] * light)
    assert fluxes["D2"] == was["D2"]


def test_at_the_ends_of_the_ranges_currents_are_greatest_and_light_is_least(board):
    answer = solve_drive(wired(), board=board)
    for usual, strong in zip(answer.uses, answer.strong_uses, strict=True):
        assert strong.used >= usual.used * (1 - 1e-9)
    assert np.all(answer.weak_light_frac < 1.0)
    assert answer.modulation_frac == pytest.approx([0.0, 0.0])


def test_resistors_are_held_to_what_the_design_says_they_may_take(board):
    (first, second) = solve_drive(wired(), board=board).resistors
    assert (first.name, second.name) == ("D1", "D3")
    assert first.limit_mw == 100.0
    assert first.power_mw == pytest.approx(1e-3 * 1000.0 * 3.0**2, rel=0.2)  # R I^2 at about 3 mA
