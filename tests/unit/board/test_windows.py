"""Windows of synthetic boards with known answers."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.board import survey_windows
from paneglow.errors import DesignError

from .drawing import Box, Disc, board

AREA_SHARE = 0.005  # the promise of the tool: areas within 0.5 %


@dataclass(frozen=True)
class Named:
    name: str
    at_mm: tuple[float, float]


SHAPES = {
    "on whole pixels": Box((0, 0), (4, 3)),
    "on half pixels": Box((0.025, 0.025), (4.05, 2.95)),
    "on odd fractions": Box((0.013, 0.007), (2.021, 2.033)),
    "turned 30 deg": Box((0, 0), (4, 3), 30),
    "turned 45 deg": Box((0.01, 0.02), (2, 2), 45),
    "narrow": Box((0, 0), (6, 0.5), 17),
    "disc": Disc((0.017, 0.031), 3.0),
    "small disc": Disc((0.017, 0.031), 0.9),
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES.keys())
@pytest.mark.parametrize("pitch_mm", [0.025, 0.05, 0.1])
def test_area_is_exact_within_half_a_percent_at_every_pitch(shape, pitch_mm):
    survey = survey_windows(board(size=(10, 10), clear=[shape], pitch_mm=pitch_mm))
    (window,) = survey.windows
    assert window.area_mm2 == pytest.approx(shape.area, rel=AREA_SHARE)
    # The outline runs through half-covered pixels: corners and curves lose up to half a pixel square each
    assert window.polygon.area == pytest.approx(shape.area, rel=AREA_SHARE + 2 * pitch_mm**2 / shape.area, abs=0.02)
    assert window.polygon.is_valid


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES.keys())
def test_width_centre_and_box_of_a_window(shape):
    (window,) = survey_windows(board(size=(10, 10), clear=[shape])).windows
    narrowest = shape.diameter if isinstance(shape, Disc) else min(shape.size)
    assert window.width_mm == pytest.approx(narrowest, abs=0.05)  # one pixel
    assert shape.holds(*window.centre_mm)
    if isinstance(shape, Disc) or shape.turn_deg in (0, 45):
        assert window.centre_mm == pytest.approx(shape.at, abs=0.08)
    if isinstance(shape, Disc) or shape.turn_deg == 0:
        size = (shape.diameter,) * 2 if isinstance(shape, Disc) else shape.size
        box = (
            shape.at[0] - size[0] / 2,
            shape.at[1] - size[1] / 2,
            shape.at[0] + size[0] / 2,
            shape.at[1] + size[1] / 2,
        )
        assert window.bbox_mm == pytest.approx(box, abs=0.05)


@settings(max_examples=20, deadline=None)
@given(
    shift=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
    quarter=st.integers(0, 3),
)
def test_moving_and_turning_a_drawing_keeps_areas_and_counts(shift, quarter):
    shapes = [Box((-2.0, 1.0), (1.5, 2.0), 20), Disc((2.0, 2.0), 1.2), Box((1.0, -2.5), (3.0, 0.7))]
    angle = np.pi / 2 * quarter

    def moved(shape):
        x, y = shape.at
        at = (x * np.cos(angle) - y * np.sin(angle) + shift[0], x * np.sin(angle) + y * np.cos(angle) + shift[1])
        return (
            replace(shape, at=at, turn_deg=shape.turn_deg + 90 * quarter)
            if isinstance(shape, Box)
            else Disc(at, shape.diameter)
        )

    survey = survey_windows(board(size=(12, 12), clear=[moved(shape) for shape in shapes]))
    areas = sorted(window.area_mm2 for window in survey.windows)
    assert areas == pytest.approx(sorted(shape.area for shape in shapes), rel=AREA_SHARE)
    assert not survey.others


def test_windows_stop_at_the_outline_and_at_holes():
    edge = Box((10.0, 0.0), (4.0, 4.0))
    survey = survey_windows(board(clear=[edge, Box((-4, 0), (4, 4))], holes=[Disc((-4.0, 0.0), 2.0)]))
    by_place = {window.centre_mm[0] > 0: window.area_mm2 for window in survey.windows}
    assert by_place[True] == pytest.approx(8.0, rel=AREA_SHARE)
    assert by_place[False] == pytest.approx(16.0 - np.pi, rel=AREA_SHARE)


def test_copper_on_any_layer_closes_a_window():
    window = Box((0, 0), (4, 4))
    assert survey_windows(board(clear=[window])).windows
    assert not survey_windows(board(clear=[window], back_copper=[Box((0, 0), (6, 6))])).windows
    maps = board(clear=[window], layers=4)
    filled = replace(maps, copper_inner=(maps.copper_inner[0], np.ones_like(maps.copper_back)))
    assert len(survey_windows(maps).windows) == 1
    assert not survey_windows(filled).windows


def test_three_exposures_are_told_apart():
    shapes = [Box((x, 0), (3, 4)) for x in (-6, -2, 2, 6)]
    maps = board(clear=shapes, open_front=shapes[:2], open_back=[shapes[0], shapes[2]])
    survey = survey_windows(maps)
    states = [(window.exposure, window.front.state, window.back.state) for window in survey.windows]
    assert states == [
        ("bare both faces", "bare", "bare"),
        ("bare one face", "bare", "masked"),
        ("bare one face", "masked", "bare"),
    ]
    assert [(total.regions, round(total.area_mm2, 1)) for total in survey.totals] == [(1, 12.0), (2, 24.0), (1, 12.0)]
    assert [other.kind for other in survey.others] == ["masked both faces"]
    asked = survey_windows(maps, masked_windows=True)
    assert [window.exposure for window in asked.windows][3:] == ["masked both faces"]
    assert "on the design's word" in asked.windows[3].decision
    assert not asked.others


def test_a_board_without_copper_pours_is_not_one_giant_window():
    pads = [Disc((x, y), 2.0) for x in (-5, 5) for y in (-5, 5)]
    maps = board(no_pours=True, copper=[Disc(pad.at, 1.7) for pad in pads], open_front=pads, open_back=pads)
    survey = survey_windows(maps)
    assert not survey.windows
    assert {other.kind for other in survey.others} == {"masked both faces", "mask ring"}
    assert survey_windows(maps, masked_windows=True).windows[0].area_mm2 > 380
    assert "takes" in survey_windows(maps, masked_windows=True).notes[0]


def test_slits_and_specks_are_no_windows():
    slit, wide, speck = Box((-5, 0), (0.3, 6)), Box((0, 0), (0.45, 6)), Disc((5, 0), 0.7)
    survey = survey_windows(board(clear=[slit, wide, speck]))
    assert [round(window.centre_mm[0]) for window in survey.windows] == [0]
    assert {(other.kind, round(other.at_mm[0])) for other in survey.others} == {("narrow", -5), ("small", 5)}


def test_mask_rings_about_holes_are_no_windows():
    rings = [Disc((x, 0), 4.0) for x in (-5, 5)]
    plated = [Disc((5, 0), 2.0)]
    survey = survey_windows(
        board(
            clear=rings,
            copper=[Disc((5, 0), 2.6)],
            back_copper=[Disc((5, 0), 2.6)],
            holes=[Disc((-5, 0), 2.4)],
            plated=plated,
        )
    )
    assert not survey.windows
    assert [other.kind for other in survey.others] == ["mask ring", "mask ring"]


@pytest.mark.parametrize("turn_deg", [0, 45])
def test_fiducials_are_round_clearances_with_a_round_dot(turn_deg):
    mark = Disc((-6, 0), 3.0)
    square = Box((0, 0), (3.0, 3.0), turn_deg)
    bright = Disc((6, 0), 3.0)
    dots = [Disc((-6, 0), 1.0), Box((0, 0), (1.0, 1.0), turn_deg)]
    survey = survey_windows(board(clear=[mark, square, bright], copper=dots, open_back=[square, bright]))
    assert [other.kind for other in survey.others] == ["fiducial"]
    assert [round(window.centre_mm[0] / 6) for window in survey.windows] == [0, 1]


def test_hatched_copper_is_copper_at_every_fineness():
    for width in (0.02, 0.05, 0.1, 0.2):
        area = Box((0, 0), (6, 6))
        lines = [Box((-3 + width / 2 + 2 * width * n, 0), (width, 6)) for n in range(round(3 / width))]
        survey = survey_windows(board(size=(10, 10), clear=[area], copper=lines))
        assert not survey.windows, width


def test_covers_are_shares_of_the_window():
    window = Box((0, 0), (4, 4))
    ink = [Box((-1, 0), (2, 4))]
    (found,) = survey_windows(board(clear=[window], legend_front=ink, open_back=[Box((0, 1), (4, 2))])).windows
    assert (found.front.inked_frac, found.front.bare_frac) == pytest.approx((0.5, 0.5), abs=0.005)
    assert (found.back.masked_frac, found.back.bare_frac) == pytest.approx((0.5, 0.5), abs=0.005)
    assert (found.front.state, found.back.state) == ("mixed", "mixed")


def test_parts_bare_on_both_faces_and_on_one_are_one_window_if_the_front_looks_the_same():
    window = Box((0, 0), (8, 4))
    survey = survey_windows(board(clear=[window], open_back=[Box((-3, 0), (2, 6))]))
    (found,) = survey.windows
    assert found.area_mm2 == pytest.approx(32, rel=AREA_SHARE)
    assert (found.exposure, found.back.bare_frac) == ("bare one face", pytest.approx(0.25, abs=0.005))
    assert [(round(total.area_mm2, 1), total.regions) for total in survey.totals[:2]] == [(8.0, 1), (24.0, 1)]


def test_names_follow_the_design_and_reading_order():
    shapes = [Box(at, (2, 2)) for at in ((-5, 5), (5, 5.5), (-5, -5), (5, -5))]
    survey = survey_windows(board(clear=shapes), named=[Named("lantern", (5.5, -4.2))])
    assert [(window.name, window.centre_mm[0] > 0, window.centre_mm[1] > 0) for window in survey.windows] == [
        ("w1", False, True),
        ("w2", True, True),
        ("w3", False, False),
        ("lantern", True, False),
    ]
    for number, window in enumerate(survey.windows, start=1):
        row, column = survey_pixel(board(clear=shapes), window.centre_mm)
        assert survey.labels[row, column] == number


def survey_pixel(maps, at_mm):
    return maps.grid.pixel_at(x_mm=at_mm[0], y_mm=at_mm[1])


@pytest.mark.parametrize(
    ("named", "says"),
    [
        (
            [Named("lantern", (0, 0))],
            "'lantern': light cannot cross at its at_mm (0.00, 0.00), since front and back copper lies over it; the "
            "nearest window is 4.00 mm away",
        ),
        ([Named("lantern", (12, 0))], "since that is off the board or in a cut-out"),
        ([Named("a", (5, 0)), Named("b", (5.5, 0))], "windows 'a' and 'b' are one opening"),
        ([Named("a", (5, 0)), Named("a", (-5, 0))], "'a' is given twice"),
    ],
)
def test_wrong_names_are_refused(named, says):
    with pytest.raises(DesignError) as caught:
        survey_windows(board(clear=[Box((-5, 0), (2, 2)), Box((5, 0), (2, 2))]), named=named)
    assert says in str(caught.value)


def test_a_name_on_a_board_without_windows_is_refused():
    with pytest.raises(DesignError, match="no window at all"):
        survey_windows(board(), named=[Named("lantern", (0, 0))])
