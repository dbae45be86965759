"""Printed numbers: no false digits, ranges where something was assumed."""

import pytest

from paneglow.report import to_digits, to_percent_text, to_range_text
from paneglow.units import Estimate


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (18.43, "18"),
        (0.0, "0"),
        (1234.0, "1200"),
        (0.0996, "0.10"),
        (9.96, "10"),
        (99.6, "100"),
        (0.0346, "0.035"),
        (-2.54, "-2.5"),
        (1e-9, "0.0000000010"),
    ],
)
def test_two_significant_digits_and_no_exponent(value, text):
    assert to_digits(value) == text


def test_what_lies_below_the_floor_only_says_so():
    assert to_digits(0.0004, floor=0.001) == "<0.001"


def estimate(value: float, *, se: float = 0.0, low: float | None = None, high: float | None = None) -> Estimate:
    return Estimate(value=value, se=se, low=value if low is None else low, high=value if high is None else high)


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (estimate(27.0, low=18.2, high=41.3), "18-41"),  # an assumed input: never one number
        (estimate(27.0, se=1.4), "27 ± 1"),
        (estimate(0.3, se=0.012), "0.30 ± 0.01"),
        (estimate(27.0, se=0.1), "27"),
        (estimate(5.0, low=4.99, high=5.01), "5.0"),  # ends that round alike are one number
        (estimate(0.0, low=-0.4, high=0.3), "-0.40 to 0.30"),
        (estimate(0.01, low=0.0002, high=0.02), "0-0.020"),
        (estimate(0.0001, low=0.0, high=0.0002), "<0.001"),
        (estimate(0.0), "0"),
    ],
)
def test_a_range_where_an_input_was_assumed_and_an_error_where_it_matters(found, text):
    assert to_range_text(found, dash="-", floor=0.001) == text


def test_shares_are_printed_in_percent():
    assert to_percent_text(estimate(0.1, low=0.02, high=0.18), dash="-") == "2.0-18 %"
    assert to_percent_text(estimate(0.0002)) == "<0.1 %"
