"""The slab cases of `slab_cases.py` again, by every other way the transport has to tell R and T.

Toward the viewer: under Lambertian light from behind, pi times the radiance at an angle is the transmittance for a beam
at that angle (reciprocity); under Lambertian light from the front it is the reflectance, less the light that the two
faces mirror. Weights: absorption applied to paths that were traced without it, or with another one.
"""

import math
from dataclasses import replace

import pytest

from paneglow.physics.fresnel import fresnel_reflectance
from paneglow.scene import Slab
from paneglow.transport import trace
from sampling_checks import MEANS, assert_mean_within, budget, keep_z, most_sigmas
from slab_cases import CASES
from slab_scenes import beam, lambertian, radiance_per_flux, slab_scene, trace_slab

PHOTONS = 100_000
FRONT, BACK = 0, 2
AT_AN_ANGLE = [name for name, case in CASES.items() if case[1] is not None]
THAT_ABSORB = [name for name, case in CASES.items() if case[0]["albedo"] < 1.0]


def mirrored_share(slab, angle_rad):
    """What leaves a slab toward where it came from without a collision: R + (1 - R)^2 R a^2 / (1 - R^2 a^2)."""
    n = slab["refractive_index"]
    face = float(fresnel_reflectance(math.cos(angle_rad), relative_index=n))
    left = math.exp(-slab["optical_depth"] / math.cos(math.asin(math.sin(angle_rad) / n)))
    return face + (1.0 - face) ** 2 * face * left**2 / (1.0 - (face * left) ** 2)


@pytest.mark.parametrize("name", AT_AN_ANGLE)
def test_the_viewer_sees_the_transmittance_for_a_beam(name):
    slab, angle_deg, _, transmitted, spread = CASES[name]
    scene = slab_scene(emitter=lambertian(), view_angle_rad=math.radians(angle_deg), **slab)
    seen = radiance_per_flux(scene, trace_slab(scene, photons=PHOTONS, seed=41)) * math.pi
    assert_mean_within(seen, expected=transmitted, expected_se=spread, what=f"{name}: T")


@pytest.mark.parametrize("name", AT_AN_ANGLE)
def test_the_viewer_sees_the_reflectance_for_a_beam(name):
    slab, angle_deg, reflected, _, spread = CASES[name]
    angle = math.radians(angle_deg)
    thickness = slab.get("thickness_mm", 1.0)
    scene = slab_scene(emitter=lambertian(at_z_mm=thickness + 1e-6), view_angle_rad=angle, **slab)
    seen = radiance_per_flux(scene, trace_slab(scene, photons=PHOTONS, seed=42)) * math.pi
    assert_mean_within(
        seen, expected=reflected - mirrored_share(slab, angle), expected_se=spread, what=f"{name}: R, not mirrored"
    )


def versions_of(scene, *, traced_with):
    """The case itself behind a first version of another absorption, which decides what is followed how often."""
    own = scene.slabs[0]
    other = Slab(name="traced", scatter_per_mm=own.scatter_per_mm, absorb_per_mm=own.absorb_per_mm * traced_with)
    return replace(scene, slabs=(other, replace(own, name="asked")))


@pytest.mark.parametrize("traced_with", [0.0, 3.0])
@pytest.mark.parametrize("name", THAT_ABSORB)
def test_absorption_applied_by_weights_gives_the_case(name, traced_with):
    slab, angle_deg, reflected, transmitted, spread = CASES[name]
    emitter = lambertian() if angle_deg is None else beam(angle_rad=math.radians(angle_deg))
    scene = versions_of(slab_scene(emitter=emitter, **slab), traced_with=traced_with)
    fates = trace_slab(scene, photons=PHOTONS, seed=43).fates[:, :, 1]
    assert_mean_within(fates[:, BACK], expected=reflected, expected_se=spread, what=f"{name}: R")
    assert_mean_within(fates[:, FRONT], expected=transmitted, expected_se=spread, what=f"{name}: T")


@pytest.mark.parametrize("name", ["1a van de Hulst 1980", "M4 at 30", "M4 Lambertian"])
def test_the_public_entry_gives_the_case_with_its_own_errors(name):
    slab, angle_deg, reflected, transmitted, spread = CASES[name]
    emitter = lambertian() if angle_deg is None else beam(angle_rad=math.radians(angle_deg))
    light = trace(slab_scene(emitter=emitter, **slab), photons_per_led=budget(PHOTONS), seed=44).leds[0]
    for found, error, expected in (
        (light.fates.back, light.fates_se.back, reflected),
        (light.fates.front, light.fates_se.front, transmitted),
    ):
        z = float(found[0] - expected) / math.hypot(error[0], spread)
        keep_z(name, z)
        assert abs(z) <= most_sigmas(MEANS), (found, error, expected)
