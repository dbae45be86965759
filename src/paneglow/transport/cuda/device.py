"""The GPU's own way of doing things: compiler flags, mathematics, shared sums, variates from bits."""

from typing import Any

import numpy as np
from numba import cuda
from numba.cuda import libdevice

from paneglow.transport.kernels.random import half_to_unit, to_unit
from paneglow.transport.kernels.weights import accumulate
from paneglow.transport.single import Function, SinglePrecision, build_mathematics

UNIT = np.float32(2.0**-32)
HALF_UNIT = np.float32(2.0**-33)
SHIFT_32 = np.uint64(32)


def compiled(function: Function, inlined: bool = False) -> Any:
    """Compile a device function; approximate division and roots, sums contracted."""
    return cuda.jit(device=True, forceinline=inlined, fastmath=True)(function)


def _add_atomically(tally, plane, row, column, value):  # type: ignore[no-untyped-def]
    cuda.atomic.add(tally, (plane, row, column), value)


def _half_to_single(half):  # type: ignore[no-untyped-def]
    return np.float32(np.uint32(half)) * UNIT + HALF_UNIT


def _word_to_single(word):  # type: ignore[no-untyped-def]
    return np.float32(np.uint32(word >> SHIFT_32)) * UNIT + HALF_UNIT


GPU = SinglePrecision(
    compiled=compiled,
    own={
        accumulate: compiled(_add_atomically, True),
        half_to_unit: compiled(_half_to_single, True),
        to_unit: compiled(_word_to_single, True),
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
