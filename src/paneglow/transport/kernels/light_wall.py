"""The light wall: an upright frame round a part, in the air behind the board; it stops light from both sides."""

import math

from paneglow.transport.kernels.compile import kernel


@kernel
def crossings(position, step, half):
    """Lengths at which a path enters and leaves the strip |position| < half."""
    if step == 0.0:
        return (-math.inf, math.inf) if abs(position) < half else (math.inf, -math.inf)
    first = (-half - position) / step
    last = (half - position) / step
    return (first, last) if first < last else (last, first)


@kernel
def light_wall_ahead(x, y, ux, uy, reach, emitter):
    """Length to the light wall and its normal toward the side the light comes from; inf where not within reach."""
    if emitter.wall_u <= 0.0:
        return math.inf, 0.0, 0.0
    bx = x - emitter.centre[0]
    by = y - emitter.centre[1]
    cos_turn, sin_turn = emitter.u[0], emitter.u[1]
    du = ux * cos_turn + uy * sin_turn
    dv = uy * cos_turn - ux * sin_turn
    in_u, out_u = crossings(bx * cos_turn + by * sin_turn, du, emitter.wall_u)
    in_v, out_v = crossings(by * cos_turn - bx * sin_turn, dv, emitter.wall_v)
    enters = max(in_u, in_v)
    leaves = min(out_u, out_v)
    if leaves <= 0.0 or enters >= leaves:
        return math.inf, 0.0, 0.0
    inside = enters <= 0.0
    length = leaves if inside else enters
    if length >= reach:
        return math.inf, 0.0, 0.0
    across_u = out_u <= out_v if inside else in_u >= in_v
    # Against the travel, whether the frame is met from inside or from outside
    if across_u:
        turn = -math.copysign(1.0, du)
        return length, turn * cos_turn, turn * sin_turn
    turn = -math.copysign(1.0, dv)
    return length, -turn * sin_turn, turn * cos_turn


@kernel
def is_walled(x, y, z, ox, oy, oz, emitter):
    """Whether the light wall stands between a point behind the board and where its line along o meets the back face."""
    if emitter.wall_u <= 0.0 or oz <= 0.0:
        return False
    leg = -z / oz
    length, _, _ = light_wall_ahead(x, y, ox, oy, leg, emitter)
    return length < leg
