"""Rows of a response: many photons that enter the back face alike, scored on maps.

A spread row enters an endless slab at the origin, moving toward +x; a difference row enters the real board within a
cell and scores what the board makes of it (`plus`) and what the endless slab would have (`minus`), from where they
part.
"""

import math

from paneglow.transport.kernels.air import fly_in_air, is_held
from paneglow.transport.kernels.compile import inner_kernel, kernel
from paneglow.transport.kernels.face import enter_face
from paneglow.transport.kernels.inputs import BACK_FACE, BEFORE, ENDED, INSIDE, LAMINATE
from paneglow.transport.kernels.random import next_uniform, stream_start
from paneglow.transport.kernels.response_walk import DIFFERS, walk_scored, walk_until_different
from paneglow.transport.kernels.view import face_pixel

# Additive recurrence of lowest discrepancy in four dimensions, as in launch.py
STRIDE_1 = 0.8566748838545029
STRIDE_2 = 0.733891856627126
STRIDE_3 = 0.6287067210378087
STRIDE_4 = 0.5385972572236101
SHIFT_STREAM = 1 << 40
STEEPEST = 1e-4  # cosine to the normal below which light does not reach the face within any board


@inner_kernel
def book_exit(books, weight):
    """Sums of weights, and of their squares, of what leaves the front: for the effective number of photons."""
    for c in range(weight.size):
        books[0, c] += weight[c]
        books[1, c] += weight[c] * weight[c]


@inner_kernel
def run_on(state, where, x, y, z, ux, uy, uz, fresh, ratio, emitter, face, coat, slab, air, view, work, books):
    """Follow a photon to its end, scored; the first scattering of a `fresh` one is left to the asking."""
    while where != ENDED:
        if where == INSIDE:
            state, where, x, y, z, ux, uy, uz = walk_scored(
                state, x, y, z, ux, uy, uz, fresh, ratio, face, coat, slab, view, work
            )
            fresh = False
            if where == BEFORE:
                book_exit(books, work.weight)
        elif not is_held(where, emitter, air):
            return state
        else:
            state, where, x, y, z, ux, uy, uz = fly_in_air(
                state, where, x, y, z, ux, uy, uz, True, emitter, face, coat, slab, air, view, work
            )
    return state


@inner_kernel
def fill(weight, value):
    for c in range(weight.size):
        weight[c] = value


@kernel
def trace_spread_row(
    row,
    n_photons,
    seed,
    sine2_low,
    sine2_high,
    first_apart,
    ratio,
    emitter,
    entry,
    plain,
    coat,
    slab,
    air,
    view,
    work,
    books,
):
    """Photons into the endless slab at the origin; squared sines of incidence between two bounds.

    `first_apart` leaves out light that is seen after one scattering on the way in: it is asked for ray by ray.
    """
    state = stream_start(seed, row, SHIFT_STREAM)
    state, shift = next_uniform(state)
    held = is_held(BACK_FACE, emitter, air)
    for photon in range(n_photons):
        state = stream_start(seed, row, photon)
        fill(work.weight, 1.0)
        sine2 = sine2_low + (sine2_high - sine2_low) * ((shift + photon * STRIDE_1) % 1.0)
        ux = math.sqrt(sine2)
        uz = max(STEEPEST, math.sqrt(1.0 - sine2))
        state, where, ux, uy, uz = enter_face(
            state, BACK_FACE, 0.0, 0.0, ux, 0.0, uz, slab.refractive_index, held, entry, coat, slab, view, work
        )
        fresh = first_apart and where == INSIDE
        run_on(
            state, where, 0.0, 0.0, 0.0, ux, uy, uz, fresh, ratio, emitter, plain, coat, slab, air, view, work, books
        )


@inner_kernel
def part_ways(
    state, where, x, y, z, ux, uy, uz, ratio, base, emitter, face, plain, coat, slab, air, view, nowhere,
    plus, minus, books,
):  # fmt: skip
    """From inside: together until board and endless slab differ, then each on its own."""
    if where == INSIDE:
        state, where, x, y, z, ux, uy, uz = walk_until_different(
            state, x, y, z, ux, uy, uz, ratio, base, face, plain, coat, slab, nowhere, plus
        )
    if where == ENDED:
        return
    if where == DIFFERS:
        where = INSIDE
    elif not is_held(where, emitter, air):
        return
    kept = minus.before
    for c in range(kept.size):
        kept[c] = plus.weight[c]
    state = run_on(state, where, x, y, z, ux, uy, uz, False, ratio, emitter, face, coat, slab, air, view, plus, books)
    for c in range(kept.size):
        minus.weight[c] = kept[c]
    run_on(state, where, x, y, z, ux, uy, uz, False, ratio, emitter, plain, coat, slab, air, view, minus, books)


@inner_kernel
def trace_difference_row(
    row, n_photons, seed, cell, sine2_low, sine2_high, entry_class, reach, ratio, base, emitter, face, plain, coat,
    slab, air, view, nowhere, plus, minus, books,
):  # fmt: skip
    """Photons into the board; `cell` (x, y, side) bounds where their light is centred, `reach` inside the back face.

    Returns how many found laminate of the entry class there. `minus` has a `before` of its own, the rest is shared.
    """
    state = stream_start(seed, row, SHIFT_STREAM)
    state, shift_1 = next_uniform(state)
    state, shift_2 = next_uniform(state)
    state, shift_3 = next_uniform(state)
    state, shift_4 = next_uniform(state)
    held = is_held(BACK_FACE, emitter, air)
    entered = 0
    for photon in range(n_photons):
        state = stream_start(seed, row, photon)
        fill(plus.weight, 1.0)
        sine2 = sine2_low + (sine2_high - sine2_low) * ((shift_3 + photon * STRIDE_3) % 1.0)
        azimuth = 2.0 * math.pi * ((shift_4 + photon * STRIDE_4) % 1.0)
        sine = math.sqrt(sine2)
        ux = sine * math.cos(azimuth)
        uy = sine * math.sin(azimuth)
        uz = max(STEEPEST, math.sqrt(1.0 - sine2))
        sideways = reach / math.sqrt(slab.refractive_index * slab.refractive_index - sine2)
        x = cell[0] + cell[2] * ((shift_1 + photon * STRIDE_1) % 1.0) - sideways * ux
        y = cell[1] + cell[2] * ((shift_2 + photon * STRIDE_2) % 1.0) - sideways * uy
        line, column = face_pixel(face, x, y)
        if face.body[line, column] != LAMINATE or face.classes[BACK_FACE, line, column] != entry_class:
            continue
        entered += 1
        state, where, ux, uy, uz = enter_face(
            state, BACK_FACE, x, y, ux, uy, uz, slab.refractive_index, held, face, coat, slab, nowhere, plus
        )
        part_ways(
            state, where, x, y, 0.0, ux, uy, uz, ratio, base, emitter, face, plain, coat, slab, air, view, nowhere,
            plus, minus, books,
        )  # fmt: skip
    return entered


@inner_kernel
def pool_row(plus, minus, seen, front_row, front_column, share, pooled):
    """Add the difference of two maps to front cells, pooled[group, laminate, cell], over the share that is seen."""
    n_groups, n_laminates, n_cells = pooled.shape
    across = front_column[front_column.size - 1] + 1
    for group in range(n_groups):
        for laminate in range(n_laminates):
            c = group * n_laminates + laminate
            for y in range(front_row.size):
                for x in range(front_column.size):
                    value = plus[c, y, x] - seen[c, y, x] * minus[c, y, x]
                    pooled[group, laminate, front_row[y] * across + front_column[x]] += value
            for cell in range(n_cells):
                pooled[group, laminate, cell] *= 1.0 / share[c, cell] if share[c, cell] > 0.0 else 0.0


@inner_kernel
def clear_maps(maps):
    n_maps, n_y, n_x = maps.shape
    for c in range(n_maps):
        for y in range(n_y):
            for x in range(n_x):
                maps[c, y, x] = 0.0


@kernel
def trace_difference_cells(
    first_stream, cells, n_photons, seed, sine2_low, sine2_high, entry_class, reach, ratio, base, emitter, face, plain,
    coat, slab, air, view, nowhere, plus, minus, books, seen, front_row, front_column, share, pooled, entered,
):  # fmt: skip
    """Trace every cell (x, y, side) of `cells` into pooled[cell, group, laminate, front cell], per entered photon."""
    for i in range(cells.shape[0]):
        clear_maps(plus.maps)
        clear_maps(minus.maps)
        entered[i] = trace_difference_row(
            first_stream + i, n_photons, seed, cells[i], sine2_low, sine2_high, entry_class, reach, ratio, base,
            emitter, face, plain, coat, slab, air, view, nowhere, plus, minus, books,
        )  # fmt: skip
        pool_row(plus.maps, minus.maps, seen, front_row, front_column, share, pooled[i])
