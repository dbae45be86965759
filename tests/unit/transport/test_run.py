"""The policy of a trace: grouping of versions, photons, progress, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.errors import RangeError, TransportError
from paneglow.scene import Slab
from paneglow.transport import TraceProgress, trace
from slab_scenes import lambertian, slab_scene


def board_like():
    scene = slab_scene(
        optical_depth=4.0, albedo=0.98, asymmetry=0.6, refractive_index=1.55, emitter=lambertian(at_z_mm=-0.2)
    )
    nominal = scene.slabs[0]
    clear = Slab(name="clear", scatter_per_mm=nominal.scatter_per_mm, absorb_per_mm=np.array([0.0]))
    dense = Slab(name="dense", scatter_per_mm=3.0 * nominal.scatter_per_mm, absorb_per_mm=nominal.absorb_per_mm)
    return replace(scene, slabs=(nominal, dense, clear), emitters=(scene.emitters[0], scene.emitters[0]))


def test_versions_come_back_in_the_order_of_the_scene():
    tally = trace(board_like(), photons_per_led=4_000, seed=1)
    assert tally.slab_names == ("nominal", "dense", "clear")
    front = tally.leds[0].fates.front
    assert front[1] < front[0] < front[2]
    assert tally.leds[0].fates.absorbed[2] == 0.0


def test_the_mean_of_the_batches_is_the_nominal_map():
    led = trace(board_like(), photons_per_led=4_000, seed=1).leds[0]
    np.testing.assert_allclose(led.batches.mean(axis=0), led.xyz[0, 1], rtol=1e-5)


def test_emitters_have_random_streams_of_their_own():
    first, second = trace(board_like(), photons_per_led=4_000, seed=1).leds
    assert first.fates.front[0] != second.fates.front[0]


def test_progress_rises_to_one():
    seen: list[TraceProgress] = []
    trace(board_like(), photons_per_led=1_000, seed=1, on_progress=seen.append)
    done = [progress.done_frac for progress in seen]
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)
    assert all(progress.seconds_left is not None and progress.seconds_left >= 0.0 for progress in seen)


def test_a_scene_without_slab_is_refused():
    with pytest.raises(TransportError, match="no slab version"):
        trace(replace(board_like(), slabs=()), photons_per_led=1_000, seed=1)


@pytest.mark.parametrize("photons", [0, 1, -5])
def test_too_few_photons_are_refused(photons):
    with pytest.raises(RangeError, match="photons_per_led"):
        trace(board_like(), photons_per_led=photons, seed=1)


def test_a_dim_emitter_gets_more_photons():
    scene = board_like()
    sideways = replace(scene.emitters[0], axis=(0.0, 0.0, -1.0))
    usual, extra = trace(replace(scene, emitters=(scene.emitters[0], sideways)), photons_per_led=1_600, seed=1).leds
    assert usual.photons == 1_600
    assert extra.photons == 8 * 1_600
