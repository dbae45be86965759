"""A diffuse surface that touches the laminate: score it toward the view, draw where its light goes."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.interface import sample_unit_disc
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.view import pick_ray, score_toward_view

INVERSE_PI = 1.0 / math.pi


@kernel
def sample_about(state, nx, ny, nz):
    """Lambertian direction about a unit normal that is either vertical or horizontal."""
    state, u = next_uniform(state)
    state, cos_azimuth, sin_azimuth = sample_unit_disc(state)
    sine = math.sqrt(1.0 - u)
    out = math.sqrt(u)
    a = sine * cos_azimuth
    b = sine * sin_azimuth
    if nz != 0.0:
        return state, a, b, nz * out
    return state, out * nx - a * ny, out * ny + a * nx, b


@kernel
def scatter_diffusely(state, x, y, z, nx, ny, nz, share, setup):
    """Light scattered by a Lambertian face about the normal into the laminate, its weights settled.

    `share` of it is scored here. Returns (state, ux, uy, uz).
    """
    state, ray = pick_ray(state, x, y, setup)
    wx, wy, wz = ray[1], ray[2], ray[3]
    up = share * INVERSE_PI * max(0.0, nx * wx + ny * wy + nz * wz)
    down = share * INVERSE_PI * max(0.0, nx * wx + ny * wy - nz * wz)
    state = score_toward_view(state, x, y, z, ray, up, down, 0.0, setup.work.weight, setup)
    return sample_about(state, nx, ny, nz)
