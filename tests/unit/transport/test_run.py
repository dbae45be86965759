"""The policy of a trace: grouping of versions, photons, progress, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.errors import RangeError
from paneglow.grid import Grid
from paneglow.scene import Slab, slabs_by_scattering
from paneglow.transport import TraceProgress, add_light, cpu, plan, trace
from paneglow.transport.cache import FATE_NAMES as FATES
from slab_scenes import lambertian, one_coat, slab_scene


def board_like():
    scene = slab_scene(
        optical_depth=4.0, albedo=0.98, asymmetry=0.6, refractive_index=1.55, emitter=lambertian(at_z_mm=-0.2)
    )
    nominal = scene.slabs[0]
    clear = Slab(name="clear", scatter_per_mm=nominal.scatter_per_mm, absorb_per_mm=np.array([0.0]))
    dense = Slab(name="dense", scatter_per_mm=3.0 * nominal.scatter_per_mm, absorb_per_mm=nominal.absorb_per_mm)
    return replace(
        scene, slabs=(nominal, dense, clear), emitters=(scene.emitters[0], replace(scene.emitters[0], ref="E2"))
    )


def test_versions_come_back_in_the_order_of_the_scene():
    tally = trace(board_like(), photons_per_led=4_000, seed=1)
    assert tally.slab_names == ("nominal", "dense", "clear")
    front = tally.leds[0].fates.front
    assert front[1] < front[0] < front[2]
    assert tally.leds[0].fates.absorbed[2] == 0.0


def test_the_mean_of_the_batches_is_the_map_of_the_first_version_of_each_scattering():
    scene = board_like()
    led = trace(scene, photons_per_led=4_000, seed=1).leds[0]
    first = [indices[0] for indices in slabs_by_scattering(scene.slabs)]
    assert len(first) > 1
    np.testing.assert_allclose(led.batches.mean(axis=1), led.xyz[first, 1], rtol=1e-5)


def beside(scene, **changes):
    """The scene with its first emitter and a changed copy of it."""
    return replace(scene, emitters=(scene.emitters[0], replace(scene.emitters[0], ref="E2", **changes)))


def test_emitters_in_places_that_differ_have_random_streams_of_their_own():
    first, second = trace(beside(board_like(), size_mm=(1e-3, 0.0)), photons_per_led=4_000, seed=1).leds
    assert first.fates.front[0] != second.fates.front[0]


def small_board():
    """A board of 56 x 12 mm with two windows in copper, alike, 16 mm apart."""
    scene = board_like()
    grid = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=0.1, n_x=560, n_y=120)
    face = np.ones(grid.shape, dtype=np.uint8)
    windows = np.zeros_like(face)
    for number, left in ((1, 180), (2, 340)):
        face[40:80, left : left + 40] = 0
        windows[40:80, left : left + 40] = number
    classes = one_coat(transmit=0.0, reflect=0.3)
    emitters = tuple(
        replace(scene.emitters[0], ref=ref, centre_mm=(x, 6.0, -0.2), size_mm=(0.5, 0.5))
        for ref, x in (("E1", 20.0), ("E2", 36.0))
    )
    map_grid = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=0.2, n_x=280, n_y=60)
    return replace(
        scene, grid=grid, front=face, back=face, body=np.zeros_like(face), classes=classes, windows=windows,
        emitters=emitters, map_grid=map_grid,
    )  # fmt: skip


def test_congruent_windows_with_the_same_led_share_one_trace(monkeypatch):
    traced = []
    original = cpu.trace_jobs

    def counted(jobs, **options):
        traced.extend(jobs)
        return original(jobs, **options)

    monkeypatch.setattr(cpu, "trace_jobs", counted)
    # Within reach of its light, 12 mm, each LED sees its own window and the same part of the other one's copper
    first, second = trace(small_board(), photons_per_led=4_000, seed=1).leds
    assert len({id(job.scene) for job in traced}) == 1
    np.testing.assert_array_equal(first.xyz, second.xyz)
    assert second.corner[1] - first.corner[1] == 80
    np.testing.assert_array_equal(first.angles[1], second.angles[2])
    assert first.angles[2].max() == 0.0


def test_a_part_of_the_board_gives_what_the_whole_gives(monkeypatch):
    part = trace(small_board(), photons_per_led=64_000, seed=1).leds[0]
    monkeypatch.setattr(plan, "FIRST_REACH_MM", 100.0)
    whole = trace(small_board(), photons_per_led=64_000, seed=2).leds[0]
    assert part.xyz.shape[3] < whole.xyz.shape[3]
    for name in ("front", "back", "absorbed", "edge"):
        found, expected = (getattr(led.fates, name)[0] for led in (part, whole))
        error = np.hypot(getattr(part.fates_se, name)[0], getattr(whole.fates_se, name)[0])
        assert abs(found - expected) <= 4.0 * error + 1e-4
    seen = np.zeros(small_board().map_grid.shape)
    add_light(seen, part.xyz[0, 1], corner=part.corner)
    assert seen.sum() == pytest.approx(whole.xyz[0, 1].sum(), rel=0.03)


def test_a_trace_stops_when_nothing_is_unfinished_and_goes_on_where_something_is():
    scene = beside(board_like(), size_mm=(0.5, 0.5))
    asked = []

    def unfinished(tally):
        asked.append([led.photons for led in tally.leds])
        return {"E2"} if len(asked) < 3 else set()

    first, second = trace(scene, photons_per_led=6_400, seed=1, unfinished=unfinished).leds
    assert asked == [[800, 800], [800, 1_600], [800, 3_200]]
    assert (first.photons, second.photons) == (800, 3_200)
    np.testing.assert_allclose(second.batches[0].mean(axis=0), second.xyz[0, 1], rtol=1e-5)
    assert sum(getattr(second.fates, name)[0] for name in FATES) == pytest.approx(1.0, abs=0.05)


def test_stages_are_independent_and_their_errors_shrink():
    scene = board_like()
    whole = trace(scene, photons_per_led=32_000, seed=1, unfinished=lambda _: {"E1"}).leds[0]
    first = trace(scene, photons_per_led=32_000, seed=1, unfinished=lambda _: set()).leds[0]
    assert whole.photons == 8 * first.photons
    assert whole.fates_se.front[0] == pytest.approx(first.fates_se.front[0] / np.sqrt(8.0), rel=0.6)
    assert whole.fates.front[0] == pytest.approx(first.fates.front[0], abs=4.0 * first.fates_se.front[0])


def test_progress_rises_to_one():
    seen: list[TraceProgress] = []
    trace(board_like(), photons_per_led=1_000, seed=1, on_progress=seen.append)
    done = [progress.done_frac for progress in seen]
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)
    assert all(progress.seconds_left is not None and progress.seconds_left >= 0.0 for progress in seen)


@pytest.mark.parametrize("photons", [0, 1, -5])
def test_too_few_photons_are_refused(photons):
    with pytest.raises(RangeError, match="photons_per_led"):
        trace(board_like(), photons_per_led=photons, seed=1)


def test_a_dim_emitter_gets_more_photons():
    scene = board_like()
    sideways = replace(scene.emitters[0], ref="E2", axis=(0.0, 0.0, -1.0))
    usual, extra = trace(replace(scene, emitters=(scene.emitters[0], sideways)), photons_per_led=1_600, seed=1).leds
    assert usual.photons == 1_600
    assert extra.photons == 8 * 1_600
