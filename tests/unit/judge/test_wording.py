"""Words for numbers, directions and lists at the ends of what they may be."""

import math

from paneglow.judge.wording import to_heading, to_list, to_number, to_range
from paneglow.units import Estimate


def test_numbers_without_an_end_are_told_as_such_and_nothing_has_no_error():
    assert [to_number(value) for value in (math.inf, -math.inf)] == ["inf", "-inf"]
    assert to_range(Estimate(value=0.0, se=0.0, low=0.0, high=0.0)) == "0"


def test_a_direction_is_that_from_the_first_place_to_the_second():
    ends = {"right": (31.0, 20.0), "left": (29.0, 20.0), "top": (30.0, 21.0), "lower left": (29.0, 19.0)}
    assert [to_heading((30.0, 20.0), end_mm=end_mm) for end_mm in ends.values()] == list(ends)


def test_of_four_names_all_are_told_and_of_five_four():
    assert to_list(("a", "b", "c", "d")) == "a, b, c, d"
    assert to_list(("a", "b", "c", "d", "e")) == "a, b, c, d and 1 more"
