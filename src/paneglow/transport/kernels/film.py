"""A sheet before the board: what it spreads is seen at once, and the board mirrors its underside."""

from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.diffuse import INVERSE_PI, sample_about
from paneglow.transport.kernels.inputs import FRONT, FRONT_FACE, LAMINATE, SMOOTH
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.source import pick_outer_ray, score_entering
from paneglow.transport.kernels.view import deposit, face_pixel
from paneglow.transport.kernels.weights import book_loss, book_share, survives_roulette


@inner_kernel
def score_mirrored(x, y, slab, face, coat, air, view, work):
    """Score the sheet's underside at x, y as a smooth front face mirrors it; a rough one scores it where it is met."""
    at_x = x + air.distance[FRONT_FACE] * view.sin_out / view.cos_out
    row, column = face_pixel(face, at_x, y)
    k = face.classes[FRONT_FACE, row, column]
    if face.body[row, column] != LAMINATE or coat.kind[k] != SMOOTH:
        return
    mirrored = INVERSE_PI * reflectance_at(view.cos_out, slab.refractive_index)
    deposit(at_x, y, mirrored, 0.0, work.weight, view.through, slab, view, work.maps)


@inner_kernel
def score_mirrored_inside(state, x, y, face, coat, slab, air, view, work):
    """Score the sheet's underside at x, y as the faces mirror it from inside; returns the random state."""
    n = slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, face, coat, view)
    if oz <= 0.0:
        return state
    at_x = x + ox / oz * air.distance[FRONT_FACE]
    at_y = y + oy / oz * air.distance[FRONT_FACE]
    return score_entering(state, FRONT_FACE, at_x, at_y, ray, oz, INVERSE_PI * oz, n, face, coat, slab, view, work)


@inner_kernel
def meet_front_sheet(state, x, y, face, coat, slab, air, view, work):
    """The sheet before the board: part passes and is seen, part returns. Returns (state, alive, ux, uy, uz)."""
    transmit = air.transmit[FRONT_FACE]
    for c in range(work.weight.size):
        work.aside[c] = work.weight[c] * transmit[c] * air.haze[FRONT_FACE]
        work.chain[c] = 1.0
    # The viewer sees the sheet where his line meets it; the map stands on the board's front face
    seen_x = x - air.distance[FRONT_FACE] * view.sin_out / view.cos_out
    deposit(seen_x, y, INVERSE_PI, 0.0, work.aside, work.chain, slab, view, work.maps)
    book_share(transmit, FRONT, view, work)
    book_loss(transmit, air.reflect[FRONT_FACE], view, work)
    for c in range(work.weight.size):
        work.weight[c] *= air.reflect[FRONT_FACE, c]
    state, alive = survives_roulette(state, work)
    if not alive:
        return state, False, 0.0, 0.0, 0.0
    score_mirrored(x, y, slab, face, coat, air, view, work)
    state = score_mirrored_inside(state, x, y, face, coat, slab, air, view, work)
    state, ux, uy, uz = sample_about(state, 0.0, 0.0, -1.0)
    return state, True, ux, uy, uz
