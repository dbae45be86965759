"""A laminate that gives back blue light as longer waves: energy, where it appears, and that it is off by default."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.catalog import Fluorescence, find_laminate, find_part, read_catalog
from paneglow.scene import FaceClasses, Slab
from paneglow.scene.emitters import build_part_light
from paneglow.units import Quantity
from sampling_checks import assert_mean_within
from slab_scenes import lambertian, slab_scene, trace_slab

FRONT, THROUGH, BACK, EDGE, HOLE, ABSORBED, MISSED = range(7)
CATALOG = read_catalog()


def glowing(*, share: float, absorb_per_mm: float):
    """Two nodes: the LED's own, absorbed, and one that is given back and absorbed no more; both count alike."""
    emitter = replace(
        lambertian(), nodes=np.array([0, 1]), xyz_per_lm=np.ones((2, 3)), start=np.array([1.0, 0.0]),
        shifted=np.array([[0.0, share], [0.0, 0.0]]),
    )  # fmt: skip
    scene = slab_scene(optical_depth=8.0, albedo=1.0, asymmetry=0.6, refractive_index=1.5, emitter=emitter)
    bare = np.ones((1, 2))
    classes = FaceClasses(names=("bare",), transmit=bare, reflect=0 * bare, haze=np.zeros(1), backing_reflect=0 * bare)
    slab = Slab(name="glowing", scatter_per_mm=8.0, absorb_per_mm=np.array([absorb_per_mm, 0.0]))
    return replace(scene, classes=classes, slabs=(slab,), wavelength_nm=np.array([460.0, 560.0]))


@pytest.mark.parametrize("share", [0.3, 1.0])
@pytest.mark.parametrize("absorb_per_mm", [0.2, 2.0])
def test_what_is_absorbed_comes_back_by_its_share(share, absorb_per_mm):
    fates = trace_slab(glowing(share=share, absorb_per_mm=absorb_per_mm), photons=200_000, seed=1).fates[:, :, 0]
    left = fates[:, FRONT] + fates[:, BACK]
    assert_mean_within(left - (1.0 - (1.0 - share) * fates[:, ABSORBED]), expected=0.0, what="left less its due")


def test_the_own_light_is_what_it_is_without_fluorescence():
    plain = glowing(share=0.0, absorb_per_mm=0.5)
    dark = replace(plain, emitters=(replace(plain.emitters[0], shifted=None),))
    shifted, expected = (trace_slab(scene, photons=200_000, seed=seed) for scene, seed in ((plain, 2), (dark, 3)))
    reference = expected.fates[:, FRONT, 0]
    assert_mean_within(
        shifted.fates[:, FRONT, 0], expected=reference.mean(), expected_se=reference.std() / np.sqrt(reference.size),
        what="front",
    )  # fmt: skip


def test_no_starting_laminate_fluoresces():
    assert all(laminate.fluorescence is None for laminate in CATALOG.laminates.values())
    light = build_part_light(find_part(CATALOG, "tv-1206-blue"), laminate=find_laminate(CATALOG, "fr4-unknown"))
    assert light.start is None
    assert light.shifted is None


def test_blue_excites_a_greenish_glow_and_red_none():
    laminate = find_laminate(CATALOG, "fr4-unknown").model_copy(
        update={
            "fluorescence": Fluorescence(
                yield_frac=Quantity(value=0.2, low=0.0, high=0.5, origin="assumed", source="for this test"),
                excited_below_nm=490.0, peak_nm=520.0, fwhm_nm=80.0,
            )
        }
    )  # fmt: skip
    blue, red = (build_part_light(find_part(CATALOG, f"tv-1206-{hue}"), laminate=laminate) for hue in ("blue", "red"))
    assert red.shifted.max() == 0.0
    # Of a unit of blue light wholly absorbed, the yield comes back, less the energy of the longer wave
    returned = blue.shifted.sum(axis=0).max()
    assert 0.2 * 450.0 / 530.0 < returned < 0.2
    # A watt near 520 nm holds several times the lumen of a blue one
    assert blue.xyz_per_lm[-2:, 1].sum() > 3.0
    assert (blue.start @ blue.xyz_per_lm)[1] == pytest.approx(1.0)
