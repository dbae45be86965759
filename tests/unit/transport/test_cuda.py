"""The GPU against the CPU: fates, angles and maps agree, many LEDs go in one launch.

The GPU draws other random words than the CPU, so that the two are two estimates of one thing.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.scene import BODY_HOLE, BODY_OUTSIDE, BODY_PLATED_HOLE, Dome, InnerLayer, LightWall, Slab
from paneglow.transport import cpu
from paneglow.transport.devices import find_obstacle
from paneglow.transport.tally import TraceJob
from slab_scenes import beam, lambertian, one_coat, slab_scene, white_sheet

OBSTACLE = find_obstacle()
pytestmark = pytest.mark.skipif(OBSTACLE is not None, reason=f"no GPU: {OBSTACLE}")

SLAB = {"optical_depth": 6.0, "albedo": 0.99, "asymmetry": 0.7, "refractive_index": 1.5}
MAP = Grid(x_min_mm=-2.0, y_min_mm=-2.0, pitch_mm=0.5, n_x=8, n_y=8)
BOARD = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.05, n_x=120, n_y=120)


def board(body):
    flat = np.zeros(BOARD.shape, dtype=np.uint8)
    scene = slab_scene(emitter=lambertian(), map_grid=MAP, **SLAB)
    return replace(scene, grid=BOARD, front=flat, back=flat, body=body(radius()).astype(np.uint8))


def radius():
    return np.hypot(BOARD.x_centres_mm()[None, :], BOARD.y_centres_mm()[:, None])


def covered_beside_window(**coat):
    scene = board(lambda r: 0 * r)
    outside = (radius() > 1.5).astype(np.uint8)
    return replace(scene, classes=one_coat(**coat), front=outside, back=outside)


def in_hole():
    scene = board(lambda r: np.where(r < 1.0, BODY_HOLE, 0))
    emitter = replace(lambertian(at_z_mm=0.4), opening_mm=(2.0, 2.0), opening_round=True)
    return replace(scene, emitters=(emitter,))


def rough():
    classes = replace(one_coat(), roughness=np.array([0.35, 0.0]))
    return slab_scene(emitter=lambertian(), map_grid=MAP, classes=classes, **SLAB)


def domed():
    dome = Dome(radius_mm=1.5, height_mm=1.0, refractive_index=1.5, scatter_per_mm=0.4)
    return slab_scene(emitter=replace(lambertian(at_z_mm=-0.3, size_mm=(0.6, 0.4)), dome=dome), map_grid=MAP, **SLAB)


def walled():
    wall = LightWall(length_mm=3.0, width_mm=2.0, reflect=np.array([0.8]))
    scene = slab_scene(emitter=replace(lambertian(at_z_mm=-1.0), light_wall=wall), map_grid=MAP, **SLAB)
    return replace(scene, back_sheet=white_sheet(distance_mm=2.0, reflect=0.7))


def with_foil():
    ring = (radius() > 0.2) & (radius() < 1.5)
    return replace(board(lambda r: 0 * r), inner=(InnerLayer(height_mm=0.5, copper=ring, reflect=np.array([0.5])),))


SCENES = {
    "bare": slab_scene(emitter=lambertian(), map_grid=MAP, **SLAB),
    "clear": slab_scene(emitter=beam(angle_rad=0.4), map_grid=MAP, **{**SLAB, "optical_depth": 0.3}),
    "seen aslant": slab_scene(emitter=lambertian(), map_grid=MAP, view_angle_rad=0.6, **SLAB),
    "coat": covered_beside_window(transmit=0.3, reflect=0.5, haze=0.4),
    "copper": covered_beside_window(transmit=0.0, reflect=0.7),
    "body behind": slab_scene(
        emitter=lambertian(), map_grid=MAP, classes=one_coat(backing_reflect=0.7), back_class=1, **SLAB
    ),
    "rim": board(lambda r: np.where(r > 2.0, BODY_OUTSIDE, 0)),
    "plated slot": board(lambda r: np.where((r > 1.5) & (r < 2.0), BODY_PLATED_HOLE, 0)),
    "in a hole": in_hole(),
    "rough": rough(),
    "dome": domed(),
    "light wall": walled(),
    "front sheet": replace(
        slab_scene(emitter=lambertian(), map_grid=MAP, **SLAB),
        front_sheet=white_sheet(distance_mm=1.0, reflect=0.3, transmit=0.6, haze=0.5),
    ),
    "inner copper": with_foil(),
}


def job(scene, *, photons, n_batches, number=3, versions=None):
    return TraceJob(
        scene=scene,
        number=number,
        emitter=scene.emitters[0],
        versions=versions or scene.slabs[:1],
        map_grid=scene.map_grid,
        photons=photons,
        n_batches=n_batches,
    )


def traced_on_gpu(*jobs, seed=1):
    from paneglow.transport.cuda.run import trace_jobs

    tallies = dict(trace_jobs(jobs, seed=seed))
    return [tallies[job] for job in jobs]


def traced_on_cpu(*jobs, seed=1):
    return [tally for _, tally in cpu.trace_jobs(jobs, seed=seed)]


def assert_estimates_agree(ours, theirs, *, batch_axis=0):
    """Two sets of batches agree within 4 standard errors, at each place that more than a few photons reach."""
    n = ours.shape[batch_axis]
    mean, other = ours.mean(axis=batch_axis, dtype=np.float64), theirs.mean(axis=batch_axis, dtype=np.float64)
    error = np.sqrt((ours.var(axis=batch_axis, ddof=1) + theirs.var(axis=batch_axis, ddof=1)) / n)
    assert np.all(np.abs(mean - other) <= 4.0 * error + 1e-6 * np.abs(other).max()), np.max(
        np.abs(mean - other) / np.maximum(error, 1e-12)
    )


def quarters(maps):
    """Sums of the luminance over the quarters of a map, and over all of it; shape (batch, 5)."""
    luminance = maps[:, 0, 1].astype(np.float64)
    rows, columns = luminance.shape[1] // 2, luminance.shape[2] // 2
    parts = [
        part
        for half in (luminance[:, :rows], luminance[:, rows:])
        for part in (half[..., :columns], half[..., columns:])
    ]
    return np.stack([part.sum(axis=(1, 2)) for part in (*parts, luminance)], axis=1)


@pytest.mark.parametrize("name", SCENES)
def test_fates_angles_and_maps_agree_with_the_cpu(name):
    # 64 batches, so that their spread is known to 9 %; many photons, as a fate of few of them has no normal error
    one = job(SCENES[name], photons=256_000, n_batches=64)
    (on_gpu,), (on_cpu,) = traced_on_gpu(one), traced_on_cpu(one)
    assert_estimates_agree(on_gpu.fates, on_cpu.fates)
    assert_estimates_agree(on_gpu.angles, on_cpu.angles)
    assert_estimates_agree(quarters(on_gpu.maps), quarters(on_cpu.maps))


@pytest.mark.parametrize("name", SCENES)
def test_a_photon_of_the_gpu_is_worth_as_much_as_one_of_the_cpu(name):
    one = job(SCENES[name], photons=256_000, n_batches=64)
    (on_gpu,), (on_cpu,) = traced_on_gpu(one), traced_on_cpu(one)
    spreads = [np.std(quarters(tally.maps)[:, -1], ddof=1) for tally in (on_gpu, on_cpu)]
    # The ratio of two spreads of 64 batches is known to 13 %
    assert spreads[0] <= 1.5 * spreads[1]


@pytest.mark.parametrize("name", SCENES)
def test_energy_closes(name):
    (tally,) = traced_on_gpu(job(SCENES[name], photons=200_000, n_batches=16))
    sums = tally.fates.sum(axis=1)[:, 0]
    error = sums.std(ddof=1) / 4.0
    assert abs(sums.mean() - 1.0) <= 4.0 * error + 1e-5


def test_versions_and_wavelengths_of_one_photon_are_as_on_the_cpu():
    bare = SCENES["bare"]
    scatter = bare.slabs[0].scatter_per_mm
    versions = tuple(
        Slab(name=str(n), scatter_per_mm=scatter, absorb_per_mm=np.array([0.02, 0.1, 0.3]) * n) for n in (1.0, 2.0)
    )
    classes = replace(
        bare.classes, transmit=np.ones((1, 3)), reflect=np.zeros((1, 3)), backing_reflect=np.zeros((1, 3))
    )
    emitter = replace(bare.emitters[0], nodes=np.arange(3), xyz_per_lm=np.array([[0.3, 0.1, 0.5]] * 3))
    scene = replace(
        bare,
        classes=classes,
        slabs=versions,
        emitters=(emitter,),
        wavelength_nm=np.array([450.0, 550.0, 650.0]),
    )
    one = job(scene, photons=256_000, n_batches=64, versions=versions)
    (on_gpu,), (on_cpu,) = traced_on_gpu(one), traced_on_cpu(one)
    assert_estimates_agree(on_gpu.fates, on_cpu.fates)
    assert_estimates_agree(on_gpu.angles, on_cpu.angles)
    for version in range(len(versions)):
        assert_estimates_agree(quarters(on_gpu.maps[:, version:]), quarters(on_cpu.maps[:, version:]))


def test_no_variate_is_1_or_0():
    from paneglow.transport.cuda.device import _bits_to_single

    for bits in (0, 2**32 - 1):
        assert 0.0 < _bits_to_single(np.uint32(bits)) < 1.0


def test_random_words_are_even_and_know_nothing_of_each_other():
    from paneglow.transport.cuda.device import ODD, _next_word
    from paneglow.transport.kernels.random import stream_start

    n = 1 << 16
    state = np.array([stream_start(1, 3, photon) for photon in range(n)], dtype=np.uint64) | ODD
    words = []
    for _ in range(16):
        state, word = _next_word(state)
        words.append(word)
    bits = np.unpackbits(np.stack(words).astype("<u4").view(np.uint8)).reshape(16, n, 32)
    # Share of ones at each place of a word, over streams and steps: 1/2 within 4.5 errors of 2**20 bits, 32 of them
    assert np.abs(bits.mean(axis=(0, 1)) - 0.5).max() < 4.5 * 0.5 / 2**10
    # Neither do words of one stream know of the next, nor of the neighbour stream
    signs = 1.0 - 2.0 * bits
    assert np.abs((signs[1:] * signs[:-1]).mean(axis=(0, 1))).max() < 4.5 / np.sqrt(15 * n)
    assert np.abs((signs[:, 1:] * signs[:, :-1]).mean(axis=(0, 1))).max() < 4.5 / np.sqrt(16 * (n - 1))
    counts = np.bincount((np.stack(words) >> np.uint32(24)).ravel(), minlength=256)
    expected = 16 * n / 256
    chi2 = ((counts - expected) ** 2 / expected).sum()
    assert abs(chi2 - 255) < 4.0 * np.sqrt(2 * 255)


def test_many_leds_in_one_launch_are_each_as_alone():
    names = ["bare", "coat", "rim", "light wall"]
    jobs = [job(SCENES[name], photons=8_000 + 16 * n, n_batches=16, number=n) for n, name in enumerate(names)]
    together = traced_on_gpu(*jobs)
    for one, tally in zip(jobs, together, strict=True):
        (alone,) = traced_on_gpu(one)
        np.testing.assert_allclose(tally.fates, alone.fates, atol=1e-6)  # sums in another order
        np.testing.assert_allclose(tally.maps, alone.maps, rtol=1e-5, atol=float(alone.maps.max()) * 1e-6)


def test_a_board_seen_from_far_away_is_the_same_board():
    # Single precision knows a place 100 mm away to 8 um only, so lengths are measured from the LED
    scene = SCENES["coat"]
    shift = 150.0
    moved = replace(
        scene,
        grid=replace(scene.grid, x_min_mm=scene.grid.x_min_mm + shift),
        map_grid=replace(scene.map_grid, x_min_mm=scene.map_grid.x_min_mm + shift),
        emitters=(replace(scene.emitters[0], centre_mm=(shift, 0.0, scene.emitters[0].centre_mm[2])),),
    )
    here, there = traced_on_gpu(job(scene, photons=4_000, n_batches=4), job(moved, photons=4_000, n_batches=4))
    np.testing.assert_allclose(here.fates, there.fates, atol=1e-3)


def test_no_double_is_left_but_in_the_sums():
    from numba import cuda

    from paneglow.transport.cuda.kept import build_any_loop
    from paneglow.transport.cuda.run import loop_shape

    one = job(SCENES["bare"], photons=1_000, n_batches=16)
    traced_on_gpu(one)
    kernel = next(iter(build_any_loop(loop_shape([one])).overloads.values()))
    assembly = kernel.inspect_asm(cuda.get_current_device().compute_capability)
    for line in assembly.splitlines():
        operation = line.split(maxsplit=1)[0] if line.strip() else ""
        if "f64" in operation:
            assert operation in {"cvt.ftz.f64.f32", "cvt.f64.f32", "atom.global.add.f64", "red.global.add.f64"}, line


def test_an_angle_of_view_beyond_grazing_has_no_nan():
    scene = replace(SCENES["rough"], view_angle_rad=math.radians(80.0))
    (tally,) = traced_on_gpu(job(scene, photons=16_000, n_batches=16))
    assert np.isfinite(tally.maps).all()
    assert tally.maps.min() >= 0.0
