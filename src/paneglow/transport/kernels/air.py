"""Light in the air before or behind the board: sheets that return it, a light wall round a part, holes.

A flight function returns (state, where, x, y, z, ux, uy, uz): INSIDE when the light has entered the slab, its side when
it is still in that air, or ENDED.
"""

import math

from paneglow.transport.kernels.company import company_size, placed, turned_with
from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.diffuse import INVERSE_PI, sample_about
from paneglow.transport.kernels.face import enter_face, outcome_at
from paneglow.transport.kernels.film import meet_front_sheet
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK,
    BACK_FACE,
    BEHIND,
    ENDED,
    FRONT_FACE,
    HOLE,
    LAMINATE,
    MISSED,
    OUTSIDE,
    THROUGH,
)
from paneglow.transport.kernels.light_wall import is_walled, light_wall_ahead
from paneglow.transport.kernels.source import GRAZING, is_hole, pick_outer_ray, score_from_behind, score_through_hole
from paneglow.transport.kernels.view import face_pixel
from paneglow.transport.kernels.weights import (
    accumulate,
    add_fate,
    scale_weights,
    survives_roulette,
)


@inner_kernel
def is_held(side, emitter, air):
    """Whether anything in the air of a side can send light back to the board."""
    return air.present[side] or (side == BACK_FACE and emitter.wall_u > 0.0)


@inner_kernel
def score_behind(state, x, y, z, nx, ny, nz, emitter, face, coat, slab, view, work):
    """Score a Lambertian face in the air behind the board, its normal n."""
    n = slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, face, coat, view)
    density = INVERSE_PI * max(0.0, nx * ox + ny * oy + nz * oz)
    if is_walled(x, y, z, ox, oy, oz, emitter):
        density = 0.0
    state = score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, face, coat, slab, view, work)
    seen = INVERSE_PI * max(0.0, nx * view.sin_out + nz * view.cos_out)
    score_through_hole(x, y, z, seen, face, slab, view, work)
    return state


@inner_kernel
def book_angle(x, y, bin_number, share, face, view, work):
    """Book a share of what leaves the front at x, y under its window and polar angle."""
    row, column = face_pixel(face, x, y)
    window = face.window[row, column]
    if window >= work.angles.shape[0]:
        return
    for version in range(view.n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            total += work.weight[version * view.n_nodes + node] * view.xyz[node, 1]
        accumulate(work.angles, window, bin_number, version, share * total)


@inner_kernel
def tally_angle(x, y, uz, face, view, work):
    """Book what leaves the front, a company at all its places; bins are equal in the sine squared."""
    n_bins = work.angles.shape[1]
    bin_number = min(n_bins - 1, int((1.0 - uz * uz) * float(n_bins)))
    n = company_size(work)
    share = 1.0 / float(n + 1)
    book_angle(x, y, bin_number, share, face, view, work)
    for m in range(n):
        at_x, at_y = placed(work.company, m, x, y)
        book_angle(at_x, at_y, bin_number, share, face, view, work)


@inner_kernel
def meet_back_sheet(state, x, y, z, emitter, face, coat, slab, air, view, work):
    """The sheet behind the board returns light diffusely. Returns (state, alive, ux, uy, uz)."""
    scale_weights(air.reflect[BACK_FACE], 1.0, ABSORBED, view, work)
    state, alive = survives_roulette(state, work)
    if not alive:
        return state, False, 0.0, 0.0, 0.0
    state = score_behind(state, x, y, z, 0.0, 0.0, 1.0, emitter, face, coat, slab, view, work)
    state, ux, uy, uz = sample_about(state, 0.0, 0.0, 1.0)
    return state, True, ux, uy, uz


@inner_kernel
def clears_hole(x, y, ux, uy, uz, face, slab):
    """Whether light that meets the board where there is a hole comes out at the other side, past the wall."""
    leg = slab.thickness / abs(uz)
    middle_row, middle_column = face_pixel(face, x + 0.5 * ux * leg, y + 0.5 * uy * leg)
    row, column = face_pixel(face, x + ux * leg, y + uy * leg)
    return face.body[middle_row, middle_column] != LAMINATE and is_hole(face.body[row, column])


@inner_kernel
def shine_through_hole(x, y, ux, uy, uz, face, slab, view, work):
    """Light, and its company, meets the board where there is a hole: out at the other side, or lost in it."""
    opposite = THROUGH if uz > 0.0 else BACK
    n = company_size(work)
    share = 1.0 / float(n + 1)
    add_fate(opposite if clears_hole(x, y, ux, uy, uz, face, slab) else HOLE, share, view, work)
    for m in range(n):
        at_x, at_y = placed(work.company, m, x, y)
        vx, vy = turned_with(work.company, m, ux, uy)
        add_fate(opposite if clears_hole(at_x, at_y, vx, vy, uz, face, slab) else HOLE, share, view, work)


@inner_kernel
def meet_board(state, side, x, y, ux, uy, uz, met, emitter, face, coat, slab, air, view, work):
    """Light in air arrives at the plane of a face. Returns (state, where, ux, uy, uz)."""
    row, column = face_pixel(face, x, y)
    body = face.body[row, column]
    if body == OUTSIDE:
        add_fate(outcome_at(side) if met else MISSED, 1.0, view, work)
        return state, ENDED, ux, uy, uz
    if body != LAMINATE:
        shine_through_hole(x, y, ux, uy, uz, face, slab, view, work)
        return state, ENDED, ux, uy, uz
    held = is_held(side, emitter, air)
    return enter_face(state, side, x, y, ux, uy, uz, slab.refractive_index, held, face, coat, slab, view, work)


@inner_kernel
def fly_in_air(state, side, x, y, z, ux, uy, uz, met, emitter, face, coat, slab, air, view, work):
    """One flight in the air of a side, to the board, a sheet, the light wall or away."""
    outward = 1.0 if side == FRONT_FACE else -1.0
    face_z = slab.thickness if side == FRONT_FACE else 0.0
    rise = outward * uz
    off = outward * (z - face_z)
    leg = math.inf
    if rise < -GRAZING:
        leg = max(0.0, off / -rise)
    elif rise > GRAZING and air.present[side]:
        leg = max(0.0, (air.distance[side] - off) / rise)
    if side == BEHIND:
        to_wall, nx, ny = light_wall_ahead(x, y, ux, uy, leg, emitter)
        if to_wall < leg:
            x, y, z = x + ux * to_wall + 1e-6 * nx, y + uy * to_wall + 1e-6 * ny, z + uz * to_wall
            scale_weights(emitter.wall_reflect, 1.0, ABSORBED, view, work)
            state, alive = survives_roulette(state, work)
            if not alive:
                return state, ENDED, x, y, z, ux, uy, uz
            state = score_behind(state, x, y, z, nx, ny, 0.0, emitter, face, coat, slab, view, work)
            state, ux, uy, uz = sample_about(state, nx, ny, 0.0)
            return state, side, x, y, z, ux, uy, uz
    if leg == math.inf:
        add_fate(outcome_at(side) if met else MISSED, 1.0, view, work)
        return state, ENDED, x, y, z, ux, uy, uz
    x, y = x + ux * leg, y + uy * leg
    if rise < 0.0:
        state, where, ux, uy, uz = meet_board(
            state, side, x, y, ux, uy, uz, met, emitter, face, coat, slab, air, view, work
        )
        return state, where, x, y, face_z, ux, uy, uz
    z = face_z + outward * air.distance[side]
    if side == BEHIND:
        state, alive, ux, uy, uz = meet_back_sheet(state, x, y, z, emitter, face, coat, slab, air, view, work)
    else:
        state, alive, ux, uy, uz = meet_front_sheet(state, x, y, face, coat, slab, air, view, work)
    return state, side if alive else ENDED, x, y, z, ux, uy, uz
