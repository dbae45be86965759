"""One random stream per photon: a 64-bit counter, scrambled.

The stream is SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, doi 10.1145/2660193.2660195; constants as in S. Vigna's
https://prng.di.unimi.it/splitmix64.c; tested for uniformity and independence in tests/laws). A photon's stream depends
only on the seed, the emitter and its own number, never on the thread that happens to trace it.
"""

import numpy as np

from paneglow.transport.kernels.compile import kernel

GOLDEN = np.uint64(0x9E3779B97F4A7C15)
MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
MIX_2 = np.uint64(0x94D049BB133111EB)
SHIFT_30 = np.uint64(30)
SHIFT_27 = np.uint64(27)
SHIFT_31 = np.uint64(31)
SHIFT_11 = np.uint64(11)
SHIFT_21 = np.uint64(21)
SHIFT_42 = np.uint64(42)
LOW_21 = np.uint64((1 << 21) - 1)
TO_UNIT = 1.0 / 9007199254740992.0  # 2**-53
STEP_21 = 1.0 / 2097152.0  # 2**-21
STEP_22 = 0.5 * STEP_21


@kernel
def scrambled(word):
    word = (word ^ (word >> SHIFT_30)) * MIX_1
    word = (word ^ (word >> SHIFT_27)) * MIX_2
    return word ^ (word >> SHIFT_31)


@kernel
def stream_start(seed, emitter, photon):
    state = scrambled(np.uint64(seed) + GOLDEN)
    state = scrambled(state ^ (np.uint64(emitter) * MIX_1 + GOLDEN))
    return scrambled(state ^ (np.uint64(photon) * MIX_2 + GOLDEN))


@kernel
def to_unit(word):
    """Variate from a random word; half a step keeps it off 0 and 1, so that its logarithm is finite."""
    return (float(word >> SHIFT_11) + 0.5) * TO_UNIT


@kernel
def share_of(bits, step):
    """Variate from a few random bits, `step` being the worth of the last; off 0 and 1 as `to_unit`."""
    return (float(bits) + 0.5) * step


@kernel
def next_uniform(state):
    # A state that comes back from Python arrives as a signed number
    state = np.uint64(state) + GOLDEN
    return state, to_unit(scrambled(state))


@kernel
def next_triple(state):
    """Three coarser variates from one word, for what every collision needs. Returns (state, u, v, w)."""
    state = np.uint64(state) + GOLDEN
    word = scrambled(state)
    u = share_of(word >> SHIFT_42, STEP_22)
    return state, u, share_of((word >> SHIFT_21) & LOW_21, STEP_21), share_of(word & LOW_21, STEP_21)
