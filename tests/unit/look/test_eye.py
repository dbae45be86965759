"""The eye's blur, veil and response."""

import numpy as np
import pytest

from paneglow.look.eye import OBSERVER_AGE, blur_sigma_mm, blurred_inside, response, veil


def test_one_arcminute_at_400_mm_is_a_tenth_of_a_millimetre() -> None:
    # 400 mm * tan(1/60 degree) = 0.11636 mm full width
    assert blur_sigma_mm(400.0) * 2.354820 == pytest.approx(0.11636, rel=1e-4)


def test_a_dark_surround_does_not_darken_the_rim() -> None:
    inside = np.zeros((20, 20), dtype=np.bool_)
    inside[4:15, 3:18] = True
    blurred = blurred_inside(np.where(inside, 7.0, 0.0), inside=inside, sigma_px=2.5)
    np.testing.assert_allclose(blurred[inside], 7.0, rtol=1e-12)
    np.testing.assert_array_equal(blurred[~inside], 0.0)


@pytest.mark.parametrize("sigma_px", [1.0, 3.0])
def test_the_blur_of_a_point_has_the_stated_width(sigma_px: float) -> None:
    size = 41
    point = np.zeros((size, size))
    point[20, 20] = 1.0
    spread = blurred_inside(point, inside=np.ones((size, size), dtype=np.bool_), sigma_px=sigma_px)
    offset = np.arange(size) - 20.0
    variance = float((spread.sum(axis=0) * offset**2).sum() / spread.sum())
    # Sorting the light into pixels adds the variance of a pixel, 1/12; exact for blurs above about a pixel
    assert variance == pytest.approx(sigma_px**2 + 1 / 12, rel=0.02)


def test_the_blur_of_a_point_adds_up_to_it() -> None:
    point = np.zeros((31, 31))
    point[15, 15] = 1.0
    spread = blurred_inside(point, inside=np.ones((31, 31), dtype=np.bool_), sigma_px=2.0)
    assert float(spread.sum()) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("angle_deg", [0.5, 1.0, 2.0])
def test_the_veil_follows_the_cie_glare_equation(angle_deg: float) -> None:
    """CIE 146:2002 small-angle equation; valid from 0.1 to 30 degrees (abstract), coefficients from memory."""
    pitch_mm, distance_mm = 0.5, 400.0
    scene = np.zeros((3, 81, 81))
    scene[:, 40, 40] = 1000.0
    stray = veil(scene, pitch_mm=pitch_mm, distance_mm=distance_mm)[1]
    step = round(np.radians(angle_deg) * distance_mm / pitch_mm)
    angle = np.degrees(step * pitch_mm / distance_mm)
    eye_lx = 1000.0 * pitch_mm**2 / distance_mm**2
    expected = eye_lx * (10 / angle**3 + 5 / angle**2 * (1 + (OBSERVER_AGE / 62.5) ** 4))
    assert float(stray[40, 40 + step]) == pytest.approx(expected, rel=1e-6)
    assert float(stray[40 + step, 40]) == pytest.approx(expected, rel=1e-6)


def test_the_veil_adds_up_over_sources_and_keeps_their_colour() -> None:
    rng = np.random.default_rng(5)
    one, other = rng.random((2, 3, 20, 30))
    both = veil(one + other, pitch_mm=0.5, distance_mm=400.0)
    apart = veil(one, pitch_mm=0.5, distance_mm=400.0) + veil(other, pitch_mm=0.5, distance_mm=400.0)
    np.testing.assert_allclose(both, apart, rtol=1e-9)


CONE_RESPONSES = [(0.1, 0.15395), (2.0, 0.62549), (10.0, 0.84605), (100.0, 0.96795)]


@pytest.mark.parametrize(("over_adapted", "expected"), CONE_RESPONSES)
def test_response_is_that_of_primate_cones(over_adapted: float, expected: float) -> None:
    """V / Vm = I^n / (I^n + s^n), n = 0.74: Valeton and van Norren, Vision Res. 23:1539, 1983; worked by hand."""
    assert float(response(np.asarray(7.0 * over_adapted), adapted_cd_m2=7.0)) == pytest.approx(expected, abs=1e-5)


def test_response_is_half_at_the_adapted_level_rises_and_never_saturates() -> None:
    levels = np.geomspace(1e-6, 1e6, 200)
    answer = response(levels, adapted_cd_m2=10.0)
    assert float(response(np.asarray(10.0), adapted_cd_m2=10.0)) == pytest.approx(0.5)
    assert np.all(np.diff(answer) > 0.0)
    assert float(answer[-1]) < 1.0
    assert float(response(np.asarray(0.0), adapted_cd_m2=10.0)) == 0.0
