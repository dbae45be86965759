"""Bands of flicker on both sides of 90 Hz, and what a part leaves open where it states no range."""

import pytest

from paneglow.drive.circuit.flicker import flicker_band, modulation_limits_frac
from paneglow.drive.circuit.parts import _usual_with_deviation
from paneglow.units import Quantity


@pytest.mark.parametrize(
    ("frequency_hz", "no_effect_frac", "low_risk_frac"),
    # IEEE 1789-2015, from memory: 0.01 f % and 0.025 f % below 90 Hz, 0.0333 f % and 0.08 f % above
    [
        (50.0, 0.005, 0.0125),
        (89.9, 0.00899, 0.022475),
        (90.0, 0.02997, 0.072),
        (1000.0, 0.333, 0.8),
        (3000.0, 1.0, 1.0),
    ],
)
def test_limits_of_modulation_rise_with_frequency_in_two_bands(frequency_hz, no_effect_frac, low_risk_frac):
    assert modulation_limits_frac(frequency_hz) == pytest.approx((no_effect_frac, low_risk_frac), rel=1e-3)


def test_the_limit_itself_still_belongs_to_its_band():
    no_effect_frac, low_risk_frac = modulation_limits_frac(50.0)
    shares = (no_effect_frac, 1.01 * no_effect_frac, low_risk_frac, 1.01 * low_risk_frac)
    bands = ["no observable effect", "low risk", "low risk", "above low risk"]
    assert [flicker_band(share, frequency_hz=50.0) for share in shares] == bands


def test_a_value_without_a_range_leaves_a_twentieth_of_itself_and_one_with_a_range_a_quarter_of_that():
    plain = Quantity(value=8.0, origin="measured", source="invented for this test")
    assert _usual_with_deviation(plain) == pytest.approx((8.0, 0.4))
    ranged = plain.model_copy(update={"low": 6.0, "high": 10.0})
    assert _usual_with_deviation(ranged) == pytest.approx((8.0, 1.0))
