"""Coefficients at wavelengths: interpolation, ends, and every refusal."""

import numpy as np
import pytest

from paneglow.errors import RangeError
from paneglow.physics import absorb_per_mm, coefficient_at, scatter_per_mm, sheet_transmittance

TABLE = {"table_wavelength_nm": [465.0, 525.0], "table_absorb_per_mm": [0.25, 0.06]}


def test_absorption_is_linear_inside_and_constant_outside():
    values = absorb_per_mm([400.0, 465.0, 495.0, 525.0, 700.0], **TABLE)
    np.testing.assert_allclose(values, [0.25, 0.25, 0.155, 0.06, 0.06])


def test_factor_scales_to_an_end_of_the_range():
    np.testing.assert_allclose(absorb_per_mm([480.0], factor=3.0, **TABLE), 3.0 * absorb_per_mm([480.0], **TABLE))


def test_one_entry_holds_at_every_wavelength():
    np.testing.assert_allclose(coefficient_at([400.0, 700.0], table_wavelength_nm=[550.0], table_value=[0.2]), 0.2)


def test_scattering_from_reduced_scattering_keeps_the_reduced_value():
    for asymmetry in (-0.5, 0.0, 0.8, 0.98):
        scatter = scatter_per_mm(reduced_scatter_per_mm=1.5, asymmetry=asymmetry)
        assert scatter * (1.0 - asymmetry) == pytest.approx(1.5, rel=1e-12)


def test_slabs_of_equal_reduced_scattering_pass_alike():
    """By adding and doubling of an independent code: 1.6 mm, index 1.5, 1.5 per mm reduced, 0.05 absorbed."""
    iad = pytest.importorskip("iadpython")
    passed = []
    for asymmetry in (0.5, 0.7, 0.8, 0.9):
        scatter = scatter_per_mm(reduced_scatter_per_mm=1.5, asymmetry=asymmetry)
        sample = iad.Sample(a=scatter / (scatter + 0.05), b=(scatter + 0.05) * 1.6, g=asymmetry, n=1.5, quad_pts=24)
        passed.append(float(sample.rt()[3]))
    assert max(passed) / min(passed) < 1.01


def test_sheets_in_series_multiply():
    absorb = np.array([0.1, 0.4])
    once, twice, three = sheet_transmittance(absorb, path_mm=[1.0, 2.0, 3.0])
    np.testing.assert_allclose(once * twice, three)


@pytest.mark.parametrize(
    "call",
    [
        lambda: absorb_per_mm([500.0], factor=-1.0, **TABLE),
        lambda: absorb_per_mm([500.0], table_wavelength_nm=[500.0], table_absorb_per_mm=[-0.1]),
        lambda: coefficient_at([500.0], table_wavelength_nm=[500.0, 490.0], table_value=[1.0, 1.0]),
        lambda: coefficient_at([500.0], table_wavelength_nm=[], table_value=[]),
        lambda: coefficient_at([500.0], table_wavelength_nm=[500.0], table_value=[1.0, 2.0]),
        lambda: scatter_per_mm(reduced_scatter_per_mm=-1.0, asymmetry=0.5),
        lambda: scatter_per_mm(reduced_scatter_per_mm=1.0, asymmetry=1.0),
        lambda: sheet_transmittance([0.1], path_mm=[-1.0]),
        lambda: sheet_transmittance([0.1], path_mm=[float("nan")]),
    ],
)
def test_numbers_outside_the_range_are_refused(call):
    with pytest.raises(RangeError):
        call()
