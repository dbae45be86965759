"""The GPU's own way of doing things: compiler flags, mathematics, shared sums, random words.

A photon's words are those of a multiply-with-carry generator, 32 bits at a time (MWC64X, D. B. Thomas, from memory;
tests/unit/transport/test_cuda.py checks its evenness): three instructions, where the CPU's scrambled counter needs
several products of 64 bits. It starts where the photon's own stream on the CPU does.
"""

import math
from typing import Any

import numpy as np
from numba import cuda
from numba.cuda import libdevice

from paneglow.transport.cuda.kernels import alone
from paneglow.transport.kernels.company import company_size, placed, turned_with
from paneglow.transport.kernels.interface import inverse_sqrt, unit_circle
from paneglow.transport.kernels.parting import part_at_wall, part_where_they_meet
from paneglow.transport.kernels.random import next_triple, next_uniform, to_unit
from paneglow.transport.kernels.view import deposit_in_company, face_pixel
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


def compiled(function: Function, inlined: bool = False) -> Any:
    """Compile a device function; approximate division and roots, sums contracted."""
    return cuda.jit(device=True, forceinline=inlined, fastmath=True)(function)


def _add_atomically(tally, plane, row, column, value):
    # Whole numbers without sign index without a look whether they count from the end
    cuda.atomic.add(tally, (np.uint32(plane), np.uint32(row), np.uint32(column)), value)


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
    return np.uint32(min(max(row, 0), face.n_y - 1)), np.uint32(min(max(column, 0), face.n_x - 1))


def _circle_by_special_functions(turns):
    angle = turns * FULL_TURN - EIGHTH_TURN
    return libdevice.fast_cosf(angle), libdevice.fast_sinf(angle)


GPU = SinglePrecision(
    compiled=compiled,
    own={
        accumulate: compiled(_add_atomically, True),
        face_pixel: compiled(_pixel_without_sign, True),
        company_size: compiled(alone.company_size, True),
        placed: compiled(alone.placed, True),
        turned_with: compiled(alone.turned_with, True),
        part_at_wall: compiled(alone.part_at_wall, True),
        part_where_they_meet: compiled(alone.part_where_they_meet, True),
        deposit_in_company: compiled(alone.deposit_in_company, True),
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
