import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, box

from paneglow.assembly import assemble
from paneglow.board import FaceCover, Shadow
from paneglow.design import Goals, LedGroup, Supply
from paneglow.judge import check_board, release_blockers
from paneglow.judge.findings import BOARD_RULES, LIGHT_RULES
from paneglow.judge.findings.rule import used_windows
from paneglow.judge.findings.supply import forward_voltage_v
from unit.judge import cases, part_cases, polarity_cases

BY_CODE = {rule.code: rule for rule in (*BOARD_RULES, *LIGHT_RULES)}
CASES = {**cases.BOARD_CASES, **part_cases.PART_CASES, **polarity_cases.POLARITY_CASES, **cases.LIGHT_CASES}


def checked(context):
    assembled = assemble(context.design, board=context.board, catalog=context.catalog)
    return check_board(context.design, board=context.board, catalog=context.catalog, assembled=assembled)


def found(code, context):
    return list(BY_CODE[code].find(context))


def test_every_rule_has_its_own_code_and_a_case_here():
    assert len(BY_CODE) == len(BOARD_RULES) + len(LIGHT_RULES)
    assert set(BY_CODE) == set(CASES)


@pytest.mark.parametrize("rule", BOARD_RULES, ids=lambda rule: rule.code)
def test_a_board_rule_is_silent_on_a_clean_board(rule):
    assert list(rule.find(cases.before_light())) == []


@pytest.mark.parametrize("rule", LIGHT_RULES, ids=lambda rule: rule.code)
def test_a_light_rule_is_silent_on_a_clean_board(rule):
    assert list(rule.find(cases.with_light())) == []


@pytest.mark.parametrize("code", CASES)
def test_a_rule_speaks_in_its_case_under_its_own_code_and_severity(code):
    findings = found(code, CASES[code]())
    assert [finding.code for finding in findings] == [code]
    assert findings[0].severity in BY_CODE[code].severities
    for sentence in (findings[0].reason, findings[0].remedy):
        assert re.fullmatch(r"[A-Z0-9].*\.", sentence)


def test_a_trace_across_a_window_is_measured_and_a_light_shadow_is_only_noted():
    (finding,) = found("window-shadowed", cases.BOARD_CASES["window-shadowed"]())
    assert finding.at_mm == (12.0, 15.0)
    assert "3 mm2, 2.9 %" in finding.reason  # 3 of 103 mm2
    assert finding.severity == "warning"
    faint = Shadow(kind="trace", layer="copper_back", area_mm2=0.1, at_mm=(12.0, 15.0))
    lantern = replace(cases.window("lantern", cases.LANTERN), shadows=(faint, faint))
    (finding,) = found("window-shadowed", cases.before_light(made=cases.board(windows=(lantern,))))
    assert finding.severity == "note"
    assert finding.reason.startswith("2 traces in the window (back copper)")


def test_what_lies_between_two_lit_windows_is_a_wall_and_no_shadow():
    wall = Shadow(kind="trace", layer="copper_back", area_mm2=3.0, at_mm=(23.0, 15.0))
    both = [replace(window, shadows=(wall,)) for window in cases.board().survey.windows]
    assert not found("window-shadowed", cases.before_light(made=cases.board(windows=tuple(both))))


def test_copper_of_two_layers_at_one_place_is_counted_once():
    layers = [
        Shadow(kind="trace", layer=layer, area_mm2=3.0, at_mm=(12.0, 15.0)) for layer in ("copper_front", "copper_back")
    ]
    lantern = replace(cases.window("lantern", cases.LANTERN), shadows=tuple(layers))
    (finding,) = found("window-shadowed", cases.before_light(made=cases.board(windows=(lantern,))))
    assert "2 traces in the window (back copper and front copper): 3 mm2, 2.9 %" in finding.reason


def test_ink_in_a_window_is_a_share_of_its_area_and_only_noted():
    ink = Shadow(kind="ink", layer="legend_front", area_mm2=30.0, at_mm=(12.0, 15.0))
    lantern = replace(cases.window("lantern", cases.LANTERN), shadows=(ink,))
    (finding,) = found("window-shadowed", cases.before_light(made=cases.board(windows=(lantern,))))
    assert finding.severity == "note"
    assert "30 mm2, 30 % of it" in finding.reason


def test_mask_on_both_faces_warns_and_states_what_the_mask_lets_through():
    closed = FaceCover(state="masked", bare_frac=0.0, masked_frac=1.0, inked_frac=0.0)
    lantern = replace(cases.window("lantern", cases.LANTERN), front=closed, back=closed)
    (finding,) = found("window-under-mask", cases.before_light(made=cases.board(windows=(lantern,))))
    assert finding.severity == "warning"
    assert "green mask lets 20 % to 60 %" in finding.reason
    (half,) = found("window-under-mask", cases.BOARD_CASES["window-under-mask"]())
    assert half.severity == "note"
    assert "Open the mask on the front a little" in half.remedy


def test_an_led_at_zero_current_does_not_light_its_window():
    off = replace(cases.SIDE_LED, current_ma=0.0)
    (finding,) = found("window-unlit", cases.before_light(made=cases.board(off, cases.FLAT_LED)))
    assert finding.subject == "lantern"


def test_the_reach_of_a_side_view_led_follows_its_height():
    # 3.8 heights of 0.75 mm and one thickness of 1.6 mm: 4.45 mm from the luminous centre, 0.8 mm before the body's
    near, far = (replace(cases.SIDE_LED, at_mm=(10.0 - 0.8 - gap_mm, 15.0)) for gap_mm in (4.44, 4.46))
    assert not found("led-far-from-window", cases.before_light(made=cases.board(near)))
    assert found("led-far-from-window", cases.before_light(made=cases.board(far)))


def test_a_carrier_led_may_stand_as_far_aside_as_its_distance_behind_allows():
    # 1.86 x 5 mm and one thickness: 10.9 mm from the rim at x = 20
    for x_mm, expected in ((30.8, 0), (31.0, 1)):
        led = replace(cases.FLAT_LED, mounting="carrier", gap_mm=5.0, at_mm=(x_mm, 15.0), window="lantern")
        assert len(found("led-far-from-window", cases.before_light(made=cases.board(led)))) == expected


@pytest.mark.parametrize(
    ("rotation_deg", "severity"), [(0.0, None), (45.0, None), (135.0, "warning"), (180.0, "error")]
)
def test_aim_is_judged_by_the_nearest_direction_of_the_window(rotation_deg, severity):
    led = replace(cases.SIDE_LED, rotation_deg=rotation_deg)
    findings = found("side-view-aims-away", cases.before_light(made=cases.board(led)))
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


def test_a_side_view_led_inside_its_window_may_shine_any_way():
    led = replace(cases.SIDE_LED, at_mm=(15.0, 15.0), rotation_deg=123.0)
    assert not found("side-view-aims-away", cases.before_light(made=cases.board(led)))


def test_an_led_partly_off_its_window_is_a_warning_and_wholly_off_an_error():
    partly = replace(cases.FLAT_LED, at_mm=(26.3, 13.0))  # its 1 mm square reaches 0.2 mm past the rim at x = 26
    (finding,) = found("led-off-its-window", cases.before_light(made=cases.board(partly)))
    assert finding.severity == "warning"
    assert finding.reason.startswith("20 % of its luminous area lies off window buoy")
    wholly = replace(cases.FLAT_LED, at_mm=(24.0, 13.0))
    copper = cases.maps(copper_back=(box(20.0, 0.0, 26.0, 30.0),))
    (finding,) = found("led-off-its-window", cases.before_light(made=cases.board(wholly, face_maps=copper)))
    assert finding.severity == "error"
    assert "2 mm outside, under the back copper over 100 %" in finding.reason


def test_an_led_under_another_window_is_told_so():
    swapped = replace(cases.FLAT_LED, at_mm=(15.0, 15.0))
    (finding,) = found("led-off-its-window", cases.before_light(made=cases.board(swapped)))
    assert "11 mm outside, under window lantern" in finding.reason


def test_copper_in_the_light_names_its_layer_and_share():
    (finding,) = found("led-behind-copper", cases.BOARD_CASES["led-behind-copper"]())
    assert "50 % lies behind the back copper" in finding.reason  # 0.5 mm of a 1 mm lens


def test_a_top_view_led_with_a_cover_is_fine():
    top = replace(cases.FLAT_LED, mounting="top_view")
    assert not found("top-view-without-cover", cases.before_light(made=cases.board(top), wanted=cases.COVERED))


def test_a_hole_as_large_as_the_body_satisfies_a_through_hole_led():
    led = replace(cases.FLAT_LED, mounting="through_hole")
    for width_mm, expected in ((3.4, 0), (2.0, 1)):
        hole = box(29 - width_mm / 2, 13 - 1.0, 29 + width_mm / 2, 13 + 1.0)
        made = cases.board(led, face_maps=cases.maps(holes=(hole,)))
        assert len(found("hole-missing", cases.before_light(made=made))) == expected


HOLES = [(2.9, "hole-missing"), (2.96, "hole-too-tight"), (3.1, None), (3.5, None)]


@pytest.mark.parametrize("mounting", ["through_hole", "cutout"])
@pytest.mark.parametrize(("hole_mm", "code"), HOLES)
def test_a_round_hole_takes_a_round_lens_with_the_room_of_its_tolerance(mounting, hole_mm, code):
    # A lens of 3 mm whose part states no tolerance: +-0.1 mm
    dome = cases.part(lens_length_mm=cases.quantity(3.0), lens_width_mm=cases.quantity(3.0))
    led = replace(cases.FLAT_LED, part=dome, mounting=mounting)
    made = cases.board(led, face_maps=cases.maps(holes=(Point(29.0, 13.0).buffer(hole_mm / 2),)))
    codes = [one for one in ("hole-missing", "hole-too-tight") if found(one, cases.before_light(made=made))]
    assert codes == ([] if code is None else [code])


def test_an_oblong_lens_does_not_go_into_a_round_hole_of_its_width():
    oblong = cases.part(lens_length_mm=cases.quantity(3.0), lens_width_mm=cases.quantity(2.0))
    led = replace(cases.FLAT_LED, part=oblong, mounting="cutout")
    made = cases.board(led, face_maps=cases.maps(holes=(Point(29.0, 13.0).buffer(1.1),)))
    assert found("hole-missing", cases.before_light(made=made))


def test_bodies_on_two_faces_do_not_overlap():
    front = replace(cases.FLAT_LED, ref="D3", side="front")
    assert not found("leds-overlap", cases.before_light(made=cases.board(cases.FLAT_LED, front)))


def test_current_between_the_ends_of_an_assumed_limit_only_warns():
    unsure = cases.part(current_max_ma=cases.quantity(20.0, low=15.0, high=25.0))
    for current_ma, severity in ((14.0, None), (20.0, "warning"), (26.0, "error")):
        led = replace(cases.FLAT_LED, part=unsure, current_ma=current_ma)
        findings = found("current-above-limit", cases.before_light(made=cases.board(led)))
        assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


def test_a_blue_led_on_a_coin_cell_fades_first_and_a_red_one_does_not():
    (finding,) = found("forward-voltage-too-high", cases.BOARD_CASES["forward-voltage-too-high"]())
    assert finding.subject == "D2"
    assert finding.severity == "warning"  # 2.6 V, its least, is below what a fresh cell gives
    # By the cell that circuits are solved with: 2 mA through 18 ohm x 1.6 leave 2.85 V of 2.96 - 0.05 V, half empty;
    # through 16 ohm x 0.65 they leave 3.28 V of 3.25 + 0.05 V, fresh; the greatest forward voltage is 3.4 V
    assert "up to 0.55 V above what the supply gives, 2.85 to 3.28 V at 2 mA, half empty to fresh" in finding.reason


def test_an_overloaded_cell_does_not_put_red_leds_out_of_reach():
    # 40 mA would leave less than 2 V; that is told by the current, not by every LED
    context = cases._on_a_cell(replace(cases.SIDE_LED, current_ma=20.0), replace(cases.FLAT_LED, current_ma=20.0))
    assert not found("forward-voltage-too-high", context)
    (finding,) = found("supply-current-too-high", context)
    assert "37 mA above the 3 mA that the supply (coin cell, lithium, 20 x 3.2 mm) gives continuously" in finding.reason


def test_leds_of_one_order_code_and_current_share_a_finding():
    blues = [replace(cases.FLAT_LED, ref=ref, part=cases.BLUE) for ref in ("D2", "D3", "D4")]
    (finding,) = found("forward-voltage-too-high", cases._on_a_cell(*blues))
    assert finding.subject == "D2"
    assert "(chip-blue, as D3, D4)" in finding.reason


def test_the_voltage_of_an_led_rises_with_its_current_by_the_diode_law():
    # kT/q ln 10 is 59.5 mV a decade at 300 K; an ideality of 1 to 3 makes 0.0595 to 0.1786 V of a decade
    one = cases.part(forward_voltage_v=cases.quantity(2.0, low=1.9, high=2.1))
    test_ma = one.test_current_ma
    assert forward_voltage_v(one, current_ma=test_ma) == (1.9, 2.1)
    assert forward_voltage_v(one, current_ma=10 * test_ma) == pytest.approx((1.9595, 2.2786), abs=1e-3)
    assert forward_voltage_v(one, current_ma=test_ma / 10) == pytest.approx((1.7214, 2.0405), abs=1e-3)


def test_a_forward_voltage_out_of_reach_is_an_error():
    hopeless = cases.part(forward_voltage_v=cases.quantity(3.6, low=3.5, high=3.8))
    context = cases._on_a_cell(replace(cases.FLAT_LED, part=hopeless))
    assert found("forward-voltage-too-high", context)[0].severity == "error"


@pytest.mark.parametrize(("supply", "count"), [("usb", 0), ("battery", 1)])
def test_every_supply_is_judged_by_the_model_that_circuits_are_solved_with(supply, count):
    # Two alkaline cells stand at 2.4 to 3.3 V, below the 3.4 V that a blue LED may need; USB gives 4.4 V at least
    led = replace(cases.FLAT_LED, part=cases.BLUE)
    context = cases.before_light(made=cases.board(led), wanted=cases.design(supply=Supply(kind=supply)))
    assert len(found("forward-voltage-too-high", context)) == count
    low = cases.before_light(made=cases.board(led), wanted=cases.design(supply=Supply(kind=supply, voltage_v=2.5)))
    assert found("forward-voltage-too-high", low)[0].severity == "error"


@pytest.mark.parametrize(("current_ma", "severity"), [(3.0, None), (3.1, "warning"), (15.1, "error")])
def test_cell_current_is_judged_against_continuous_and_pulse_ratings(current_ma, severity):
    context = cases._on_a_cell(replace(cases.SIDE_LED, current_ma=current_ma))
    findings = found("supply-current-too-high", context)
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


def test_hours_of_a_cell_are_capacity_over_current():
    (finding,) = found("cell-empties-soon", cases._on_a_cell(replace(cases.SIDE_LED, current_ma=10.0)))
    assert "at most 23 hours" in finding.reason  # 230 mAh over 10 mA, as the life of a circuit counts
    assert not found("cell-empties-soon", cases._on_a_cell(replace(cases.SIDE_LED, current_ma=0.2)))


def test_bleed_names_the_culprit_with_its_share_and_distance():
    (finding,) = found("window-bleeds", cases.LIGHT_CASES["window-bleeds"]())
    assert "D2 gives 25 % from 9 mm away, meant for buoy" in finding.reason
    assert "plated vias between D2 and the window" in finding.remedy


def test_the_design_sets_its_own_bleed_limit():
    bleeding = cases.LIGHT_CASES["window-bleeds"]()
    relaxed = cases.design(goals=Goals(bleed_max=0.3))
    assert not found("window-bleeds", replace(bleeding, design=relaxed))


def test_an_uneven_window_names_its_faded_end():
    (finding,) = found("window-uneven", cases.LIGHT_CASES["window-uneven"]())
    # The map falls by 5.05 cd/m2 per 0.5 mm toward +x, from 299 to 203 over the window; a quarter of the peak of 1000
    # is 250, passed at 15 mm: brightest is the first mm, faded the right half
    assert finding.at_mm == pytest.approx((10.5, 15.0))
    assert "50 % of the window is darker than a quarter" in finding.reason
    assert "the right end, about 7 mm away, fades" in finding.reason
    assert "(17.5, 15.0) mm" in finding.remedy


def test_a_window_that_fades_all_round_is_told_apart():
    x_mm, y_mm = np.meshgrid(cases.MAP_GRID.x_centres_mm(), cases.MAP_GRID.y_centres_mm())
    bump = 400.0 * np.exp(-((x_mm - 15.0) ** 2 + (y_mm - 15.0) ** 2) / 8.0)
    shown = cases.look(cases.seen("lantern", evenness_stops=cases.exact(5.0)), luminance=bump)
    (finding,) = found("window-uneven", cases.with_light(shown=shown))
    assert "toward the rim on all sides" in finding.reason


@pytest.mark.parametrize(
    ("apart_mm", "where"), [(1.5, "toward the rim on all sides"), (2.5, "the right end, about 2.5 mm away")]
)
def test_a_fade_is_put_at_an_end_from_fifteen_percent_of_the_windows_size_on(apart_mm, where):
    # 15 % of the diagonal of 10 x 10 mm is 2.1 mm: brightest strip about x = 10.5 mm, one dark strip `apart_mm` on
    x_mm, _ = np.meshgrid(cases.MAP_GRID.x_centres_mm(), cases.MAP_GRID.y_centres_mm())
    strips = np.where(x_mm < 11.0, 1000.0, np.where(abs(x_mm - 10.5 - apart_mm) < 0.5, 100.0, 500.0))
    shown = cases.look(
        cases.seen("lantern", evenness_stops=cases.exact(3.3), peak_cd_m2=cases.exact(1000.0)), luminance=strips
    )
    (finding,) = found("window-uneven", cases.with_light(shown=shown))
    assert where in finding.reason


def test_colour_drift_tells_tint_from_foreign_light():
    (by_tint,) = found("colour-drifts", cases.LIGHT_CASES["colour-drifts"]())
    assert "laminate and mask tint it" in by_tint.reason
    shown = cases.seen("lantern", chromaticity_x=0.4, chromaticity_y=0.4, colour_word="white")
    (mixed,) = found("colour-drifts", cases.with_light(shown=cases.look(shown)))
    assert "light of other LEDs mixes in" in mixed.reason


def test_a_missing_land_is_grave_for_an_led_of_the_placement_file_only():
    (placed_by_hand,) = found("land-missing", part_cases.PART_CASES["land-missing"]())
    assert placed_by_hand.severity == "warning"
    group = LedGroup(refs=("D2",), part="chip-red", mounting="lens_down", current_ma=1.0)
    context = replace(part_cases.PART_CASES["land-missing"](), design=cases.design(led=(group,)))
    (from_file,) = found("land-missing", context)
    assert from_file.severity == "error"


def test_an_unverified_mark_blocks_release_though_it_is_no_error():
    context = part_cases.PART_CASES["mark-unverified"]()
    findings = checked(context)
    assert [finding.code for finding in release_blockers(findings)] == ["mark-unverified"]
    warned = cases.before_light(
        made=cases.board(cases.SIDE_LED, replace(cases.FLAT_LED, at_mm=(26.3, 13.0))),
        known=cases.catalog(laminate_origin="assumed"),
    )
    others = checked(warned)
    assert {finding.severity for finding in others} == {"warning", "note"}
    assert release_blockers(others) == ()


def test_gravest_findings_come_first():
    made = cases.board(replace(cases.SIDE_LED, rotation_deg=180.0), replace(cases.FLAT_LED, at_mm=(26.3, 13.0)))
    findings = checked(cases.before_light(made=made, known=cases.catalog(laminate_origin="assumed")))
    severities = [finding.severity for finding in findings]
    assert severities == sorted(severities, key=["error", "warning", "note"].index)
    assert set(severities) == {"error", "warning", "note"}


def test_the_share_of_a_large_lens_that_lies_off_its_window_is_of_its_own_area():
    # 2 x 2 mm about x = 26.8: 0.2 of 2 mm lie past the rim at x = 26
    large = cases.part(emitter_length_mm=cases.quantity(2.0), emitter_width_mm=cases.quantity(2.0))
    led = replace(cases.FLAT_LED, part=large, at_mm=(26.8, 13.0))
    (finding,) = found("led-off-its-window", cases.before_light(made=cases.board(led)))
    assert finding.reason.startswith("10 % of its luminous area lies off window buoy")


@pytest.mark.parametrize(("to_mm", "severity"), [(28.53, None), (28.8, "warning"), (29.3, "error")])
def test_copper_over_more_than_half_of_the_light_is_an_error(to_mm, severity):
    # The lens reaches from x = 28.5 to 29.5
    copper = cases.maps(copper_back=(box(28.0, 10.0, to_mm, 16.0),))
    findings = found("led-behind-copper", cases.before_light(made=cases.board(face_maps=copper)))
    assert [finding.severity for finding in findings] == ([] if severity is None else [severity])


@pytest.mark.parametrize(("bleed", "count"), [(0.09, 0), (0.12, 1)])
def test_a_tenth_of_foreign_light_is_told_where_the_design_states_no_goal(bleed, count):
    shown = cases.look(cases.seen("lantern", bleed=cases.exact(bleed)), cases.seen("buoy"))
    findings = found("window-bleeds", cases.with_light(shown=shown))
    assert len(findings) == count
    # The maps hold no foreign light at all, so no LED is blamed
    assert all("D2" not in finding.reason + finding.remedy for finding in findings)


def test_a_window_without_a_colour_does_not_drift():
    shown = cases.seen("lantern", chromaticity_x=None, chromaticity_y=None)
    assert not found("colour-drifts", cases.with_light(shown=cases.look(shown, cases.seen("buoy"))))


def test_a_carrier_may_reach_over_the_rim_of_the_board():
    carried = replace(cases.FLAT_LED, mounting="carrier", gap_mm=5.0, at_mm=(0.5, 15.0))
    assert not found("led-over-outline", cases.before_light(made=cases.board(carried)))


def test_what_is_built_by_hand_or_lies_unknown_in_its_tape_is_told_at_its_own_led():
    (by_hand,) = found("built-by-hand", part_cases.PART_CASES["built-by-hand"]())
    assert (by_hand.subject, by_hand.at_mm) == ("D2", (29.0, 13.0))  # D1 is the first of the board
    loose = replace(cases.SIDE_LED, part=cases.SIDE_PART.model_copy(update={"tape": None}))
    (unknown,) = found("tape-unknown", cases.before_light(made=cases.board(cases.FLAT_LED, loose)))
    assert (unknown.subject, unknown.at_mm) == ("D1", (8.0, 15.0))  # D2 is the first here


def test_a_window_counts_as_used_where_the_design_names_it_or_an_led_is_meant_for_it():
    spare = (*cases.board().survey.windows, cases.window("w3", box(2.0, 2.0, 4.0, 4.0)))
    only_design = cases.before_light(made=cases.board(replace(cases.SIDE_LED, window=None), windows=spare))
    assert [window.name for window in used_windows(only_design)] == ["lantern", "buoy"]
    only_leds = cases.before_light(made=cases.board(windows=spare), wanted=cases.design(window=()))
    assert [window.name for window in used_windows(only_leds)] == ["lantern", "buoy"]


def test_the_voltage_of_an_led_is_shifted_from_its_own_test_current():
    # A decade below 20 mA: at most 0.1786 V less and at least 0.0595 V less
    one = cases.part(forward_voltage_v=cases.quantity(2.0, low=1.9, high=2.1), test_current_ma=20.0)
    assert forward_voltage_v(one, current_ma=2.0) == pytest.approx((1.7214, 2.0405), abs=1e-3)


def test_one_led_built_by_hand_is_told_as_one():
    (by_hand,) = found("built-by-hand", part_cases.PART_CASES["built-by-hand"]())
    assert by_hand.reason.startswith("1 LED mounted lens down is built by hand: taped lens up")
