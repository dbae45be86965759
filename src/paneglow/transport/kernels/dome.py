"""A dome of clear glue that joins a part and the back face: a cap of a sphere that stands on the face."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.face import enter_face
from paneglow.transport.kernels.inputs import BACK, BACK_FACE, BEHIND, ENDED, LAMINATE, face_pixel
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.phase import INVERSE_FULL_SPHERE, free_length, sample_isotropic
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.source import pick_outer_ray, score_from_behind
from paneglow.transport.kernels.weights import add_fate

MOST_LEGS = 500  # light caught longer than this by total reflection is booked as lost behind the board


@kernel
def is_under_dome(x, y, emitter):
    """Whether the dome's foot covers a point of the back face."""
    if emitter.dome_radius <= 0.0:
        return False
    dx = x - emitter.centre[0]
    dy = y - emitter.centre[1]
    return dx * dx + dy * dy < emitter.dome_radius * emitter.dome_radius


@kernel
def shell_distance(x, y, z, ux, uy, uz, emitter):
    """Length to the dome's outer face, and the cap's radius and centre height."""
    radius = 0.5 * (emitter.dome_radius**2 + emitter.dome_height**2) / emitter.dome_height
    centre_z = radius - emitter.dome_height
    px = x - emitter.centre[0]
    py = y - emitter.centre[1]
    pz = z - centre_z
    along = px * ux + py * uy + pz * uz
    beside = px * px + py * py + pz * pz - radius * radius
    return -along + math.sqrt(max(0.0, along * along - beside)), radius, centre_z


@kernel
def leave_shell(state, x, y, z, ux, uy, uz, radius, centre_z, emitter):
    """Smooth outer face of the dome. Returns (state, crossed, ux, uy, uz)."""
    nx = (x - emitter.centre[0]) / radius
    ny = (y - emitter.centre[1]) / radius
    nz = (z - centre_z) / radius
    mu = min(1.0, max(0.0, nx * ux + ny * uy + nz * uz))
    n = 1.0 / emitter.dome_index
    state, u = next_uniform(state)
    if u < reflectance_at(mu, n):
        return state, False, ux - 2.0 * mu * nx, uy - 2.0 * mu * ny, uz - 2.0 * mu * nz
    beyond = math.sqrt(max(0.0, 1.0 - (1.0 - mu * mu) / (n * n)))
    bend = beyond - mu / n
    return state, True, ux / n + bend * nx, uy / n + bend * ny, uz / n + bend * nz


@kernel
def scatter_in_dome(state, x, y, z, setup):
    """Haze turns light every way alike; scored toward the view. Returns (state, ux, uy, uz)."""
    emitter = setup.emitter
    n = setup.slab.refractive_index / emitter.dome_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, setup)
    if oz > 0.0:
        density = INVERSE_FULL_SPHERE * math.exp(emitter.dome_scatter * z / oz)
        state = score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, setup)
    return sample_isotropic(state)


@kernel
def fly_in_dome(state, x, y, z, ux, uy, uz, setup):
    """Follow light inside the dome. Returns (state, where, x, y, z, ux, uy, uz)."""
    emitter, face = setup.emitter, setup.face
    n = setup.slab.refractive_index / emitter.dome_index
    for _ in range(MOST_LEGS):
        to_shell, radius, centre_z = shell_distance(x, y, z, ux, uy, uz, emitter)
        to_face = -z / uz if uz > 0.0 else math.inf
        free = math.inf
        if emitter.dome_scatter > 0.0:
            state, u = next_uniform(state)
            free = free_length(u, 1.0 / emitter.dome_scatter)
        leg = min(free, to_shell, to_face)
        x, y, z = x + ux * leg, y + uy * leg, min(0.0, z + uz * leg)
        if leg == free:
            state, ux, uy, uz = scatter_in_dome(state, x, y, z, setup)
            continue
        if to_face <= to_shell:
            pixel = face_pixel(face, x, y)
            if face.body[pixel] != LAMINATE:
                break
            state, where, ux, uy, uz = enter_face(state, BACK_FACE, x, y, ux, uy, uz, n, True, setup)
            if where != BACK_FACE:
                return state, where, x, y, 0.0, ux, uy, uz
            z = 0.0
            continue
        state, crossed, ux, uy, uz = leave_shell(state, x, y, z, ux, uy, uz, radius, centre_z, emitter)
        if crossed:
            return state, BEHIND, x, y, z, ux, uy, uz
    add_fate(BACK, 1.0, setup)
    return state, ENDED, x, y, z, ux, uy, uz
