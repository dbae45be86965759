"""V(lambda) and luminous efficacies, computed apart from this project with colour-science 0.4.7 at 1 nm."""

import numpy as np
import pytest

from paneglow.physics import gaussian_lines, luminous_efficacy_lm_w, observer_xyz, tristimulus, visible_axis_nm

CIE_AXIS_NM = np.arange(360.0, 831.0)


@pytest.mark.parametrize(
    ("wavelength_nm", "efficiency"),
    [
        (450, 0.038),
        (470, 0.09098),
        (500, 0.323),
        (507, 0.4443),
        (520, 0.710),
        (525, 0.7932),
        (550, 0.99495),
        (555, 1.0),
        (560, 0.995),
        (590, 0.757),
        (600, 0.631),
        (620, 0.381),
        (625, 0.321),
        (630, 0.265),
        (650, 0.107),
        (700, 0.004102),
    ],
)
def test_cie1924_photopic_efficiency(wavelength_nm, efficiency):
    assert observer_xyz([wavelength_nm])[0, 1] == pytest.approx(efficiency, abs=5e-5)


def test_cie1924_photopic_efficiency_sums_to_106_857_nm():
    assert observer_xyz(CIE_AXIS_NM)[:, 1].sum() == pytest.approx(106.857, abs=5e-4)


@pytest.mark.parametrize(
    ("peak_nm", "fwhm_nm", "efficacy_lm_w"),
    [(465, 25, 55.5), (525, 35, 507.5), (590, 15, 515.3), (620, 18, 261.6), (630, 20, 186.9)],
)
def test_luminous_efficacy_of_gaussian_lines(peak_nm, fwhm_nm, efficacy_lm_w):
    for axis_nm in (CIE_AXIS_NM, visible_axis_nm()):
        power = gaussian_lines(axis_nm, peak_nm=peak_nm, fwhm_nm=fwhm_nm)
        assert luminous_efficacy_lm_w(axis_nm, power) == pytest.approx(efficacy_lm_w, abs=0.05)


def test_tristimulus_values_match_the_reference_library():
    # Computed with colour-science (method "Integration", 1 nm), a different summing code
    import colour

    axis_nm = np.arange(360.0, 781.0)  # the range over which that method sums
    power = gaussian_lines(axis_nm, peak_nm=[452.0, 560.0], fwhm_nm=[22.0, 120.0], relative_power=[1.0, 0.5])
    distribution = colour.SpectralDistribution(dict(zip(axis_nm, power, strict=True)))
    expected = colour.sd_to_XYZ(distribution, k=683.002, method="Integration")
    np.testing.assert_allclose(tristimulus(axis_nm, power), expected, rtol=1e-6)
