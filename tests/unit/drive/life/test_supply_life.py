"""A life as it is reported: over windows that meet their goal when fresh, in hours and evenings, with its range."""

from dataclasses import replace

import numpy as np
import pytest

from boards_under_drive import led
from paneglow.drive.circuit import build_circuit, build_supply, rail_strings, solve_point
from paneglow.drive.life import DailyUse, WindowLight, build_supply_life, follow_supply

LEDS = (led("D1", "amber"), led("D2", "blue"))
PER_TEST = np.diag([500.0, 400.0])
FRESH = {"names": ("a", "b"), "luminance_cd_m2": PER_TEST, "beside_cd_m2": np.zeros(2)}


def circuit(*, end="nominal"):
    wiring = rail_strings([["D1"], ["D2"]], resistor_ohm=[3300.0, 470.0])
    return build_circuit(wiring, leds=LEDS, supply=build_supply("coin-2032", end=end))


def life(*, asked_cd_m2=None, cases=None, hours_per_day=4.0, **changes):
    return build_supply_life(
        circuit(),
        **{**FRESH, **changes},
        asked_cd_m2=asked_cd_m2,
        cases=cases or {},
        use=DailyUse(hours_per_day=hours_per_day),
    )


def followed_h(goals):
    light = WindowLight(names=("a", "b"), luminance_cd_m2=PER_TEST, goal_cd_m2=np.array(goals))
    return follow_supply(circuit(), light=light, use=DailyUse(hours_per_day=4.0)).lit_h


def test_a_window_that_misses_its_goal_when_fresh_is_named_and_ends_no_life():
    fresh = PER_TEST @ solve_point(circuit()).light_frac
    asked = float(fresh[0]) * 0.8
    dim = PER_TEST * np.array([[1.0], [0.1 * asked / fresh[1]]])  # b shows a tenth of what is asked
    reported = life(asked_cd_m2=asked, luminance_cd_m2=dim)
    first, second = reported.windows
    assert (first.met_when_fresh, second.met_when_fresh) == (True, False)
    assert (second.lit_h, second.goal_stated) == (0.0, True)
    assert second.fresh_cd_m2 == pytest.approx(0.1 * asked)
    assert reported.limiting_window == "a"
    assert reported.lit_h == pytest.approx(followed_h([asked, 0.0]), rel=1e-6)


def test_where_no_window_meets_the_goal_each_is_followed_to_half_of_its_fresh_light():
    fresh = PER_TEST @ solve_point(circuit()).light_frac
    reported = life(asked_cd_m2=100.0 * float(fresh.max()))
    assert [window.met_when_fresh for window in reported.windows] == [False, False]
    assert [window.goal_stated for window in reported.windows] == [False, False]
    assert reported.lit_h == pytest.approx(followed_h(0.5 * fresh), rel=1e-6)
    assert reported.lit_h > 0.0


def test_a_goal_of_nobody_is_half_of_the_fresh_light_and_evenings_are_hours_over_hours_a_day():
    reported = life(hours_per_day=4.0)
    assert reported.evenings == pytest.approx(reported.lit_h / 4.0)
    assert reported.calendar_h > reported.lit_h
    assert [window.goal_cd_m2 / window.fresh_cd_m2 for window in reported.windows] == pytest.approx([0.5, 0.5])


def test_light_that_no_circuit_drives_counts_towards_a_goal():
    fresh = PER_TEST @ solve_point(circuit()).light_frac
    reported = life(asked_cd_m2=float(fresh[0]) + 3.0, beside_cd_m2=np.array([4.0, 0.0]))
    assert reported.windows[0].met_when_fresh
    assert reported.windows[0].goal_cd_m2 == pytest.approx(float(fresh[0]) - 1.0)


def test_the_range_holds_the_nominal_life_and_names_the_cases_at_its_ends():
    cases = {"weak": circuit(end="low"), "strong": circuit(end="high")}
    reported = life(cases=cases)
    assert reported.shortest_h <= reported.lit_h <= reported.longest_h
    assert reported.shortest_case == "weak"
    larger = circuit()
    curve = replace(larger.supply.curve, capacity_mah=2 * larger.supply.curve.capacity_mah)
    assert life(cases={"large": replace(larger, supply=replace(larger.supply, curve=curve))}).longest_case == "large"


def test_stages_tell_the_currents_of_every_led_in_order():
    reported = life()
    assert [stage.stage for stage in reported.stages] == ["fresh", "half", "end"]
    assert reported.stages[0].led_ma == pytest.approx(solve_point(circuit()).mean_current_ma.tolist())
    assert reported.stages[1].lit_h == pytest.approx(0.5 * reported.lit_h)
    assert all(np.array(reported.stages[2].led_ma) < np.array(reported.stages[0].led_ma))
