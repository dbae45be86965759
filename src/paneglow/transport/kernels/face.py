"""What happens to a photon at a face: from inside, from outside, and between a face and the body behind it."""

import math

from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK,
    BACK_FACE,
    EDGE,
    FRONT,
    FRONT_FACE,
    HOLE,
    LAMINATE,
    OUTSIDE,
)
from paneglow.transport.kernels.interface import reflectance_at, sample_lambertian
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.view import deposit, face_pixel, score_toward_view

INVERSE_PI = 1.0 / math.pi
THIN_ENTRY = 0.2  # an entry that lets through less than this is followed more rarely, mean unchanged


@inner_kernel
def heaviest_weight(weight):
    heaviest = 0.0
    for c in range(weight.size):
        heaviest = max(heaviest, weight[c])
    return heaviest


@inner_kernel
def add_fate(fate, share, view, work):
    """Book `share` of the photon's weights under a fate, as luminous flux."""
    for version in range(view.n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            total += work.weight[version * view.n_nodes + node] * view.xyz[node, 1]
        work.fates[fate, version] += share * total


@inner_kernel
def settle_absorption(path, slab, view, work):
    """Take the laminate's absorption along `path` off the weights and book it."""
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            left = work.weight[c] * math.exp(-slab.absorb[c] * path)
            taken += (work.weight[c] - left) * view.xyz[node, 1]
            work.weight[c] = left
        work.fates[ABSORBED, version] += taken


@inner_kernel
def scale_weights(factors, share, fate, view, work):
    """Multiply weights by `factors[c]`; what is lost goes to a fate. `share` rescales what goes on, unbooked."""
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            taken += work.weight[c] * (1.0 - factors[c]) * view.xyz[node, 1]
            work.weight[c] *= factors[c] * share
        work.fates[fate, version] += taken


@inner_kernel
def book_coat_loss(k, coat, view, work):
    """Book what the coat of class k swallows: neither returned nor let through."""
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            taken += work.weight[c] * (1.0 - coat.transmit[k, c] - coat.reflect[k, c]) * view.xyz[node, 1]
        work.fates[ABSORBED, version] += taken


@inner_kernel
def outcome_at(side):
    return FRONT if side == FRONT_FACE else BACK


@inner_kernel
def refracted_inward(ux, uy, uz, n):
    """Direction inside after crossing from air; uz keeps its sign."""
    sx = ux / n
    sy = uy / n
    mu = math.sqrt(max(0.0, 1.0 - sx * sx - sy * sy))
    return sx, sy, mu if uz > 0.0 else -mu


@inner_kernel
def enter_face(state, side, x, y, ux, uy, uz, view_density, face, coat, slab, view, work):
    """Light from air meets a face of the slab at a laminate pixel.

    `view_density` is the source's density per steradian in air toward the view, scored here for sources that touch
    the face; 0 where it was scored elsewhere. Returns (state, alive, ux, uy, uz).
    """
    row, column = face_pixel(face, x, y)
    k = face.classes[side, row, column]
    z = 0.0 if side == BACK_FACE else slab.thickness
    inward = 1.0 if side == BACK_FACE else -1.0
    returned = reflectance_at(abs(uz), slab.refractive_index)
    add_fate(outcome_at(side), returned, view, work)
    for c in range(work.weight.size):
        work.weight[c] *= 1.0 - returned
    haze = 0.0
    if not coat.is_plain[k]:
        haze = coat.haze[k]
        book_coat_loss(k, coat, view, work)
        for version in range(view.n_versions):
            back_out = 0.0
            for node in range(view.n_nodes):
                c = version * view.n_nodes + node
                back_out += work.weight[c] * coat.reflect[k, c] * view.xyz[node, 1]
                work.weight[c] *= coat.transmit[k, c]
            work.fates[outcome_at(side), version] += back_out
    heaviest = heaviest_weight(work.weight)
    if heaviest <= 0.0:
        return state, False, ux, uy, uz
    if side == BACK_FACE and view_density > 0.0:
        # The weights already hold the crossing loss of the sampled direction; the view ray has its own
        crossing = (1.0 - view.reflect) / max(1e-3, 1.0 - returned)
        toward = (
            view_density
            * crossing
            * (1.0 - haze)
            * slab.refractive_index
            * slab.refractive_index
            * view.cos_in
            / view.cos_out
        )
        state = score_toward_view(state, x, y, z, toward, 0.0, 0.0, work.weight, face, coat, slab, view, work)
    # Follow faint entries more rarely
    if heaviest < THIN_ENTRY:
        state, u = next_uniform(state)
        if u * THIN_ENTRY >= heaviest:
            return state, False, ux, uy, uz
        for c in range(work.weight.size):
            work.weight[c] *= THIN_ENTRY / heaviest
    if haze > 0.0:
        toward = haze * view.cos_in * INVERSE_PI
        up = toward if side == BACK_FACE else 0.0
        state = score_toward_view(state, x, y, z, up, toward - up, 0.0, work.weight, face, coat, slab, view, work)
        state, u = next_uniform(state)
        if u < haze:
            state, ux, uy, uz = sample_lambertian(state, inward)
            return state, True, ux, uy, uz
    ux, uy, uz = refracted_inward(ux, uy, inward * abs(uz), slab.refractive_index)
    return state, True, ux, uy, uz


@inner_kernel
def leave_face(state, side, k, x, y, face, coat, slab, view, work):
    """Light has left the slab; a diffuse body behind the face may send it back. Returns (state, alive, ux, uy, uz)."""
    if not coat.has_backing[k]:
        add_fate(outcome_at(side), 1.0, view, work)
        return state, False, 0.0, 0.0, 0.0
    scale_weights(coat.backing[k], 1.0, ABSORBED, view, work)
    inward = 1.0 if side == BACK_FACE else -1.0
    state, ux, uy, uz = sample_lambertian(state, inward)
    density = view.cos_out * INVERSE_PI
    return enter_face(state, side, x, y, ux, uy, uz, density, face, coat, slab, view, work)


@inner_kernel
def meet_coat(state, side, k, x, y, face, coat, slab, view, work):
    """The coat's own part from inside: 0 goes on to the outer face, 1 returned diffusely, 2 gone.

    Returns (state, what, ux, uy, uz); the direction holds for a diffuse return only.
    """
    inward = 1.0 if side == BACK_FACE else -1.0
    if side == FRONT_FACE and coat.haze[k] > 0.0:
        for c in range(work.weight.size):
            work.aside[c] = work.weight[c] * coat.transmit[k, c] * coat.haze[k]
        deposit(x, y, INVERSE_PI, 0.0, work.aside, slab, view, work.maps)
    book_coat_loss(k, coat, view, work)
    chance = coat.return_chance[k]
    if chance < 0.0:
        return state, 2, 0.0, 0.0, 0.0
    state, u = next_uniform(state)
    if u < chance:
        for c in range(work.weight.size):
            work.weight[c] *= coat.reflect[k, c] / chance
        z = 0.0 if side == BACK_FACE else slab.thickness
        toward = view.cos_in * INVERSE_PI
        up = toward if side == BACK_FACE else 0.0
        state = score_toward_view(state, x, y, z, up, toward - up, 0.0, work.weight, face, coat, slab, view, work)
        state, ux, uy, uz = sample_lambertian(state, inward)
        return state, 1, ux, uy, uz
    for c in range(work.weight.size):
        work.weight[c] *= coat.transmit[k, c] / (1.0 - chance)
    state, u = next_uniform(state)
    if u < coat.haze[k]:
        add_fate(outcome_at(side), 1.0, view, work)
        return state, 2, 0.0, 0.0, 0.0
    return state, 0, 0.0, 0.0, 0.0


@inner_kernel
def meet_face(state, side, x, y, ux, uy, uz, face, coat, slab, view, work):
    """A photon inside the slab reaches a face, its absorption settled. Returns (state, alive, ux, uy, uz)."""
    row, column = face_pixel(face, x, y)
    body = face.body[row, column]
    if body != LAMINATE:
        add_fate(EDGE if body == OUTSIDE else HOLE, 1.0, view, work)
        return state, False, ux, uy, uz
    k = face.classes[side, row, column]
    if not coat.is_plain[k]:
        state, what, rx, ry, rz = meet_coat(state, side, k, x, y, face, coat, slab, view, work)
        if what == 1:
            return state, True, rx, ry, rz
        if what == 2:
            return state, False, ux, uy, uz
    # Smooth outer face: total reflection needs no random number
    reflectance = reflectance_at(abs(uz), 1.0 / slab.refractive_index)
    state, u = next_uniform(state)
    if u >= reflectance:
        return leave_face(state, side, k, x, y, face, coat, slab, view, work)
    if not coat.is_plain[k]:
        scale_weights(coat.transmit[k], 1.0, ABSORBED, view, work)
    return state, True, ux, uy, -uz
