"""Kernels in single precision: no double is left in them, and photons meet the same fates as in double."""

import math

import numpy as np
import pytest
from numba import float32, njit, types, uint64

from paneglow.transport.kernels.interface import inverse_sqrt, reflectance_at, sample_lambertian, unit_circle
from paneglow.transport.kernels.phase import density_hg, scattered
from paneglow.transport.kernels.random import next_triple, share_of, to_unit
from paneglow.transport.single import SinglePrecision, build_mathematics


@njit(error_model="numpy")
def word_to_single(word):
    return np.float32(np.uint32(word >> np.uint64(32))) * np.float32(2.0**-32)


@njit(error_model="numpy")
def bits_to_single(bits, step):
    return np.float32(np.uint32(bits)) * step + np.float32(0.5) * step


def compiled(function, inlined):
    return njit(error_model="numpy", forceinline=inlined)(function)


def on_the_cpu():
    """Single precision on the device at hand: what a GPU does, but for its special functions."""
    functions = {name: getattr(math, name) for name in ("floor", "sqrt", "exp", "log", "cos", "sin", "copysign")}
    own = {to_unit: word_to_single, share_of: bits_to_single}
    return SinglePrecision(compiled=compiled, own=own, mathematics=build_mathematics(**functions))


SINGLE = on_the_cpu()
KERNELS = {
    reflectance_at: 2,
    unit_circle: 1,
    inverse_sqrt: 1,
    density_hg: 2,
    sample_lambertian: -1,
    scattered: -4,
    next_triple: -0.5,
}


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.py_func.__name__)
def test_no_double_is_left(kernel):
    count = KERNELS[kernel]
    arguments = (float32,) * int(abs(count))
    signature = (uint64, *arguments) if count < 0 else arguments
    single = SINGLE.ported(kernel)
    single.compile(signature)
    compiled_for = next(iter(single.overloads.values()))
    results = compiled_for.signature.return_type
    kinds = results.types if isinstance(results, types.BaseTuple) else (results,)
    assert types.float64 not in kinds
    inside = {str(kind) for kind in compiled_for.type_annotation.typemap.values()}
    assert "float64" not in inside


def test_a_direction_turns_as_in_double():
    single = SINGLE.ported(scattered)
    for photon in range(200):
        state = np.uint64(7_919 * photon)
        direction = np.float32(0.6), np.float32(0.0), np.float32(0.8)
        _, *turned = single(state, *direction, np.float32(0.8))
        _, *exact = scattered(state, 0.6, 0.0, 0.8, 0.8)
        np.testing.assert_allclose(turned, exact, atol=2e-5)  # 6e-8 of a cosine near 1 is more of its sine
