"""The rims of the laminate: the outline, holes and slots, met sideways from inside the slab."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.diffuse import scatter_diffusely
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    EDGE,
    ENDED,
    HOLE,
    INSIDE,
    LAMINATE,
    OUTSIDE,
    PLATED_HOLE,
    face_pixel,
)
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.weights import add_fate, scale_weights

TURN = 2.0 * math.pi / 256.0
STEP_BACK = 1.5  # pixels that a photon is set back into the laminate; the wall cuts through pixels
LEAST_STEP = 0.5  # pixels


@kernel
def wall_distance(x, y, ux, uy, reach, face):
    """Length along a path to the first pixel without laminate; inf beyond `reach`."""
    sideways = math.sqrt(ux * ux + uy * uy)
    if sideways <= 0.0:
        return math.inf
    travelled = 0.0
    last = min(reach, face.widest / sideways)
    while travelled <= last:
        pixel = face_pixel(face, x + ux * travelled, y + uy * travelled)
        if face.body[pixel] != LAMINATE:
            return travelled
        travelled += max(LEAST_STEP, face.clearance[pixel]) * face.pitch / sideways
    return math.inf


@kernel
def meet_wall(state, x, y, z, ux, uy, uz, setup):
    """Light inside the slab meets a wall at x, y, its absorption settled.

    A plated wall returns light diffusely. A bare one is milled, so matt: what Fresnel's equations reflect comes back
    diffusely, the rest leaves and is booked. Returns (state, where, x, y, ux, uy, uz).
    """
    face, slab = setup.face, setup.slab
    pixel = face_pixel(face, x, y)
    body = face.body[pixel]
    turn = TURN * face.wall_turn[pixel]
    nx = -math.cos(turn)
    ny = -math.sin(turn)
    if body == PLATED_HOLE:
        scale_weights(slab.plating, 1.0, ABSORBED, setup)
    else:
        state, u = next_uniform(state)
        if u >= reflectance_at(min(1.0, abs(ux * nx + uy * ny)), 1.0 / slab.refractive_index):
            add_fate(EDGE if body == OUTSIDE else HOLE, 1.0, setup)
            return state, ENDED, x, y, ux, uy, uz
    x += nx * STEP_BACK * face.pitch
    y += ny * STEP_BACK * face.pitch
    pixel = face_pixel(face, x, y)
    if face.body[pixel] != LAMINATE:
        # A web thinner than the step: light in it is lost
        add_fate(HOLE, 1.0, setup)
        return state, ENDED, x, y, ux, uy, uz
    state, ux, uy, uz = scatter_diffusely(state, x, y, z, nx, ny, 0.0, 1.0, setup)
    return state, INSIDE, x, y, ux, uy, uz
