"""Scattering inside the slab: how far light goes and how it turns (Henyey-Greenstein)."""

import math

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.interface import inverse_sqrt, unit_circle
from paneglow.transport.kernels.random import next_uniform

ISOTROPIC_BELOW = 1e-6  # the closed form divides by g
POLE_COSINE = 0.99999  # beyond it the frame of the rotation formula degenerates
INVERSE_FULL_SPHERE = 1.0 / (4.0 * math.pi)


@hot_kernel
def free_length(u, free_path):
    """Length to the next collision, exponential about the mean free path, for a variate above 0."""
    return -math.log(u) * free_path


@kernel
def sample_cosine_hg(g, u):
    if abs(g) < ISOTROPIC_BELOW:
        return 2.0 * u - 1.0
    s = (1.0 - g * g) / (1.0 - g + 2.0 * g * u)
    return min(1.0, max(-1.0, (1.0 + g * g - s * s) / (2.0 * g)))


@kernel
def density_hg(g, mu):
    inverse = inverse_sqrt(1.0 + g * g - 2.0 * g * mu)
    return INVERSE_FULL_SPHERE * (1.0 - g * g) * inverse * inverse * inverse


@kernel
def turned(ux, uy, uz, g, u, turns):
    """Turn a direction by the scattering angle of variate u, toward the azimuth of another. Returns (ux, uy, uz)."""
    mu = sample_cosine_hg(g, u)
    sine = math.sqrt(max(0.0, 1.0 - mu * mu))
    cos_azimuth, sin_azimuth = unit_circle(turns)
    if abs(uz) > POLE_COSINE:
        sign = 1.0 if uz > 0.0 else -1.0
        return sine * cos_azimuth, sine * sin_azimuth, sign * mu
    flat2 = 1.0 - uz * uz
    inverse = inverse_sqrt(flat2)
    across = sine * inverse
    px = across * (ux * uz * cos_azimuth - uy * sin_azimuth) + ux * mu
    py = across * (uy * uz * cos_azimuth + ux * sin_azimuth) + uy * mu
    pz = uz * mu - across * flat2 * cos_azimuth
    # One Newton step keeps the vector at unit length over thousands of turns
    scale = 1.5 - 0.5 * (px * px + py * py + pz * pz)
    return px * scale, py * scale, pz * scale


@kernel
def scattered(state, ux, uy, uz, g):
    """Turn a direction by a sampled scattering angle. Returns (state, ux, uy, uz)."""
    state, u = next_uniform(state)
    state, turns = next_uniform(state)
    ux, uy, uz = turned(ux, uy, uz, g, u, turns)
    return state, ux, uy, uz


@kernel
def sample_isotropic(state):
    """Direction without preference."""
    state, u = next_uniform(state)
    state, turn = next_uniform(state)
    uz = 2.0 * u - 1.0
    sine = math.sqrt(max(0.0, 1.0 - uz * uz))
    return state, sine * math.cos(2.0 * math.pi * turn), sine * math.sin(2.0 * math.pi * turn), uz
