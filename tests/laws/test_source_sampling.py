"""Where light starts, how far it goes and which way surfaces send it: samplers against their densities.

Chi-square at a fixed seed, false alarm once in 10 000 each. The densities are written here anew, from the definition of
the record or the law, not with the samplers' own formulas.
"""

import math

import numpy as np
import pytest
from scipy import integrate

from paneglow.physics import cosine_power_table, polar_table
from paneglow.scene import Emitter
from paneglow.transport.arrays import build_emitter_input
from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.diffuse import sample_about
from paneglow.transport.kernels.launch import emitted, intensity_toward, sampled_cosine
from paneglow.transport.kernels.phase import free_length, sample_isotropic, scattered
from paneglow.transport.kernels.random import next_uniform, stream_start
from sampling_checks import assert_chi_square

N = 40_000
# Relative intensity against the angle to the axis, in degrees; linear between
LOBES = {
    "Lambertian": lambda angle: np.cos(np.minimum(angle, math.pi / 2.0)),
    "narrow lens": lambda angle: np.cos(np.minimum(angle, math.pi / 2.0)) ** 19.9936,
    "bat wing": lambda angle: np.interp(angle, np.radians([0.0, 30.0, 60.0, 85.0]), [0.4, 0.7, 1.0, 0.0]),
    "glow all round": lambda angle: np.interp(angle, [0.0, math.pi], [1.0, 0.5]),
}
TABLES = {
    "Lambertian": lambda: cosine_power_table(math.radians(60.0)),
    "narrow lens": lambda: cosine_power_table(math.radians(15.0)),  # half at 15 degrees: exponent 19.994
    "bat wing": lambda: polar_table(np.radians([0.0, 30.0, 60.0, 85.0]), relative_intensity=[0.4, 0.7, 1.0, 0.0]),
    "glow all round": lambda: polar_table([0.0, math.pi], relative_intensity=[1.0, 0.5]),
}


def emitter_input(name, *, size_mm=(2.0, 0.8), turn=0.6, tilt=1.1):
    """A part turned and tilted, so that no axis is special."""
    axis = np.array([math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt)])
    u = np.array([-math.sin(turn), math.cos(turn), 0.0])
    table = TABLES[name]()
    emitter = Emitter(
        ref="E1", window=None, centre_mm=(0.3, -0.2, -1.5), axis=tuple(axis), u=tuple(u), v=tuple(np.cross(axis, u)),
        size_mm=size_mm, cos_table=table.cos_table, cdf_table=table.cdf_table, intensity_table=table.intensity_table,
        nodes=np.array([0]), xyz_per_lm=np.ones((1, 3)), flux_lm=1.0, flux_lm_low=1.0, flux_lm_high=1.0,
    )  # fmt: skip
    return build_emitter_input(emitter, number=0, n_versions=1)


@kernel
def fill_free_paths(lengths, scatter, seed):
    state = stream_start(seed, 0, 0)
    for i in range(lengths.size):
        state, u = next_uniform(state)
        lengths[i] = free_length(u, 1.0 / scatter)


@kernel
def fill_lamp_cosines(cosines, emitter, seed):
    state = stream_start(seed, 0, 0)
    for i in range(cosines.size):
        state, u = next_uniform(state)
        cosines[i] = sampled_cosine(emitter, u)


@kernel
def fill_intensities(values, cosines, emitter):
    for i in range(values.size):
        values[i] = intensity_toward(emitter, cosines[i])


@kernel
def fill_emitted(rows, shift, emitter):
    for i in range(rows.shape[0]):
        rows[i, 0], rows[i, 1], rows[i, 2], rows[i, 3], rows[i, 4], rows[i, 5] = emitted(i, shift, emitter)


@kernel
def fill_diffuse(rows, normal, seed):
    state = stream_start(seed, 0, 0)
    for i in range(rows.shape[0]):
        state, rows[i, 0], rows[i, 1], rows[i, 2] = sample_about(state, normal[0], normal[1], normal[2])


@kernel
def fill_isotropic(rows, seed):
    state = stream_start(seed, 0, 0)
    for i in range(rows.shape[0]):
        state, rows[i, 0], rows[i, 1], rows[i, 2] = sample_isotropic(state)


@kernel
def fill_turned(rows, before, g, seed):
    state = stream_start(seed, 0, 0)
    for i in range(rows.shape[0]):
        state, rows[i, 0], rows[i, 1], rows[i, 2] = scattered(state, before[0], before[1], before[2], g)


def polar_about(rows, axis):
    """Cosine to an axis and azimuth about it."""
    axis = np.asarray(axis, dtype=np.float64)
    across = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    across /= np.linalg.norm(across)
    return rows @ axis, np.arctan2(rows @ np.cross(axis, across), rows @ across)


def assert_even_over(first, second, *, ranges, bins=(12, 12)):
    counts, _, _ = np.histogram2d(first, second, bins=bins, range=ranges)
    assert_chi_square(counts, np.full(counts.shape, first.size / counts.size))


AROUND = (-math.pi, math.pi)


@pytest.mark.parametrize("scatter", [0.3, 7.5])
def test_free_paths_are_exponential(scatter):
    lengths = np.empty(N)
    fill_free_paths(lengths, scatter, 4)
    # Ends of 40 bins that an exponential fills alike
    edges = -np.log1p(-np.linspace(0.0, 1.0, 41)[:-1]) / scatter
    counts, _ = np.histogram(lengths, bins=np.append(edges, np.inf))
    assert_chi_square(counts, np.full(40, N / 40))


def test_a_clear_slab_has_no_free_path():
    lengths = np.empty(4)
    fill_free_paths(lengths, 0.0, 4)
    assert np.isinf(lengths).all()


@pytest.mark.parametrize("name", LOBES)
def test_lamp_directions_follow_the_lobe(name):
    cosines = np.empty(N)
    fill_lamp_cosines(cosines, emitter_input(name), 6)
    edges = np.linspace(0.0, math.pi, 61)
    counts, _ = np.histogram(np.arccos(np.clip(cosines, -1.0, 1.0)), bins=edges)
    fine = np.linspace(0.0, math.pi, 60 * 200 + 1)
    mass = integrate.cumulative_trapezoid(LOBES[name](fine) * np.sin(fine), fine, initial=0.0)
    assert_chi_square(counts, N * np.diff(mass[::200]) / mass[-1])


@pytest.mark.parametrize("name", LOBES)
def test_lamp_intensity_toward_the_viewer_is_that_of_the_lobe(name):
    angles = np.radians(np.arange(0.0, 84.0, 1.3))
    found = np.empty(angles.size)
    fill_intensities(found, np.cos(angles), emitter_input(name))
    lobe = LOBES[name]
    flux, _ = integrate.quad(lambda angle: float(lobe(angle)) * math.sin(angle), 0.0, math.pi, limit=400)
    expected = lobe(angles) / (2.0 * math.pi * flux)
    # Tables step by 0.25 degrees and are linear in the cosine between: 1e-4 of the peak
    np.testing.assert_allclose(found, expected, atol=2e-4 * expected.max())


@pytest.mark.parametrize("name", LOBES)
def test_photons_start_evenly_over_the_lamp_and_about_its_axis(name):
    emitter = emitter_input(name)
    rows = np.empty((N, 6))
    fill_emitted(rows, (np.array([0.1, 0.7, 0.3, 0.9]) * 2.0**64).astype(np.uint64), emitter)
    offsets = rows[:, :3] - emitter.centre
    np.testing.assert_allclose(offsets @ emitter.axis, 0.0, atol=1e-12)
    np.testing.assert_allclose(np.linalg.norm(rows[:, 3:], axis=1), 1.0, atol=1e-12)
    assert_even_over(offsets @ emitter.u, offsets @ emitter.v, ranges=((-1.0, 1.0), (-0.4, 0.4)))
    cosines, azimuths = polar_about(rows[:, 3:], emitter.axis)
    lobe = LOBES[name]
    fine = np.linspace(0.0, math.pi, 20_001)
    mass = integrate.cumulative_trapezoid(lobe(fine) * np.sin(fine), fine, initial=0.0)
    share = np.interp(np.arccos(np.clip(cosines, -1.0, 1.0)), fine, mass / mass[-1])
    assert_even_over(share, azimuths, ranges=((0.0, 1.0), AROUND))
    # Place and direction know nothing of each other
    assert_even_over(offsets @ emitter.u, share, ranges=((-1.0, 1.0), (0.0, 1.0)))
    assert_even_over(offsets @ emitter.v, azimuths, ranges=((-0.4, 0.4), AROUND))


@pytest.mark.parametrize("normal", [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (-0.6, 0.8, 0.0)])
def test_diffuse_faces_send_light_by_the_cosine(normal):
    rows = np.empty((N, 3))
    fill_diffuse(rows, np.array(normal), 8)
    cosines, azimuths = polar_about(rows, normal)
    assert cosines.min() > 0.0
    assert_even_over(cosines**2, azimuths, ranges=((0.0, 1.0), AROUND))


def test_haze_in_glue_sends_light_every_way_alike():
    rows = np.empty((N, 3))
    fill_isotropic(rows, 8)
    assert_even_over(*polar_about(rows, (0.0, 0.0, 1.0)), ranges=((-1.0, 1.0), AROUND))


@pytest.mark.parametrize("before", [(0.0, 0.0, 1.0), (0.48, -0.6, -0.64), (0.002, 0.001, -0.9999975)])
@pytest.mark.parametrize("g", [0.8, -0.3])
def test_scattering_turns_by_henyey_greenstein_and_evenly_about_the_old_direction(before, g):
    axis = np.array(before) / np.linalg.norm(before)
    rows = np.empty((N, 3))
    fill_turned(rows, axis, g, 9)
    cosines, azimuths = polar_about(rows, axis)
    # Cumulative distribution of the published density, integrated: (1 - g2) / (2 g) (1 / s - 1 / (1 + g))
    share = (1.0 - g * g) / (2.0 * g) * (1.0 / np.sqrt(1.0 + g * g - 2.0 * g * cosines) - 1.0 / (1.0 + g))
    assert_even_over(share, azimuths, ranges=((0.0, 1.0), AROUND))
