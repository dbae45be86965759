"""A board as its circuit drives it: currents, scene, and what is reported of it before its light is traced."""

from dataclasses import replace

import pytest

from paneglow.catalog import read_catalog
from paneglow.design import CircuitGroup, DriveDesign, Supply
from paneglow.drive import drive_unlit, wire_up
from paneglow.drive.circuit import current_source, solve_board
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
    assert solve_board(make_design(supply=Supply(kind="usb")), board=board) is None


def test_currents_come_from_the_circuit_where_there_is_one_unless_the_design_says_otherwise():
    assert current_source(make_design()) == "design"
    assert current_source(wired()) == "circuit"
    assert current_source(wired(drive=DriveDesign(currents="design"))) == "design"


def test_only_wired_leds_change_their_current(board):
    state = wire_up(wired(), board=board)
    assert state.used.circuit.refs == ("D1", "D3")
    currents = {led.ref: led.current_ma for led in state.present_board.leds}
    assert currents["D2"] == 2.0  # as the design states it
    # 5 V less about 2 V over 1 kohm, less what source and rail take
    assert currents["D1"] == pytest.approx(3.0, abs=0.3)
    assert state.used.point.mean_current_ma == pytest.approx([currents["D1"], currents["D3"]])


# Light is given in units of the test current, so an LED at its test current must come out with its own flux
def test_light_of_the_circuit_replaces_that_of_the_current(board):
    state = wire_up(wired(), board=board)
    scene = make_scene(state.traced_board)
    fluxes = {emitter.ref: emitter.flux_lm for emitter in state.present_scene(scene).emitters}
    was = {emitter.ref: emitter.flux_lm for emitter in scene.emitters}
    for ref, light in state.light_frac.items():
        assert fluxes[ref] == pytest.approx(was[ref] * light)
    assert fluxes["D2"] == was["D2"]


def test_at_the_ends_of_the_ranges_currents_are_greatest_and_light_is_least(board):
    solved = solve_board(wired(), board=board)
    for usual, strong in zip(solved.loads, solved.strong_loads, strict=True):
        assert strong.used >= usual.used * (1 - 1e-9)
    assert all(led.weak_light_frac < 1.0 for led in solved.leds)
    assert [led.modulation_frac for led in solved.leds] == pytest.approx([0.0, 0.0])


def test_resistors_are_held_to_what_the_design_says_they_may_take(board):
    first, second = (load for load in solve_board(wired(), board=board).loads if load.kind == "resistor")
    assert (first.name, second.name) == ("the resistor of D1", "the resistor of D3")
    assert (first.limit, first.unit) == (100.0, "mW")
    assert first.used == pytest.approx(1e-3 * 1000.0 * 3.0**2, rel=0.2)  # R I^2 at about 3 mA


def test_before_light_is_traced_a_life_counts_to_half_of_the_fresh_light(board):
    coin = make_design(supply=Supply(kind="coin-cell"), circuit=(STRINGS,), drive=DriveDesign(hours_per_day=4.0))
    reported = drive_unlit(wire_up(coin, board=board))
    assert [led.ref for led in reported.leds] == ["D1", "D3"]
    life = reported.life
    assert life.end == "window below goal"
    assert life.evenings == pytest.approx(life.lit_h / 4.0)
    for window in life.windows:
        assert not window.goal_stated
        assert window.goal_cd_m2 == pytest.approx(0.5 * window.fresh_cd_m2)
    assert life.lit_h == min(window.lit_h for window in life.windows)
    assert drive_unlit(wire_up(make_design(), board=board)) is None
