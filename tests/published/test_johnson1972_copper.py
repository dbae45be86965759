"""Smooth copper in the catalogue against the optical constants it was computed from."""

from pathlib import Path

import numpy as np
import pytest

from paneglow.catalog import find_surface, read_catalog

TABLE = np.loadtxt(Path(__file__).parent / "data" / "johnson1972_copper.csv", delimiter=",", skiprows=3)


def normal_reflectance(wavelength_nm, *, outside_index):
    """Fresnel reflectance of an absorbing half space at normal incidence, constants linear in the wavelength."""
    axis_nm = 1e3 * TABLE[:, 0]
    n, k = (np.interp(wavelength_nm, axis_nm, TABLE[:, column]) for column in (1, 2))
    return ((n - outside_index) ** 2 + k**2) / ((n + outside_index) ** 2 + k**2)


@pytest.mark.parametrize(("code", "outside_index"), [("copper-bright", 1.0), ("copper-bright-in-resin", 1.55)])
def test_bright_copper_reflects_as_its_optical_constants_say(code, outside_index):
    surface = find_surface(read_catalog(), code)
    assert surface.origin == "sourced"
    expected = normal_reflectance(np.array(surface.wavelength_nm), outside_index=outside_index)
    # Rounded to three digits on either side of the interpolation of n and k
    np.testing.assert_allclose(surface.reflectance, expected, atol=6e-4)
