"""What shadows a window: slivers, traces, vias, ink and mask, and what does not."""

import pytest

from paneglow.board import survey_windows

from .drawing import Box, Disc, board

WINDOW = Box((0, 0), (8, 8))
AREA_SHARE = 0.05  # shadows are counted on whole pixels of the gap times their coverage


def shadows(**layers):
    survey = survey_windows(board(clear=[WINDOW], **layers))
    return survey, {(shadow.kind, shadow.layer) for window in survey.windows for shadow in window.shadows}


def test_a_clean_window_has_no_shadow():
    assert shadows()[1] == set()


def test_a_trace_across_cuts_a_window_in_two_and_shadows_both():
    survey, found = shadows(back_copper=[Box((0, 0), (10, 0.2))])
    assert len(survey.windows) == 2
    assert found == {("trace", "copper_back")}
    for window in survey.windows:
        (shadow,) = window.shadows
        assert shadow.area_mm2 == pytest.approx(8 * 0.2, rel=AREA_SHARE)
        assert shadow.at_mm == pytest.approx((0, 0), abs=0.2)


def test_copper_that_reaches_in_is_a_sliver():
    survey, found = shadows(copper=[Box((-3, 0), (4, 0.3))])
    assert len(survey.windows) == 1
    assert found == {("copper sliver", "copper_front")}
    assert survey.windows[0].shadows[0].area_mm2 == pytest.approx(3 * 0.3, rel=0.1)  # its end is round for the disc


def test_a_pad_within_is_a_sliver_without_contact():
    survey, found = shadows(copper=[Box((1, 1), (1.5, 1.6), 20)])
    assert found == {("copper sliver", "copper_front")}
    assert survey.windows[0].shadows[0].area_mm2 == pytest.approx(2.4, rel=AREA_SHARE)


def test_a_via_within_is_a_via_on_every_layer_it_has_copper_on():
    ring = [Disc((1, 1), 0.8)]
    _, found = shadows(copper=ring, back_copper=ring, plated=[Disc((1, 1), 0.4)])
    assert found == {("via", "copper_front"), ("via", "copper_back")}


def test_a_trace_on_an_inner_layer_is_named_by_its_layer():
    from dataclasses import replace

    import numpy as np

    from .drawing import draw

    maps = board(clear=[WINDOW], layers=4)
    trace = draw([Box((0, 2), (10, 0.25))], grid=maps.grid)
    survey = survey_windows(replace(maps, copper_inner=(maps.copper_inner[0], np.maximum(maps.copper_inner[1], trace))))
    assert {(s.kind, s.layer) for w in survey.windows for s in w.shadows} == {("trace", "copper_inner_2")}


def test_corners_and_walls_of_copper_are_no_shadows():
    _, corner = shadows(copper=[Box((-4, -4), (4, 4), 0)])
    assert corner == set()
    survey, wall = shadows(copper=[Box((0, 0), (10, 1.4))])
    assert len(survey.windows) == 2
    assert wall == set()


def test_ink_across_a_window_is_a_shadow_and_ink_over_all_of_it_is_not():
    line = shadows(legend_front=[Box((0, 0), (10, 1))])
    assert line[1] == {("ink", "legend_front")}
    assert line[0].windows[0].shadows[0].area_mm2 == pytest.approx(8, rel=AREA_SHARE)
    whole = shadows(legend_front=[Box((0, 0), (10, 10))])
    assert whole[1] == set()
    assert whole[0].windows[0].front.state == "inked"


def test_mask_over_part_of_the_back_is_a_shadow():
    survey, found = shadows(open_front=[WINDOW], open_back=[Box((0, 1), (8, 6))])
    assert found == {("mask", "mask_back")}
    assert survey.windows[0].shadows[0].area_mm2 == pytest.approx(16, rel=AREA_SHARE)
