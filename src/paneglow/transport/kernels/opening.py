"""A part that shines in a hole or cut-out: out at the front, into its wall, to and fro, or back out."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.inputs import (
    BACK_FACE,
    BEFORE,
    BEHIND,
    ENDED,
    FRONT_FACE,
    HOLE,
    MISSED,
    THROUGH,
)
from paneglow.transport.kernels.walls import is_held, meet_rim
from paneglow.transport.kernels.weights import add_fate


@kernel
def rim_distance(px, py, dx, dy, emitter):
    """Length, seen along the board, to the wall of the opening; inf when parallel.

    (px, py) is the start relative to the centre, in the opening's own frame.
    """
    if emitter.opening_round:
        radius = 0.5 * emitter.opening_u
        a = dx * dx + dy * dy
        if a <= 0.0:
            return math.inf
        b = px * dx + py * dy
        inside = max(0.0, b * b - a * (px * px + py * py - radius * radius))
        return (-b + math.sqrt(inside)) / a
    along_u = math.inf
    along_v = math.inf
    if dx != 0.0:
        along_u = (math.copysign(0.5 * emitter.opening_u, dx) - px) / dx
    if dy != 0.0:
        along_v = (math.copysign(0.5 * emitter.opening_v, dy) - py) / dy
    return max(0.0, min(along_u, along_v))


@kernel
def rim_normal(hu, hv, emitter):
    """Normal of the wall at a point of it, into the laminate, along the board."""
    on_u = abs(abs(hu) - 0.5 * emitter.opening_u) <= abs(abs(hv) - 0.5 * emitter.opening_v)
    wu = math.copysign(1.0, hu) if on_u else 0.0
    wv = 0.0 if on_u else math.copysign(1.0, hv)
    if emitter.opening_round:
        length = max(1e-9, math.sqrt(hu * hu + hv * hv))
        wu = hu / length
        wv = hv / length
    return wu * emitter.u[0] + wv * emitter.v[0], wu * emitter.u[1] + wv * emitter.v[1]


@kernel
def shine_in_opening(state, x, y, z, ux, uy, uz, setup):
    """Follow light of a part in an opening until it leaves it. Returns (state, where, x, y, z, ux, uy, uz)."""
    emitter, slab = setup.emitter, setup.slab
    while True:
        bx = x - emitter.centre[0]
        by = y - emitter.centre[1]
        pu = bx * emitter.u[0] + by * emitter.u[1]
        pv = bx * emitter.v[0] + by * emitter.v[1]
        du = ux * emitter.u[0] + uy * emitter.u[1]
        dv = ux * emitter.v[0] + uy * emitter.v[1]
        reach = rim_distance(pu, pv, du, dv, emitter)
        to_front = (slab.thickness - z) / uz if uz > 0.0 else math.inf
        to_back = -z / uz if uz < 0.0 else math.inf
        if to_front <= reach:
            if is_held(FRONT_FACE, setup):
                return state, BEFORE, x + ux * to_front, y + uy * to_front, slab.thickness, ux, uy, uz
            add_fate(THROUGH, 1.0, setup)
            return state, ENDED, x, y, z, ux, uy, uz
        if to_back <= reach:
            if is_held(BACK_FACE, setup):
                return state, BEHIND, x + ux * to_back, y + uy * to_back, 0.0, ux, uy, uz
            add_fate(MISSED, 1.0, setup)
            return state, ENDED, x, y, z, ux, uy, uz
        z += uz * reach
        if z <= 0.0 or z >= slab.thickness:
            add_fate(HOLE, 1.0, setup)
            return state, ENDED, x, y, z, ux, uy, uz
        nx, ny = rim_normal(pu + du * reach, pv + dv * reach, emitter)
        x, y = x + ux * reach, y + uy * reach
        state, where, ux, uy, uz = meet_rim(state, x, y, z, nx, ny, emitter.opening_plated, setup)
        if where != BEHIND:
            return state, where, x, y, z, ux, uy, uz
