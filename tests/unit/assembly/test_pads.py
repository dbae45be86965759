"""Pads measured on the raster against pads drawn exactly, in every attitude."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from drawn_pads import CENTRE, PARTS, board, led, pads_at
from paneglow.assembly import find_pads
from paneglow.board import board_point

# A straight edge is found to about a tenth of the 0.05 mm raster, an oblique one with rounded corners to half a pixel
STRAIGHT_MM, OBLIQUE_MM = 0.01, 0.03


@pytest.mark.parametrize("deg", [0.0, 90.0, 180.0, 270.0])
@pytest.mark.parametrize("mounting", ["lens_down", "top_view", "reverse"])
def test_edges_of_upright_pads_are_found(deg, mounting):
    drawn = pads_at(inner_mm=1.21, outer_mm=2.43, width_mm=1.68, deg=deg)
    found = find_pads(led("tv-1206-red", mounting=mounting, rotation_deg=deg), board=board(*drawn))
    assert len(found) == 2
    for pad in found:
        assert (pad.inner_mm, pad.outer_mm) == pytest.approx((1.21, 2.43), abs=STRAIGHT_MM)
        assert (pad.low_mm, pad.high_mm) == pytest.approx((-0.84, 0.84), abs=STRAIGHT_MM)
        assert not pad.shared


@pytest.mark.parametrize("deg", [17.0, 100.3, 215.0])
def test_edges_of_oblique_pads_are_found(deg):
    drawn = pads_at(inner_mm=1.2, outer_mm=2.4, width_mm=1.7, deg=deg)
    found = find_pads(led("tv-1206-red", mounting="lens_down", rotation_deg=deg), board=board(*drawn))
    assert len(found) == 2
    for pad in found:
        assert (pad.inner_mm, pad.outer_mm) == pytest.approx((1.2, 2.4), abs=OBLIQUE_MM)


def test_bared_rims_of_pads_and_windows_do_not_lengthen_a_pad():
    drawn = pads_at(inner_mm=1.2, outer_mm=2.4, width_mm=1.7)
    rim = box(13.9, 14.0, 16.1, 14.1)  # 0.1 mm of bared copper along a window between the pads
    found = find_pads(led("tv-1206-red", mounting="lens_down"), board=board(*drawn, rim))
    assert len(found) == 2
    for pad in found:
        assert pad.inner_mm == pytest.approx(1.2, abs=STRAIGHT_MM)


def test_copper_under_mask_is_no_pad():
    drawn = pads_at(inner_mm=1.2, outer_mm=2.4, width_mm=1.7)
    found = find_pads(led("tv-1206-red", mounting="lens_down"), board=board(*drawn, mask=box(0, 0, 30, 30)))
    assert found == (None, None)


def test_one_sheet_of_copper_under_both_terminals_is_told():
    found = find_pads(led("tv-1206-red", mounting="top_view"), board=board(box(12, 14, 18, 16)))
    assert all(pad.shared for pad in found)


def test_a_side_view_part_lies_across_its_light():
    drawn = pads_at(inner_mm=1.2, outer_mm=2.4, width_mm=1.2, deg=90.0)
    found = find_pads(led("sv-1204-red", mounting="side_view", rotation_deg=0.0), board=board(*drawn))
    assert [pad.outer_mm for pad in found] == pytest.approx([2.4, 2.4], abs=STRAIGHT_MM)


PLACED = st.builds(
    lambda mounting, deg, side: led("tv-1206-red", mounting=mounting, rotation_deg=deg, side=side),
    st.sampled_from(["lens_down", "reverse", "side_view", "top_view", "cutout"]),
    st.floats(-720, 720),
    st.sampled_from(["front", "back"]),
)


@settings(deadline=None, max_examples=60)
@given(placed=PLACED, x=st.floats(-3, 3), y=st.floats(-3, 3))
def test_a_part_keeps_its_size_wherever_it_is_put(placed, x, y):
    at = board_point(placed, point_mm=(x, y))
    assert math.dist(at, CENTRE) == pytest.approx(math.hypot(x, y), abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(placed=PLACED)
def test_the_other_face_and_a_turned_over_part_mirror(placed):
    origin, right, up = (board_point(placed, point_mm=point) for point in ((0, 0), (1, 0), (0, 1)))
    turn = (right[0] - origin[0]) * (up[1] - origin[1]) - (right[1] - origin[1]) * (up[0] - origin[0])
    # Seen from the front a part on the front lies as drawn, one on the back mirrored, turned over mirrored once more
    mirrored = (placed.side == "back") != (placed.mounting == "lens_down")
    assert turn == pytest.approx(-1.0 if mirrored else 1.0)


def test_parts_without_terminals_have_no_pads_to_find():
    bare = PARTS["tv-1206-red"].model_copy(update={"terminals": None})
    assert find_pads(led(bare, mounting="top_view"), board=board()) == ()
