import numpy as np
import pytest

from paneglow.drive.load import BEYOND_EMPTY, last_depth

DEPTHS = np.array([0.0, 0.5, 1.0])


def test_the_depth_is_where_the_value_falls_below():
    values = np.array([3.0, 2.0, 1.0])
    assert last_depth(DEPTHS, values, least=1.5, at=lambda depth: 3.0 - 2.0 * depth) == pytest.approx(0.75)


@pytest.mark.parametrize(("least", "depth"), [(0.5, BEYOND_EMPTY), (3.5, 0.0)])
def test_always_enough_is_beyond_empty_and_never_enough_is_at_once(least, depth):
    assert last_depth(DEPTHS, np.array([3.0, 2.0, 1.0]), least=least, at=lambda _: np.nan) == depth


# Solved once more, the sample that was just enough is not any more
def test_a_sample_that_only_just_holds_is_an_end_even_if_solving_again_rounds_it_away():
    values = np.array([3.0, 2.0, 1.0])
    found = last_depth(DEPTHS, values, least=2.0 - 1e-12, at=lambda depth: 3.0 - 2.0 * depth - 1e-9)
    assert found == pytest.approx(0.5, abs=1e-4)
