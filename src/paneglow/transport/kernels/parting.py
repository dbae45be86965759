"""How companions (`company.py`) join a photon and part from it."""

import math

import numpy as np

from paneglow.transport.kernels.company import (
    COSINE,
    FOLLOWING,
    ORIGIN_X,
    ORIGIN_Y,
    PARTED,
    SINE,
    company_size,
    placed,
)
from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.inputs import AT_FACE, BACK_FACE, FRONT_FACE, INSIDE, LAMINATE, UNMET
from paneglow.transport.kernels.random import GOLDEN, MIX_1, next_uniform, scrambled
from paneglow.transport.kernels.view import face_pixel

PARTED_CHANCE = 2.0  # over the number in the company: share of those that part which walk on
# Steps of the starts over the LED from one companion to the next, in its sides: the plane's sequence of lowest
# discrepancy (M. Roberts' R-sequence, from memory; only its evenness matters)
STEP_U = 0.7548776662466927
STEP_V = 0.5698402909980532


@inner_kernel
def scale_all(share, work):
    for c in range(work.weight.size):
        work.weight[c] *= share


@inner_kernel
def drop_companion(m, company):
    """The last of those that follow takes the place of m."""
    last = company.count[FOLLOWING] - 1
    for column in range(4):
        company.place[m, column] = company.place[last, column]
    company.count[FOLLOWING] = last


@inner_kernel
def keep_parted(m, state, where, x, y, z, ux, uy, uz, path, share, work):
    """Put companion m, with a share of the company's weight, on the pile of those that walk on alone."""
    company = work.company
    row = company.count[PARTED]
    at_x, at_y = placed(company, m, x, y)
    cosine, sine = company.place[m, COSINE], company.place[m, SINE]
    parted = company.parted
    parted[row, 0], parted[row, 1], parted[row, 2] = at_x, at_y, z
    parted[row, 3], parted[row, 4], parted[row, 5] = cosine * ux - sine * uy, sine * ux + cosine * uy, uz
    parted[row, 6] = path
    for c in range(work.weight.size):
        parted[row, 7 + c] = work.weight[c] * share
    company.parted_state[row] = state
    company.parted_where[row] = where
    company.count[PARTED] = row + 1


@inner_kernel
def take_parted(work):
    """The last of the pile, its weights in the workspace. Returns (state, where, x, y, z, ux, uy, uz, path)."""
    company = work.company
    row = company.count[PARTED] - 1
    company.count[PARTED] = row
    parted = company.parted
    for c in range(work.weight.size):
        work.weight[c] = parted[row, 7 + c]
    return (
        company.parted_state[row],
        company.parted_where[row],
        parted[row, 0],
        parted[row, 1],
        parted[row, 2],
        parted[row, 3],
        parted[row, 4],
        parted[row, 5],
        parted[row, 6],
    )


@inner_kernel
def own_stream(state, m):
    """A random state for a companion that goes its own way."""
    return scrambled(np.uint64(state) ^ (np.uint64(m + 1) * MIX_1 + GOLDEN))


@inner_kernel
def stays(m, side, k, leader_walks, x, y, face, company):
    """Whether a companion meets a face of the leader's class there."""
    row, column = face_pixel(face, *placed(company, m, x, y))
    if not leader_walks or face.body[row, column] != LAMINATE:
        return False
    return face.classes[side, row, column] == k


@inner_kernel
def part_at_face(state, side, where, start, x, y, ux, uy, uz, face, work):
    """Companions that meet another class than the leader does at x, y part. Returns the random state.

    They take up again at `start` = (x, y, z) of the leader, as `where` says.
    """
    company = work.company
    row, column = face_pixel(face, x, y)
    k = face.classes[side, row, column]
    leader_walks = face.body[row, column] == LAMINATE
    each = 1.0 / float(company_size(work) + 1)
    chance = min(1.0, PARTED_CHANCE * each)
    comb = -1.0
    left = 0
    m = 0
    while m < company_size(work):
        if stays(m, side, k, leader_walks, x, y, face, company):
            m += 1
            continue
        if comb < 0.0:
            state, comb = next_uniform(state)
        comb += chance
        left += 1
        if comb >= 1.0:
            comb -= 1.0
            own = own_stream(state, left)
            keep_parted(m, own, where, start[0], start[1], start[2], ux, uy, uz, 0.0, each / chance, work)
        drop_companion(m, company)
    scale_all(1.0 - float(left) * each, work)
    return state


@inner_kernel
def part_all(state, where, x, y, z, ux, uy, uz, work):
    """Every companion parts. Returns the random state."""
    company = work.company
    n = company_size(work)
    if n == 0:
        return state
    each = 1.0 / float(n + 1)
    chance = min(1.0, PARTED_CHANCE * each)
    state, comb = next_uniform(state)
    for m in range(n):
        comb += chance
        if comb >= 1.0:
            comb -= 1.0
            keep_parted(m, own_stream(state, m), where, x, y, z, ux, uy, uz, 0.0, each / chance, work)
    company.count[FOLLOWING] = 0
    scale_all(each, work)
    return state


@inner_kernel
def part_near_walls(before, leg, x, y, z, ux, uy, uz, path, face, work):
    """Companions that may meet a wall within `leg` part; returns the least way [mm] that the others are safe for.

    That they part depends on the leg drawn from the state `before`, so they take up with that state, to draw it again.
    """
    company = work.company
    each = 1.0 / float(company_size(work) + 1)
    chance = min(1.0, PARTED_CHANCE * each)
    # Apart from the stream that leader and companion share from here
    _, comb = next_uniform(own_stream(before, 0))
    least = math.inf
    left = 0
    m = 0
    while m < company_size(work):
        row, column = face_pixel(face, *placed(company, m, x, y))
        clear = face.clear[row, column] * face.pitch
        if clear > leg:
            least = min(least, clear)
            m += 1
            continue
        comb += chance
        left += 1
        if comb >= 1.0:
            comb -= 1.0
            keep_parted(m, before, INSIDE, x, y, z, ux, uy, uz, path, each / chance, work)
        drop_companion(m, company)
    scale_all(1.0 - float(left) * each, work)
    return least


@inner_kernel
def start_u(along, m):
    """Companion m's place along a side of the LED, in its length from one end."""
    place = along + float(m + 1) * STEP_U
    return place - math.floor(place)


@inner_kernel
def start_v(across, m):
    place = across + float(m + 1) * STEP_V
    return place - math.floor(place)


@inner_kernel
def gather_company(state, x, y, z, ux, uy, uz, emitter, face, work):
    """Companions of a photon that has left its LED toward the board; those that meet another face there part at once.

    Returns the random state.
    """
    company = work.company
    dx, dy = x - emitter.centre[0], y - emitter.centre[1]
    along = (dx * emitter.u[0] + dy * emitter.u[1]) / emitter.size_u + 0.5 if emitter.size_u > 0.0 else 0.0
    across = (dx * emitter.v[0] + dy * emitter.v[1]) / emitter.size_v + 0.5 if emitter.size_v > 0.0 else 0.0
    for m in range(emitter.n_companions):
        a = (start_u(along, m) - 0.5) * emitter.size_u
        b = (start_v(across, m) - 0.5) * emitter.size_v
        cosine, sine = company.turn[m, COSINE], company.turn[m, SINE]
        company.place[m, COSINE] = cosine
        company.place[m, SINE] = sine
        at_x = emitter.centre[0] + a * emitter.u[0] + b * emitter.v[0]
        at_y = emitter.centre[1] + a * emitter.u[1] + b * emitter.v[1]
        company.place[m, ORIGIN_X] = at_x - cosine * x + sine * y
        company.place[m, ORIGIN_Y] = at_y - sine * x - cosine * y
    company.count[FOLLOWING] = emitter.n_companions
    leg = -z / uz
    start = (x, y, z)
    return part_at_face(state, BACK_FACE, UNMET, start, x + ux * leg, y + uy * leg, ux, uy, uz, face, work)


@inner_kernel
def part_where_they_meet(state, x, y, z, ux, uy, uz, face, work):
    """The leader has come to a face from inside: who meets another class parts. Returns the random state."""
    side = FRONT_FACE if uz > 0.0 else BACK_FACE
    return part_at_face(state, side, AT_FACE, (x, y, z), x, y, ux, uy, uz, face, work)
