"""The rims of the laminate: the outline, holes and slots, met from inside the slab and from the air between them.

A rim is milled, so matt. It returns diffusely what a smooth face returns of diffuse light, whatever the angle, and the
rest goes on diffusely beyond it: as (1 - r_inside) n^2 = 1 - r_outside, lamp and viewer may be swapped.
"""

import math

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.diffuse import INVERSE_PI, sample_about, scatter_diffusely
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK_FACE,
    BEHIND,
    EDGE,
    ENDED,
    FRONT_FACE,
    HOLE,
    INSIDE,
    LAMINATE,
    OUTSIDE,
    PLATED_HOLE,
    THROUGH,
    face_pixel,
)
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.source import score_through_hole
from paneglow.transport.kernels.weights import add_fate, scale_weights, survives_roulette

TURN = 2.0 * math.pi / 256.0
LEAST_STEP = 0.5  # pixels
HALVINGS = 4  # of that step, to find where in it the rim is


@kernel
def is_held(side, setup):
    """Whether anything in the air of a side can send light back to the board."""
    return setup.air.present[side] or (side == BACK_FACE and setup.emitter.wall_u > 0.0)


@hot_kernel
def is_beyond(x, y, ux, uy, inside, face):
    """Whether a path has left the laminate, or for light outside has come to it.

    Pixels cut a rim into steps. A path that leads away from the rim, as the rim itself runs there, goes on through
    the steps that it meets.
    """
    pixel = face_pixel(face, x, y)
    if (face.body[pixel] == LAMINATE) == inside:
        return False
    turn = TURN * face.wall_turn[pixel]
    return (ux * math.cos(turn) + uy * math.sin(turn) > 0.0) == inside


@kernel
def wall_distance(x, y, ux, uy, reach, inside, face):
    """Length along a path, in the slab or outside, to the rim; inf beyond `reach`."""
    sideways = math.sqrt(ux * ux + uy * uy)
    if sideways <= 0.0:
        return math.inf
    travelled = 0.0
    step = 0.0
    last = min(reach, face.widest / sideways)
    while travelled <= last:
        at_x, at_y = x + ux * travelled, y + uy * travelled
        if is_beyond(at_x, at_y, ux, uy, inside, face):
            for _ in range(HALVINGS):
                step *= 0.5
                if is_beyond(x + ux * (travelled - step), y + uy * (travelled - step), ux, uy, inside, face):
                    travelled -= step
            return travelled
        step = max(LEAST_STEP, face.clearance[face_pixel(face, at_x, at_y)]) * face.pitch / sideways
        travelled += step
    return math.inf


@kernel
def into_laminate(pixel, face):
    """Normal of the rim at a pixel beside it, along the board."""
    turn = TURN * face.wall_turn[pixel]
    return -math.cos(turn), -math.sin(turn)


@kernel
def meet_rim(state, x, y, z, nx, ny, plated, setup):
    """Light outside the laminate meets its rim; n leads into the laminate.

    Returns (state, where, ux, uy, uz), BEHIND for light that stays outside.
    """
    if plated:
        scale_weights(setup.slab.plating, 1.0, ABSORBED, setup)
        state, alive = survives_roulette(state, setup.work)
        if not alive:
            return state, ENDED, 0.0, 0.0, 0.0
    else:
        state, u = next_uniform(state)
        if u >= setup.slab.rim_outside:
            state, ux, uy, uz = scatter_diffusely(state, x, y, z, nx, ny, 0.0, 1.0, setup)
            return state, INSIDE, ux, uy, uz
    state, ux, uy, uz = shine_from_rim(state, x, y, z, nx, ny, setup)
    return state, BEHIND, ux, uy, uz


@kernel
def shine_from_rim(state, x, y, z, nx, ny, setup):
    """Light comes off a rim into the air, seen where a viewer looks into the hole. Returns (state, ux, uy, uz)."""
    seen = INVERSE_PI * max(0.0, -nx * setup.sight.sin_out)
    score_through_hole(x, y, z, seen, setup)
    return sample_about(state, -nx, -ny, 0.0)


@kernel
def cross_opening(state, x, y, z, ux, uy, uz, up, down, setup):
    """Follow light in a hole or beside the outline until it enters the laminate or leaves at the plane of a face.

    What leaves for ever is booked under the fate `up` or `down`. Returns (state, where, x, y, z, ux, uy, uz).
    """
    face, slab = setup.face, setup.slab
    while True:
        side = FRONT_FACE if uz > 0.0 else BACK_FACE
        to_face = ((slab.thickness if uz > 0.0 else 0.0) - z) / uz if uz != 0.0 else math.inf
        to_wall = wall_distance(x, y, ux, uy, to_face, False, face)
        if to_wall >= to_face:
            if to_face < math.inf and is_held(side, setup):
                z = slab.thickness if uz > 0.0 else 0.0
                return state, side, x + ux * to_face, y + uy * to_face, z, ux, uy, uz
            add_fate(up if uz > 0.0 else down, 1.0, setup)
            return state, ENDED, x, y, z, ux, uy, uz
        x, y, z = x + ux * to_wall, y + uy * to_wall, z + uz * to_wall
        nx, ny = into_laminate(face_pixel(face, x, y), face)
        plated = face.body[face_pixel(face, x - nx * face.pitch, y - ny * face.pitch)] == PLATED_HOLE
        state, where, ux, uy, uz = meet_rim(state, x, y, z, nx, ny, plated, setup)
        if where != BEHIND:
            return state, where, x, y, z, ux, uy, uz


@kernel
def meet_wall(state, x, y, z, setup):
    """Light inside the slab meets a rim, its absorption settled. Returns (state, where, x, y, z, ux, uy, uz)."""
    face, slab = setup.face, setup.slab
    pixel = face_pixel(face, x, y)
    body = face.body[pixel]
    nx, ny = into_laminate(pixel, face)
    if body == PLATED_HOLE:
        scale_weights(slab.plating, 1.0, ABSORBED, setup)
    else:
        state, u = next_uniform(state)
        if u >= slab.rim_inside:
            state, ux, uy, uz = shine_from_rim(state, x, y, z, nx, ny, setup)
            up, down = (EDGE, EDGE) if body == OUTSIDE else (THROUGH, HOLE)
            return cross_opening(state, x, y, z, ux, uy, uz, up, down, setup)
    state, ux, uy, uz = scatter_diffusely(state, x, y, z, nx, ny, 0.0, 1.0, setup)
    return state, INSIDE, x, y, z, ux, uy, uz
