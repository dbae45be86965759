"""Fresnel reflectance against closed forms (exact values; hemispherical ones also Walsh 1926 and Duntley 1942, from
memory)."""

import math

import numpy as np
import pytest

from paneglow.physics.fresnel import diffuse_reflectance, fresnel_reflectance, pane_transmittance
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


@pytest.mark.parametrize(("index", "expected"), [(1.4, 0.07681), (1.5, 0.09178), (1.55, 0.09907), (1.6, 0.10625)])
def test_lambertian_light_from_air(index, expected):
    assert diffuse_reflectance(relative_index=index) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("index", "expected"), [(1.4, 0.52899), (1.5, 0.59635), (1.55, 0.62500), (1.6, 0.65088)])
def test_lambertian_light_from_inside(index, expected):
    inside = diffuse_reflectance(relative_index=1.0 / index)
    assert inside == pytest.approx(expected, abs=1e-5)
    # The identity between both sides follows from reciprocity
    assert inside == pytest.approx(1.0 - (1.0 - diffuse_reflectance(relative_index=index)) / index**2, abs=1e-5)


@pytest.mark.parametrize(("index", "expected"), [(1.5, 0.92308), (1.55, 0.91109)])
def test_clear_pane(index, expected):
    assert float(pane_transmittance(1.0, refractive_index=index)) == pytest.approx(expected, abs=5e-6)


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
