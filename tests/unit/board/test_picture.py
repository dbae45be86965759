"""The picture of a survey shows what was found, where it is."""

import numpy as np

from paneglow.board import draw_survey, survey_windows
from paneglow.board.picture import COPPER, GAP_MM, PAPER, PIXELS_PER_MM, TINTS

from .drawing import Box, board

MARGIN_MM = 0.5  # of the maps round the synthetic board


def pixel(picture, at_mm, *, size, back=False):
    """Colour at a place of the board, which is centred on the origin."""
    face_mm = size[0] + 2 * MARGIN_MM
    x = at_mm[0] if not back else -at_mm[0]
    column = (GAP_MM + face_mm / 2 + x + (GAP_MM + face_mm if back else 0)) * PIXELS_PER_MM
    row = (GAP_MM + MARGIN_MM + size[1] / 2 - at_mm[1]) * PIXELS_PER_MM
    return picture[round(row), round(column)].astype(int)


def test_windows_are_tinted_by_use_and_the_back_is_mirrored():
    size = (20.0, 12.0)
    both, front_only = Box((-6, 2), (4, 4)), Box((4, -2), (3, 3))
    maps = board(size=size, clear=[both, front_only], open_back=[both])
    survey = survey_windows(maps)
    picture = draw_survey(maps, survey)
    face = ((size[0] + 1) * PIXELS_PER_MM, (size[1] + 1) * PIXELS_PER_MM)
    gap = GAP_MM * PIXELS_PER_MM
    faces, legend = picture[: round(face[1] + 2 * gap)], picture[round(face[1] + 2 * gap) :]
    assert (faces.shape[0], picture.shape[1], picture.shape[2]) == (face[1] + 2 * gap, 2 * face[0] + 3 * gap, 3)
    for use, said in (("window", True), ("artwork", True), ("clearance", False)):
        assert (legend == TINTS[use]).all(axis=2).any() == said
    assert picture.dtype == np.uint8
    assert tuple(picture[2, 2]) == PAPER
    for back in (False, True):
        amber = pixel(picture, (-7.4, 3.4), size=size, back=back)
        teal = pixel(picture, (3, -3), size=size, back=back)
        assert amber[0] > 200 > amber[2] + 60
        assert teal[0] < teal[1]
        plain = pixel(picture, (-6, -4), size=size, back=back)
        assert abs(plain[0] - plain[2]) < 40, "copper under neutral mask is nearly grey"
        assert np.abs(plain - TINTS["window"]).max() > 60


def test_bare_copper_shows_as_copper():
    pad = Box((0, 0), (4, 4))
    maps = board(open_front=[pad], open_back=[])
    picture = draw_survey(maps, survey_windows(maps))
    assert np.abs(pixel(picture, (0, 0), size=(20, 20)) - COPPER).max() <= 1
    assert np.abs(pixel(picture, (0, 0), size=(20, 20), back=True) - COPPER).max() > 50
