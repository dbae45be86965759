"""Spectra, colour sums and the few-node quadrature: exact limits and every refusal."""

import numpy as np
import pytest

from paneglow.errors import RangeError
from paneglow.physics import (
    fit_spectral_nodes,
    gaussian_lines,
    luminous_efficacy_lm_w,
    node_weights,
    observer_xyz,
    sheet_transmittance,
    spectral_nodes,
    tabulated_power,
    tristimulus,
    visible_axis_nm,
)

WAVELENGTH_NM = visible_axis_nm()
GREEN = gaussian_lines(WAVELENGTH_NM, peak_nm=525.0, fwhm_nm=33.0)
WHITE = gaussian_lines(WAVELENGTH_NM, peak_nm=[452.0, 560.0], fwhm_nm=[22.0, 120.0], relative_power=[1.0, 0.55])


def xy_of(xyz):
    """CIE 1931 chromaticity."""
    return xyz[..., :2] / xyz.sum(axis=-1, keepdims=True)


def test_lines_add_up_and_are_half_high_at_half_width():
    axis_nm = [440.0, 452.0, 463.0]
    one = gaussian_lines(axis_nm, peak_nm=452.0, fwhm_nm=22.0)
    np.testing.assert_allclose(one, [2.0 ** (-4.0 * (12.0 / 22.0) ** 2), 1.0, 0.5])
    twice = gaussian_lines(axis_nm, peak_nm=[452.0, 452.0], fwhm_nm=[22.0, 22.0], relative_power=[0.5, 1.5])
    np.testing.assert_allclose(twice, 2.0 * one)


def test_table_is_linear_inside_and_dark_outside():
    power = tabulated_power(
        [449.0, 455.0, 475.0], table_wavelength_nm=[450.0, 460.0, 470.0], table_power=[0.0, 1.0, 0.0]
    )
    np.testing.assert_allclose(power, [0.0, 0.5, 0.0])


def test_equal_energy_light_has_equal_tristimulus_values():
    x, y = xy_of(tristimulus(np.arange(360.0, 831.0), np.ones(471)))
    # CIE 1931 is normalised to the equal-energy point (1/3, 1/3); the tables leave 1e-4
    assert (x, y) == (pytest.approx(1 / 3, abs=1e-4), pytest.approx(1 / 3, abs=1e-4))


def test_uneven_axis_gives_the_same_light_as_an_even_one():
    uneven_nm = np.unique(np.concatenate([np.arange(380.0, 500.0, 2.0), np.arange(500.0, 781.0, 1.0)]))
    power = gaussian_lines(uneven_nm, peak_nm=525.0, fwhm_nm=33.0)
    np.testing.assert_allclose(tristimulus(uneven_nm, power), tristimulus(WAVELENGTH_NM, GREEN), rtol=2e-3)


def test_one_dark_wavelength_is_between_its_table_neighbours():
    between = observer_xyz([555.5])[0]
    np.testing.assert_allclose(between, observer_xyz([555.0, 556.0]).mean(axis=0))
    assert observer_xyz([300.0, 900.0])[:, 1].tolist() == [0.0, 0.0]


@pytest.mark.parametrize("n_nodes", [2, 3, 6, 8])
@pytest.mark.parametrize("power", [GREEN, WHITE], ids=["green", "white"])
def test_nodes_are_exact_for_any_transmittance_linear_between_them(power, n_nodes):
    nodes_nm, xyz_per_lm = spectral_nodes(WAVELENGTH_NM, power, n_nodes=n_nodes)
    at_nodes = np.random.default_rng(5).uniform(0.0, 1.0, n_nodes)
    transmittance = np.interp(WAVELENGTH_NM, nodes_nm, at_nodes)
    exact = tristimulus(WAVELENGTH_NM, power * transmittance) / tristimulus(WAVELENGTH_NM, power)[1]
    np.testing.assert_allclose(at_nodes @ xyz_per_lm, exact, rtol=1e-12)


@pytest.mark.parametrize("power", [GREEN, WHITE], ids=["green", "white"])
def test_node_weights_sum_to_one_lumen_and_none_is_negative(power):
    nodes_nm, xyz_per_lm = spectral_nodes(WAVELENGTH_NM, power, n_nodes=5)
    assert np.all(np.diff(nodes_nm) > 0.0)
    assert xyz_per_lm[:, 1].sum() == pytest.approx(1.0, rel=1e-12)
    assert xyz_per_lm.min() >= 0.0
    np.testing.assert_allclose(xy_of(xyz_per_lm.sum(axis=0)), xy_of(tristimulus(WAVELENGTH_NM, power)), rtol=1e-12)


def test_fitted_nodes_keep_the_stated_tolerance_and_are_repeatable():
    absorb_per_mm = np.interp(WAVELENGTH_NM, [450.0, 540.0, 620.0], [0.3, 0.06, 0.03])
    sheets = sheet_transmittance(absorb_per_mm, path_mm=[0.0, 1.0, 3.0, 8.0, 15.0])
    nodes_nm, xyz_per_lm = fit_spectral_nodes(WAVELENGTH_NM, WHITE, sheet_transmittance=sheets)
    # Against the sum over the whole axis
    exact = tristimulus(WAVELENGTH_NM, WHITE * sheets) / tristimulus(WAVELENGTH_NM, WHITE)[1]
    found = np.array([np.interp(nodes_nm, WAVELENGTH_NM, sheet) for sheet in sheets]) @ xyz_per_lm
    np.testing.assert_allclose(found[:, 1], exact[:, 1], rtol=0.01)
    np.testing.assert_allclose(xy_of(found), xy_of(exact), atol=0.002)
    again_nm, again_xyz = fit_spectral_nodes(WAVELENGTH_NM, WHITE, sheet_transmittance=sheets)
    np.testing.assert_array_equal(nodes_nm, again_nm)
    np.testing.assert_array_equal(xyz_per_lm, again_xyz)
    np.testing.assert_array_equal(xyz_per_lm, node_weights(WAVELENGTH_NM, WHITE, nodes_nm=nodes_nm))


def test_sheets_that_pass_hardly_any_light_do_not_steer_the_nodes():
    opaque = np.full((1, WAVELENGTH_NM.size), 1e-4)
    nodes_nm, _ = fit_spectral_nodes(WAVELENGTH_NM, GREEN, sheet_transmittance=opaque)
    np.testing.assert_array_equal(nodes_nm, spectral_nodes(WAVELENGTH_NM, GREEN, n_nodes=3)[0])


@pytest.mark.parametrize(
    "call",
    [
        lambda: gaussian_lines([500.0], peak_nm=500.0, fwhm_nm=0.0),
        lambda: tristimulus([500.0, 490.0], [1.0, 1.0]),
        lambda: tristimulus([500.0], [1.0]),
        lambda: luminous_efficacy_lm_w([500.0, 510.0], [0.0, 0.0]),
        lambda: spectral_nodes(WAVELENGTH_NM, GREEN, n_nodes=1),
        lambda: spectral_nodes(WAVELENGTH_NM, np.zeros_like(GREEN), n_nodes=3),
        lambda: node_weights(WAVELENGTH_NM, GREEN, nodes_nm=[500.0, 500.0]),
        lambda: node_weights(WAVELENGTH_NM, np.zeros_like(GREEN), nodes_nm=[500.0, 510.0]),
    ],
)
def test_numbers_outside_the_range_are_refused(call):
    with pytest.raises(RangeError):
        call()
