"""IEEE 1789-2015 bands (from memory, title and scope seen) and the flash rule of WCAG 2.3.1 (seen)."""

import pytest

from paneglow.drive.circuit import (
    FLASH_AREA_SR,
    flashes_exceed,
    flicker_band,
    modulation_limits_frac,
    solid_angle_sr,
)


# Modulation in percent: 0.025 f and 0.01 f below 90 Hz, 0.08 f and 0.0333 f above; from memory
@pytest.mark.parametrize(
    ("frequency_hz", "no_effect_percent", "low_risk_percent"),
    [(60.0, 0.6, 1.5), (100.0, 3.33, 8.0), (120.0, 4.0, 9.6), (1000.0, 33.3, 80.0), (3000.0, 100.0, 100.0)],
)
def test_limits_at_a_frequency(frequency_hz, no_effect_percent, low_risk_percent):
    no_effect, low_risk = modulation_limits_frac(frequency_hz)
    assert 100 * no_effect == pytest.approx(no_effect_percent, rel=0.002)  # 0.0333 has three digits
    assert 100 * low_risk == pytest.approx(low_risk_percent)


def test_full_depth_is_low_risk_from_1250_hz_and_unseen_from_3000_hz():
    assert flicker_band(1.0, frequency_hz=1249.0) == "above low risk"
    assert flicker_band(1.0, frequency_hz=1250.0) == "low risk"
    assert flicker_band(1.0, frequency_hz=2999.0) == "low risk"
    assert flicker_band(1.0, frequency_hz=3000.0) == "no observable effect"


# A secondary page has 0.0333 f for low risk and 0.01 f for no effect above 90 Hz: a band too far down
def test_the_bands_are_not_those_of_the_page_that_shifted_them():
    no_effect, low_risk = modulation_limits_frac(120.0)
    assert 100 * low_risk > 2 * 0.0333 * 120.0
    assert 100 * no_effect > 2 * 0.01 * 120.0


def test_a_badge_at_half_a_metre_can_be_too_large_to_flash():
    badge_sr = solid_angle_sr(area_mm2=60.0 * 40.0, distance_mm=500.0)
    assert badge_sr == pytest.approx(0.0096)  # run by hand
    assert badge_sr > FLASH_AREA_SR
    assert flashes_exceed(4.0, area_sr=badge_sr)
    assert not flashes_exceed(3.0, area_sr=badge_sr)
    assert not flashes_exceed(10.0, area_sr=0.005)
