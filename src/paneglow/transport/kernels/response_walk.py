"""The walk of `walk.py` again, for responses: it carries several scattering coefficients, and can watch for features.

A channel whose laminate scatters with s' instead of s weighs s'/s at every collision and exp(-(s' - s) path):
perturbation Monte Carlo (C. K. Hayakawa et al., Opt. Lett. 26:1335, 2001, doi 10.1364/OL.26.001335, from memory). The
second factor stands in `slab.absorb`, the first is `ratio`.

While it watches, a photon walks in the endless slab and stops just before it meets anything that the endless slab does
not have: another face class, a wall, copper inside. What the board adds to the endless slab begins there.
"""

import math

from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.face import meet_face
from paneglow.transport.kernels.inputs import BACK_FACE, EDGE, ENDED, FRONT_FACE, INSIDE
from paneglow.transport.kernels.phase import free_length, scattered
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.view import face_pixel
from paneglow.transport.kernels.walk import (
    FARTHEST,
    inner_copper_ahead,
    meet_inner_copper,
    score_collision,
    see_collision,
)
from paneglow.transport.kernels.walls import meet_wall, wall_distance
from paneglow.transport.kernels.weights import add_fate, settle_absorption, survives_roulette

DIFFERS = 4  # where a watching walk stopped: beside `ENDED` and its kin
SHORT_OF = 1e-7  # mm before copper inside the slab, so that the walk that goes on meets it


@inner_kernel
def weigh_collision(ratio, weight):
    for c in range(ratio.size):
        weight[c] *= ratio[c]


@inner_kernel
def free_legs(state, z, uz, slab):
    """Lengths to the next collision and to the face ahead. Returns (state, free, to_face)."""
    state, u = next_uniform(state)
    free = free_length(u, slab.free_path)
    to_face = math.inf
    if uz > 0.0:
        to_face = (slab.thickness - z) / uz
    elif uz < 0.0:
        to_face = -z / uz
    return state, free, to_face


@inner_kernel
def wall_ahead(x, y, ux, uy, leg, face):
    """Length to a wall within a leg; inf where there is none."""
    row, column = face_pixel(face, x, y)
    if (ux * ux + uy * uy) * leg * leg < (face.clear[row, column] * face.pitch) ** 2:
        return math.inf
    to_wall = wall_distance(x, y, ux, uy, leg, face)
    return to_wall if to_wall <= leg and to_wall < FARTHEST else math.inf


@inner_kernel
def walk_until_different(state, x, y, z, ux, uy, uz, ratio, base, face, plain, coat, slab, view, work):
    """Walk in the endless slab `plain`, unscored, until it ends, leaves or is about to meet what `face` has besides.

    `base[side]` are the classes of the endless slab. Returns (state, where, x, y, z, ux, uy, uz).
    """
    path = 0.0
    while True:
        state, free, to_face = free_legs(state, z, uz, slab)
        leg = min(free, to_face)
        layer = -1
        if face.inner_z.size > 0:
            leg, layer = inner_copper_ahead(x, y, z, ux, uy, uz, leg, face)
        to_wall = wall_ahead(x, y, ux, uy, leg, face)
        if to_wall <= leg:
            settle_absorption(path + to_wall, slab, view, work)
            return state, DIFFERS, x + ux * to_wall, y + uy * to_wall, z + uz * to_wall, ux, uy, uz
        if leg > FARTHEST:
            return state, ENDED, x, y, z, ux, uy, uz
        if layer >= 0:
            leg -= SHORT_OF / abs(uz)
            settle_absorption(path + leg, slab, view, work)
            return state, DIFFERS, x + ux * leg, y + uy * leg, z + uz * leg, ux, uy, uz
        x += ux * leg
        y += uy * leg
        if free < to_face:
            z += uz * leg
            path += leg
            weigh_collision(ratio, work.weight)
            state, ux, uy, uz = scattered(state, ux, uy, uz, slab.asymmetry)
            continue
        settle_absorption(path + leg, slab, view, work)
        path = 0.0
        side = FRONT_FACE if uz > 0.0 else BACK_FACE
        z = slab.thickness if side == FRONT_FACE else 0.0
        row, column = face_pixel(face, x, y)
        if face.classes[side, row, column] != base[side]:
            return state, DIFFERS, x, y, z, ux, uy, uz
        n = 1.0 / slab.refractive_index
        state, where, ux, uy, uz = meet_face(state, side, x, y, ux, uy, uz, n, plain, coat, slab, view, work)
        if where != INSIDE:
            return state, where, x, y, z, ux, uy, uz
        state, alive = survives_roulette(state, work)
        if not alive:
            return state, ENDED, x, y, z, ux, uy, uz


@inner_kernel
def walk_scored(state, x, y, z, ux, uy, uz, fresh, ratio, face, coat, slab, view, work):
    """Walk and score toward the view, but for the first collision of a `fresh` photon that has met nothing before it.

    Returns (state, where, x, y, z, ux, uy, uz).
    """
    path = 0.0
    while True:
        state, free, to_face = free_legs(state, z, uz, slab)
        leg = min(free, to_face)
        layer = -1
        if face.inner_z.size > 0:
            leg, layer = inner_copper_ahead(x, y, z, ux, uy, uz, leg, face)
        to_wall = wall_ahead(x, y, ux, uy, leg, face)
        if to_wall <= leg:
            settle_absorption(path + to_wall, slab, view, work)
            path = 0.0
            x, y, z = x + ux * to_wall, y + uy * to_wall, z + uz * to_wall
            state, where, x, y, ux, uy, uz = meet_wall(state, x, y, z, ux, uy, uz, face, coat, slab, view, work)
            if where == ENDED:
                return state, ENDED, x, y, z, ux, uy, uz
        elif leg > FARTHEST:
            add_fate(EDGE, 1.0, view, work)
            return state, ENDED, x, y, z, ux, uy, uz
        else:
            x += ux * leg
            y += uy * leg
            if layer < 0 and free < to_face:
                z += uz * leg
                path += leg
                weigh_collision(ratio, work.weight)
                if fresh:
                    fresh = False
                    state, ux, uy, uz = scattered(state, ux, uy, uz, slab.asymmetry)
                    continue
                state, chance = next_uniform(state)
                heavier = see_collision(chance, z, slab)
                if heavier > 0.0:
                    state = score_collision(state, heavier, x, y, z, ux, uy, uz, path, face, coat, slab, view, work)
                state, ux, uy, uz = scattered(state, ux, uy, uz, slab.asymmetry)
                continue
            settle_absorption(path + leg, slab, view, work)
            path = 0.0
            if layer >= 0:
                z = face.inner_z[layer]
                state, ux, uy, uz = meet_inner_copper(state, x, y, z, uz, layer, face, coat, slab, view, work)
            else:
                side = FRONT_FACE if uz > 0.0 else BACK_FACE
                z = slab.thickness if side == FRONT_FACE else 0.0
                n = 1.0 / slab.refractive_index
                state, where, ux, uy, uz = meet_face(state, side, x, y, ux, uy, uz, n, face, coat, slab, view, work)
                if where != INSIDE:
                    return state, where, x, y, z, ux, uy, uz
        fresh = False
        state, alive = survives_roulette(state, work)
        if not alive:
            return state, ENDED, x, y, z, ux, uy, uz
