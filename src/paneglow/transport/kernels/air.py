"""Light in the air before or behind the board: sheets that return it, a light wall round a part, holes.

A flight function returns (state, where, x, y, z, ux, uy, uz): INSIDE when the light has entered the slab, its side when
it is still in that air, or ENDED.
"""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.diffuse import INVERSE_PI, sample_about
from paneglow.transport.kernels.face import enter_face, outcome_at
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK,
    BACK_FACE,
    BEHIND,
    ENDED,
    FRONT,
    FRONT_FACE,
    LAMINATE,
    MISSED,
    N_ANGLE_BINS,
    OUTSIDE,
    SMOOTH,
    THROUGH,
    UNMET,
    face_pixel,
)
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.light_wall import is_walled, light_wall_ahead
from paneglow.transport.kernels.replicas import (
    COSINE,
    FIRST,
    LAST,
    SINE,
    book_replica_angles,
    count_replicas,
    exchange,
    replica_in_row,
    scale_all,
    split_all,
)
from paneglow.transport.kernels.source import (
    GRAZING,
    pick_outer_ray,
    score_entering,
    score_from_behind,
    score_through_hole,
)
from paneglow.transport.kernels.view import deposit
from paneglow.transport.kernels.walls import cross_opening, is_held, wall_distance
from paneglow.transport.kernels.weights import (
    accumulate,
    add_fate,
    book_loss,
    book_share,
    scale_weights,
    survives_roulette,
)


@kernel
def score_behind(state, x, y, z, nx, ny, nz, setup):
    """Score a Lambertian face in the air behind the board, its normal n."""
    view = setup.sight
    n = setup.slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, setup)
    density = INVERSE_PI * max(0.0, nx * ox + ny * oy + nz * oz)
    if is_walled(x, y, z, ox, oy, oz, setup.emitter):
        density = 0.0
    state = score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, setup)
    seen = INVERSE_PI * max(0.0, nx * view.sin_out + nz * view.cos_out)
    score_through_hole(x, y, z, seen, setup)
    return state


@kernel
def book_angle(x, y, bin_number, share, setup):
    """Book a share of what leaves the front at x, y under its window and polar angle."""
    face, view, work = setup.face, setup.sight, setup.work
    pixel = face_pixel(face, x, y)
    window = int(face.window[pixel])
    if window >= work.angles.shape[0]:
        return
    for version in range(view.n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            total += work.weight[version * view.n_nodes + node] * view.xyz[node, 1]
        accumulate(work.angles, window, bin_number * view.n_versions + version, share * total)


@kernel
def tally_angle(x, y, uz, setup):
    """Book what leaves the front, a photon's at all its places; bins are equal in the sine squared."""
    bin_number = min(N_ANGLE_BINS - 1, int((1.0 - uz * uz) * float(N_ANGLE_BINS)))
    n = count_replicas(setup.work)
    share = 1.0 / float(n + 1)
    book_angle(x, y, bin_number, share, setup)
    if n > 0:
        book_replica_angles(x, y, bin_number, share, setup)


@kernel
def meet_back_sheet(state, x, y, z, setup):
    """The sheet behind the board returns light diffusely. Returns (state, alive, ux, uy, uz)."""
    scale_weights(setup.air.reflect[BACK_FACE], 1.0, ABSORBED, setup)
    state, alive = survives_roulette(state, setup.work)
    if not alive:
        return state, False, 0.0, 0.0, 0.0
    state = score_behind(state, x, y, z, 0.0, 0.0, 1.0, setup)
    state, ux, uy, uz = sample_about(state, 0.0, 0.0, 1.0)
    return state, True, ux, uy, uz


@kernel
def score_mirrored(x, y, setup):
    """Score the sheet's underside at x, y as a smooth front face mirrors it; a rough one scores it where it is met."""
    face, view, work = setup.face, setup.sight, setup.work
    at_x = x + setup.air.distance[FRONT_FACE] * view.sin_out / view.cos_out
    pixel = face_pixel(face, at_x, y)
    k = face.classes[FRONT_FACE, pixel]
    if face.body[pixel] != LAMINATE or setup.coat.kind[k] != SMOOTH:
        return
    mirrored = INVERSE_PI * reflectance_at(view.cos_out, setup.slab.refractive_index)
    deposit(at_x, y, mirrored, 0.0, work.weight, view.through, work.maps, setup)


@kernel
def score_mirrored_inside(state, x, y, setup):
    """Score the sheet's underside at x, y as the faces mirror it from inside; returns the random state."""
    air = setup.air
    n = setup.slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, setup)
    if oz <= 0.0:
        return state
    at_x = x + ox / oz * air.distance[FRONT_FACE]
    at_y = y + oy / oz * air.distance[FRONT_FACE]
    return score_entering(state, FRONT_FACE, at_x, at_y, ray, oz, INVERSE_PI * oz, n, setup)


@kernel
def meet_front_sheet(state, x, y, setup):
    """The sheet before the board: part passes and is seen, part returns. Returns (state, alive, ux, uy, uz)."""
    air, view, work = setup.air, setup.sight, setup.work
    transmit = air.transmit[FRONT_FACE]
    for c in range(work.weight.size):
        work.branch_weight[c] = work.weight[c] * transmit[c] * air.haze[FRONT_FACE]
        work.bounce_weight[c] = 1.0
    # The viewer sees the sheet where his line meets it; the map stands on the board's front face
    seen_x = x - air.distance[FRONT_FACE] * view.sin_out / view.cos_out
    deposit(seen_x, y, INVERSE_PI, 0.0, work.branch_weight, work.bounce_weight, work.maps, setup)
    book_share(transmit, FRONT, setup)
    book_loss(transmit, air.reflect[FRONT_FACE], setup)
    for c in range(work.weight.size):
        work.weight[c] *= air.reflect[FRONT_FACE, c]
    state, alive = survives_roulette(state, work)
    if not alive:
        return state, False, 0.0, 0.0, 0.0
    score_mirrored(x, y, setup)
    state = score_mirrored_inside(state, x, y, setup)
    state, ux, uy, uz = sample_about(state, 0.0, 0.0, -1.0)
    return state, True, ux, uy, uz


@kernel
def book_replicas_through(x, y, ux, uy, uz, setup):
    """Replicas of light that meets a hole and passes its wall are booked with what leaves there, and follow no more."""
    work, thickness = setup.work, setup.slab.thickness
    if is_held(FRONT_FACE if uz > 0.0 else BACK_FACE, setup):
        return
    replicas = work.replicas
    each = 1.0 / float(count_replicas(work) + 1)
    through = 0.0
    row = replicas.rows[FIRST]
    while row < replicas.rows[LAST]:
        at_x, at_y = replica_in_row(row, replicas, x, y)
        cosine, sine = replicas.place[COSINE, row], replicas.place[SINE, row]
        vx, vy = cosine * ux - sine * uy, sine * ux + cosine * uy
        if wall_distance(at_x, at_y, vx, vy, thickness / abs(uz), False, setup.face) < math.inf:
            row += 1
            continue
        replicas.rows[LAST] -= 1
        exchange(row, replicas.rows[LAST], replicas.place)
        through += each
    add_fate(THROUGH if uz > 0.0 else BACK, through, setup)
    scale_all(1.0 - through, work)


@kernel
def meet_board(state, side, x, y, z, ux, uy, uz, met, setup):
    """Light in air arrives at the plane of a face, z. Returns (state, where, x, y, z, ux, uy, uz)."""
    face, work = setup.face, setup.work
    pixel = face_pixel(face, x, y)
    body = face.body[pixel]
    if body == OUTSIDE:
        add_fate(outcome_at(side) if met else MISSED, 1.0, setup)
        return state, ENDED, x, y, z, ux, uy, uz
    if body != LAMINATE:
        if count_replicas(work) > 0:
            book_replicas_through(x, y, ux, uy, uz, setup)
            state = split_all(state, UNMET, x, y, z, ux, uy, uz, work)
        return cross_opening(state, x, y, z, ux, uy, uz, THROUGH, BACK, setup)
    held = is_held(side, setup)
    state, where, ux, uy, uz = enter_face(state, side, x, y, ux, uy, uz, setup.slab.refractive_index, held, setup)
    return state, where, x, y, z, ux, uy, uz


@kernel
def fly_in_air(state, side, x, y, z, ux, uy, uz, met, setup):
    """One flight in the air of a side, to the board, a sheet, the light wall or away."""
    emitter, air = setup.emitter, setup.air
    outward = 1.0 if side == FRONT_FACE else -1.0
    face_z = setup.slab.thickness if side == FRONT_FACE else 0.0
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
            scale_weights(emitter.wall_reflect, 1.0, ABSORBED, setup)
            state, alive = survives_roulette(state, setup.work)
            if not alive:
                return state, ENDED, x, y, z, ux, uy, uz
            state = score_behind(state, x, y, z, nx, ny, 0.0, setup)
            state, ux, uy, uz = sample_about(state, nx, ny, 0.0)
            return state, side, x, y, z, ux, uy, uz
    if leg == math.inf:
        add_fate(outcome_at(side) if met else MISSED, 1.0, setup)
        return state, ENDED, x, y, z, ux, uy, uz
    x, y = x + ux * leg, y + uy * leg
    if rise < 0.0:
        return meet_board(state, side, x, y, face_z, ux, uy, uz, met, setup)
    z = face_z + outward * air.distance[side]
    if side == BEHIND:
        state, alive, ux, uy, uz = meet_back_sheet(state, x, y, z, setup)
    else:
        state, alive, ux, uy, uz = meet_front_sheet(state, x, y, setup)
    return state, side if alive else ENDED, x, y, z, ux, uy, uz
