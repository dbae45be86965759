"""What the lanes of a warp do together in the lean loop (`lean.py`): wait, be scored, meet faces, be emitted."""

import numpy as np
from numba import cuda
from numba.cuda import libdevice

from paneglow.transport.cuda.device import GPU, ODD, compiled
from paneglow.transport.cuda.kernels.flight import (
    FAR,
    FLIES_ON,
    drawn_length,
    heavier_,
    next_word,
    stop_,
    unit_,
)
from paneglow.transport.cuda.kernels.loop import (
    WHOLE_WARP,
    emit_,
    fly_outside_,
    meet_,
    none,
    score_,
    single,
    stream_start_,
    zero,
)
from paneglow.transport.kernels.air import tally_angle
from paneglow.transport.kernels.face import outcome_at
from paneglow.transport.kernels.inputs import (
    BACK_FACE,
    BEFORE,
    BEHIND,
    ENDED,
    FRONT_FACE,
    IN_DOME,
    INSIDE,
    face_pixel,
)
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.walls import is_held
from paneglow.transport.kernels.weights import add_fate, settle_absorption, survives_roulette

LANES = 32
SLOTS = 64  # of a queue or pool: 31 that wait and 32 that come
N_WORDS = 8  # of one that waits, beside its random state
N_LANE_WORDS, LEG, WEIGHT = 10, 8, 9  # of a lane's photon, kept in shared memory while anything rare is done
N_NUMBERS = 7  # of a Flight
# What a lane's photon does; no photon is left for a lane that is done
HAS_ENDED, IS_DONE, HAS_STOPPED = np.int32(ENDED), np.int32(-2), np.int32(16)
SIDE_STREAM = np.uint64(0x9E3779B97F4A7C15)  # turns a photon's stream into that of its scores

is_held_, outcome_at_ = GPU.ported(is_held), GPU.ported(outcome_at)
add_fate_, face_pixel_ = GPU.ported(add_fate), GPU.ported(face_pixel)
settle_, survives_, tally_ = GPU.ported(settle_absorption), GPU.ported(survives_roulette), GPU.ported(tally_angle)
next_uniform_, reflectance_ = GPU.ported(next_uniform), GPU.ported(reflectance_at)
FRONT_, BACK_ = np.uint32(FRONT_FACE), np.uint32(BACK_FACE)
lane_count, one = np.int32(LANES), np.float32(1.0)


def _put(words, slot, a, b, c, d, e, f, g, h):
    words[0, slot] = a
    words[1, slot] = b
    words[2, slot] = c
    words[3, slot] = d
    words[4, slot] = e
    words[5, slot] = f
    words[6, slot] = g
    words[7, slot] = h


def _put_lane(lanes, thread, x, y, z, ux, uy, uz, path, safe, leg):
    put(lanes, thread, x, y, z, ux, uy, uz, path, safe)
    lanes[LEG, thread] = leg


def _lane_values(lanes, thread):
    return (
        lanes[0, thread],
        lanes[1, thread],
        lanes[2, thread],
        lanes[3, thread],
        lanes[4, thread],
        lanes[5, thread],
        lanes[6, thread],
        lanes[7, thread],
        lanes[LEG, thread],
    )


def _rank(mask, lane):
    """Lanes below this one in a mask."""
    return np.int32(cuda.popc(np.uint32(mask) & ((np.uint32(1) << np.uint32(lane)) - np.uint32(1))))


def _same(number):
    """A number that all lanes have, in a way that the compiler does not see through."""
    return np.uint32(cuda.shfl_sync(WHOLE_WARP, np.int32(number), 0))


def _leave(state, where, x, y, z, ux, uy, uz, met, setup):
    """Follow a photon outside the slab until it is inside or has ended."""
    while where == BEHIND or where == BEFORE or where == IN_DOME:
        outward = uz if where == BEFORE else -uz
        if met and where != IN_DOME and outward >= zero and not is_held_(where, setup):
            # Nothing is out there
            add_fate_(outcome_at_(where), one, setup)
            where = HAS_ENDED
        else:
            state, where, x, y, z, ux, uy, uz = fly_outside_(state, where, x, y, z, ux, uy, uz, met, setup)
    return state, np.int32(where), x, y, z, ux, uy, uz


def _meet_plain_face(lanes, states, thread, flight, setup):
    """What `meet` does at a smooth face without coat, body or anything beyond it, in short.

    Returns FLIES_ON or HAS_ENDED, or HAS_STOPPED for what is not so plain.
    """
    emitter, face, coat, slab, work = setup.emitter, setup.face, setup.coat, setup.slab, setup.work
    x, y, z, ux, uy, uz, path, safe, leg = lane_values(lanes, thread)
    ahead = z + uz * leg
    reach = (libdevice.copysignf(flight.half, uz) - z) / uz
    if abs(ahead) < flight.half or ahead * uz <= zero or reach >= safe:
        return HAS_STOPPED
    x += ux * reach
    y += uy * reach
    side = FRONT_ if uz > zero else BACK_
    pixel = face_pixel_(face, x, y)
    k = face.classes[side, pixel]
    if not coat.is_plain[k] or coat.has_backing[k] or coat.alpha[coat.kind[k]] > zero or is_held_(side, setup):
        return HAS_STOPPED
    if emitter.dome_radius > zero or abs(x) > FAR or abs(y) > FAR:
        return HAS_STOPPED
    work.weight[0] = lanes[WEIGHT, thread]
    settle_(path + reach, setup)
    inverse_index = one / slab.refractive_index
    state, u = next_uniform_(states[thread])
    where = FLIES_ON
    if u < reflectance_(abs(uz), inverse_index):
        state, survives = survives_(state, work)
        where = FLIES_ON if survives else HAS_ENDED
        ux, uy, uz = unit_(ux, uy, -uz)
    else:
        add_fate_(outcome_at_(side), one, setup)
        if side == FRONT_:
            index = slab.refractive_index
            tally_(x, y, libdevice.sqrtf(max(zero, one - (one - uz * uz) * index * index)), setup)
        where = HAS_ENDED
    put_lane(lanes, thread, x, y, -libdevice.copysignf(flight.half, uz), ux, uy, uz, zero, safe - reach, leg - reach)
    lanes[WEIGHT, thread] = work.weight[0]
    states[thread] = state
    return where


def _deal_with(lanes, states, thread, flight, setup):
    """What stopped a lane's photon. Returns FLIES_ON or HAS_ENDED."""
    x, y, z, ux, uy, uz, path, safe, leg = lane_values(lanes, thread)
    state = states[thread]
    work = setup.work
    work.weight[0] = lanes[WEIGHT, thread]
    ux, uy, uz = unit_(ux, uy, uz)
    where, travelled, z, safe = stop_(x, y, z, ux, uy, uz, leg, safe, flight, setup.face)
    if where != FLIES_ON:
        x += ux * travelled
        y += uy * travelled
        # What is left of a free length is as long, on average, as any
        leg -= travelled
        state, where, x, y, z, ux, uy, uz = meet_(
            state,
            where,
            none,
            x,
            y,
            z + flight.half,
            ux,
            uy,
            uz,
            path + travelled,
            setup,
        )
        path = zero
        if where != FLIES_ON:
            safe = zero
            state, where, x, y, z, ux, uy, uz = leave_(state, np.int32(where), x, y, z, ux, uy, uz, True, setup)
        z -= flight.half
    put_lane(lanes, thread, x, y, z, ux, uy, uz, path, safe, leg)
    lanes[WEIGHT, thread] = work.weight[0]
    states[thread] = state
    return np.int32(where)


def _clear_around(x, y, face):
    pixel = face_pixel_(face, x, y)
    return single(face.clearance[pixel]) * face.pitch


def _take(pool, pool_states, slot, lanes, states, thread, per_log2):
    """A photon from the pool takes the place of a lane's."""
    state, word = next_word(pool_states[slot])
    put(
        lanes,
        thread,
        pool[0, slot],
        pool[1, slot],
        pool[2, slot],
        pool[3, slot],
        pool[4, slot],
        pool[5, slot],
        zero,
        pool[7, slot],
    )
    lanes[LEG, thread] = drawn_length(word, per_log2)
    lanes[WEIGHT, thread] = pool[6, slot]
    states[thread] = state


def _score_waiting(count, lane, words, states, flight, setup):
    """Score the last 32 collisions of a queue, or all of fewer. Returns how many are left."""
    cuda.syncwarp()
    left = max(none, np.int32(count - lane_count))
    slot = np.uint32(left + lane)
    if left + lane < count:
        z = words[2, slot]
        setup.work.weight[0] = words[7, slot]
        score_(
            states[slot],
            heavier_(z, flight, setup.slab),
            words[0, slot],
            words[1, slot],
            z + flight.half,
            words[3, slot],
            words[4, slot],
            words[5, slot],
            words[6, slot],
            setup,
        )
    cuda.syncwarp()
    return left


put, rank_, same_, leave_ = compiled(_put, True), compiled(_rank, True), compiled(_same, True), compiled(_leave)
put_lane, lane_values = compiled(_put_lane, True), compiled(_lane_values, True)
clear_around, take = compiled(_clear_around, True), compiled(_take, True)
meet_plain_face = compiled(_meet_plain_face, True)
deal_with, score_waiting = compiled(_deal_with, True), compiled(_score_waiting, True)


def _make_photons(
    count,
    n_samples,
    numbering,
    lane,
    upcoming,
    words,
    states,
    shift,
    flight,
    setup,
):
    """Emit up to 32 photons and keep in the pool those that enter the slab. Returns (count, whether more are left)."""
    seed, first, offset = numbering
    start = none
    if lane == 0:
        start = np.int32(cuda.atomic.add(upcoming, 0, lane_count))
    start = np.int32(cuda.shfl_sync(WHOLE_WARP, start, 0))
    state, where = ODD, HAS_ENDED
    x = y = z = ux = uy = uz = zero
    if start + lane < n_samples:
        sample = first + start + lane
        state = stream_start_(seed, setup.emitter.number, offset + sample) | ODD
        state, where, x, y, z, ux, uy, uz = emit_(state, sample, shift, setup)
        state, where, x, y, z, ux, uy, uz = leave_(state, np.int32(where), x, y, z, ux, uy, uz, False, setup)
    mask = cuda.ballot_sync(WHOLE_WARP, where == INSIDE)
    if where == INSIDE:
        slot = np.uint32(count + rank_(mask, lane))
        safe = clear_around(x, y, setup.face)
        put(words, slot, x, y, z - flight.half, ux, uy, uz, setup.work.weight[0], safe)
        states[slot] = state
    cuda.syncwarp()
    return np.int32(count + np.int32(cuda.popc(mask))), start + lane_count < n_samples


make_photons = compiled(_make_photons, True)
