"""What responses are built of: levels, rings, groups of wavelengths, and what they refuse."""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.errors import RangeError, TransportError
from paneglow.scene import Dome
from paneglow.transport import ResponseEffort, ask_response, trace_response
from paneglow.transport.response.levels import (
    absorption_error,
    absorption_levels,
    absorption_weights,
    effective_photons,
    scattering_weights,
)
from paneglow.transport.response.plan import group_nodes
from paneglow.transport.response.rings import (
    N_HARMONICS,
    at_middles,
    ring_areas,
    ring_means,
    ring_position,
    ring_projection,
)
from response_windows import led, traced, window_scene

QUICK = ResponseEffort(spread_photons=2_000, difference_photons=2_000)


@pytest.fixture(scope="module")
def ready():
    return traced(window_scene(), effort=QUICK)


@pytest.mark.parametrize(("lower", "upper"), [(0.01, 0.12), (0.02, 0.18), (0.0, 0.05), (0.08, 0.75)])
def test_six_levels_answer_for_a_range_of_absorption(lower, upper):
    # Worst over all paths, as a share of the light without absorption: most for paths of 400 mm
    levels = absorption_levels(lower, upper, count=6)
    worst = max(absorption_error(levels, absorb_per_mm=a) for a in np.linspace(lower, upper, 41))
    assert worst < 4e-3
    assert lower <= levels.min() < levels.max() <= upper


def test_a_carried_absorption_is_itself():
    levels = absorption_levels(0.02, 0.2, count=6)
    # Of the least-squares fit, singular directions below 1e-9 are left out
    np.testing.assert_allclose(absorption_weights(levels, absorb_per_mm=float(levels[2])), np.eye(6)[2], atol=1e-5)


def test_the_error_bound_holds_for_light_of_any_paths():
    # Paths spread as a gamma density: the light is a closed form, (1 + a m / k)^-k
    levels = absorption_levels(0.01, 0.12, count=6)
    for mean_mm, shape in ((3.0, 1.5), (8.0, 1.5), (30.0, 4.0)):

        def light(absorb, mean_mm=mean_mm, shape=shape):
            return (1.0 + np.asarray(absorb) * mean_mm / shape) ** -shape

        for absorb in (0.015, 0.05, 0.1):
            off = abs(float(absorption_weights(levels, absorb_per_mm=absorb) @ light(levels)) - float(light(absorb)))
            assert off <= absorption_error(levels, absorb_per_mm=absorb)


def test_weights_of_scatterings_are_exact_for_a_parabola():
    levels = np.array([6.0, 7.5, 9.0])
    weights = scattering_weights(levels, scatter_per_mm=6.7)
    assert weights @ (2.0 + 3.0 * levels - 0.5 * levels**2) == pytest.approx(2.0 + 3.0 * 6.7 - 0.5 * 6.7**2)


def test_the_effective_number_falls_with_the_square_of_the_step():
    levels, effective = np.array([6.0, 7.5, 9.0]), np.array([400.0, 1000.0, 300.0])
    for level, number in zip(levels, effective, strict=True):
        assert effective_photons(levels, effective, scatter_per_mm=level) == pytest.approx(number)
    assert effective_photons(levels, effective, scatter_per_mm=6.75) == pytest.approx(1000.0 * 0.4**0.25)
    assert effective_photons(levels, effective, scatter_per_mm=10.5) == pytest.approx(1000.0 * 0.3**4)


def test_rings_hold_all_the_light_of_a_map():
    n, pitch = 60, 0.1
    at = (np.arange(n) + 0.5 - n / 2) * pitch
    light = np.exp(-(at[None, :] ** 2 + at[:, None] ** 2) / 0.5) * (1.0 + 0.3 * at[None, :])
    rings = int(ring_position(3.0, pitch_mm=pitch))
    harmonics = ring_projection(n, map_pitch_mm=pitch, pitch_mm=pitch, n_rings=rings) @ light.ravel()
    by_ring = harmonics.reshape(rings, N_HARMONICS)
    assert by_ring[:, 0] @ ring_areas(rings, pitch_mm=pitch) == pytest.approx(light.sum() * pitch**2, rel=2e-3)
    # The light is 1 + 0.3 x: its first harmonic over its mean is 0.3 times the radius, the second is nothing
    radius = pitch * 10.5 * (1.0 + 10.5 / 12.0)
    assert by_ring[10, 1] / by_ring[10, 0] == pytest.approx(0.3 * radius, rel=0.03)
    assert abs(by_ring[10, 2]) < 0.02 * by_ring[10, 0]


# A spread that falls by a factor of ten or more from ring to ring, as in thin laminate
@pytest.mark.parametrize("width_mm", [0.06, 0.12, 0.5])
def test_between_the_middles_of_rings_lies_what_the_rings_hold(width_mm):
    n, pitch = 60, 0.1
    edges = np.linspace(-0.5 * n * pitch, 0.5 * n * pitch, 32 * n + 1)
    fine = 0.5 * (edges[1:] + edges[:-1])
    exact = np.exp(-np.hypot(fine[None, :], fine[:, None]) / width_mm) + 1e-4
    light = exact.reshape(n, 32, n, 32).mean(axis=(1, 3))
    rings = int(ring_position(3.0, pitch_mm=pitch))
    held = (ring_projection(n, map_pitch_mm=pitch, pitch_mm=pitch, n_rings=rings) @ light.ravel()).reshape(rings, -1)
    table = np.tile(held[None, :, :, None, None, None], (1, 1, 1, 1, 8, 1)).astype(np.float32)
    middles = at_middles(table, pitch_mm=pitch)[0, :, 0, 0, 0, 0]
    assert np.all(middles > 0.0)
    np.testing.assert_allclose(ring_means(rings) @ middles, held[:, 0], rtol=0.01)
    areas = ring_areas(rings, pitch_mm=pitch)
    assert areas @ ring_means(rings) @ middles == pytest.approx(areas @ held[:, 0], rel=1e-5)
    radius = math.sqrt(areas.sum() / math.pi)
    inside = 2.0 * math.pi * width_mm**2 * (1.0 - (1.0 + radius / width_mm) * math.exp(-radius / width_mm))
    assert areas @ held[:, 0] == pytest.approx(inside + 1e-4 * areas.sum(), rel=2e-3)


def test_wavelengths_under_like_coats_share_a_group():
    scene = window_scene()
    wide = {name: np.repeat(getattr(scene.classes, name), 4, axis=1) for name in ("transmit", "backing_reflect")}
    reflect = np.array([[0.0] * 4, [0.25, 0.26, 0.6, 0.25]])
    scene = replace(
        scene, wavelength_nm=np.arange(4) * 10.0 + 500.0, classes=replace(scene.classes, reflect=reflect, **wide)
    )
    light = replace(led(), nodes=np.array([0, 1, 2]), xyz_per_lm=np.ones((3, 3)))
    assert group_nodes(scene, lights=(light,)).tolist() == [0, 0, 1, -1]


def test_the_thread_count_changes_nothing():
    scene = window_scene()
    one, two = (
        trace_response(scene, grid=scene.map_grid, seed=1, lights=(led(),), effort=QUICK, n_threads=n) for n in (1, 2)
    )
    np.testing.assert_array_equal(one.spread.table, two.spread.table)
    np.testing.assert_array_equal(one.difference.table, two.difference.table)


def test_the_mean_of_the_batches_is_the_answer(ready):
    answer = ask_response(ready, emitters=(led(),))
    lit = answer.xyz[1] > 0.0  # what falls short of nothing is cut off in the mean alone
    np.testing.assert_allclose(answer.batches.mean(axis=0)[lit], answer.xyz[1][lit], rtol=1e-4, atol=1e-3)


UNANSWERABLE = {
    "opening": ({"opening_mm": (1.0, 1.0)}, "shines in an opening"),
    "dome": ({"dome": Dome(radius_mm=2.0, height_mm=1.0, refractive_index=1.5, scatter_per_mm=0.0)}, "glued"),
    "front": ({"centre_mm": (0.0, 0.0, 2.0)}, "not behind the board"),
    "glow": ({"shifted": np.zeros((1, 1))}, "does not follow"),
}


@pytest.mark.parametrize(("change", "message"), UNANSWERABLE.values(), ids=UNANSWERABLE)
def test_what_a_response_does_not_hold_is_refused(ready, change, message):
    with pytest.raises(TransportError, match=message):
        ask_response(ready, emitters=(replace(led(), **change),))


def test_an_absorption_that_is_not_carried_is_refused(ready):
    with pytest.raises(RangeError, match=r"answers for 0.01 to 0.12 per mm"):
        ask_response(ready, emitters=(led(),), absorb_per_mm=np.array([0.2]))
    with pytest.raises(RangeError, match="one value per wavelength"):
        ask_response(ready, emitters=(led(),), absorb_per_mm=np.array([0.05, 0.05]))


def test_views_and_windows_that_cannot_be_answered_for_are_refused():
    scene = window_scene()
    with pytest.raises(TransportError, match="along the normal"):
        trace_response(replace(scene, view_angle_rad=0.3), grid=scene.map_grid, seed=1, lights=(led(),))
    covered = replace(scene, front=np.ones_like(scene.front))
    with pytest.raises(TransportError, match="lets light out"):
        trace_response(covered, grid=scene.map_grid, seed=1, lights=(led(),))
