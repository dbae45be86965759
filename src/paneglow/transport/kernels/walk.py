"""The walk of one photon from its entry into the slab to its end."""

import math

from paneglow.transport.kernels.compile import hot_kernel, inner_kernel
from paneglow.transport.kernels.face import add_fate, heaviest_weight, meet_face, settle_absorption
from paneglow.transport.kernels.inputs import BACK_FACE, EDGE, FRONT_FACE, HOLE, LAMINATE, OUTSIDE
from paneglow.transport.kernels.phase import density_hg, scattered
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.view import face_pixel, is_clear, score_toward_view

LOW_WEIGHT = 0.25  # below it a photon survives with the chance weight / HIGH_WEIGHT
HIGH_WEIGHT = 0.5
FARTHEST = 1e6  # mm; no board is that long
DEEP = 0.05  # transmission to the front below which a collision is scored more rarely and heavier, mean unchanged
NO_SCATTER = 1e-12  # 1/mm; below it a free path is endless


@inner_kernel
def survives_roulette(state, work):
    """Follow faint photons more rarely and heavier, mean unchanged. Returns (state, alive)."""
    heaviest = heaviest_weight(work.weight)
    if heaviest >= LOW_WEIGHT:
        return state, True
    state, u = next_uniform(state)
    if u * HIGH_WEIGHT >= heaviest:
        return state, False
    for c in range(work.weight.size):
        work.weight[c] *= HIGH_WEIGHT / heaviest
    return state, True


@hot_kernel
def collide(state, x, y, z, ux, uy, uz, path, face, coat, slab, view, work):
    """Score toward the view and turn. Returns (state, ux, uy, uz)."""
    along = ux * view.sin_in
    # Under copper nothing is seen, whichever way the light turns; a slanted view may still see its bounces
    slope = view.sin_in / view.cos_in
    row, column = face_pixel(face, x + slope * (slab.thickness - z), y)
    hidden = face.body[row, column] != LAMINATE or coat.is_opaque[face.classes[FRONT_FACE, row, column]]
    if hidden and (slope == 0.0 or not is_clear(slab, view)):
        return scattered(state, ux, uy, uz, slab.asymmetry)
    if is_clear(slab, view):
        toward_up = density_hg(slab.asymmetry, along + uz * view.cos_in)
        toward_down = density_hg(slab.asymmetry, along - uz * view.cos_in)
        state = score_toward_view(
            state, x, y, z, toward_up, toward_down, path, work.weight, face, coat, slab, view, work
        )
        return scattered(state, ux, uy, uz, slab.asymmetry)
    # Most collisions lie too deep to be seen: decide by the depth alone before anything dearer is computed
    seen = math.exp(-slab.scatter * (slab.thickness - z) / view.cos_in)
    heavier = 1.0
    if seen < DEEP:
        state, u = next_uniform(state)
        if u * DEEP >= seen:
            return scattered(state, ux, uy, uz, slab.asymmetry)
        heavier = DEEP / seen
    toward_up = heavier * density_hg(slab.asymmetry, along + uz * view.cos_in)
    state = score_toward_view(state, x, y, z, toward_up, 0.0, path, work.weight, face, coat, slab, view, work)
    return scattered(state, ux, uy, uz, slab.asymmetry)


@inner_kernel
def walk(state, x, y, z, ux, uy, uz, face, coat, slab, view, work):
    """Follow a photon inside the slab until it ends."""
    path = 0.0
    while True:
        state, u = next_uniform(state)
        free = -math.log(u) / slab.scatter if slab.scatter > NO_SCATTER else math.inf
        to_face = math.inf
        if uz > 0.0:
            to_face = (slab.thickness - z) / uz
        elif uz < 0.0:
            to_face = -z / uz
        if free < to_face:
            x += ux * free
            y += uy * free
            z += uz * free
            path += free
            row, column = face_pixel(face, x, y)
            body = face.body[row, column]
            if body != LAMINATE:
                settle_absorption(path, slab, view, work)
                add_fate(EDGE if body == OUTSIDE else HOLE, 1.0, view, work)
                return
            state, ux, uy, uz = collide(state, x, y, z, ux, uy, uz, path, face, coat, slab, view, work)
            continue
        if to_face > FARTHEST:
            # Sideways in a clear slab: it can only reach the edge
            add_fate(EDGE, 1.0, view, work)
            return
        x += ux * to_face
        y += uy * to_face
        side = FRONT_FACE if uz > 0.0 else BACK_FACE
        z = slab.thickness if side == FRONT_FACE else 0.0
        settle_absorption(path + to_face, slab, view, work)
        path = 0.0
        state, alive, ux, uy, uz = meet_face(state, side, x, y, ux, uy, uz, face, coat, slab, view, work)
        if not alive:
            return
        state, alive = survives_roulette(state, work)
        if not alive:
            return
