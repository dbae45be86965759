"""The line drawing: y turned downward, markers apart, each at its place."""

from itertools import combinations
from math import hypot

import pytest

from paneglow.report.board_map import MARGIN_MM, build_board_map
from paneglow.report.images import crop_window, list_ticks
from paneglow.report.swatch import to_swatch_hex
from paneglow.results import build_survey_results
from sample_board import GRID, make_board, make_catalog
from sample_evaluation import make_pictures, make_verdict

BOARD = make_board(make_catalog())
FINDING = make_verdict().findings[0]


def test_the_lower_left_of_the_board_is_the_lower_left_of_the_page():
    finding = FINDING.model_copy(update={"at_mm": (0.0, 0.0)})
    drawn = build_board_map(BOARD, findings=[finding])
    assert (drawn.width_mm, drawn.height_mm) == pytest.approx((40 + 2 * MARGIN_MM, 30 + 2 * MARGIN_MM))
    assert (drawn.markers[0].place_x_mm, drawn.markers[0].place_y_mm) == pytest.approx((MARGIN_MM, 30 + MARGIN_MM))


def test_markers_of_one_place_stand_apart_and_keep_their_numbers():
    drawn = build_board_map(BOARD, findings=[FINDING] * 12)
    assert [marker.number for marker in drawn.markers] == list(range(1, 13))
    for one, other in combinations(drawn.markers, 2):
        assert hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) >= 2 * drawn.marker_radius_mm


def test_a_finding_about_the_whole_board_gets_no_marker_but_keeps_its_number():
    whole = FINDING.model_copy(update={"at_mm": None})
    assert [marker.number for marker in build_board_map(BOARD, findings=[whole, FINDING]).markers] == [2]


def test_a_crop_shows_its_window_and_not_the_one_mirrored_about_the_middle():
    windows = build_survey_results(BOARD.survey).windows
    pixels = make_pictures().dark_adapted
    for window in windows:
        crop = crop_window(pixels, grid=GRID, window=window)
        rows, columns = crop.shape[0] // 2, crop.shape[1] // 2
        assert max(crop.shape[:2]) == 168
        assert crop[rows, columns].sum() > 3 * max(1, int(crop[0, 0].sum()))  # lit in the middle, dark in the corner


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
