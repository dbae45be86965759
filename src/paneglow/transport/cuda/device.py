"""The GPU's own way of doing things: compiler flags, mathematics, shared sums, variates from bits."""

import math
from typing import Any

import numpy as np
from numba import cuda
from numba.cuda import libdevice

from paneglow.transport.kernels.interface import inverse_sqrt, unit_circle
from paneglow.transport.kernels.random import share_of, to_unit
from paneglow.transport.kernels.weights import accumulate
from paneglow.transport.single import Function, SinglePrecision, build_mathematics

UNIT = np.float32(2.0**-32)
HALF_UNIT = np.float32(2.0**-33)
BELOW_ONE = np.float32(1.0 - 2.0**-24)
HALF = np.float32(0.5)
FULL_TURN = np.float32(2.0 * math.pi)
EIGHTH_TURN = np.float32(0.25 * math.pi)
SHIFT_32 = np.uint64(32)


def compiled(function: Function, inlined: bool = False) -> Any:
    """Compile a device function; approximate division and roots, sums contracted."""
    return cuda.jit(device=True, forceinline=inlined, fastmath=True)(function)


def _add_atomically(tally, plane, row, column, value):
    cuda.atomic.add(tally, (plane, row, column), value)


def _few_to_single(bits, step):
    return np.float32(np.uint32(bits)) * step + HALF * step


def _word_to_single(word):
    # Words of nearly all ones round up to 1, which no variate may be: a coat that lets nothing through returns u < 1
    return min(np.float32(np.uint32(word >> SHIFT_32)) * UNIT + HALF_UNIT, BELOW_ONE)


def _circle_by_special_functions(turns):
    angle = turns * FULL_TURN - EIGHTH_TURN
    return libdevice.fast_cosf(angle), libdevice.fast_sinf(angle)


GPU = SinglePrecision(
    compiled=compiled,
    own={
        accumulate: compiled(_add_atomically, True),
        share_of: compiled(_few_to_single, True),
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
