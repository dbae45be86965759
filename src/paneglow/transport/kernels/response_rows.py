"""Rows of a response: many photons that enter the back face alike, scored on maps.

A spread row enters an endless slab at the origin, moving toward +x; a difference row enters the real board within a
cell and scores what the board makes of it and what the endless slab would have, from where they part. The walk is that
of every trace (`walk.py`).

A channel whose laminate scatters with s' instead of s weighs s'/s at every collision and exp(-(s' - s) path):
perturbation Monte Carlo (C. K. Hayakawa et al., Opt. Lett. 26:1335, 2001, doi 10.1364/OL.26.001335, from memory). The
second factor stands in `slab.absorb`, the first in `slab.collision_ratio`.
"""

import math

from paneglow.transport.kernels.air import fly_in_air
from paneglow.transport.kernels.compile import entry, kernel
from paneglow.transport.kernels.face import enter_face
from paneglow.transport.kernels.inputs import (
    AT_COPPER,
    AT_FACE,
    AT_WALL,
    BACK_FACE,
    BEFORE,
    COLLIDED,
    ENDED,
    FRONT_FACE,
    INSIDE,
    LAMINATE,
    Setup,
    face_pixel,
)
from paneglow.transport.kernels.phase import turned
from paneglow.transport.kernels.random import next_uniform, stream_start
from paneglow.transport.kernels.reference import refer
from paneglow.transport.kernels.walk import fly, meet, walk, weigh_collision
from paneglow.transport.kernels.walls import is_held
from paneglow.transport.kernels.weights import settle_absorption

# Additive recurrence of lowest discrepancy in four dimensions, as in launch.py
STRIDE_1 = 0.8566748838545029
STRIDE_2 = 0.733891856627126
STRIDE_3 = 0.6287067210378087
STRIDE_4 = 0.5385972572236101
SHIFT_STREAM = 1 << 40
STEEPEST = 1e-4  # cosine to the normal below which light does not reach the face within any board
SHORT_OF = 1e-7  # mm before copper inside the slab, so that the walk that goes on meets it


@kernel
def walk_until_different(state, x, y, z, ux, uy, uz, base, board, endless):
    """Walk in the endless slab, unscored, until it ends, leaves or is about to meet what the board has besides.

    `base[side]` are the classes of the endless slab. Returns (state, where, x, y, z, ux, uy, uz, differs).
    """
    path = 0.0
    safe = 0.0
    while True:
        state, where, layer, x, y, z, safe, leg, u, turns = fly(state, x, y, z, ux, uy, uz, safe, board)
        path += leg
        if where == COLLIDED:
            weigh_collision(board)
            ux, uy, uz = turned(ux, uy, uz, board.slab.asymmetry, u, turns)
            continue
        differs = where == AT_WALL or where == AT_COPPER
        if where == AT_COPPER:
            back = SHORT_OF / abs(uz)
            x, y, z, path = x - ux * back, y - uy * back, z - uz * back, path - back
        if where == AT_FACE:
            side = FRONT_FACE if uz > 0.0 else BACK_FACE
            pixel = face_pixel(board.face, x, y)
            differs = board.face.classes[side, pixel] != base[side]
        if differs:
            settle_absorption(path, board)
            return state, (AT_FACE if where == AT_FACE else INSIDE), x, y, z, ux, uy, uz, True
        state, where, x, y, z, ux, uy, uz = meet(state, where, layer, x, y, z, ux, uy, uz, path, endless)
        path = 0.0
        if where != INSIDE:
            return state, where, x, y, z, ux, uy, uz, False


@kernel
def run_on(state, where, x, y, z, ux, uy, uz, scored, setup, books):
    """Follow a photon to its end, scored; the first scattering of one that is not `scored` is left to the asking.

    `books` hold sums of weights, and of their squares, of what leaves the front: for the effective number of photons.
    """
    while where != ENDED:
        if where == INSIDE or where == AT_FACE:
            state, where, x, y, z, ux, uy, uz = walk(state, where, x, y, z, ux, uy, uz, 0.0, scored, setup)
            scored = True
            if where == BEFORE:
                weight = setup.work.weight
                for c in range(weight.size):
                    books[0, c] += weight[c]
                    books[1, c] += weight[c] * weight[c]
        elif not is_held(where, setup):
            return state
        else:
            state, where, x, y, z, ux, uy, uz = fly_in_air(state, where, x, y, z, ux, uy, uz, True, setup)
    return state


@kernel
def fill(weight, value):
    for c in range(weight.size):
        weight[c] = value


@entry
def trace_spread_row(row, n_photons, seed, sine2_low, sine2_high, first_apart, entered_face, setup, books):
    """Photons into the endless slab at the origin; squared sines of incidence between two bounds.

    `first_apart` leaves out light that is seen after one scattering on the way in: it is asked for ray by ray.
    """
    emitter, face, coat, slab, air, view, work = setup
    entered = refer(Setup(emitter, entered_face, coat, slab, air, view, work))
    endless = refer(Setup(emitter, face, coat, slab, air, view, work))
    state = stream_start(seed, row, SHIFT_STREAM)
    state, shift = next_uniform(state)
    held = is_held(BACK_FACE, endless)
    for photon in range(n_photons):
        state = stream_start(seed, row, photon)
        fill(work.weight, 1.0)
        sine2 = sine2_low + (sine2_high - sine2_low) * ((shift + photon * STRIDE_1) % 1.0)
        ux = math.sqrt(sine2)
        uz = max(STEEPEST, math.sqrt(1.0 - sine2))
        state, where, ux, uy, uz = enter_face(
            state, BACK_FACE, 0.0, 0.0, ux, 0.0, uz, slab.refractive_index, held, entered
        )
        scored = not (first_apart and where == INSIDE)
        run_on(state, where, 0.0, 0.0, 0.0, ux, uy, uz, scored, endless, books)


@kernel
def run_apart(state, where, x, y, z, ux, uy, uz, base, board, endless, unscored, books):
    """From inside: together until board and endless slab differ, then each on its own."""
    differs = False
    if where == INSIDE:
        state, where, x, y, z, ux, uy, uz, differs = walk_until_different(
            state, x, y, z, ux, uy, uz, base, board, unscored
        )
    if where == ENDED or not (differs or is_held(where, board)):
        return
    kept, weight = endless.work.saved_weight, board.work.weight
    for c in range(kept.size):
        kept[c] = weight[c]
    state = run_on(state, where, x, y, z, ux, uy, uz, True, board, books)
    for c in range(kept.size):
        weight[c] = kept[c]
    run_on(state, where, x, y, z, ux, uy, uz, True, endless, books)


@kernel
def trace_difference_row(
    row, n_photons, seed, cell, sine2_low, sine2_high, entry_class, reach, base, board, endless, unscored, entering,
    books,
):  # fmt: skip
    """Photons into the board; `cell` (x, y, side) bounds where their light is centred, `reach` inside the back face.

    Returns how many found laminate of the entry class there. The endless slab's `saved_weight` is its own, all other
    scratch is shared.
    """
    face, slab = board.face, board.slab
    state = stream_start(seed, row, SHIFT_STREAM)
    state, shift_1 = next_uniform(state)
    state, shift_2 = next_uniform(state)
    state, shift_3 = next_uniform(state)
    state, shift_4 = next_uniform(state)
    held = is_held(BACK_FACE, board)
    entered = 0
    for photon in range(n_photons):
        state = stream_start(seed, row, photon)
        fill(board.work.weight, 1.0)
        sine2 = sine2_low + (sine2_high - sine2_low) * ((shift_3 + photon * STRIDE_3) % 1.0)
        azimuth = 2.0 * math.pi * ((shift_4 + photon * STRIDE_4) % 1.0)
        sine = math.sqrt(sine2)
        ux = sine * math.cos(azimuth)
        uy = sine * math.sin(azimuth)
        uz = max(STEEPEST, math.sqrt(1.0 - sine2))
        sideways = reach / math.sqrt(slab.refractive_index * slab.refractive_index - sine2)
        x = cell[0] + cell[2] * ((shift_1 + photon * STRIDE_1) % 1.0) - sideways * ux
        y = cell[1] + cell[2] * ((shift_2 + photon * STRIDE_2) % 1.0) - sideways * uy
        pixel = face_pixel(face, x, y)
        if face.body[pixel] != LAMINATE or face.classes[BACK_FACE, pixel] != entry_class:
            continue
        entered += 1
        state, where, ux, uy, uz = enter_face(state, BACK_FACE, x, y, ux, uy, uz, slab.refractive_index, held, entering)
        run_apart(state, where, x, y, 0.0, ux, uy, uz, base, board, endless, unscored, books)
    return entered


@kernel
def pool_row(plus, minus, seen, front_row, front_column, share, pooled):
    """Add the difference of two maps to front cells, pooled[group, laminate, cell], over the share that is seen."""
    n_groups, n_laminates, n_cells = pooled.shape
    across = front_column[front_column.size - 1] + 1
    for group in range(n_groups):
        for laminate in range(n_laminates):
            c = group * n_laminates + laminate
            for y in range(front_row.size):
                for x in range(front_column.size):
                    pixel = y * front_column.size + x
                    value = plus[c, pixel] - seen[c, y, x] * minus[c, pixel]
                    pooled[group, laminate, front_row[y] * across + front_column[x]] += value
            for cell in range(n_cells):
                pooled[group, laminate, cell] *= 1.0 / share[c, cell] if share[c, cell] > 0.0 else 0.0


@entry
def trace_difference_cells(
    first_stream, cells, n_photons, seed, sine2_low, sine2_high, entry_class, reach, base, setup, plain, nowhere, minus,
    books, seen, front_row, front_column, share, pooled, entered,
):  # fmt: skip
    """Trace every cell (x, y, side) of `cells` into pooled[cell, group, laminate, front cell], per entered photon.

    `plain` is the face of the endless slab, `minus` its workspace, `nowhere` a view without pixels.
    """
    emitter, face, coat, slab, air, view, plus = setup
    board = refer(Setup(emitter, face, coat, slab, air, view, plus))
    endless = refer(Setup(emitter, plain, coat, slab, air, view, minus))
    unscored = refer(Setup(emitter, plain, coat, slab, air, nowhere, plus))
    entering = refer(Setup(emitter, face, coat, slab, air, nowhere, plus))
    for i in range(cells.shape[0]):
        plus.maps[:] = 0.0
        minus.maps[:] = 0.0
        entered[i] = trace_difference_row(
            first_stream + i, n_photons, seed, cells[i], sine2_low, sine2_high, entry_class, reach, base, board,
            endless, unscored, entering, books,
        )  # fmt: skip
        pool_row(plus.maps, minus.maps, seen, front_row, front_column, share, pooled[i])
