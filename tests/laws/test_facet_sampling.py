"""Samplers of the rough face against published densities, written here anew.

Facet normals: GGX, Walter, Marschner, Li, Torrance, *Microfacet Models for Refraction through Rough Surfaces*, EGSR
2007, equation 33; light turned by one facet: equations 20 and 21 there. Heights: the Smith profile as a random
medium, Heitz, Hanika, d'Eon, Dachsbacher, SIGGRAPH 2016 (all from memory).
"""

import math

import numpy as np
import pytest

from paneglow.physics.fresnel import fresnel_reflectance
from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.microfacet import cross_rough, next_height, sample_facet
from paneglow.transport.kernels.random import next_uniform, stream_start
from sampling_checks import assert_chi_square

N = 100_000


@kernel
def fill_facets(rows, v, alpha, seed):
    state = stream_start(seed, 0, 0)
    for i in range(rows.shape[0]):
        state, rows[i, 0], rows[i, 1], rows[i, 2] = sample_facet(state, v[0], v[1], v[2], alpha)


@kernel
def fill_heights(heights, wz, height, alpha, seed):
    state = stream_start(seed, 0, 0)
    for i in range(heights.size):
        state, u = next_uniform(state)
        heights[i] = next_height(wz, height, alpha, u)


@kernel
def fill_crossed(rows, w, n, alpha, seed):
    state = stream_start(seed, 0, 0)
    for i in range(rows.shape[0]):
        state, _, rows[i, 0], rows[i, 1], rows[i, 2], _ = cross_rough(state, w[0], w[1], w[2], n, alpha, 0.0, 0.0, 0.0)


def slanted(polar_deg):
    return np.array([math.sin(math.radians(polar_deg)), 0.0, math.cos(math.radians(polar_deg))])


def normals_density(mz, alpha):
    """GGX density of the normals, per steradian and unit of the macroscopic face."""
    return np.where(mz > 0.0, alpha**2 / (math.pi * (1.0 + mz**2 * (alpha**2 - 1.0)) ** 2), 0.0)


def smith_lambda(cosine, alpha):
    root = np.sqrt(1.0 + alpha**2 * (1.0 - cosine**2) / cosine**2)
    return np.where(cosine > 0.0, 0.5 * (root - 1.0), -0.5 * (root + 1.0))


@pytest.mark.parametrize("alpha", [0.15, 0.6])
@pytest.mark.parametrize("polar_deg", [5.0, 50.0, 80.0, 110.0])
def test_facets_are_met_as_often_as_they_are_seen(alpha, polar_deg):
    v = slanted(polar_deg)
    rows = np.empty((N, 3))
    fill_facets(rows, v, alpha, 3)
    # Bins even in q: 1 - q2 is the share of all normals that are less steep, mz = q / sqrt(q2 + alpha2 (1 - q2))
    m2 = rows[:, 2] ** 2
    q = np.sqrt(alpha**2 * m2 / (1.0 - m2 + alpha**2 * m2))
    azimuth = np.arctan2(rows[:, 1], rows[:, 0])
    n_bins, n_fine = 12, 40
    counts, _, _ = np.histogram2d(q, azimuth, bins=n_bins, range=((0.0, 1.0), (-math.pi, math.pi)))
    # Seen area of a facet: its cosine to v, over that to the face's normal, times its density; midpoints, fine
    part = (np.arange(n_bins * n_fine) + 0.5) / (n_bins * n_fine)
    turn = -math.pi + 2.0 * math.pi * part
    fine_q = part[:, None]
    mz = fine_q / np.sqrt(fine_q**2 + alpha**2 * (1.0 - fine_q**2))
    along = np.sqrt(1.0 - mz**2) * np.cos(turn) * v[0] + mz * v[2]
    seen = np.maximum(along, 0.0) / mz * fine_q
    mass = seen.reshape(n_bins, n_fine, n_bins, n_fine).sum(axis=(1, 3))
    assert_chi_square(counts, N * mass / mass.sum(), model_frac=0.003)


@pytest.mark.parametrize(
    ("cosine", "height"),
    [(0.7, -0.6), (0.15, -0.6), (0.15, 0.4), (-0.15, -0.6), (-0.15, 1.0), (-0.8, 0.4), (-0.8, 1.0)],
)
@pytest.mark.parametrize("alpha", [0.2, 0.9])
def test_heights_of_facets_are_those_of_the_smith_profile(cosine, height, alpha):
    heights = np.empty(N)
    fill_heights(heights, cosine, height, alpha, 5)
    power = float(smith_lambda(cosine, alpha))

    def below(at):
        return 0.5 * (at + 1.0)

    edges = np.linspace(height, 1.0, 17) if cosine > 0.0 else np.linspace(-1.0, height, 17)
    # Chance to come from `height` to an edge without a facet; heights are even over [-1, 1]
    unmet = (below(height) / np.maximum(below(edges), 1e-300)) ** power
    counts, _ = np.histogram(heights, bins=edges)
    left = int((heights > 1.0).sum())
    expected = N * np.abs(np.diff(unmet))
    beyond = N * float(unmet[-1]) if cosine > 0.0 else 0.0
    assert_chi_square(np.append(counts, left), np.append(expected, beyond))


# Little roughness, so that few rays meet a second facet; fewer still from inside, where one in twenty is mirrored and
# what comes back from the rest by a second facet would show
@pytest.mark.parametrize(
    ("n", "crossed", "alpha"),
    [(1.5, True, 0.12), (1.0 / 1.5, True, 0.12), (1.5, False, 0.12), (1.0 / 1.5, False, 0.02)],
)
def test_light_is_turned_by_one_facet_as_published(n, crossed, alpha):
    v = slanted(25.0)
    rows = np.empty((4 * N, 3))
    fill_crossed(rows, -v, n, alpha, 7)
    chosen = rows[(rows[:, 2] < 0.0) == crossed]
    middle = np.array([-v[0] / n, 0.0]) if crossed else np.array([-v[0], 0.0])
    reach, n_bins, n_fine = (2.0 if crossed else 3.3) * alpha, 10, 12
    edges_x = middle[0] + np.linspace(-reach, reach, n_bins + 1)
    edges_y = np.linspace(-reach, reach, n_bins + 1)
    counts, _, _ = np.histogram2d(chosen[:, 0], chosen[:, 1], bins=(edges_x, edges_y))
    step = 2.0 * reach / (n_bins * n_fine)
    x = (edges_x[0] + step * (np.arange(n_bins * n_fine) + 0.5))[:, None]
    y = (edges_y[0] + step * (np.arange(n_bins * n_fine) + 0.5))[None, :]
    density = turned_density(v, x, y, n=n, alpha=alpha, crossed=crossed)
    mass = density.reshape(n_bins, n_fine, n_bins, n_fine).sum(axis=(1, 3)) * step**2
    inside = mass > 0.002 * mass.max()
    assert_chi_square(counts[inside], (4 * N * mass)[inside], model_frac=0.012)


def turned_density(v, x, y, *, n, alpha, crossed):
    """Density per unit of projected solid-angle coordinates (x, y) of light turned by one facet."""
    flat2 = x**2 + y**2
    z = np.sqrt(np.maximum(1.0 - flat2, 1e-12)) * (-1.0 if crossed else 1.0)
    scale = n if crossed else 1.0
    m = np.stack(np.broadcast_arrays(v[0] + scale * x, scale * y, v[2] + scale * z))
    length = np.linalg.norm(m, axis=0)
    m = m * np.sign(m[2]) / length
    before = m[0] * v[0] + m[2] * v[2]
    beyond = m[0] * x + m[1] * y + m[2] * z
    reflected = fresnel_reflectance(np.clip(before, 1e-9, 1.0), relative_index=n)
    shadow = 1.0 / ((1.0 + smith_lambda(v[2], alpha)) * (1.0 + smith_lambda(np.abs(z), alpha)))
    spread = normals_density(m[2], alpha) * shadow / v[2]
    if crossed:
        value = before * np.abs(beyond) * n**2 * (1.0 - reflected) * spread / (before + n * beyond) ** 2
        value = np.where((before > 0.0) & (beyond < 0.0), value, 0.0)
    else:
        value = reflected * spread / 4.0
    return np.where(flat2 < 1.0, value / np.abs(z), 0.0)
