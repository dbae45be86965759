"""Squares and discs over maps agree with filters that visit every cell."""

import numpy as np
import pytest
import scipy.ndimage

from paneglow.board.opening import _covered, over_squares

CELLS = np.random.default_rng(1).random((40, 31)) < 0.05


@pytest.mark.parametrize("side", [1, 2, 3, 5, 23])
def test_squares_are_those_of_a_filter(side):
    grown = scipy.ndimage.maximum_filter(CELLS.view(np.uint8), size=side, mode="constant") > 0
    shrunk = scipy.ndimage.minimum_filter((~CELLS).view(np.uint8), size=side, mode="constant") > 0
    assert (over_squares(CELLS, side=side, combine=np.logical_or) == grown).all()
    assert (over_squares(~CELLS, side=side, combine=np.logical_and) == shrunk).all()


@pytest.mark.parametrize("reach_px", [1.2, 3.0, 5.0, 5.44, 21.5])
def test_discs_are_those_of_the_distances(reach_px):
    assert (_covered(CELLS, reach_px=reach_px) == (scipy.ndimage.distance_transform_edt(~CELLS) <= reach_px)).all()
