"""Samplers against their densities; chi-square at a fixed seed, false alarm once in 10 000 each."""

import math

import numpy as np
import pytest

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.interface import sample_lambertian, sample_unit_disc
from paneglow.transport.kernels.phase import density_hg, sample_cosine_hg, scattered
from paneglow.transport.kernels.random import next_uniform, stream_start
from sampling_checks import assert_chi_square

N = 40_000


# The loops run compiled: a stream's state is an unsigned 64-bit word, which Python would hand back as a signed one
@kernel
def fill_uniforms(values, seed):
    state = stream_start(seed, 0, 0)
    for i in range(values.size):
        state, values[i] = next_uniform(state)


@kernel
def fill_first_uniforms(values, seed):
    for i in range(values.size):
        _, values[i] = next_uniform(stream_start(seed, 0, i))


@kernel
def fill_unit_discs(cosines, sines, seed):
    state = stream_start(seed, 0, 0)
    for i in range(cosines.size):
        state, cosines[i], sines[i] = sample_unit_disc(state)


@kernel
def fill_lambertian_cosines(cosines, seed):
    state = stream_start(seed, 0, 0)
    for i in range(cosines.size):
        state, _, _, cosines[i] = sample_lambertian(state, 1.0)


@kernel
def turn_many_times(direction, turns, g, seed):
    state = stream_start(seed, 0, 0)
    ux, uy, uz = direction[0], direction[1], direction[2]
    for _ in range(turns):
        state, ux, uy, uz = scattered(state, ux, uy, uz, g)
    direction[0], direction[1], direction[2] = ux, uy, uz


def uniforms(*, seed, count):
    values = np.empty(count)
    fill_uniforms(values, seed)
    return values


def test_uniform_variates_are_uniform_and_uncorrelated():
    values = uniforms(seed=3, count=N)
    counts, _ = np.histogram(values, bins=50, range=(0.0, 1.0))
    assert_chi_square(counts, np.full(50, N / 50))
    pairs, _, _ = np.histogram2d(values[:-1], values[1:], bins=10, range=((0, 1), (0, 1)))
    assert_chi_square(pairs.ravel(), np.full(100, (N - 1) / 100))


def test_first_variates_of_neighbouring_photons_are_uniform():
    values = np.empty(N)
    fill_first_uniforms(values, 1)
    counts, _ = np.histogram(values, bins=50, range=(0.0, 1.0))
    assert_chi_square(counts, np.full(50, N / 50))


def henyey_greenstein_density(cosine, *, asymmetry):
    """Per steradian: L. G. Henyey, J. L. Greenstein, Astrophys. J. 93:70, 1941, doi 10.1086/144246 (abstract seen)."""
    return (1.0 - asymmetry**2) / (4.0 * math.pi * (1.0 + asymmetry**2 - 2.0 * asymmetry * cosine) ** 1.5)


@pytest.mark.parametrize("g", [0.0, 0.5, 0.8, 0.95, -0.3])
def test_scattering_cosine_follows_henyey_greenstein(g):
    cosines = np.array([sample_cosine_hg(g, u) for u in uniforms(seed=5, count=N)])
    # Edges at equal probability, from the closed form of the cumulative distribution
    edges = np.array([sample_cosine_hg(g, u) for u in np.linspace(0.0, 1.0, 41)])
    counts, _ = np.histogram(cosines, bins=edges)
    fine = np.linspace(-1.0, 1.0, 400_001)
    density = 2.0 * math.pi * henyey_greenstein_density(fine, asymmetry=g)
    mass = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(fine))])
    expected = N * np.diff(np.interp(edges, fine, mass))
    assert_chi_square(counts, expected)
    assert cosines.mean() == pytest.approx(g, abs=4.0 * cosines.std() / math.sqrt(N))


@pytest.mark.parametrize("g", [0.0, 0.8, -0.5])
def test_kernel_density_is_the_published_one(g):
    cosines = np.linspace(-1.0, 1.0, 101)
    found = [density_hg(g, mu) for mu in cosines]
    np.testing.assert_allclose(found, henyey_greenstein_density(cosines, asymmetry=g), rtol=1e-12)


def test_turned_directions_keep_unit_length_and_azimuth_is_even():
    direction = np.array([0.0, 0.0, 1.0])
    turn_many_times(direction, 5000, 0.8, 9)
    assert np.linalg.norm(direction) == pytest.approx(1.0, abs=1e-9)
    cosines, sines = np.empty(N), np.empty(N)
    fill_unit_discs(cosines, sines, 9)
    azimuths = np.arctan2(sines, cosines)
    counts, _ = np.histogram(azimuths, bins=40, range=(-math.pi, math.pi))
    assert_chi_square(counts, np.full(40, N / 40))


def test_lambertian_directions_follow_the_cosine():
    cosines = np.empty(N)
    fill_lambertian_cosines(cosines, 2)
    counts, _ = np.histogram(cosines**2, bins=40, range=(0.0, 1.0))
    assert_chi_square(counts, np.full(40, N / 40))
