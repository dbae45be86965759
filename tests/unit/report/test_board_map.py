"""The line drawing: y turned downward, markers apart, each at its place."""

from itertools import combinations
from math import hypot

import numpy as np
import pytest

from paneglow.report.board_map import MARGIN_MM, build_board_map
from paneglow.report.images import enlarge, list_ticks, window_bounds_mm
from paneglow.report.swatch import is_beyond_screen, to_swatch_hex
from paneglow.results import build_survey_results
from sample_board import GRID, make_board, make_catalog
from sample_evaluation import make_verdict

BOARD = make_board(make_catalog())
FINDING = make_verdict().findings[0]


def test_the_lower_left_of_the_board_is_the_lower_left_of_the_page():
    finding = FINDING.model_copy(update={"at_mm": (0.0, 0.0)})
    drawn = build_board_map(BOARD, findings=[(1, finding)], picture_mm=GRID.bounds_mm)
    assert (drawn.width_mm, drawn.height_mm) == pytest.approx((40 + 2 * MARGIN_MM, 30 + 2 * MARGIN_MM))
    assert (drawn.markers[0].place_x_mm, drawn.markers[0].place_y_mm) == pytest.approx((MARGIN_MM, 30 + MARGIN_MM))


def test_markers_of_one_place_stand_apart_and_keep_their_numbers():
    drawn = build_board_map(BOARD, findings=list(enumerate([FINDING] * 12, start=1)), picture_mm=GRID.bounds_mm)
    assert [marker.number for marker in drawn.markers] == list(range(1, 13))
    for one, other in combinations(drawn.markers, 2):
        assert hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) >= 2 * drawn.marker_radius_mm


def test_a_finding_about_the_whole_board_gets_no_marker_but_keeps_its_number():
    whole = FINDING.model_copy(update={"at_mm": None})
    drawn = build_board_map(BOARD, findings=[(1, whole), (2, FINDING)], picture_mm=GRID.bounds_mm)
    assert [marker.number for marker in drawn.markers] == [2]


def test_the_rim_is_drawn_where_the_pictures_show_the_board():
    drawn = build_board_map(BOARD, findings=[], picture_mm=(-5.0, -4.0, 45.0, 36.0))
    # The page starts MARGIN_MM left of and above the board, whose upper left corner is (0, 30)
    (left, top), size = drawn.picture_box
    assert (left, top) == pytest.approx((MARGIN_MM - 5.0, MARGIN_MM - 6.0))
    assert size == pytest.approx((50.0, 40.0))


def test_a_window_is_pictured_with_its_surround_and_its_longer_side_fills_the_picture():
    window = build_survey_results(BOARD.survey).windows[0]
    x_min, y_min, x_max, y_max = window_bounds_mm(window)
    assert x_min < window.bbox_mm[0]
    assert y_min < window.bbox_mm[1]
    assert x_max > window.bbox_mm[2]
    assert y_max > window.bbox_mm[3]
    assert enlarge(np.zeros((10, 20, 3), dtype=np.uint8)).shape == (84, 168, 3)


def test_light_purer_than_the_primaries_of_a_screen_is_told():
    # CIE 1931 chromaticities: monochromatic 605 nm (tables of CIE 015:2018), red primary and white of IEC 61966-2-1
    assert is_beyond_screen(0.6482, 0.3514)
    assert not is_beyond_screen(0.64, 0.33)
    assert not is_beyond_screen(0.3127, 0.3290)
    assert not is_beyond_screen(None, None)


def test_scale_ticks_are_the_ends_and_the_decades_well_between():
    assert list_ticks(0.1, 100.0) == pytest.approx((0.1, 1.0, 10.0, 100.0))
    assert list_ticks(0.09, 110.0) == pytest.approx((0.09, 1.0, 10.0, 110.0))  # 0.1 and 100 would touch the ends


def test_white_of_the_screen_is_a_white_chip_and_its_red_primary_a_red_one():
    # D65 white and the red primary of sRGB: IEC 61966-2-1:1999
    assert to_swatch_hex(0.3127, 0.3290) == "#ffffff"
    red = to_swatch_hex(0.64, 0.33)
    assert red[:3] == "#ff"
    assert int(red[3:5], 16) <= 2
    assert int(red[5:7], 16) <= 2


def test_a_dark_window_has_a_dark_chip():
    assert int(to_swatch_hex(None, None)[1:3], 16) < 40
