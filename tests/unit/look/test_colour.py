"""Chromaticity, dominant wavelength and words, against colour-science 0.4.7 and our own table of words."""

import numpy as np
import pytest

from paneglow.look.colour import (
    _planckian_uv,
    colour_word,
    daylight_weights,
    decode_srgb,
    encode_srgb,
    hue_of,
    to_chromaticity,
    to_linear_srgb,
    to_pixels,
)
from paneglow.physics import gaussian_lines, tristimulus, visible_axis_nm


def led_xy(peak_nm: float, fwhm_nm: float) -> tuple[float, float]:
    axis = visible_axis_nm()
    xyz = tristimulus(axis, gaussian_lines(axis, peak_nm=peak_nm, fwhm_nm=fwhm_nm))
    return float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum())


def planckian_xy(temperature_k: float) -> tuple[float, float]:
    import colour

    return tuple(float(v) for v in colour.temperature.CCT_to_xy_Kang2002(temperature_k))


@pytest.mark.parametrize("xy", [led_xy(465, 25), led_xy(525, 35), led_xy(590, 15), led_xy(625, 18), (0.4, 0.45)])
def test_dominant_wavelength_and_purity_agree_with_colour_science(xy: tuple[float, float]) -> None:
    import colour

    hue = hue_of(xy)
    wavelength_nm, _, _ = colour.dominant_wavelength(xy, (1 / 3, 1 / 3))
    purity = colour.excitation_purity(xy, (1 / 3, 1 / 3))
    # Both run on the 1 nm locus, but one rounds to whole nm and reads purity from the polygon at another spacing
    assert hue.dominant_wavelength_nm == pytest.approx(float(wavelength_nm), abs=1.0)
    assert hue.purity == pytest.approx(float(purity), abs=0.01)


def test_spectral_light_has_its_own_wavelength_and_full_purity() -> None:
    for wavelength_nm in (470.0, 520.0, 555.0, 600.0):
        hue = hue_of(led_xy(wavelength_nm, 0.4))
        assert hue.dominant_wavelength_nm == pytest.approx(wavelength_nm, abs=0.1)
        assert hue.purity == pytest.approx(1.0, abs=0.01)  # a chord of the locus lies a little inside it


def test_white_has_no_wavelength_and_no_purity() -> None:
    hue = hue_of((1 / 3, 1 / 3))
    assert hue.dominant_wavelength_nm is None
    assert hue.purity == 0.0
    assert hue_of((0.335, 0.335)).useful_wavelength_nm is None


def test_a_mixture_of_red_and_blue_has_no_dominant_wavelength() -> None:
    xyz = np.asarray([0.5, 0.15, 0.6])
    xy = to_chromaticity(xyz)
    assert xy is not None
    assert hue_of(xy).dominant_wavelength_nm is None
    assert colour_word(xy) == "purple"


@pytest.mark.parametrize(
    ("xy", "word"),
    [
        (led_xy(465, 25), "blue"),
        (led_xy(525, 35), "green"),
        (led_xy(590, 15), "amber"),
        (led_xy(605, 16), "orange"),
        (led_xy(630, 20), "red"),
        (led_xy(500, 25), "cyan"),
        ((0.3127, 0.3290), "white"),
        (planckian_xy(2700), "warm white"),
        (planckian_xy(9000), "cool white"),
        ((0.40, 0.28), "pink"),
        (None, "dark"),
    ],
)
def test_words_are_those_of_daily_life(xy: tuple[float, float] | None, word: str) -> None:
    assert colour_word(xy) == word


def test_the_locus_of_blackbodies_is_that_of_colour_science() -> None:
    import colour

    temperature_k = np.asarray([1500.0, 2700.0, 4000.0, 6504.0, 12_000.0])
    u, v = colour.temperature.CCT_to_uv_Krystek1985(temperature_k).T
    np.testing.assert_allclose(_planckian_uv(temperature_k), np.stack([u, 1.5 * v], axis=-1), rtol=1e-12)


def test_no_light_has_no_chromaticity() -> None:
    assert to_chromaticity(np.zeros(3)) is None


def test_srgb_white_is_d65_and_stays_grey() -> None:
    xyz = np.asarray([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    np.testing.assert_allclose(to_linear_srgb(xyz), np.ones(3), atol=1e-12)


def test_encoding_and_decoding_undo_each_other() -> None:
    codes = np.linspace(0.0, 1.0, 256)
    # The published constants make the two branches meet only to 1e-7
    np.testing.assert_allclose(encode_srgb(decode_srgb(codes)), codes, atol=1e-6)


def test_pixels_are_8_bit_and_clipped_per_channel() -> None:
    linear = np.asarray([[[2.0]], [[-0.1]], [[0.5]]])
    assert to_pixels(linear).tolist() == [[[255, 0, 188]]]


def test_a_perfect_white_surface_in_daylight_has_the_chromaticity_of_daylight() -> None:
    xyz = daylight_weights().weights.sum(axis=0)
    assert xyz[1] == pytest.approx(1.0)
    # 5 nm sums from 380 to 780 nm; the standard's white is rounded to four digits
    assert to_chromaticity(xyz) == pytest.approx((0.3127, 0.3290), abs=2e-4)
