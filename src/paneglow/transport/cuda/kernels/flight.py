"""The steps of every flight, in as few instructions as the GPU allows.

Special functions and conversions of numbers pass a pipe of a quarter of the others' width at most, so variates are made
from bits, no frame has a pole, and heights are counted from the slab's middle: inside is where |z| < half a thickness.
"""

import math
from typing import NamedTuple

import numpy as np
from numba.cuda import libdevice

from paneglow.transport.cuda.device import FULL_TURN, GPU, compiled, next_word_
from paneglow.transport.kernels.inputs import AT_FACE, AT_WALL, INSIDE, LOST, face_pixel
from paneglow.transport.kernels.view import OPAQUE_DEPTH
from paneglow.transport.kernels.walk import FARTHEST
from paneglow.transport.kernels.walls import wall_distance

single, zero, one = np.float32, np.float32(0.0), np.float32(1.0)
two, three, half_ = np.float32(2.0), np.float32(3.0), np.float32(0.5)
ONE_AND_HALF = np.float32(1.5)
OPAQUE = np.float32(OPAQUE_DEPTH)
# Optical depth from which on a collision is scored more rarely and heavier. The CPU's is deeper (`walk.DEEP`), but most
# of what it looks at is thrown away as too faint, and here looking costs more than flying
DEEP_ = np.float32(1.0)
FAR = np.float32(FARTHEST)
EVERYWHERE = np.float32(-1e30)  # a height that all collisions lie above
LONGEST = np.float32(1e30)  # mm, stands for an endless free path: times 0 it is 0
PER_LOG2 = np.float32(-math.log(2.0))
# Bits of a float in [1, 2) and in [2, 4), whose 23 low bits are free
FROM_ONE, FROM_TWO = np.uint32(0x3F800000), np.uint32(0x40000000)
SHIFT_9, SHIFT_7 = np.uint32(9), np.uint32(7)
LOW_16 = np.uint32(0x7FFF80)  # the low 16 bits of a word, moved up by 7
WITHIN = np.float32(1.0 - 2.0**-22)
BEYOND = np.float32(1.0 + 2.0**-20)

HITS_FACE, HITS_WALL, IS_LOST, FLIES_ON = map(np.int32, (AT_FACE, AT_WALL, LOST, INSIDE))

face_pixel_, wall_distance_ = GPU.ported(face_pixel), GPU.ported(wall_distance)


class Flight(NamedTuple):
    """Numbers of a slab that every flight needs."""

    half: float  # thickness [mm]
    per_log2: float  # length per binary logarithm of a variate [mm]
    seen_from: float  # a collision is scored that lies higher than this less the next free length [mm]
    g: float  # asymmetry
    a_0: float  # of the cosine's numerator
    a_1: float
    a_2: float


def _flight_of(slab):
    g = slab.asymmetry
    half = half_ * slab.thickness
    opaque = slab.scatter * slab.thickness >= OPAQUE
    free_path = min(slab.free_path, LONGEST)
    return Flight(
        half,
        PER_LOG2 * free_path,
        half - DEEP_ * free_path if opaque else EVERYWHERE,
        g,
        half_ * g * (three - g * g),
        one + g * g,
        half_ * g * (one + g * g),
    )


def _drawn_length(word, per_log2):
    """Free length; no shorter variate than 2**-23 is drawn, that is none longer than 16 mean free paths."""
    variate = two - libdevice.int_as_float((word >> SHIFT_9) | FROM_ONE)
    return libdevice.fast_log2f(variate) * per_log2


def _turned_lean(ux, uy, uz, word, flight):
    """Turn a direction by Henyey and Greenstein; no pole, no division by the asymmetry.

    The cosine is (1 + g^2 - s^2) / 2g with s = (1 - g^2) / (1 + g t) and t even on [-1, 1], multiplied out. The frame
    is that of T. Duff et al., J. Comput. Graph. Tech. 6(1), 2017. The high 16 bits of the word are the cosine's, the
    low 16 turn it.
    """
    t = libdevice.int_as_float((word >> SHIFT_9) | FROM_TWO) - three
    inverse = one / (one + flight.g * t)
    mu = (flight.a_0 + t * (flight.a_1 + t * flight.a_2)) * (inverse * inverse)
    sine = libdevice.sqrtf(libdevice.fabsf(one - mu * mu))
    angle = libdevice.int_as_float(((word << SHIFT_7) & LOW_16) | FROM_ONE) * FULL_TURN
    along = sine * libdevice.fast_cosf(angle)
    beside = sine * libdevice.fast_sinf(angle)
    sign = libdevice.copysignf(one, uz)
    across = ux * along + uy * beside
    kept = mu - across * (one / (sign + uz))
    return sign * along + ux * kept, sign * beside + uy * kept, uz * mu - across


def _heavier(z, flight, slab):
    """How many times heavier a collision is scored that was chosen by the next free length."""
    depth = slab.scatter * (flight.half - z)
    if depth <= DEEP_ or slab.scatter * slab.thickness < OPAQUE:
        return one
    return libdevice.fast_expf(depth - DEEP_)


def _unit(ux, uy, uz):
    """One Newton step toward unit length."""
    scale = ONE_AND_HALF - half_ * (ux * ux + uy * uy + uz * uz)
    return ux * scale, uy * scale, uz * scale


def _stop(x, y, z, ux, uy, uz, leg, safe, flight, face):
    """What a flight that leaves the slab or its safe surroundings meets.

    Returns (where, travelled, z, safe): AT_FACE, AT_WALL, LOST, or INSIDE to fly the whole leg after all.
    """
    ahead = z + uz * leg
    meets = abs(ahead) >= flight.half and ahead * uz > zero
    reach = leg
    if meets:
        reach = min(leg, (libdevice.copysignf(flight.half, uz) - z) / uz)
    if reach >= safe:
        pixel = face_pixel_(face, x, y)
        safe = single(face.clearance[pixel]) * face.pitch
        if reach >= safe:
            to_wall = wall_distance_(x, y, ux, uy, reach, True, face)
            if to_wall <= reach and to_wall < FAR:
                return HITS_WALL, to_wall, z + uz * to_wall, zero
            safe = reach * BEYOND
    if reach > FAR:
        return IS_LOST, zero, z, zero
    if meets:
        return HITS_FACE, reach, libdevice.copysignf(flight.half, uz), safe - reach
    # On a face the sum of height and a tiny step may round back to it; just inside it does not
    return FLIES_ON, zero, min(max(z, -WITHIN * flight.half), WITHIN * flight.half), safe


flight_of, heavier_, unit_ = compiled(_flight_of, True), compiled(_heavier, True), compiled(_unit, True)
drawn_length, turned_lean, stop_ = compiled(_drawn_length, True), compiled(_turned_lean, True), compiled(_stop, True)
next_word = next_word_
