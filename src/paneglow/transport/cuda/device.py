"""The GPU's own way of doing things: compiler flags, mathematics, shared sums, random words.

A photon's words are those of a multiply-with-carry generator, 32 bits at a time (MWC64X, D. B. Thomas,
http://cas.ee.ic.ac.uk/people/dt10/research/rngs-gpu-mwc64x.html; tests/unit/transport/test_cuda.py checks its
evenness): three instructions, where the CPU's scrambled counter needs several products of 64 bits. It starts where the
photon's own stream on the CPU does.
"""

import math
from typing import Any

import numpy as np
from numba import cuda
from numba.cuda import libdevice

from paneglow.transport.cuda.kernels import alone
from paneglow.transport.kernels.air import book_replicas_through
from paneglow.transport.kernels.inputs import face_pixel
from paneglow.transport.kernels.interface import inverse_sqrt, unit_circle
from paneglow.transport.kernels.random import next_triple, next_uniform, to_unit
from paneglow.transport.kernels.replicas import (
    book_replica_angles,
    count_replicas,
    replica_place,
    split_all,
    split_at_inner_face,
    split_at_wall,
)
from paneglow.transport.kernels.view import deposit_replicas, map_pixel
from paneglow.transport.kernels.weights import accumulate
from paneglow.transport.single import Function, SinglePrecision, build_mathematics

UNIT = np.float32(2.0**-32)
HALF_UNIT = np.float32(2.0**-33)
BELOW_ONE = np.float32(1.0 - 2.0**-24)
MULTIPLIER = np.uint64(4294883355)
ODD = np.uint64(1)  # a stream's start is made odd: from 0 there is no way on
FULL_TURN = np.float32(2.0 * math.pi)
EIGHTH_TURN = np.float32(0.25 * math.pi)
SHIFT_32 = np.uint64(32)
single, zero = np.float32, np.float32(0.0)


def compiled(function: Function, inlined: bool = False) -> Any:
    """Compile a device function; approximate division and roots, sums contracted."""
    return cuda.jit(device=True, forceinline=inlined, fastmath=True)(function)


def _add_atomically(tally, row, place, value):
    # Whole numbers without sign index without a look whether they count from the end
    cuda.atomic.add(tally, (np.uint32(row), np.uint32(place)), value)


def _next_word(state):
    """Next state and 32 random bits; the state is the carry over the last number."""
    low, carry = np.uint32(state), np.uint32(state >> SHIFT_32)
    return np.uint64(low) * MULTIPLIER + np.uint64(carry), np.uint32(low ^ carry)


def _bits_to_single(bits):
    # Bits of nearly all ones round up to 1, which no variate may be: a coat that lets nothing through returns u < 1
    return min(np.float32(np.uint32(bits)) * UNIT + HALF_UNIT, BELOW_ONE)


next_word_ = compiled(_next_word, True)
to_single_ = compiled(_bits_to_single, True)


def _word_to_single(word):
    return to_single_(np.uint32(word >> SHIFT_32))


def _next_single(state):
    state, bits = next_word_(np.uint64(state))
    return state, to_single_(bits)


def _next_three_singles(state):
    state, u = next_single_(state)
    state, v = next_single_(state)
    state, w = next_single_(state)
    return state, u, v, w


next_single_ = compiled(_next_single, True)


def _pixel_without_sign(face, x, y):
    row = np.int32(libdevice.floorf((y - face.y_min) * face.inverse_pitch))
    column = np.int32(libdevice.floorf((x - face.x_min) * face.inverse_pitch))
    return np.uint32(min(max(row, 0), face.n_y - 1) * face.n_x + min(max(column, 0), face.n_x - 1))


def _map_pixel_in_32_bits(x, y, view):
    column, row = (x - view.x_min) * view.inverse_pitch, (y - view.y_min) * view.inverse_pitch
    if column < zero or row < zero or column >= single(view.n_x) or row >= single(view.n_y):
        return np.int32(-1)
    return np.int32(np.int32(row) * view.n_x + np.int32(column))


def _circle_by_special_functions(turns):
    angle = turns * FULL_TURN - EIGHTH_TURN
    return libdevice.fast_cosf(angle), libdevice.fast_sinf(angle)


GPU = SinglePrecision(
    compiled=compiled,
    own={
        accumulate: compiled(_add_atomically, True),
        map_pixel: compiled(_map_pixel_in_32_bits, True),
        face_pixel: compiled(_pixel_without_sign, True),
        count_replicas: compiled(alone.count_replicas, True),
        replica_place: compiled(alone.replica_place, True),
        split_all: compiled(alone.split_all, True),
        split_at_wall: compiled(alone.split_at_wall, True),
        split_at_inner_face: compiled(alone.split_at_inner_face, True),
        book_replicas_through: compiled(alone.book_replicas_through, True),
        deposit_replicas: compiled(alone.deposit_replicas, True),
        book_replica_angles: compiled(alone.book_replica_angles, True),
        next_uniform: next_single_,
        next_triple: compiled(_next_three_singles, True),
        to_unit: compiled(_word_to_single, True),
        unit_circle: compiled(_circle_by_special_functions, True),
        inverse_sqrt: libdevice.rsqrtf,
    },
    mathematics=build_mathematics(
        floor=libdevice.floorf,
        sqrt=libdevice.sqrtf,
        exp=libdevice.fast_expf,
        log=libdevice.fast_logf,
        cos=libdevice.fast_cosf,
        sin=libdevice.fast_sinf,
        copysign=libdevice.copysignf,
    ),
)
