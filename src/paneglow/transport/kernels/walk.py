"""The walk of one photon inside the slab, from where it enters to where it leaves or ends."""

import math

from paneglow.transport.kernels.air import tally_angle
from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.diffuse import scatter_diffusely
from paneglow.transport.kernels.dome import is_under_dome
from paneglow.transport.kernels.face import meet_face
from paneglow.transport.kernels.fluorescence import scatter_every_way, shift_weights, unshift_weights
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    AT_COPPER,
    AT_FACE,
    AT_WALL,
    BACK_FACE,
    BEFORE,
    COLLIDED,
    EDGE,
    ENDED,
    FRONT_FACE,
    IN_DOME,
    INSIDE,
    LAMINATE,
    LOST,
    face_pixel,
)
from paneglow.transport.kernels.phase import density_hg, free_length, turned
from paneglow.transport.kernels.random import next_triple, next_uniform
from paneglow.transport.kernels.replicas import count_replicas, split_at_inner_face, split_at_wall, split_near_walls
from paneglow.transport.kernels.view import OPAQUE_DEPTH, pick_ray, score_toward_view
from paneglow.transport.kernels.walls import meet_wall, wall_distance
from paneglow.transport.kernels.weights import add_fate, scale_weights, settle_absorption, survives_roulette

FARTHEST = 1e4  # mm; no board is that long
DEEP = 3.0  # optical depth below the front from which on a collision is scored more rarely and heavier, mean unchanged
BOUNCED = 10.0  # times one crossing: chance to score what only bounces can show, made heavier accordingly
AWAY = 1e-9  # mm; a photon that has just left a layer does not meet it again


@hot_kernel
def collision_score_weight(chance, z, slab):
    """Factor by which a collision is scored heavier, 0 for not at all; `chance` is a variate to decide it.

    Most collisions lie too deep to be seen: the depth alone decides before anything more expensive is computed. The
    variate may be one that later decides where the light turns to: what is scored here is the light that came.
    """
    depth = slab.scatter * (slab.thickness - z)
    if depth <= DEEP or slab.scatter * slab.thickness < OPAQUE_DEPTH:
        return 1.0
    beyond = depth - DEEP
    # 1 / exp(beyond) is less than 1 / (1 + beyond + beyond^2 / 2 + beyond^3 / 6), which is cheaper and mostly enough
    if chance * (1.0 + beyond * (1.0 + beyond * (0.5 + beyond / 6.0))) >= 1.0:
        return 0.0
    heavier = math.exp(beyond)
    return heavier if chance * heavier < 1.0 else 0.0


@hot_kernel
def score_collision(state, heavier, x, y, z, ux, uy, uz, path, setup):
    """Score light that turns toward the view; returns the random state."""
    face, coat, slab = setup.face, setup.coat, setup.slab
    work = setup.work
    bounces = slab.scatter * slab.thickness < OPAQUE_DEPTH
    state, ray = pick_ray(state, x, y, setup)
    kind, wx, wy, wz, slope_x, slope_y = ray[0], ray[1], ray[2], ray[3], ray[4], ray[5]
    # Under copper nothing is seen straight on: what is left is light that bounces between the faces first
    over = slab.thickness - z
    pixel = face_pixel(face, x + slope_x * over, y + slope_y * over)
    k = face.classes[FRONT_FACE, pixel]
    covered = face.body[pixel] != LAMINATE or coat.is_opaque[k] or coat.kind[k] != kind
    if covered and count_replicas(work) == 0:
        chance = min(1.0, BOUNCED * math.exp(-slab.scatter * slab.thickness)) if bounces else 0.0
        if slope_x == 0.0 and slope_y == 0.0:
            chance = 0.0
        if chance < 1.0:
            state, u = next_uniform(state)
            if u >= chance:
                return state
            heavier /= chance
    along = ux * wx + uy * wy
    toward_up = heavier * density_hg(slab.asymmetry, along + uz * wz)
    toward_down = heavier * density_hg(slab.asymmetry, along - uz * wz) if bounces else 0.0
    return score_toward_view(state, x, y, z, ray, toward_up, toward_down, path, work.weight, setup)


@kernel
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
        pixel = face_pixel(face, x + ux * leg, y + uy * leg)
        if face.inner[layer, pixel]:
            nearest = leg
            found = layer
    return nearest, found


@kernel
def meet_inner_copper(state, x, y, z, uz, layer, setup):
    """Copper foil in the slab returns light diffusely to the side it came from. Returns (state, ux, uy, uz)."""
    scale_weights(setup.slab.inner_reflect[layer], 1.0, ABSORBED, setup)
    back = -1.0 if uz > 0.0 else 1.0
    return scatter_diffusely(state, x, y, z, 0.0, 0.0, back, 1.0, setup)


@hot_kernel
def fly(state, x, y, z, ux, uy, uz, safe, setup):
    """Go on inside the slab to what comes first; no rim is nearer than `safe`.

    Returns (state, where, layer, x, y, z, safe, length, u, turns): COLLIDED, or what `meet` is to deal with; the last
    two are variates left over for a collision.
    """
    face, slab = setup.face, setup.slab
    state, v, u, turns = next_triple(state)
    free = free_length(v, slab.free_path)
    # Most flights end inside, which needs no division to tell
    ahead = z + uz * free
    to_face = math.inf
    if not 0.0 < ahead < slab.thickness:
        # Along the faces 0 / 0 may come up, which is no length
        to_face = ((slab.thickness if uz > 0.0 else 0.0) - z) / uz if uz != 0.0 else math.inf
    leg = min(free, to_face)
    layer = -1
    if face.inner_z.size > 0:
        leg, layer = inner_copper_ahead(x, y, z, ux, uy, uz, leg, face)
    if leg >= safe:
        pixel = face_pixel(face, x, y)
        safe = face.clearance[pixel] * face.pitch
    if leg >= safe:
        to_wall = wall_distance(x, y, ux, uy, leg, True, face)
        if to_wall <= leg and to_wall < FARTHEST:
            x, y, z = x + ux * to_wall, y + uy * to_wall, z + uz * to_wall
            return state, AT_WALL, layer, x, y, z, 0.0, to_wall, u, turns
    if leg > FARTHEST:
        return state, LOST, layer, x, y, z, 0.0, 0.0, u, turns
    safe -= leg
    x += ux * leg
    y += uy * leg
    if layer >= 0:
        return state, AT_COPPER, layer, x, y, face.inner_z[layer], safe, leg, u, turns
    if free < to_face:
        return state, COLLIDED, layer, x, y, z + uz * leg, safe, leg, u, turns
    return state, AT_FACE, layer, x, y, (slab.thickness if uz > 0.0 else 0.0), safe, leg, u, turns


@kernel
def is_far(x, y, emitter):
    """Whether a photon is farther from its LED than any board is long."""
    return abs(x - emitter.centre[0]) > FARTHEST or abs(y - emitter.centre[1]) > FARTHEST


@kernel
def meet(state, where, layer, x, y, z, ux, uy, uz, path, setup):
    """What stops a path inside the slab: a face, copper, a wall. Returns (state, where, x, y, z, ux, uy, uz)."""
    emitter, work = setup.emitter, setup.work
    settle_absorption(path, setup)
    if where == LOST or is_far(x, y, emitter):
        # Sideways in a clear slab without rims, or totally reflected for ever: it can only reach the edge
        add_fate(EDGE, 1.0, setup)
        return state, ENDED, x, y, z, ux, uy, uz
    if count_replicas(work) > 0:
        if where == AT_FACE:
            state = split_at_inner_face(state, x, y, z, ux, uy, uz, setup)
        else:
            state = split_at_wall(state, x, y, z, ux, uy, uz, work)
    if where == AT_WALL:
        state, where, x, y, z, ux, uy, uz = meet_wall(state, x, y, z, setup)
    elif where == AT_COPPER:
        state, ux, uy, uz = meet_inner_copper(state, x, y, z, uz, layer, setup)
        where = INSIDE
    else:
        side = FRONT_FACE if uz > 0.0 else BACK_FACE
        domed = side == BACK_FACE and is_under_dome(x, y, emitter)
        n = (emitter.dome_index if domed else 1.0) / setup.slab.refractive_index
        state, where, ux, uy, uz = meet_face(state, side, x, y, ux, uy, uz, n, setup)
        if domed and where == BACK_FACE:
            where = IN_DOME
        if where == BEFORE:
            tally_angle(x, y, uz, setup)
    if where != INSIDE:
        return state, where, x, y, z, ux, uy, uz
    state, alive = survives_roulette(state, work)
    return state, (INSIDE if alive else ENDED), x, y, z, ux, uy, uz


@kernel
def weigh_collision(setup):
    """Weights of channels that scatter differently; there are none in an ordinary trace."""
    ratio = setup.slab.collision_ratio
    for c in range(ratio.size):
        setup.work.weight[c] *= ratio[c]


@kernel
def meet_collision(state, x, y, z, ux, uy, uz, path, u, turns, scored, setup):
    """Light meets a particle, or is given back at longer waves. Returns (state, where, ux, uy, uz, path)."""
    slab = setup.slab
    weigh_collision(setup)
    if slab.shift_chance > 0.0:
        settle_absorption(path, setup)
        path = 0.0
        state, u_shift = next_uniform(state)
        if u_shift < slab.shift_chance:
            shift_weights(setup)
            state, ux, uy, uz = scatter_every_way(state, x, y, z, setup)
            state, alive = survives_roulette(state, setup.work)
            return state, (INSIDE if alive else ENDED), ux, uy, uz, path
        unshift_weights(setup)
    heavier = collision_score_weight(turns, z, slab) if scored else 0.0
    if heavier > 0.0:
        state = score_collision(state, heavier, x, y, z, ux, uy, uz, path, setup)
    ux, uy, uz = turned(ux, uy, uz, slab.asymmetry, u, turns)
    return state, INSIDE, ux, uy, uz, path


@kernel
def walk(state, where, x, y, z, ux, uy, uz, path, scored, setup):
    """Follow a photon inside the slab, or from where it has come to a face.

    `path` is the length not yet settled in the weights. A photon that is not `scored` is so from the first thing on
    that it meets. Returns (state, where, x, y, z, ux, uy, uz).
    """
    safe = 0.0
    room = 0.0
    layer = -1
    while True:
        if where == INSIDE:
            before = state
            state, where, layer, x, y, z, safe, leg, u, turns = fly(state, x, y, z, ux, uy, uz, safe, setup)
            if count_replicas(setup.work) > 0:
                if leg >= room:
                    back_x, back_y, back_z = x - ux * leg, y - uy * leg, z - uz * leg
                    room = split_near_walls(before, leg, back_x, back_y, back_z, ux, uy, uz, path, setup)
                room -= leg
            path += leg
            if where == COLLIDED:
                state, where, ux, uy, uz, path = meet_collision(
                    state, x, y, z, ux, uy, uz, path, u, turns, scored, setup
                )
                scored = True
                if where == ENDED:
                    return state, ENDED, x, y, z, ux, uy, uz
                continue
        state, where, x, y, z, ux, uy, uz = meet(state, where, layer, x, y, z, ux, uy, uz, path, setup)
        path = 0.0
        scored = True
        if where != INSIDE:
            return state, where, x, y, z, ux, uy, uz
