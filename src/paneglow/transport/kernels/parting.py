"""How companions (`company.py`) join a photon and part from it."""

import math

import numpy as np

from paneglow.transport.kernels.company import (
    COSINE,
    FIRST,
    LAST,
    ORIGIN_X,
    ORIGIN_Y,
    PARTED,
    SINE,
    place_of,
)
from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.inputs import AT_FACE, BACK_FACE, FRONT_FACE, INSIDE, LAMINATE, UNMET
from paneglow.transport.kernels.random import GOLDEN, MIX_1, next_uniform, scrambled
from paneglow.transport.kernels.view import face_pixel
from paneglow.transport.kernels.weights import heaviest_weight

PARTED_WEIGHT = 0.25  # a group that parts with less goes on more rarely and as heavy as this, mean unchanged
# Steps of the starts over the LED from one companion to the next, in its sides: the plane's sequence of lowest
# discrepancy (M. Roberts' R-sequence, from memory; only its evenness matters)
STEP_U = 0.7548776662466927
STEP_V = 0.5698402909980532


@inner_kernel
def scale_all(share, work):
    for c in range(work.weight.size):
        work.weight[c] *= share


@inner_kernel
def own_stream(state, m):
    """A random state for companions that go their own way."""
    return scrambled(np.uint64(state) ^ (np.uint64(m + 1) * MIX_1 + GOLDEN))


@inner_kernel
def lead(first, leader, company):
    """Give the places of the rows from `first` to before `leader` from where that one is, not its own leader."""
    place = company.place
    own_cosine, own_sine = place[leader, COSINE], place[leader, SINE]
    own_x, own_y = place[leader, ORIGIN_X], place[leader, ORIGIN_Y]
    for row in range(first, leader):
        cosine = place[row, COSINE] * own_cosine + place[row, SINE] * own_sine
        sine = place[row, SINE] * own_cosine - place[row, COSINE] * own_sine
        place[row, COSINE], place[row, SINE] = cosine, sine
        place[row, ORIGIN_X] -= cosine * own_x - sine * own_y
        place[row, ORIGIN_Y] -= sine * own_x + cosine * own_y


@inner_kernel
def keep_parted(first, last, state, where, x, y, z, ux, uy, uz, path, share, work):
    """Put a group, rows from `first` to before `last`, on the pile of those that go on; the last of them leads."""
    company = work.company
    leader = last - 1
    at_x, at_y = place_of(leader, company, x, y)
    cosine, sine = company.place[leader, COSINE], company.place[leader, SINE]
    lead(first, leader, company)
    parted = company.parted
    group = company.rows[PARTED]
    parted[group, 0], parted[group, 1], parted[group, 2] = at_x, at_y, z
    parted[group, 3], parted[group, 4], parted[group, 5] = cosine * ux - sine * uy, sine * ux + cosine * uy, uz
    parted[group, 6] = path
    for c in range(work.weight.size):
        parted[group, 7 + c] = work.weight[c] * share
    company.parted_state[group] = state
    what = company.parted_what
    what[group, 0], what[group, 1], what[group, 2] = where, first, leader
    company.rows[PARTED] = group + 1


@inner_kernel
def take_parted(work):
    """The last group of the pile, its weights in the workspace. Returns (state, where, x, y, z, ux, uy, uz, path)."""
    company = work.company
    group = company.rows[PARTED] - 1
    company.rows[PARTED] = group
    company.rows[FIRST] = company.parted_what[group, 1]
    company.rows[LAST] = company.parted_what[group, 2]
    parted = company.parted
    for c in range(work.weight.size):
        work.weight[c] = parted[group, 7 + c]
    return (
        company.parted_state[group],
        company.parted_what[group, 0],
        parted[group, 0],
        parted[group, 1],
        parted[group, 2],
        parted[group, 3],
        parted[group, 4],
        parted[group, 5],
        parted[group, 6],
    )


@inner_kernel
def part_group(state, first, last, where, x, y, z, ux, uy, uz, work):
    """A group, rows from `first` to before `last`, takes its share of the weights; it goes on, or is dropped.

    It takes up again with its leader at x, y, z, as `where` says. Returns the random state.
    """
    share = float(last - first) / float(work.company.rows[LAST] - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * share / PARTED_WEIGHT)
    state, u = next_uniform(state)
    if u < chance:
        keep_parted(first, last, own_stream(state, 0), where, x, y, z, ux, uy, uz, 0.0, share / chance, work)
    work.company.rows[FIRST] = last
    scale_all(1.0 - share, work)
    return state


@inner_kernel
def exchange(row, other, place):
    for column in range(4):
        place[row, column], place[other, column] = place[other, column], place[row, column]


@inner_kernel
def part_at_face(state, side, where, start, x, y, ux, uy, uz, face, work):
    """Companions that meet another face than the leader does at x, y part. Returns the random state.

    They take up again at `start` = (x, y, z) of the leader, as `where` says.
    """
    company = work.company
    row, column = face_pixel(face, x, y)
    k, body = face.classes[side, row, column], face.body[row, column]
    first, last = company.rows[FIRST], company.rows[LAST]
    end = first
    for m in range(first, last):
        row, column = face_pixel(face, *place_of(m, company, x, y))
        if face.body[row, column] == body and (body != LAMINATE or face.classes[side, row, column] == k):
            continue
        exchange(m, end, company.place)
        end += 1
    if end == first:
        return state
    return part_group(state, first, end, where, start[0], start[1], start[2], ux, uy, uz, work)


@inner_kernel
def part_all(state, where, x, y, z, ux, uy, uz, work):
    """Every companion goes on alone, or is dropped. Returns the random state."""
    company = work.company
    first, last = company.rows[FIRST], company.rows[LAST]
    each = 1.0 / float(last - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * each / PARTED_WEIGHT)
    state, comb = next_uniform(state)
    for m in range(first, last):
        comb += chance
        if comb >= 1.0:
            comb -= 1.0
            keep_parted(m, m + 1, own_stream(state, m), where, x, y, z, ux, uy, uz, 0.0, each / chance, work)
    company.rows[LAST] = first
    scale_all(each, work)
    return state


@inner_kernel
def part_near_walls(before, leg, x, y, z, ux, uy, uz, path, face, work):
    """Companions that may meet a wall within `leg` part; returns the least way [mm] that the others are safe for.

    That they part depends on the leg drawn from the state `before`, so they take up with that state, to draw it again.
    """
    company = work.company
    first, last = company.rows[FIRST], company.rows[LAST]
    each = 1.0 / float(last - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * each / PARTED_WEIGHT)
    # Apart from the stream that leader and companion share from here
    _, comb = next_uniform(own_stream(before, 0))
    least = math.inf
    end = first
    for m in range(first, last):
        row, column = face_pixel(face, *place_of(m, company, x, y))
        clear = face.clear[row, column] * face.pitch
        if clear > leg:
            least = min(least, clear)
            continue
        exchange(m, end, company.place)
        comb += chance
        if comb >= 1.0:
            comb -= 1.0
            keep_parted(end, end + 1, before, INSIDE, x, y, z, ux, uy, uz, path, each / chance, work)
        end += 1
    company.rows[FIRST] = end
    scale_all(1.0 - float(end - first) * each, work)
    return least


@inner_kernel
def moved_along(dx, dy, m, step, side, size):
    """How far [mm] companion m starts from the leader along a side of the LED; dx, dy lead there from its centre."""
    if size <= 0.0 or side[2] != 0.0:
        # Along a side that rises it would start at another height
        return 0.0
    share = (dx * side[0] + dy * side[1]) / size + 0.5
    other = share + float(m + 1) * step
    return (other - math.floor(other) - share) * size


@inner_kernel
def gather_company(x, y, emitter, work):
    """Companions of a photon that leaves its LED at x, y toward the board."""
    company = work.company
    dx, dy = x - emitter.centre[0], y - emitter.centre[1]
    for m in range(emitter.n_companions):
        a = moved_along(dx, dy, m, STEP_U, emitter.u, emitter.size_u)
        b = moved_along(dx, dy, m, STEP_V, emitter.v, emitter.size_v)
        cosine, sine = company.turn[m, COSINE], company.turn[m, SINE]
        at_x, at_y = x + a * emitter.u[0] + b * emitter.v[0], y + a * emitter.u[1] + b * emitter.v[1]
        company.place[m, COSINE] = cosine
        company.place[m, SINE] = sine
        company.place[m, ORIGIN_X] = at_x - cosine * x + sine * y
        company.place[m, ORIGIN_Y] = at_y - sine * x - cosine * y
    company.rows[FIRST], company.rows[LAST] = 0, emitter.n_companions


@inner_kernel
def part_where_they_enter(state, x, y, z, ux, uy, uz, face, work):
    """The leader flies to the board for the first time: who meets another face part. Returns the random state."""
    leg = -z / uz
    return part_at_face(state, BACK_FACE, UNMET, (x, y, z), x + ux * leg, y + uy * leg, ux, uy, uz, face, work)


@inner_kernel
def part_where_they_meet(state, x, y, z, ux, uy, uz, face, work):
    """The leader has come to a face from inside: who meets another face part. Returns the random state."""
    side = FRONT_FACE if uz > 0.0 else BACK_FACE
    return part_at_face(state, side, AT_FACE, (x, y, z), x, y, ux, uy, uz, face, work)


@inner_kernel
def part_at_wall(state, x, y, z, ux, uy, uz, work):
    """The leader has come to a wall, all others are clear of theirs and go on together. Returns the random state."""
    first, last = work.company.rows[FIRST], work.company.rows[LAST]
    return part_group(state, first, last, INSIDE, x, y, z, ux, uy, uz, work)
