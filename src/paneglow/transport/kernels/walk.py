"""The walk of one photon inside the slab, from where it enters to where it leaves or ends."""

import math

from paneglow.transport.kernels.compile import hot_kernel, inner_kernel
from paneglow.transport.kernels.diffuse import scatter_diffusely
from paneglow.transport.kernels.dome import is_under_dome
from paneglow.transport.kernels.face import meet_face
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK_FACE,
    EDGE,
    ENDED,
    FRONT_FACE,
    IN_DOME,
    INSIDE,
    LAMINATE,
)
from paneglow.transport.kernels.phase import density_hg, scattered
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.view import OPAQUE_DEPTH, face_pixel, pick_ray, score_toward_view
from paneglow.transport.kernels.walls import meet_wall, wall_distance
from paneglow.transport.kernels.weights import add_fate, scale_weights, settle_absorption, survives_roulette

FARTHEST = 1e6  # mm; no board is that long
DEEP = 3.0  # optical depth below the front from which on a collision is scored more rarely and heavier, mean unchanged
BOUNCED = 10.0  # times one crossing: chance to score what only bounces can show, made heavier accordingly
NO_SCATTER = 1e-12  # 1/mm; below it a free path is endless
AWAY = 1e-9  # mm; a photon that has just left a layer does not meet it again


@hot_kernel
def collide(state, x, y, z, ux, uy, uz, path, face, coat, slab, view, work):
    """Score toward the view and turn. Returns (state, ux, uy, uz)."""
    # Most collisions lie too deep to be seen: decide by the depth alone before anything dearer is computed
    depth = slab.scatter * (slab.thickness - z)
    heavier = 1.0
    bounces = slab.scatter * slab.thickness < OPAQUE_DEPTH
    if depth > DEEP and not bounces:
        seen = math.exp(DEEP - depth)
        state, u = next_uniform(state)
        if u >= seen:
            return scattered(state, ux, uy, uz, slab.asymmetry)
        heavier = 1.0 / seen
    state, ray = pick_ray(state, x, y, face, coat, view)
    kind, wx, wy, wz, slope_x, slope_y = ray[0], ray[1], ray[2], ray[3], ray[4], ray[5]
    # Under copper nothing is seen straight on: what is left is light that bounces between the faces first
    over = slab.thickness - z
    row, column = face_pixel(face, x + slope_x * over, y + slope_y * over)
    k = face.classes[FRONT_FACE, row, column]
    if face.body[row, column] != LAMINATE or coat.is_opaque[k] or coat.kind[k] != kind:
        chance = min(1.0, BOUNCED * math.exp(-slab.scatter * slab.thickness)) if bounces else 0.0
        if slope_x == 0.0 and slope_y == 0.0:
            chance = 0.0
        if chance < 1.0:
            state, u = next_uniform(state)
            if u >= chance:
                return scattered(state, ux, uy, uz, slab.asymmetry)
            heavier /= chance
    along = ux * wx + uy * wy
    toward_up = heavier * density_hg(slab.asymmetry, along + uz * wz)
    toward_down = heavier * density_hg(slab.asymmetry, along - uz * wz) if bounces else 0.0
    state = score_toward_view(
        state, x, y, z, ray, toward_up, toward_down, path, work.weight, face, coat, slab, view, work
    )
    return scattered(state, ux, uy, uz, slab.asymmetry)


@inner_kernel
def inner_copper_ahead(x, y, z, ux, uy, uz, reach, face):
    """Nearest copper inside the slab on a path: (length, layer), layer -1 where there is none within reach."""
    nearest = reach
    found = -1
    for layer in range(face.inner_z.size):
        rise = face.inner_z[layer] - z
        if rise * uz <= 0.0 or abs(rise) < AWAY:
            continue
        leg = rise / uz
        if leg >= nearest:
            continue
        row, column = face_pixel(face, x + ux * leg, y + uy * leg)
        if face.inner[layer, row, column]:
            nearest = leg
            found = layer
    return nearest, found


@inner_kernel
def meet_inner_copper(state, x, y, z, uz, layer, face, coat, slab, view, work):
    """Copper foil in the slab returns light diffusely to the side it came from. Returns (state, ux, uy, uz)."""
    scale_weights(slab.inner_reflect[layer], 1.0, ABSORBED, view, work)
    back = -1.0 if uz > 0.0 else 1.0
    return scatter_diffusely(state, x, y, z, 0.0, 0.0, back, 1.0, face, coat, slab, view, work)


@inner_kernel
def walk(state, x, y, z, ux, uy, uz, emitter, face, coat, slab, view, work):
    """Follow a photon inside the slab. Returns (state, where, x, y, z, ux, uy, uz)."""
    path = 0.0
    safe = 0.0  # no rim is nearer than this
    while True:
        state, u = next_uniform(state)
        free = -math.log(u) / slab.scatter if slab.scatter > NO_SCATTER else math.inf
        to_face = math.inf
        if uz > 0.0:
            to_face = (slab.thickness - z) / uz
        elif uz < 0.0:
            to_face = -z / uz
        leg = min(free, to_face)
        layer = -1
        if face.inner_z.size > 0:
            leg, layer = inner_copper_ahead(x, y, z, ux, uy, uz, leg, face)
        if leg >= safe:
            row, column = face_pixel(face, x, y)
            safe = face.clear[row, column] * face.pitch
        if leg >= safe:
            to_wall = wall_distance(x, y, ux, uy, leg, face)
            if to_wall <= leg and to_wall < FARTHEST:
                settle_absorption(path + to_wall, slab, view, work)
                path = 0.0
                safe = 0.0
                x, y, z = x + ux * to_wall, y + uy * to_wall, z + uz * to_wall
                state, where, x, y, ux, uy, uz = meet_wall(state, x, y, z, ux, uy, uz, face, coat, slab, view, work)
                if where == INSIDE:
                    state, alive = survives_roulette(state, work)
                    where = INSIDE if alive else ENDED
                if where == ENDED:
                    return state, ENDED, x, y, z, ux, uy, uz
                continue
        if leg > FARTHEST:
            # Sideways in a clear slab without rims: it can only reach the edge
            add_fate(EDGE, 1.0, view, work)
            return state, ENDED, x, y, z, ux, uy, uz
        safe -= leg
        x += ux * leg
        y += uy * leg
        if layer < 0 and free < to_face:
            z += uz * leg
            path += leg
            state, ux, uy, uz = collide(state, x, y, z, ux, uy, uz, path, face, coat, slab, view, work)
            continue
        settle_absorption(path + leg, slab, view, work)
        path = 0.0
        if layer >= 0:
            z = face.inner_z[layer]
            state, ux, uy, uz = meet_inner_copper(state, x, y, z, uz, layer, face, coat, slab, view, work)
        else:
            side = FRONT_FACE if uz > 0.0 else BACK_FACE
            z = slab.thickness if side == FRONT_FACE else 0.0
            domed = side == BACK_FACE and is_under_dome(x, y, emitter)
            n = (emitter.dome_index if domed else 1.0) / slab.refractive_index
            state, where, ux, uy, uz = meet_face(state, side, x, y, ux, uy, uz, n, face, coat, slab, view, work)
            if where != INSIDE:
                where = IN_DOME if domed and where == BACK_FACE else where
                return state, where, x, y, z, ux, uy, uz
        state, alive = survives_roulette(state, work)
        if not alive:
            return state, ENDED, x, y, z, ux, uy, uz
