"""A photon's replicas: one path followed at many places at a time, as long as the board is alike there.

A walk through laminate costs far more than scoring it, and the laminate does not know where the walk began: turned
about the vertical, and begun at another point of the LED, the same path is as likely as itself. So a photon brings
replicas of its path, each a fair photon of its own: same polar angle and same chances, another azimuth and another
start. All weights that are booked are those of the photon and its replicas together. Replicas that come to a face
unlike the photon's split off: one of them goes on later as the photon of the others, or, where little light is theirs,
they are dropped and in turn made heavier where they are not.

That light spreads alike from wherever it enters is what convolving Monte Carlo results by the beam stands on (L. Wang,
S. L. Jacques, L. Zheng, Comput. Methods Programs Biomed. 54:141, 1997, doi 10.1016/S0169-2607(97)00021-7); here it is
used path by path, so that it need hold only until a path meets something that breaks it.
"""

import math

import numpy as np

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.inputs import AT_FACE, BACK_FACE, FRONT_FACE, INSIDE, LAMINATE, UNMET, face_pixel
from paneglow.transport.kernels.random import GOLDEN, MIX_1, next_uniform, scrambled
from paneglow.transport.kernels.weights import heaviest_weight

SPLIT_WEIGHT = 0.25  # a group that splits off with less goes on more rarely and as heavy as this, mean unchanged
# Steps of the starts over the LED from one replica to the next, in its sides: the plane's sequence of lowest
# discrepancy (M. Roberts, The unreasonable effectiveness of quasirandom sequences, 2018; only its evenness matters)
STEP_U = 0.7548776662466927
STEP_V = 0.5698402909980532
# Columns of Replicas.rows: the replicas from the first up to the last are those that follow
FIRST = 0
LAST = 1
SPLIT = 2
COSINE = 0  # rows of Replicas.turn and Replicas.place
SINE = 1
ORIGIN_X = 2
ORIGIN_Y = 3


@hot_kernel
def count_replicas(work):
    """Replicas that follow."""
    return work.replicas.rows[LAST] - work.replicas.rows[FIRST]


@hot_kernel
def replica_in_row(row, replicas, x, y):
    """Where the replica of a row is while the photon is at x, y."""
    place = replicas.place
    return (
        place[ORIGIN_X, row] + place[COSINE, row] * x - place[SINE, row] * y,
        place[ORIGIN_Y, row] + place[SINE, row] * x + place[COSINE, row] * y,
    )


@hot_kernel
def replica_place(replicas, m, x, y):
    """Where replica m of those that follow is while the photon is at x, y."""
    return replica_in_row(replicas.rows[FIRST] + m, replicas, x, y)


@kernel
def locate_replicas(x, y, setup):
    """Fill `pixel` with the board's pixels of all that follow while the photon is at x, y, several at a time."""
    face, replicas = setup.face, setup.work.replicas
    first, last = replicas.rows[FIRST], replicas.rows[LAST]
    cosine, sine = replicas.place[COSINE, first:last], replicas.place[SINE, first:last]
    origin_x, origin_y = replicas.place[ORIGIN_X, first:last], replicas.place[ORIGIN_Y, first:last]
    pixel = replicas.pixel[first:last]
    x_min, y_min, inverse_pitch, n_x = face.x_min, face.y_min, face.inverse_pitch, np.int32(face.n_x)
    most_x, most_y = float(face.n_x - 1), float(face.n_y - 1)
    for m in range(pixel.size):
        at_x = (origin_x[m] + cosine[m] * x - sine[m] * y - x_min) * inverse_pitch
        at_y = (origin_y[m] + sine[m] * x + cosine[m] * y - y_min) * inverse_pitch
        pixel[m] = np.int32(min(max(at_y, 0.0), most_y)) * n_x + np.int32(min(max(at_x, 0.0), most_x))


@kernel
def spot_replicas(x, y, setup):
    """Fill `spot` with the map's pixels of all that follow while the photon is at x, y; -1 beside the map."""
    view, replicas = setup.sight, setup.work.replicas
    first, last = replicas.rows[FIRST], replicas.rows[LAST]
    cosine, sine = replicas.place[COSINE, first:last], replicas.place[SINE, first:last]
    origin_x, origin_y = replicas.place[ORIGIN_X, first:last], replicas.place[ORIGIN_Y, first:last]
    spot = replicas.spot[first:last]
    x_min, y_min, inverse_pitch, n_x = view.x_min, view.y_min, view.inverse_pitch, np.int32(view.n_x)
    end_x, end_y = float(view.n_x), float(view.n_y)
    for m in range(spot.size):
        at_x = (origin_x[m] + cosine[m] * x - sine[m] * y - x_min) * inverse_pitch
        at_y = (origin_y[m] + sine[m] * x + cosine[m] * y - y_min) * inverse_pitch
        inside = (at_x >= 0.0) & (at_y >= 0.0) & (at_x < end_x) & (at_y < end_y)
        at = np.int32(at_y if inside else 0.0) * n_x + np.int32(at_x if inside else 0.0)
        spot[m] = at if inside else np.int32(-1)


@kernel
def book_replica_angles(x, y, bin_number, share, setup):
    """Book what leaves the front under window and polar angle for every replica of a photon at x, y."""
    view, work = setup.sight, setup.work
    replicas, angles, windows = work.replicas, work.angles, setup.face.window
    values, n_versions = replicas.values, view.n_versions
    for version in range(n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            total += work.weight[version * view.n_nodes + node] * view.xyz[node, 1]
        values[version] = share * total
    locate_replicas(x, y, setup)
    for row in range(replicas.rows[FIRST], replicas.rows[LAST]):
        window = int(windows[replicas.pixel[row]])
        if window < angles.shape[0]:
            for version in range(n_versions):
                angles[window, bin_number * n_versions + version] += values[version]


@kernel
def drop_replicas(work):
    """No replica follows any more: all of them have ended, or gone for ever, with the photon."""
    work.replicas.rows[LAST] = work.replicas.rows[FIRST]


@kernel
def count_split(work):
    """Groups that have split off and wait to be followed."""
    return work.replicas.rows[SPLIT]


@kernel
def scale_all(share, work):
    for c in range(work.weight.size):
        work.weight[c] *= share


@kernel
def own_stream(state, m):
    """A random state for replicas that go their own way."""
    return scrambled(np.uint64(state) ^ (np.uint64(m + 1) * MIX_1 + GOLDEN))


@kernel
def count_from(first, photon, replicas):
    """Give the places of the rows from `first` to before `photon` from where that one is, which follows no longer."""
    place = replicas.place
    own_cosine, own_sine = place[COSINE, photon], place[SINE, photon]
    own_x, own_y = place[ORIGIN_X, photon], place[ORIGIN_Y, photon]
    for row in range(first, photon):
        cosine = place[COSINE, row] * own_cosine + place[SINE, row] * own_sine
        sine = place[SINE, row] * own_cosine - place[COSINE, row] * own_sine
        place[COSINE, row], place[SINE, row] = cosine, sine
        place[ORIGIN_X, row] -= cosine * own_x - sine * own_y
        place[ORIGIN_Y, row] -= sine * own_x + cosine * own_y


@kernel
def keep_split(first, last, state, where, x, y, z, ux, uy, uz, path, share, work):
    """Pile up a group, rows from `first` to before `last`, to go on later; the last of them is its photon."""
    replicas = work.replicas
    photon = last - 1
    at_x, at_y = replica_in_row(photon, replicas, x, y)
    cosine, sine = replicas.place[COSINE, photon], replicas.place[SINE, photon]
    count_from(first, photon, replicas)
    split = replicas.split
    group = replicas.rows[SPLIT]
    split[group, 0], split[group, 1], split[group, 2] = at_x, at_y, z
    split[group, 3], split[group, 4], split[group, 5] = cosine * ux - sine * uy, sine * ux + cosine * uy, uz
    split[group, 6] = path
    for c in range(work.weight.size):
        split[group, 7 + c] = work.weight[c] * share
    replicas.split_state[group] = state
    what = replicas.split_what
    what[group, 0], what[group, 1], what[group, 2] = where, first, photon
    replicas.rows[SPLIT] = group + 1


@kernel
def take_split(work):
    """The last group of the pile, its weights in the workspace. Returns (state, where, x, y, z, ux, uy, uz, path)."""
    replicas = work.replicas
    group = replicas.rows[SPLIT] - 1
    replicas.rows[SPLIT] = group
    replicas.rows[FIRST] = replicas.split_what[group, 1]
    replicas.rows[LAST] = replicas.split_what[group, 2]
    split = replicas.split
    for c in range(work.weight.size):
        work.weight[c] = split[group, 7 + c]
    return (
        replicas.split_state[group],
        replicas.split_what[group, 0],
        split[group, 0],
        split[group, 1],
        split[group, 2],
        split[group, 3],
        split[group, 4],
        split[group, 5],
        split[group, 6],
    )


@kernel
def split_group(state, first, last, where, x, y, z, ux, uy, uz, work):
    """A group, rows from `first` to before `last`, takes its share of the weights; it goes on, or is dropped.

    It takes up again with the photon at x, y, z, as `where` says. Returns the random state.
    """
    share = float(last - first) / float(work.replicas.rows[LAST] - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * share / SPLIT_WEIGHT)
    state, u = next_uniform(state)
    if u < chance:
        keep_split(first, last, own_stream(state, 0), where, x, y, z, ux, uy, uz, 0.0, share / chance, work)
    work.replicas.rows[FIRST] = last
    scale_all(1.0 - share, work)
    return state


@kernel
def exchange(row, other, place):
    for line in range(4):
        place[line, row], place[line, other] = place[line, other], place[line, row]


@kernel
def split_at_face(state, side, where, start, x, y, ux, uy, uz, setup):
    """Replicas that meet another face than the photon does at x, y split off. Returns the random state.

    They take up again at `start` = (x, y, z) of the photon, as `where` says.
    """
    face, work = setup.face, setup.work
    replicas = work.replicas
    pixel = face_pixel(face, x, y)
    k, body = face.classes[side, pixel], face.body[pixel]
    classes, bodies = face.classes[side], face.body
    first, last = replicas.rows[FIRST], replicas.rows[LAST]
    locate_replicas(x, y, setup)
    pixels = replicas.pixel
    end = first
    for m in range(first, last):
        pixel = pixels[m]
        if bodies[pixel] == body and (body != LAMINATE or classes[pixel] == k):
            continue
        exchange(m, end, replicas.place)
        end += 1
    if end == first:
        return state
    return split_group(state, first, end, where, start[0], start[1], start[2], ux, uy, uz, work)


@kernel
def split_all(state, where, x, y, z, ux, uy, uz, work):
    """Every replica goes on alone, or is dropped. Returns the random state."""
    replicas = work.replicas
    first, last = replicas.rows[FIRST], replicas.rows[LAST]
    each = 1.0 / float(last - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * each / SPLIT_WEIGHT)
    state, comb = next_uniform(state)
    for m in range(first, last):
        comb += chance
        if comb >= 1.0:
            comb -= 1.0
            keep_split(m, m + 1, own_stream(state, m), where, x, y, z, ux, uy, uz, 0.0, each / chance, work)
    replicas.rows[LAST] = first
    scale_all(each, work)
    return state


@kernel
def split_near_walls(before, leg, x, y, z, ux, uy, uz, path, setup):
    """Replicas that may meet a wall within `leg` split off; returns the least way [mm] that the others are safe for.

    That they split off depends on the leg drawn from the state `before`, so they take up with it, to draw it
    again.
    """
    face, work = setup.face, setup.work
    replicas = work.replicas
    first, last = replicas.rows[FIRST], replicas.rows[LAST]
    each = 1.0 / float(last - first + 1)
    chance = min(1.0, heaviest_weight(work.weight) * each / SPLIT_WEIGHT)
    # Apart from the stream that photon and replica share from here
    _, comb = next_uniform(own_stream(before, 0))
    locate_replicas(x, y, setup)
    pixels, clearance, pitch = replicas.pixel, face.clearance, face.pitch
    least = math.inf
    end = first
    for m in range(first, last):
        clear = clearance[pixels[m]] * pitch
        if clear > leg:
            least = min(least, clear)
            continue
        exchange(m, end, replicas.place)
        comb += chance
        if comb >= 1.0:
            comb -= 1.0
            keep_split(end, end + 1, before, INSIDE, x, y, z, ux, uy, uz, path, each / chance, work)
        end += 1
    replicas.rows[FIRST] = end
    scale_all(1.0 - float(end - first) * each, work)
    return least


@kernel
def share_along(dx, dy, side, size):
    """Where a photon starts along a side of the LED, from 0 to 1; dx, dy lead there from its centre.

    Returns (share, size to move replicas over): along a side that rises they would start at another height.
    """
    if size <= 0.0 or side[2] != 0.0:
        return 0.0, 0.0
    return (dx * side[0] + dy * side[1]) / size + 0.5, size


@kernel
def add_replicas(x, y, setup):
    """Give replicas to a photon that leaves its LED at x, y toward the board."""
    emitter = setup.emitter
    replicas = setup.work.replicas
    u_x, u_y, v_x, v_y = emitter.u[0], emitter.u[1], emitter.v[0], emitter.v[1]
    dx, dy = x - emitter.centre[0], y - emitter.centre[1]
    share_u, size_u = share_along(dx, dy, emitter.u, emitter.size_u)
    share_v, size_v = share_along(dx, dy, emitter.v, emitter.size_v)
    turn, place = replicas.turn, replicas.place
    for m in range(emitter.n_replicas):
        along_u, along_v = share_u + float(m + 1) * STEP_U, share_v + float(m + 1) * STEP_V
        a = (along_u - math.floor(along_u) - share_u) * size_u
        b = (along_v - math.floor(along_v) - share_v) * size_v
        cosine, sine = turn[COSINE, m], turn[SINE, m]
        at_x, at_y = x + a * u_x + b * v_x, y + a * u_y + b * v_y
        place[COSINE, m] = cosine
        place[SINE, m] = sine
        place[ORIGIN_X, m] = at_x - cosine * x + sine * y
        place[ORIGIN_Y, m] = at_y - sine * x - cosine * y
    replicas.rows[FIRST], replicas.rows[LAST] = 0, emitter.n_replicas


@kernel
def split_on_entry(state, x, y, z, ux, uy, uz, setup):
    """The photon flies to the board for the first time: who meets another face splits off. Returns the random state."""
    leg = -z / uz
    return split_at_face(state, BACK_FACE, UNMET, (x, y, z), x + ux * leg, y + uy * leg, ux, uy, uz, setup)


@kernel
def split_at_inner_face(state, x, y, z, ux, uy, uz, setup):
    """The photon has come to a face from inside: who meets another face splits off. Returns the random state."""
    side = FRONT_FACE if uz > 0.0 else BACK_FACE
    return split_at_face(state, side, AT_FACE, (x, y, z), x, y, ux, uy, uz, setup)


@kernel
def split_at_wall(state, x, y, z, ux, uy, uz, work):
    """The photon has come to a wall, all others are clear of theirs and go on together. Returns the random state."""
    first, last = work.replicas.rows[FIRST], work.replicas.rows[LAST]
    return split_group(state, first, last, INSIDE, x, y, z, ux, uy, uz, work)
