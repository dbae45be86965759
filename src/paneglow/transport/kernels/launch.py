"""Photons from an LED to their ends: sampled emission, then from place to place; batch by batch."""

import math

import numpy as np

from paneglow.transport.kernels.air import fly_in_air
from paneglow.transport.kernels.compile import entry, kernel
from paneglow.transport.kernels.dome import fly_in_dome
from paneglow.transport.kernels.inputs import AT_FACE, BEFORE, BEHIND, ENDED, IN_DOME, INSIDE, UNMET
from paneglow.transport.kernels.interface import unit_circle
from paneglow.transport.kernels.light_wall import is_walled
from paneglow.transport.kernels.opening import shine_in_opening
from paneglow.transport.kernels.random import GOLDEN, scrambled, stream_start, to_unit
from paneglow.transport.kernels.reference import refer
from paneglow.transport.kernels.replicas import (
    add_replicas,
    count_replicas,
    count_split,
    drop_replicas,
    split_all,
    split_on_entry,
    take_split,
)
from paneglow.transport.kernels.source import GRAZING, pick_outer_ray, score_from_behind, score_through_hole
from paneglow.transport.kernels.walk import walk
from paneglow.transport.kernels.walls import is_held

SHIFT_STREAM = 1 << 40  # photon numbers stay below it; beyond lie the batches' own streams
# Additive recurrence of lowest discrepancy in four dimensions: powers of 1/phi_4, phi_4 the root of x^5 = x + 1
# (M. Roberts, The unreasonable effectiveness of quasirandom sequences, 2018; only its evenness matters, and each batch
# shifts it at random). Strides count in 2**-64 and wrap, so that no photon number is too large for them.
STRIDE_1 = np.uint64(int(0.8566748838545029 * 2**64))
STRIDE_2 = np.uint64(int(0.733891856627126 * 2**64))
STRIDE_3 = np.uint64(int(0.6287067210378087 * 2**64))
STRIDE_4 = np.uint64(int(0.5385972572236101 * 2**64))


@kernel
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


@kernel
def sampled_cosine(emitter, u):
    i = table_position(emitter.cdf_table, u)
    span = emitter.cdf_table[i + 1] - emitter.cdf_table[i]
    part = (u - emitter.cdf_table[i]) / span if span > 0.0 else 0.0
    return emitter.cos_table[i] + part * (emitter.cos_table[i + 1] - emitter.cos_table[i])


@kernel
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


@kernel
def score_emission(state, x, y, z, setup):
    """Score the LED's own light toward the viewer, through the back face or through a hole."""
    emitter, slab, view = setup.emitter, setup.slab, setup.sight
    ax, ay, az = emitter.axis[0], emitter.axis[1], emitter.axis[2]
    seen = intensity_toward(emitter, ax * view.sin_out + az * view.cos_out)
    score_through_hole(x, y, z, seen, setup)
    if z > 0.0:
        return state
    domed = emitter.dome_radius > 0.0
    n = slab.refractive_index / emitter.dome_index if domed else slab.refractive_index
    state, ray, ox, oy, oz = pick_outer_ray(state, x, y, n, setup)
    if oz <= 0.0:
        return state
    density = intensity_toward(emitter, ax * ox + ay * oy + az * oz)
    if is_walled(x, y, z, ox, oy, oz, emitter):
        density = 0.0
    if domed:
        density *= math.exp(emitter.dome_scatter * z / oz)
    return score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, setup)


@kernel
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


@kernel
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


@kernel
def emit(state, sample, shift, setup):
    """Photon `sample` of a batch leaves its LED. Returns (state, where, x, y, z, ux, uy, uz)."""
    emitter, work = setup.emitter, setup.work
    for c in range(work.weight.size):
        work.weight[c] = setup.sight.start[c]
    x, y, z, ux, uy, uz = emitted(sample, shift, emitter)
    state = score_emission(state, x, y, z, setup)
    where = BEHIND if z <= 0.0 else BEFORE
    if emitter.opening_u > 0.0:
        state, where, x, y, z, ux, uy, uz = shine_in_opening(state, x, y, z, ux, uy, uz, setup)
    elif emitter.dome_radius > 0.0:
        where = IN_DOME
    return state, where, x, y, z, ux, uy, uz


@kernel
def fly_outside(state, where, x, y, z, ux, uy, uz, met, setup):
    """One flight outside the slab. Returns (state, where, x, y, z, ux, uy, uz)."""
    if where == IN_DOME:
        return fly_in_dome(state, x, y, z, ux, uy, uz, setup)
    return fly_in_air(state, where, x, y, z, ux, uy, uz, met, setup)


@kernel
def follow(state, where, x, y, z, ux, uy, uz, path, met, setup):
    """Follow a photon, and its replicas, to its end; those that part wait in the workspace. Returns the random state.

    `met` says whether it has been in the board already.
    """
    work = setup.work
    while where != ENDED:
        if where == INSIDE or where == AT_FACE:
            met = True
            state, where, x, y, z, ux, uy, uz = walk(state, where, x, y, z, ux, uy, uz, path, True, setup)
            path = 0.0
        else:
            if not met and count_replicas(work) > 0:
                state = split_on_entry(state, x, y, z, ux, uy, uz, setup)
            state, where, x, y, z, ux, uy, uz = fly_outside(state, where, x, y, z, ux, uy, uz, met, setup)
        if where != INSIDE and count_replicas(work) > 0:
            # Outside no replica follows; what goes away for ever is booked with the photon
            if where != ENDED and is_held(where, setup):
                state = split_all(state, where if met else UNMET, x, y, z, ux, uy, uz, work)
            drop_replicas(work)
    return state


@kernel
def launch(state, sample, shift, setup):
    """Emit one photon and follow it to its end, then those of its replicas that have split from it."""
    work = setup.work
    state, where, x, y, z, ux, uy, uz = emit(state, sample, shift, setup)
    if setup.emitter.n_replicas > 0 and where == BEHIND and uz > GRAZING:
        add_replicas(x, y, setup)
    state = follow(state, where, x, y, z, ux, uy, uz, 0.0, False, setup)
    while count_split(work) > 0:
        state, where, x, y, z, ux, uy, uz, path = take_split(work)
        met = where != UNMET
        where = where if met else BEHIND
        state = follow(state, where, x, y, z, ux, uy, uz, path, met, setup)


@kernel
def draw_shift(batch, seed, emitter_number, shift):
    """Fill `shift[4]`, the random words by which a batch shifts its launch pattern."""
    state = stream_start(seed, emitter_number, SHIFT_STREAM + batch)
    for i in range(4):
        state = np.uint64(state) + GOLDEN
        shift[i] = scrambled(state)


@entry
def trace_batch(batch, n_photons, seed, shift, setup):
    """Trace one batch into the tallies of its workspace; `shift[4]` is scratch for its launch pattern."""
    inputs = refer(setup)
    emitter = setup.emitter
    draw_shift(batch, seed, emitter.number, shift)
    for sample in range(n_photons):
        state = stream_start(seed, emitter.number, batch * n_photons + sample)
        launch(state, sample, shift, inputs)
