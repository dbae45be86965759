"""Scattering inside the slab: how far light goes and how it turns (Henyey-Greenstein)."""

import math

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.interface import sample_unit_disc
from paneglow.transport.kernels.random import next_uniform

ISOTROPIC_BELOW = 1e-6  # the closed form divides by g
POLE_COSINE = 0.99999  # beyond it the frame of the rotation formula degenerates
NO_SCATTER = 1e-12  # 1/mm; below it a free path is endless
INVERSE_FULL_SPHERE = 1.0 / (4.0 * math.pi)


@hot_kernel
def sample_free_path(state, scatter):
    """Length to the next collision, exponential with the coefficient."""
    state, u = next_uniform(state)
    return state, -math.log(u) / scatter if scatter > NO_SCATTER else math.inf


@kernel
def sample_cosine_hg(g, u):
    if abs(g) < ISOTROPIC_BELOW:
        return 2.0 * u - 1.0
    s = (1.0 - g * g) / (1.0 - g + 2.0 * g * u)
    return min(1.0, max(-1.0, (1.0 + g * g - s * s) / (2.0 * g)))


@kernel
def density_hg(g, mu):
    base = 1.0 + g * g - 2.0 * g * mu
    return INVERSE_FULL_SPHERE * (1.0 - g * g) / (base * math.sqrt(base))


@kernel
def scattered(state, ux, uy, uz, g):
    """Turn a direction by a sampled scattering angle."""
    state, u = next_uniform(state)
    mu = sample_cosine_hg(g, u)
    sine = math.sqrt(max(0.0, 1.0 - mu * mu))
    state, cos_azimuth, sin_azimuth = sample_unit_disc(state)
    if abs(uz) > POLE_COSINE:
        sign = 1.0 if uz > 0.0 else -1.0
        return state, sine * cos_azimuth, sine * sin_azimuth, sign * mu
    root = math.sqrt(1.0 - uz * uz)
    px = sine * (ux * uz * cos_azimuth - uy * sin_azimuth) / root + ux * mu
    py = sine * (uy * uz * cos_azimuth + ux * sin_azimuth) / root + uy * mu
    pz = -sine * cos_azimuth * root + uz * mu
    # One Newton step keeps the vector at unit length over thousands of turns
    scale = 1.5 - 0.5 * (px * px + py * py + pz * pz)
    return state, px * scale, py * scale, pz * scale


@kernel
def sample_isotropic(state):
    """Direction without preference."""
    state, u = next_uniform(state)
    state, turn = next_uniform(state)
    uz = 2.0 * u - 1.0
    sine = math.sqrt(max(0.0, 1.0 - uz * uz))
    return state, sine * math.cos(2.0 * math.pi * turn), sine * math.sin(2.0 * math.pi * turn), uz
