"""Angular distribution of transmitted light, as the estimator toward the viewer sees it.

Reference: flux per 20 equal bins of the exit cosine, computed with an independent Monte Carlo (2e8 photons for the
matched slab; about 0.3 % per bin for the other). The bin flux is compared with 2 pi mu L(mu) integrated over the bin by
two Gauss points: toward straight on it bends so much that its middle alone is 0.9 % low.
"""

import math

import pytest

from sampling_checks import assert_mean_within
from slab_scenes import beam, radiance_per_flux, slab_scene, trace_slab

PHOTONS = 1_000_000
BIN_WIDTH = 0.05

M4_BINS = (
    0.000203, 0.001249, 0.002983, 0.005126, 0.007530, 0.010038, 0.012679, 0.015361, 0.018106, 0.020783,
    0.023482, 0.026273, 0.029016, 0.031778, 0.034714, 0.037493, 0.040467, 0.043624, 0.047054, 0.051262,
)  # fmt: skip
CASE_1A_BINS = (
    0.000344, 0.001173, 0.002181, 0.003323, 0.004604, 0.006001, 0.007517, 0.009156, 0.010926, 0.012853,
    0.015018, 0.017458, 0.020336, 0.023824, 0.028206, 0.034048, 0.042382, 0.055555, 0.080284,
)  # fmt: skip


def assert_bin_flux(*, number, expected, expected_se, slab):
    flux = 0.0
    for seed, node in enumerate((-1.0 / math.sqrt(3.0), 1.0 / math.sqrt(3.0)), start=3):
        cosine = (number + 0.5 + 0.5 * node) * BIN_WIDTH
        scene = slab_scene(emitter=beam(), view_angle_rad=math.acos(cosine), **slab)
        tally = trace_slab(scene, photons=PHOTONS // 2, seed=seed)
        flux = flux + radiance_per_flux(scene, tally) * math.pi * cosine * BIN_WIDTH
    assert_mean_within(flux, expected=expected, expected_se=expected_se, what=f"bin {number}")


@pytest.mark.parametrize("number", [4, 8, 12, 16, 19])
def test_board_like_slab_is_darker_than_lambertian_off_axis(number):
    slab = {
        "optical_depth": 8.032, "albedo": 8.0 / 8.032, "asymmetry": 0.8, "thickness_mm": 1.6, "refractive_index": 1.5
    }  # fmt: skip
    expected = M4_BINS[number]
    assert_bin_flux(number=number, expected=expected, expected_se=0.003 * expected, slab=slab)


@pytest.mark.parametrize("number", [4, 9, 14, 17])
def test_matched_slab_of_van_de_hulst_by_angle(number):
    slab = {"optical_depth": 2.0, "albedo": 0.9, "asymmetry": 0.75, "refractive_index": 1.0}
    expected = CASE_1A_BINS[number]
    assert_bin_flux(number=number, expected=expected, expected_se=0.001 * expected, slab=slab)
