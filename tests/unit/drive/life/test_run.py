import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.linalg import expm
from scipy.optimize import brentq

from boards_under_drive import CHIP, led, rail
from paneglow.drive.circuit import CellSupply, build_circuit, build_supply, rail_strings, solve_point
from paneglow.drive.life import DailyUse, WindowLight, follow_supply
from paneglow.drive.life.run import BEYOND_EMPTY, last_depths
from paneglow.errors import RangeError
from paneglow.physics import CellCurve, DiodeCurve, relative_light

LOAD_OHM = 1000.0
# A cell whose voltage falls straight and whose resistance stays: under a resistor it is a linear system
STRAIGHT = CellCurve(
    capacity_mah=100.0,
    depth_frac=(0.0, 1.0),
    open_circuit_v=(3.0, 1.8),
    resistance_ohm=(20.0, 20.0),
    near_frac=0.4,
    levelling_per_h=0.05,
)
# A junction of 0.2 mV at 1 mA is far below a thermal voltage: it is 0.2 ohm, and the load is its resistor
SHORT = DiodeCurve(reference_ma=1.0, reference_v=2e-4, ideality=1.0, series_ohm=0.01, v_per_k=0.0)
END_V = 2.2  # over the load


def as_supply(curve):
    return CellSupply(name="cell", curve=curve, continuous_max_ma=10.0, pulse_max_ma=10.0)


def resistor_board(curve, *, end_v=END_V):
    """A resistor across a cell, and a window whose goal is what it shows at the end voltage."""
    part = led("D1", "red", thermal_k_per_w=0.0, curve=SHORT)
    goal = 10.0 * float(relative_light(1e3 * end_v / LOAD_OHM, curve=part.flux))
    circuit = build_circuit(
        rail_strings([["D1"]], resistor_ohm=[LOAD_OHM - 0.2]), leds=(part,), supply=as_supply(curve)
    )
    light = WindowLight(names=("pane",), luminance_cd_m2=np.array([[10.0]]), goal_cd_m2=np.array([goal]))
    return circuit, light


def closed_form_h(curve, *, end_v=END_V):
    """Hours to the end voltage over a resistor: exponential of the 2 x 2 system, no step taken."""
    total_ohm, volts = LOAD_OHM + 20.0, 1.2  # volts from depth 0 to depth 1
    share, rate = curve.near_frac, curve.levelling_per_h
    fall = 1e3 * volts / total_ohm / curve.capacity_mah
    push = 1e3 * 3.0 / total_ohm / curve.capacity_mah + curve.self_discharge_per_h
    # u (gone) and d (near - far), near = u + (1 - c) d, and 1 as third state that carries the push
    system = np.array(
        [
            [-fall, -fall * (1 - share), push],
            [-fall / share, -fall * (1 - share) / share - rate, push / share],
            [0.0, 0.0, 0.0],
        ]
    )
    depth = (3.0 - end_v * total_ohm / LOAD_OHM) / volts

    def near(hours):
        gone, gap, _ = expm(system * hours) @ (0.0, 0.0, 1.0)
        return gone + (1 - share) * gap

    return brentq(lambda hours: near(hours) - depth, 0.0, 60.0, xtol=1e-10)


def test_a_resistor_on_one_well_lasts_the_time_of_its_exponential():
    curve = replace(STRAIGHT, near_frac=1.0)
    depth = (3.0 - END_V * 1020.0 / 1000.0) / 1.2
    # x' = (3 - 1.2 x) / (R C), so t = -(R C / 1.2) ln(1 - 1.2 x / 3)
    expected = -(1.020 * 100.0 / 1.2) * math.log(1.0 - 1.2 * depth / 3.0)
    circuit, light = resistor_board(curve)
    assert follow_supply(circuit, light=light).lit_h == pytest.approx(expected, rel=1e-4)  # the short takes 0.02 %


@pytest.mark.parametrize("near_frac", [0.2, 0.4, 0.8])
@pytest.mark.parametrize("loss_per_h", [0.0, 1e-3])
def test_a_resistor_on_two_wells_lasts_the_time_of_the_closed_form(near_frac, loss_per_h):
    curve = replace(STRAIGHT, near_frac=near_frac, self_discharge_per_h=loss_per_h)
    circuit, light = resistor_board(curve)
    answer = follow_supply(circuit, light=light)
    assert answer.end == "window below goal"
    assert answer.lit_h == pytest.approx(closed_form_h(curve), rel=1e-3)
    assert answer.stages[-1].point.supply_v[0] == pytest.approx(END_V, rel=1e-3)


def colourful_board(*, supply=None, resistors=(3300, 2200, 470, 3300), chip=None):
    leds = tuple(led(f"D{number}", colour) for number, colour in enumerate(("amber", "green", "blue", "red"), start=1))
    wiring = rail_strings([[part.ref] for part in leds], resistor_ohm=list(resistors))
    circuit = build_circuit(wiring, leds=leds, supply=supply or build_supply("coin-2032"), chip=chip)
    light = WindowLight(
        names=("amber", "green", "blue", "red"),
        luminance_cd_m2=np.diag([100.0, 300.0, 80.0, 60.0]) * [part.flux.reference_ma for part in leds],
        goal_cd_m2=np.array([10.0, 20.0, 4.0, 5.0]),
    )
    return circuit, light


def test_the_answer_is_the_moment_at_which_the_first_window_stands_at_its_goal():
    circuit, light = colourful_board()
    answer = follow_supply(circuit, light=light)
    assert (answer.end, answer.limiting_window) == ("window below goal", "blue")
    assert answer.lit_h == answer.window_lit_h.min() == answer.window_lit_h[2]
    end = light.at(answer.stages[-1].point)
    assert end[2] == pytest.approx(4.0, rel=1e-3)  # depth is found to 1e-6, and blue falls steeply
    assert np.all(end[[0, 1, 3]] > light.goal_cd_m2[[0, 1, 3]])
    assert [point.stage for point in answer.stages] == ["fresh", "half", "end"]
    assert answer.stages[1].lit_h == 0.5 * answer.lit_h
    # Half way is half of the hours: a board that is switched off there has lasted as long as it says
    half = light.at(answer.stages[1].point)
    other = follow_supply(circuit, light=replace(light, goal_cd_m2=np.array([0.0, 0.0, half[2], 0.0])))
    assert other.lit_h == pytest.approx(0.5 * answer.lit_h, rel=2e-3)  # steps of 1/400 of the near well


def test_dividing_charge_by_current_would_be_wrong_and_the_run_keeps_its_charge():
    circuit, light = colourful_board()
    answer = follow_supply(circuit, light=light)
    fresh_h = 230.0 / answer.stages[0].point.mean_supply_ma
    assert answer.lit_h > 1.3 * fresh_h  # the board draws less and less
    assert np.all(np.diff(answer.drawn_mah) > 0.0)
    assert answer.drawn_mah[-1] < 230.0


def test_supply_and_every_window_only_ever_fall_while_lit():
    circuit, light = colourful_board()
    answer = follow_supply(circuit, light=light)
    assert np.all(np.diff(answer.supply_v) <= 1e-12)
    assert np.all(np.diff(answer.luminance_cd_m2, axis=0) <= 1e-9)


def test_rest_by_day_gives_more_hours_of_light_and_many_more_by_the_calendar():
    circuit, light = colourful_board()
    supply = circuit.supply
    heavy = replace(circuit, supply=replace(supply, curve=replace(supply.curve, capacity_mah=60.0)))
    always, evenings = (follow_supply(heavy, light=light, use=use) for use in (None, DailyUse(hours_per_day=2.0)))
    assert evenings.lit_h > 1.02 * always.lit_h
    assert evenings.calendar_h == pytest.approx(22.0 * math.floor(evenings.lit_h / 2.0) + evenings.lit_h, abs=22.0)


def test_current_that_flows_while_dark_costs_life():
    circuit, light = colourful_board()
    idle = follow_supply(circuit, light=light, use=DailyUse(hours_per_day=6.0, idle_ma=0.2))
    assert idle.lit_h < follow_supply(circuit, light=light, use=DailyUse(hours_per_day=6.0)).lit_h


def test_protection_and_a_chip_that_stops_end_the_light_before_a_window_fades():
    protected, light = colourful_board(supply=build_supply("li-ion"))
    answer = follow_supply(protected, light=light)
    assert (answer.end, answer.limiting_window) == ("supply cut off", None)
    assert answer.stages[-1].point.supply_v.min() == pytest.approx(3.0, abs=1e-4)
    assert_allclose(answer.window_lit_h, answer.lit_h)
    chip = replace(CHIP, standing_ma=0.1, voltage_least_v=2.7)
    stopped, light = colourful_board(chip=chip)
    assert follow_supply(stopped, light=light).end == "supply cut off"


def test_without_any_goal_the_cell_is_followed_until_it_is_empty():
    circuit, light = colourful_board()
    answer = follow_supply(circuit, light=replace(light, goal_cd_m2=np.zeros(4)))
    assert (answer.end, answer.limiting_window) == ("supply empty", None)
    assert np.all(np.isinf(answer.window_lit_h))


def test_a_goal_that_a_fresh_cell_misses_is_never_met():
    circuit, light = colourful_board()
    answer = follow_supply(circuit, light=replace(light, goal_cd_m2=np.array([10.0, 20.0, 400.0, 5.0])))
    assert (answer.end, answer.limiting_window, answer.lit_h) == ("never met", "blue", 0.0)
    assert answer.window_lit_h[0] > 100.0
    assert [point.stage for point in answer.stages] == ["fresh"]


def test_a_rail_does_not_run_down():
    circuit, light = colourful_board(supply=rail(5.0))
    answer = follow_supply(circuit, light=light)
    assert (answer.end, answer.lit_h, answer.limiting_window) == ("not reached", math.inf, None)
    missed = follow_supply(circuit, light=replace(light, goal_cd_m2=np.full(4, 1e6)))
    assert (missed.end, missed.lit_h) == ("never met", 0.0)


def test_a_load_too_small_to_end_within_ten_years_is_not_reached():
    circuit, light = colourful_board(resistors=(1e7, 1e7, 1e7, 1e7), supply=build_supply("alkaline-aa-pair"))
    answer = follow_supply(circuit, light=replace(light, goal_cd_m2=np.array([1e-9, 0.0, 0.0, 0.0])))
    assert (answer.end, answer.lit_h, answer.limiting_window) == ("not reached", math.inf, None)


def test_more_charge_lasts_longer_but_more_voltage_does_not():
    # A strong cell shows more light, draws more for it, and may be empty first: no end of a range is the worst in all
    lives = {}
    for end in ("low", "nominal", "high"):
        circuit, light = colourful_board(supply=build_supply("coin-2032", end=end))
        lives[end] = follow_supply(circuit, light=light)
    fresh = [light.at(lives[end].stages[0].point) for end in ("low", "nominal", "high")]
    assert np.all(fresh[0] < fresh[1])
    assert np.all(fresh[1] < fresh[2])
    assert lives["low"].lit_h < lives["nominal"].lit_h
    nominal, light = colourful_board()
    larger = replace(nominal.supply, curve=replace(nominal.supply.curve, capacity_mah=260.0))
    assert follow_supply(replace(nominal, supply=larger), light=light).lit_h > lives["nominal"].lit_h


def test_window_light_is_the_sum_over_leds_of_what_each_shows():
    circuit, _ = colourful_board()
    light = WindowLight(names=("one",), luminance_cd_m2=np.array([[1.0, 2.0, 3.0, 4.0]]), goal_cd_m2=np.zeros(1))
    point = solve_point(circuit)
    expected = sum(share * each for share, each in zip((1, 2, 3, 4), point.light_frac, strict=True))
    assert light.at(point)[0] == pytest.approx(expected, rel=1e-12)


def test_light_that_does_not_fit_the_leds_is_refused():
    circuit, light = colourful_board()
    with pytest.raises(RangeError, match="shape"):
        follow_supply(circuit, light=replace(light, luminance_cd_m2=np.eye(3)))
    with pytest.raises(RangeError, match="hours_per_day"):
        follow_supply(circuit, light=light, use=DailyUse(hours_per_day=25.0))


DEPTHS = np.array([0.0, 0.5, 1.0])
FALLING = np.array([[3.0, 9.0], [2.0, 4.0], [1.0, 1.0]])  # 3 - 2 x, and (3 - 2 x)^2


def solved(numbers, wanted):
    return (3.0 - 2.0 * wanted) ** np.array([1.0, 2.0])[numbers]


def test_the_depths_are_where_each_value_falls_below():
    found = last_depths(DEPTHS, FALLING, least=np.array([1.5, 6.25]), at=solved)
    assert_allclose(found, [0.75, 0.25], atol=1e-6)


def test_always_enough_is_beyond_empty_and_never_enough_is_at_once():
    found = last_depths(DEPTHS, FALLING, least=np.array([0.5, 9.5]), at=solved)
    assert found.tolist() == [BEYOND_EMPTY, 0.0]


# Solved once more, the sample that was just enough is not any more
def test_a_sample_that_only_just_holds_is_an_end_even_if_solving_again_rounds_it_away():
    least = np.array([2.0 - 1e-12, 0.0])
    found = last_depths(DEPTHS, FALLING, least=least, at=lambda numbers, wanted: solved(numbers, wanted) - 1e-9)
    assert found[0] == pytest.approx(0.5, abs=1e-4)
