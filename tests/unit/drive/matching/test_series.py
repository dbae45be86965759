import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.drive.matching.series import E24, VALUES, preferred_ohm, preferred_pair_ohm, preferred_values

OHM = st.floats(min_value=1.0, max_value=9.9e6)
# Widest gap of the table is 1.3 to 1.5; the nearest by ratio is then at most half of it away
WIDEST_HALF_STEP = {"E24": math.sqrt(1.5 / 1.3), "E12": math.sqrt(1.5 / 1.2)}


@pytest.mark.parametrize("series", ["E24", "E12"])
@given(ohm=OHM)
def test_a_preferred_value_is_within_half_a_step(ohm, series):
    assert abs(math.log(preferred_ohm(ohm, series=series) / ohm)) <= math.log(WIDEST_HALF_STEP[series]) + 1e-9


@given(ohm=OHM)
def test_at_least_is_never_below(ohm):
    assert preferred_ohm(ohm, at_least=True) >= ohm * (1 - 1e-9)


@given(ohm=OHM, span=st.floats(min_value=1.0, max_value=30.0))
def test_values_of_a_range_are_of_the_table_rise_and_leave_none_out(ohm, span):
    values = preferred_values(ohm, ohm * span)
    every = [step * 10.0**decade for decade in range(-1, 9) for step in E24]
    expected = [value for value in every if max(ohm, 1.0) * (1 - 1e-9) <= value <= min(ohm * span, 1e7) * (1 + 1e-9)]
    assert values == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("value", [step * 10.0**decade for step in VALUES["E24"] for decade in range(6)])
def test_every_value_of_the_table_stands_for_itself(value):
    assert preferred_ohm(value) == pytest.approx(value, rel=1e-12)


# Beside a value the second resistor adds at least 1 % steps of a tenth of it
@given(ohm=st.floats(min_value=20.0, max_value=1e6))
def test_two_in_series_come_within_one_percent(ohm):
    assert sum(preferred_pair_ohm(ohm)) == pytest.approx(ohm, rel=0.01)
