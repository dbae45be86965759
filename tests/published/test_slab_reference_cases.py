"""Total reflectance and transmittance of slabs against published and computed references (`slab_cases.py`).

The anchors are traced with all photons in quick runs too.
"""

import math

import pytest

from sampling_checks import assert_mean_within
from slab_cases import CASES
from slab_scenes import beam, lambertian, slab_scene, trace_slab

PHOTONS = 1_000_000
ANCHORS = ("1a van de Hulst 1980", "M2 at 60", "M4 at 30")
REFLECTED, TRANSMITTED = 2, 0  # rows of the kernels' fates: back, front


@pytest.mark.parametrize("name", CASES)
def test_slab_returns_and_passes_what_the_reference_says(name):
    slab, angle_deg, reflected, transmitted, spread = CASES[name]
    emitter = lambertian() if angle_deg is None else beam(angle_rad=math.radians(angle_deg))
    tally = trace_slab(slab_scene(emitter=emitter, **slab), photons=PHOTONS, seed=7, anchor=name in ANCHORS)
    for row, expected, what in ((REFLECTED, reflected, "R"), (TRANSMITTED, transmitted, "T")):
        assert_mean_within(tally.fates[:, row, 0], expected=expected, expected_se=spread, what=f"{name}: {what}")


def test_giovanelli1955_half_space_of_index_1_5():
    # Case 2: the published 0.2600 includes the 4 % specular return; a slab 40 mean free paths deep has no far face
    slab = slab_scene(optical_depth=40.0, albedo=0.9, asymmetry=0.0, refractive_index=1.5, emitter=beam())
    tally = trace_slab(slab, photons=PHOTONS, seed=11)
    assert_mean_within(tally.fates[:, REFLECTED, 0], expected=0.2600, expected_se=0.00005, what="case 2: R")
