"""What happens to a photon at a face of the slab: from inside and from outside.

A face function returns (state, where, ux, uy, uz): INSIDE, the side whose air the photon is in now, or ENDED.
"""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.diffuse import INVERSE_PI, sample_about, scatter_diffusely
from paneglow.transport.kernels.inputs import ABSORBED, BACK, BACK_FACE, ENDED, FRONT, FRONT_FACE, INSIDE, face_pixel
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.microfacet import cross_rough
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.source import pick_outer_ray, score_from_behind
from paneglow.transport.kernels.view import deposit, deposit_alike, pick_ray, score_toward_view
from paneglow.transport.kernels.weights import (
    add_fate,
    book_loss,
    book_share,
    heaviest_weight,
    scale_weights,
    survives_roulette,
)

ONWARD = -2  # through the coat in the old direction, to the outer face
THIN_ENTRY = 0.2  # an entry that lets through less than this is followed more rarely, mean unchanged


@kernel
def outcome_at(side):
    return FRONT if side == FRONT_FACE else BACK


@kernel
def refracted(ux, uy, uz, n):
    """Direction after crossing a horizontal smooth face, n beyond over before; uz keeps its sign."""
    sx = ux / n
    sy = uy / n
    mu = math.sqrt(max(0.0, 1.0 - sx * sx - sy * sy))
    return sx, sy, mu if uz > 0.0 else -mu


@kernel
def score_rough_front(state, x, y, ux, uy, uz, n, alpha, setup):
    """What a rough front face, met from outside, throws straight back toward the viewer; returns the random state."""
    view, work = setup.sight, setup.work
    state, _, _, _, _, density = cross_rough(state, ux, uy, uz, n, alpha, view.sin_out, 0.0, view.cos_out)
    if density > 0.0:
        deposit(x, y, density / view.cos_out, 0.0, work.weight, view.through, work.maps, setup)
    return state


@kernel
def meet_roughness(state, side, x, y, ux, uy, uz, n, alpha, setup):
    """A rough face, met from either side; scores toward the view what it throws into the slab.

    n is beyond over before. Returns (state, crossed, ux, uy, uz).
    """
    z = 0.0 if side == BACK_FACE else setup.slab.thickness
    flip = -1.0 if uz > 0.0 else 1.0
    state, ray = pick_ray(state, x, y, setup)
    # Into the slab leads up from the back face; from the front face only the mirrored ray does, by a bounce below
    up = 1.0 if side == BACK_FACE else -1.0
    ox, oy, oz = flip * ray[1], flip * ray[2], flip * up * ray[3]
    state, crossed, wx, wy, wz, density = cross_rough(state, flip * ux, flip * uy, flip * uz, n, alpha, ox, oy, oz)
    toward_up = density if side == BACK_FACE else 0.0
    toward_down = density - toward_up
    if density > 0.0:
        state = score_toward_view(state, x, y, z, ray, toward_up, toward_down, 0.0, setup.work.weight, setup)
    return state, crossed, flip * wx, flip * wy, flip * wz


@kernel
def returned_by_coat(state, k, setup):
    """A film that tints and returns: choose whether the photon is returned. Returns (state, returned, alive)."""
    coat, work = setup.coat, setup.work
    book_loss(coat.transmit[k], coat.reflect[k], setup)
    chance = coat.return_chance[k]
    if chance < 0.0:
        return state, False, False
    state, u = next_uniform(state)
    if u < chance:
        for c in range(work.weight.size):
            work.weight[c] *= coat.reflect[k, c] / chance
        return state, True, True
    for c in range(work.weight.size):
        work.weight[c] *= coat.transmit[k, c] / (1.0 - chance)
    return state, False, True


@kernel
def enter_coat(state, side, k, held, setup):
    """The coat's part for light from outside; without anything to hold it, what is returned is booked, not followed.

    Returns (state, where): INSIDE to go on, the side where it was returned, or ENDED.
    """
    coat, work = setup.coat, setup.work
    if held:
        state, returned, alive = returned_by_coat(state, k, setup)
        if not alive:
            return state, ENDED
        return state, side if returned else INSIDE
    book_loss(coat.transmit[k], coat.reflect[k], setup)
    book_share(coat.reflect[k], outcome_at(side), setup)
    for c in range(work.weight.size):
        work.weight[c] *= coat.transmit[k, c]
    heaviest = heaviest_weight(work.weight)
    if heaviest <= 0.0:
        return state, ENDED
    if heaviest < THIN_ENTRY:
        state, u = next_uniform(state)
        if u * THIN_ENTRY >= heaviest:
            return state, ENDED
        for c in range(work.weight.size):
            work.weight[c] *= THIN_ENTRY / heaviest
    return state, INSIDE


@kernel
def enter_face(state, side, x, y, ux, uy, uz, n, held, setup):
    """Light from outside meets a laminate pixel; n is the slab's index over that of the medium it comes from.

    `held` says that something out there may send back what the face returns, so that it must be followed.
    """
    face, coat, work = setup.face, setup.coat, setup.work
    pixel = face_pixel(face, x, y)
    k = face.classes[side, pixel]
    inward = 1.0 if side == BACK_FACE else -1.0
    z = 0.0 if side == BACK_FACE else setup.slab.thickness
    alpha = coat.alpha[coat.kind[k]]
    if alpha > 0.0 and n > 1.2:
        if side == FRONT_FACE:
            state = score_rough_front(state, x, y, ux, uy, uz, n, alpha, setup)
        state, crossed, ux, uy, uz = meet_roughness(state, side, x, y, ux, uy, uz, n, alpha, setup)
        if crossed:
            return state, INSIDE, ux, uy, uz
        if held:
            return state, side, ux, uy, uz
        add_fate(outcome_at(side), 1.0, setup)
        return state, ENDED, ux, uy, uz
    returned = reflectance_at(abs(uz), n)
    if held:
        state, u = next_uniform(state)
        if u < returned:
            return state, side, ux, uy, -uz
    else:
        add_fate(outcome_at(side), returned, setup)
        for c in range(work.weight.size):
            work.weight[c] *= 1.0 - returned
    if heaviest_weight(work.weight) <= 0.0:
        return state, ENDED, ux, uy, uz
    if not coat.is_plain[k]:
        state, where = enter_coat(state, side, k, held, setup)
        if where == side:
            if side == FRONT_FACE:
                deposit(x, y, INVERSE_PI, 0.0, work.weight, setup.sight.through, work.maps, setup)
            state, rx, ry, rz = sample_about(state, 0.0, 0.0, -inward)
            return state, side, rx, ry, rz
        if where == ENDED:
            return state, ENDED, ux, uy, uz
    haze = coat.haze[k]
    if haze > 0.0:
        state, rx, ry, rz = scatter_diffusely(state, x, y, z, 0.0, 0.0, inward, haze, setup)
        state, u = next_uniform(state)
        if u < haze:
            return state, INSIDE, rx, ry, rz
    ux, uy, uz = refracted(ux, uy, uz, n)
    return state, INSIDE, ux, uy, uz


@kernel
def between_body_and_face(state, side, k, x, y, setup):
    """Light has left the slab into a diffuse body that touches the face: it goes to and fro until it enters or ends."""
    slab = setup.slab
    inward = 1.0 if side == BACK_FACE else -1.0
    z = 0.0 if side == BACK_FACE else slab.thickness
    n = slab.refractive_index
    alive = True
    while alive:
        scale_weights(setup.coat.backing[k], 1.0, ABSORBED, setup)
        state, alive = survives_roulette(state, setup.work)
        if not alive:
            break
        if side == BACK_FACE:
            state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, setup)
            density = oz * INVERSE_PI
            state = score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, setup)
        state, ux, uy, uz = sample_about(state, 0.0, 0.0, inward)
        state, where, ux, uy, uz = enter_face(state, side, x, y, ux, uy, uz, n, True, setup)
        if where != side:
            return state, where, ux, uy, uz
    return state, ENDED, 0.0, 0.0, 0.0


@kernel
def meet_coat(state, side, k, x, y, setup):
    """The coat's own part from inside.

    Returns (state, where, ux, uy, uz): INSIDE for a diffuse return, the side for light that it scattered outward,
    ENDED, or ONWARD where the photon goes on to the outer face in its old direction.
    """
    coat, work = setup.coat, setup.work
    inward = 1.0 if side == BACK_FACE else -1.0
    if side == FRONT_FACE and coat.haze[k] > 0.0:
        for c in range(work.weight.size):
            work.branch_weight[c] = work.weight[c] * coat.transmit[k, c] * coat.haze[k]
        deposit_alike(x, y, INVERSE_PI, work.branch_weight, setup)
    state, returned, alive = returned_by_coat(state, k, setup)
    if not alive:
        return state, ENDED, 0.0, 0.0, 0.0
    if returned:
        z = 0.0 if side == BACK_FACE else setup.slab.thickness
        state, ux, uy, uz = scatter_diffusely(state, x, y, z, 0.0, 0.0, inward, 1.0, setup)
        return state, INSIDE, ux, uy, uz
    if coat.haze[k] > 0.0:
        state, u = next_uniform(state)
        if u < coat.haze[k]:
            state, ux, uy, uz = sample_about(state, 0.0, 0.0, -inward)
            return state, side, ux, uy, uz
    return state, ONWARD, 0.0, 0.0, 0.0


@kernel
def meet_face(state, side, x, y, ux, uy, uz, n, setup):
    """A photon inside the slab reaches a face, its absorption settled; n is the index beyond over the slab's."""
    face, coat = setup.face, setup.coat
    pixel = face_pixel(face, x, y)
    k = face.classes[side, pixel]
    where = ONWARD
    if not coat.is_plain[k]:
        state, where, rx, ry, rz = meet_coat(state, side, k, x, y, setup)
        if where == INSIDE or where == ENDED:
            return state, where, rx, ry, rz
        if where == side:
            ux, uy, uz = rx, ry, rz
    if where == ONWARD:
        alpha = coat.alpha[coat.kind[k]]
        if alpha > 0.0 and n < 0.8:
            state, crossed, ux, uy, uz = meet_roughness(state, side, x, y, ux, uy, uz, n, alpha, setup)
            if not crossed:
                return state, INSIDE, ux, uy, uz
        else:
            # Smooth outer face: total reflection needs no random number
            reflectance = reflectance_at(abs(uz), n)
            state, u = next_uniform(state)
            if u < reflectance:
                if not coat.is_plain[k]:
                    scale_weights(coat.transmit[k], 1.0, ABSORBED, setup)
                return state, INSIDE, ux, uy, -uz
            ux, uy, uz = refracted(ux, uy, uz, n)
    if coat.has_backing[k]:
        return between_body_and_face(state, side, k, x, y, setup)
    return state, side, ux, uy, uz
