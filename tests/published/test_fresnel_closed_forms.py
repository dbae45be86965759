"""Fresnel reflectance against closed forms (exact values; hemispherical ones also Walsh 1926 and Duntley 1942, from
memory)."""

import math

import numpy as np
import pytest

from paneglow.physics.fresnel import diffuse_reflectance, fresnel_reflectance
from paneglow.transport.kernels.interface import reflectance_at


@pytest.mark.parametrize(("index", "expected"), [(1.5, 0.040000), (1.55, 0.04652), (1.56, 0.04785)])
def test_normal_incidence(index, expected):
    assert float(fresnel_reflectance(1.0, relative_index=index)) == pytest.approx(expected, abs=5e-6)


@pytest.mark.parametrize(
    ("index", "angle_deg", "expected"),
    [(1.5, 30.0, 0.04152), (1.5, 60.0, 0.08919), (1.55, 30.0, 0.04814), (1.55, 60.0, 0.09734)],
)
def test_unpolarised_oblique_incidence(index, angle_deg, expected):
    cosine = math.cos(math.radians(angle_deg))
    assert float(fresnel_reflectance(cosine, relative_index=index)) == pytest.approx(expected, abs=5e-6)


@pytest.mark.parametrize("index", [1.3, 1.5, 1.55, 2.4])
def test_the_mean_of_both_polarisations_is_what_colour_science_gives(index):
    # colour-science 0.4.7, after S. J. Byrnes, arXiv:1603.02720, eq. (6): a code of others
    from colour.phenomena import polarised_light_reflection_coefficient

    inside_deg = np.linspace(0.0, 89.0, 90)
    outside_deg = np.degrees(np.arcsin(np.sin(np.radians(inside_deg)) / index))
    for cosine, relative, one, other in (
        (np.cos(np.radians(inside_deg)), index, inside_deg, outside_deg),
        (np.cos(np.radians(outside_deg)), 1.0 / index, outside_deg, inside_deg),
    ):
        both = np.real(polarised_light_reflection_coefficient(1.0, relative, one, other))
        np.testing.assert_allclose(
            fresnel_reflectance(np.clip(cosine, 0.0, 1.0), relative_index=relative), both.mean(axis=-1), atol=1e-12
        )


@pytest.mark.parametrize(("index", "expected"), [(1.4, 0.07681), (1.5, 0.09178), (1.55, 0.09907), (1.6, 0.10625)])
def test_lambertian_light_from_air(index, expected):
    assert diffuse_reflectance(relative_index=index) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("index", "expected"), [(1.4, 0.52899), (1.5, 0.59635), (1.55, 0.62500), (1.6, 0.65088)])
def test_lambertian_light_from_inside(index, expected):
    inside = diffuse_reflectance(relative_index=1.0 / index)
    assert inside == pytest.approx(expected, abs=1e-5)
    # The identity between both sides follows from reciprocity
    assert inside == pytest.approx(1.0 - (1.0 - diffuse_reflectance(relative_index=index)) / index**2, abs=1e-5)


def test_nothing_crosses_beyond_the_critical_angle():
    # Index 1.5: critical angle 41.81 degrees
    assert float(fresnel_reflectance(math.cos(math.radians(41.9)), relative_index=1 / 1.5)) == 1.0
    assert float(fresnel_reflectance(math.cos(math.radians(41.7)), relative_index=1 / 1.5)) < 1.0


def test_kernel_and_function_agree_at_every_angle():
    cosines = np.linspace(0.0, 1.0, 501)
    for index in (1.0, 1.5, 1.0 / 1.5, 1.55):
        expected = fresnel_reflectance(cosines, relative_index=index)
        found = np.array([reflectance_at(mu, index) for mu in cosines])
        # At exactly grazing incidence between equal indices the kernel takes the limit 0
        np.testing.assert_allclose(found[1:], expected[1:], atol=1e-12)
