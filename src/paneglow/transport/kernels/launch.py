"""One photon from an LED to its end: sampled emission, then from place to place until it ends."""

import math

import numpy as np

from paneglow.transport.kernels.air import fly_in_air, is_held
from paneglow.transport.kernels.company import company_size, dismiss_company, n_parted
from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.dome import fly_in_dome
from paneglow.transport.kernels.inputs import AT_FACE, BEFORE, BEHIND, ENDED, IN_DOME, INSIDE, UNMET
from paneglow.transport.kernels.interface import unit_circle
from paneglow.transport.kernels.light_wall import is_walled
from paneglow.transport.kernels.opening import shine_in_opening
from paneglow.transport.kernels.parting import gather_company, part_all, part_where_they_enter, take_parted
from paneglow.transport.kernels.random import to_unit
from paneglow.transport.kernels.source import GRAZING, pick_outer_ray, score_from_behind, score_through_hole
from paneglow.transport.kernels.walk import walk

# Additive recurrence of lowest discrepancy in four dimensions: powers of 1/phi_4, phi_4 the root of x^5 = x + 1
# (M. Roberts' R-sequence, from memory; only its evenness matters, and each batch shifts it at random). Strides count
# in 2**-64 and wrap, so that no photon number is too large for them.
STRIDE_1 = np.uint64(int(0.8566748838545029 * 2**64))
STRIDE_2 = np.uint64(int(0.733891856627126 * 2**64))
STRIDE_3 = np.uint64(int(0.6287067210378087 * 2**64))
STRIDE_4 = np.uint64(int(0.5385972572236101 * 2**64))


@inner_kernel
def table_position(table, value):
    """Index i of a rising table with table[i] <= value <= table[i + 1]."""
    low = 0
    high = table.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle] <= value:
            low = middle
        else:
            high = middle
    return low


@inner_kernel
def sampled_cosine(emitter, u):
    i = table_position(emitter.cdf_table, u)
    span = emitter.cdf_table[i + 1] - emitter.cdf_table[i]
    part = (u - emitter.cdf_table[i]) / span if span > 0.0 else 0.0
    return emitter.cos_table[i] + part * (emitter.cos_table[i + 1] - emitter.cos_table[i])


@inner_kernel
def intensity_toward(emitter, cosine):
    """Intensity per unit flux [1/sr]; the cosine table falls."""
    low = 0
    high = emitter.cos_table.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if emitter.cos_table[middle] >= cosine:
            low = middle
        else:
            high = middle
    span = emitter.cos_table[low] - emitter.cos_table[high]
    part = min(1.0, max(0.0, (emitter.cos_table[low] - cosine) / span)) if span > 0.0 else 0.0
    return emitter.intensity_table[low] + part * (emitter.intensity_table[high] - emitter.intensity_table[low])


@inner_kernel
def score_emission(state, x, y, z, emitter, face, coat, slab, view, work):
    """Score the LED's own light toward the viewer, through the back face or through a hole."""
    ax, ay, az = emitter.axis[0], emitter.axis[1], emitter.axis[2]
    seen = intensity_toward(emitter, ax * view.sin_out + az * view.cos_out)
    score_through_hole(x, y, z, seen, face, slab, view, work)
    if z > 0.0:
        return state
    domed = emitter.dome_radius > 0.0
    n = slab.refractive_index / emitter.dome_index if domed else slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, face, coat, view)
    if oz <= 0.0:
        return state
    density = intensity_toward(emitter, ax * ox + ay * oy + az * oz)
    if is_walled(x, y, z, ox, oy, oz, emitter):
        density = 0.0
    if domed:
        density *= math.exp(emitter.dome_scatter * z / oz)
    return score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, face, coat, slab, view, work)


@inner_kernel
def emitted(sample, shift, emitter):
    """Start and direction of photon `sample` of a batch; `shift[4]` belongs to the batch."""
    step = np.uint64(sample)
    return emitted_at(
        to_unit(shift[0] + step * STRIDE_1),
        to_unit(shift[1] + step * STRIDE_2),
        to_unit(shift[2] + step * STRIDE_3),
        to_unit(shift[3] + step * STRIDE_4),
        emitter,
    )


@inner_kernel
def emitted_at(along, across, share, turn, emitter):
    """Start and direction for four variates: the place on the emitter, the polar angle and the azimuth."""
    a = (along - 0.5) * emitter.size_u
    b = (across - 0.5) * emitter.size_v
    mu = sampled_cosine(emitter, share)
    cos_azimuth, sin_azimuth = unit_circle(turn)
    sine = math.sqrt(max(0.0, 1.0 - mu * mu))
    du = sine * cos_azimuth
    dv = sine * sin_azimuth
    x = emitter.centre[0] + a * emitter.u[0] + b * emitter.v[0]
    y = emitter.centre[1] + a * emitter.u[1] + b * emitter.v[1]
    z = emitter.centre[2] + a * emitter.u[2] + b * emitter.v[2]
    ux = mu * emitter.axis[0] + du * emitter.u[0] + dv * emitter.v[0]
    uy = mu * emitter.axis[1] + du * emitter.u[1] + dv * emitter.v[1]
    uz = mu * emitter.axis[2] + du * emitter.u[2] + dv * emitter.v[2]
    return x, y, z, ux, uy, uz


@inner_kernel
def emit(state, sample, shift, emitter, face, coat, slab, air, view, work):
    """Photon `sample` of a batch leaves its LED. Returns (state, where, x, y, z, ux, uy, uz)."""
    for c in range(work.weight.size):
        work.weight[c] = view.start[c]
    x, y, z, ux, uy, uz = emitted(sample, shift, emitter)
    state = score_emission(state, x, y, z, emitter, face, coat, slab, view, work)
    where = BEHIND if z <= 0.0 else BEFORE
    if emitter.opening_u > 0.0:
        state, where, x, y, z, ux, uy, uz = shine_in_opening(
            state, x, y, z, ux, uy, uz, emitter, face, coat, slab, air, view, work
        )
    elif emitter.dome_radius > 0.0:
        where = IN_DOME
    return state, where, x, y, z, ux, uy, uz


@inner_kernel
def fly_outside(state, where, x, y, z, ux, uy, uz, met, emitter, face, coat, slab, air, view, work):
    """One flight outside the slab. Returns (state, where, x, y, z, ux, uy, uz)."""
    if where == IN_DOME:
        return fly_in_dome(state, x, y, z, ux, uy, uz, emitter, face, coat, slab, view, work)
    return fly_in_air(state, where, x, y, z, ux, uy, uz, met, emitter, face, coat, slab, air, view, work)


@inner_kernel
def follow(state, where, x, y, z, ux, uy, uz, path, met, emitter, face, coat, slab, air, view, work):
    """Follow a photon, and its company, to its end; those that part wait in the workspace. Returns the random state.

    `met` says whether it has been in the board already.
    """
    while where != ENDED:
        if where == INSIDE or where == AT_FACE:
            met = True
            state, where, x, y, z, ux, uy, uz = walk(
                state, where, x, y, z, ux, uy, uz, path, emitter, face, coat, slab, view, work
            )
            path = 0.0
        else:
            if not met and company_size(work) > 0:
                state = part_where_they_enter(state, x, y, z, ux, uy, uz, face, work)
            state, where, x, y, z, ux, uy, uz = fly_outside(
                state, where, x, y, z, ux, uy, uz, met, emitter, face, coat, slab, air, view, work
            )
        if where != INSIDE and company_size(work) > 0:
            # Outside nobody is followed; what goes away for ever is booked with the leader
            if where != ENDED and is_held(where, emitter, air):
                state = part_all(state, where if met else UNMET, x, y, z, ux, uy, uz, work)
            dismiss_company(work)
    return state


@inner_kernel
def launch(state, sample, shift, emitter, face, coat, slab, air, view, work):
    """Emit one photon and follow it to its end, then those of its company that have parted from it."""
    state, where, x, y, z, ux, uy, uz = emit(state, sample, shift, emitter, face, coat, slab, air, view, work)
    if emitter.n_companions > 0 and where == BEHIND and uz > GRAZING:
        gather_company(x, y, emitter, work)
    state = follow(state, where, x, y, z, ux, uy, uz, 0.0, False, emitter, face, coat, slab, air, view, work)
    while n_parted(work) > 0:
        state, where, x, y, z, ux, uy, uz, path = take_parted(work)
        met = where != UNMET
        where = where if met else BEHIND
        state = follow(state, where, x, y, z, ux, uy, uz, path, met, emitter, face, coat, slab, air, view, work)
