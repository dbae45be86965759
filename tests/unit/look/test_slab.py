"""Adding and doubling of layers, against closed forms and an independent code."""

import numpy as np
import pytest

from paneglow.look.slab import slab_return

# Cases of reduced scattering and absorption per mm, over what is assumed of laminates
# Hemispherical mirror reflectance of index 1.5 from outside (tests/published/test_fresnel_closed_forms.py)
MIRROR = 0.09178
CASES = [(0.5, 0.04), (1.0, 0.02), (1.5, 0.06), (1.5, 0.25), (3.0, 0.04), (0.5, 0.25), (3.0, 0.3)]


@pytest.mark.parametrize(("reduced", "absorb"), CASES)
def test_a_bare_slab_returns_what_an_independent_code_says(reduced: float, absorb: float) -> None:
    """Diffuse reflectance of a slab of index 1.5, computed with iadpython 0.5.3 (24 directions), mirror part off."""
    iad = pytest.importorskip("iadpython")
    thickness_mm = 1.6
    sample = iad.Sample(a=reduced / (reduced + absorb), b=(reduced + absorb) * thickness_mm, g=0.0, n=1.5, quad_pts=24)
    diffuse_with_mirror = float(sample.rt()[2])
    ours = slab_return(
        reduced_scatter_per_mm=reduced,
        absorb_per_mm=absorb,
        thickness_mm=thickness_mm,
        refractive_index=1.5,
        backing_reflectance=None,
    )
    # 12 directions give 1 %
    assert float(ours.from_air) == pytest.approx(diffuse_with_mirror - MIRROR, rel=0.01)


def test_a_conservative_slab_in_air_returns_the_computed_share() -> None:
    """Albedo 1, optical thickness 1, index 1.5, Lambertian light: iadpython 0.5.3, mirror part off."""
    iad = pytest.importorskip("iadpython")
    computed = float(iad.Sample(a=1.0, b=1.0, g=0.0, n=1.5, quad_pts=24).rt()[2]) - MIRROR
    ours = slab_return(
        reduced_scatter_per_mm=1.0, absorb_per_mm=0.0, thickness_mm=1.0, refractive_index=1.5, backing_reflectance=None
    )
    assert float(ours.from_air) == pytest.approx(computed, abs=0.002)


def test_a_white_furnace_returns_all_light() -> None:
    white = slab_return(
        reduced_scatter_per_mm=[0.1, 1.5, 10.0], absorb_per_mm=0.0, thickness_mm=1.6, refractive_index=1.55,
        backing_reflectance=1.0,
    )  # fmt: skip
    np.testing.assert_allclose(white.inner, 1.0, atol=1e-9)
    # From the air all but the mirror part comes back, 0.09907 at index 1.55; 12 directions
    np.testing.assert_allclose(white.from_air, 1.0 - 0.09907, atol=0.003)


def test_a_slab_without_scattering_shows_its_backing_through_the_tint() -> None:
    clear = slab_return(
        reduced_scatter_per_mm=0.0, absorb_per_mm=0.0, thickness_mm=1.6, refractive_index=1.5, backing_reflectance=0.4
    )
    assert float(clear.inner) == pytest.approx(0.4, abs=1e-9)
    tinted = slab_return(
        reduced_scatter_per_mm=0.0, absorb_per_mm=0.2, thickness_mm=1.6, refractive_index=1.5, backing_reflectance=0.4
    )
    cosine = np.linspace(1e-4, 1.0, 20_001)
    crossing = np.trapezoid(2 * cosine * np.exp(-0.32 / cosine), cosine)
    assert float(tinted.inner) == pytest.approx(0.4 * crossing**2, rel=2e-3)  # Beer and Lambert down and up again


def test_more_absorption_or_darker_backing_never_brightens() -> None:
    absorb = np.linspace(0.0, 1.0, 11)
    for backing in (None, 0.1, 0.9):
        series = slab_return(
            reduced_scatter_per_mm=1.5, absorb_per_mm=absorb, thickness_mm=1.6, refractive_index=1.55,
            backing_reflectance=backing,
        )  # fmt: skip
        assert np.all(np.diff(series.from_air) < 0.0)
        assert np.all(np.diff(series.inner) < 0.0)
