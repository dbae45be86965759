"""The board's own pads against the land a part needs."""

from dataclasses import replace

import pytest
from shapely.geometry import Point, box

from drawn_pads import CENTRE, PARTS, board, led, pads_at
from paneglow.assembly import build_land, fit_land, opening_outline, sizes_that_fit
from paneglow.fab import PlacementRule
from polarity_boards import Made, make_case, right_rows, through_file


def land_edges(placed, density):
    land = build_land(placed.part, mounting=placed.mounting, gap_mm=placed.gap_mm, density=density)
    pad = land.pads[1]
    return pad.at_mm[0] - pad.length_mm / 2, pad.at_mm[0] + pad.length_mm / 2, pad.width_mm


@pytest.mark.parametrize("density", ["most", "nominal", "least"])
@pytest.mark.parametrize(
    ("code", "mounting"),
    [
        ("tv-0603-red", "top_view"),
        ("tv-1206-red", "lens_down"),
        ("rv-1206-red", "reverse"),
        ("sv-1204-red", "side_view"),
        ("co-1206-red", "cutout"),
        ("th-3mm-red", "through_hole"),
    ],
)
def test_a_board_drawn_with_our_own_land_reaches_its_goals(code, mounting, density):
    placed = led(code, mounting=mounting)
    inner, outer, width = land_edges(placed, density)
    deg = 90.0 if mounting == "side_view" else 0.0
    drawn = pads_at(inner_mm=inner, outer_mm=outer, width_mm=width, deg=deg)
    joints = fit_land(placed, board=board(*drawn)).joints
    assert len(joints) == 2
    for joint in joints:
        order = ("most", "nominal", "least")
        assert order.index(joint.density) <= order.index(density)
        assert joint.workmanship == 3


def test_a_lens_down_part_on_a_top_view_land_falls_short():
    placed = led("tv-1206-red", mounting="lens_down", gap_mm=0.6)
    inner, outer, width = land_edges(led("tv-1206-red", mounting="top_view"), "least")
    fit = fit_land(placed, board=board(*pads_at(inner_mm=inner, outer_mm=outer, width_mm=width)))
    assert [joint.density for joint in fit.joints] == [None, None]
    assert fit.needed_mm > outer


def test_a_lens_that_lies_on_its_pads_is_told_how_far():
    lens = PARTS["tv-1206-red"].lens_length_mm.value
    drawn = pads_at(inner_mm=lens / 2 - 0.3, outer_mm=2.5, width_mm=1.6)
    assert fit_land(led("tv-1206-red", mounting="lens_down"), board=board(*drawn)).lens_on_land_mm == pytest.approx(
        0.3, abs=0.02
    )
    assert fit_land(led("tv-1206-red", mounting="top_view"), board=board(*drawn)).lens_on_land_mm == 0.0


def test_a_terminal_without_copper_is_told():
    (left, _) = pads_at(inner_mm=1.0, outer_mm=2.0, width_mm=1.6)
    cathode, anode = fit_land(led("tv-1206-red", mounting="top_view"), board=board(left)).joints
    assert cathode.pad is not None
    assert anode.pad is None
    assert anode.workmanship is None


def test_copper_too_near_a_hole_is_measured():
    # Lands of a 1206 rear entry part as the trade draws them: 1.5 x 1.6 mm at +-1.8 mm round a 2.1 mm hole (seen on
    # public data sheets): their inner edges touch the hole, so the 0.15 mm that board makers ask for is not there
    drawn = pads_at(inner_mm=1.05, outer_mm=2.55, width_mm=1.6)
    fit = fit_land(led("co-1206-red", mounting="cutout"), board=board(*drawn))
    assert fit.hole_margin_mm == pytest.approx(0.0, abs=0.02)
    assert all(joint.density == "most" and joint.workmanship == 3 for joint in fit.joints)
    # Taken back to that margin of the hole with its clearance, 2.2 mm, they still hold the whole class-3 joint
    kept = pads_at(inner_mm=1.25, outer_mm=2.55, width_mm=1.6)
    again = fit_land(led("co-1206-red", mounting="cutout"), board=board(*kept))
    assert again.hole_margin_mm == pytest.approx(0.15, abs=0.02)
    assert all(joint.workmanship == 3 for joint in again.joints)


def test_a_drilled_opening_is_round():
    outline = opening_outline(build_land(PARTS["co-1206-red"], mounting="cutout"))
    assert outline.area == pytest.approx(Point(0, 0).buffer(1.1, quad_segs=32).area)


def test_a_part_on_a_carrier_is_not_compared_with_this_board():
    assert fit_land(led("tv-1206-red", mounting="carrier"), board=board(box(*CENTRE, 16, 16))) is None


@pytest.mark.parametrize(
    ("stranger", "distance_mm"), [(box(14.5, 15.2, 15.5, 15.6), 0.0), (box(14, 16, 16, 16.8), 0.2)]
)
def test_bare_copper_that_is_not_its_own_is_measured_from_the_body(stranger, distance_mm):
    drawn = pads_at(inner_mm=1.2, outer_mm=2.4, width_mm=1.6)
    placed = led("tv-1206-red", mounting="lens_down")
    assert fit_land(placed, board=board(*drawn)).foreign_mm is None
    assert fit_land(placed, board=board(*drawn, stranger)).foreign_mm == pytest.approx(distance_mm, abs=0.01)


@pytest.mark.parametrize("deg", [0.0, 90.0, 180.0, 270.0, 33.0])
@pytest.mark.parametrize("side", ["front", "back"])
def test_what_is_found_does_not_change_when_the_board_is_turned_or_the_part_sits_on_the_other_face(deg, side):
    placed = led("tv-1206-red", mounting="top_view", rotation_deg=deg, side=side)
    drawn = pads_at(inner_mm=0.95, outer_mm=2.1, width_mm=1.3, deg=deg, shift_mm=0.1)
    made = board(*drawn)
    maps = replace(made.maps, copper_front=made.maps.copper_back)
    fit = fit_land(placed, board=replace(made, maps=maps))
    assert len(fit.joints) == 2
    for joint in fit.joints:
        assert (joint.density, joint.workmanship) == ("nominal", 3)
        assert joint.toe_mm == pytest.approx(0.5, abs=0.03)  # half a pixel at oblique corners
        # 1.6 mm of metal on 1.3 mm of land, 0.1 mm aside: 0.25 mm over at the worse side
        assert joint.side_overhang_frac == pytest.approx(0.25 / 1.3, abs=0.03)


@pytest.mark.parametrize(("code", "overlap_mm"), [("tv-0402-red", -0.3), ("tv-0603-red", 0.0), ("tv-0805-red", 0.2)])
def test_a_part_lies_on_lands_or_misses_them_whatever_copper_lies_farther_out(code, overlap_mm):
    # Lands from 0.8 to 1.7 mm: an 0402 ends at 0.5 mm, an 0603 at 0.8 mm, an 0805 at 1.0 mm
    placed = led(code, mounting="top_view")
    drawn = pads_at(inner_mm=0.8, outer_mm=1.7, width_mm=1.3)
    fit = fit_land(placed, board=board(*drawn))
    for joint in fit.joints:
        assert joint.overlap_mm == pytest.approx(overlap_mm, abs=0.02)
        assert (joint.workmanship is not None) == (overlap_mm > 0.1)
        assert (joint.density is not None) == (overlap_mm > 0.1)
    assert sizes_that_fit(fit, parts=PARTS.values()) == ("0805",)


def test_the_same_footprint_gets_the_same_verdict_whichever_way_it_is_turned():
    told = set()
    for deg in (0.0, 30.0, 45.0, 60.0, 77.7):
        made = Made(make_case(2, turn_deg=deg))
        rule = PlacementRule()
        placed = made.board(through_file(right_rows(made.case, rule), dialect="comma-mm", rule=rule))
        fits = [fit_land(one, board=placed) for one in placed.leds]
        told.add(tuple(joint_words(joint) for fit in fits for joint in fit.joints))
    assert len(told) == 1


def joint_words(joint):
    """What is told of a joint, lengths to a hundredth of a millimetre."""
    return joint.terminal, joint.density, joint.workmanship, round(joint.toe_mm, 2), round(joint.overlap_mm, 2)
