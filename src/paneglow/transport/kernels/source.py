"""Light that goes from a source in the air straight toward the viewer: through the slab or through a hole."""

import math

from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.inputs import BACK_FACE, IN_HOLE, LAMINATE, PLATED_HOLE, SMOOTH
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.view import deposit, face_pixel, pick_ray, score_toward_view

GRAZING = 1e-7  # a ray flatter than this never meets the board within any length that matters


@inner_kernel
def pick_outer_ray(state, x, y, n, face, coat, view):
    """Ray toward the viewer and the direction it has behind a smooth back face; n is the slab's index over that side's.

    Returns (state, ray, ox, oy, oz); oz is 0 where no light from outside can take the ray.
    """
    state, ray = pick_ray(state, x, y, face, coat, view)
    ox = n * ray[1]
    oy = n * ray[2]
    rest = 1.0 - ox * ox - oy * oy
    oz = math.sqrt(rest) if rest > GRAZING else 0.0
    return state, ray, ox, oy, oz


@inner_kernel
def score_entering(state, side, x, y, ray, oz, density, n, face, coat, slab, view, work):
    """Score light of `density` per steradian that meets a face at x, y from outside and goes on inside along the ray.

    oz is the cosine there; light from the front goes along the ray's mirror image.
    """
    row, column = face_pixel(face, x, y)
    k = face.classes[side, row, column]
    # A rough face scores by itself what enters there
    if face.body[row, column] != LAMINATE or coat.kind[k] != SMOOTH:
        return state
    toward = density * (1.0 - reflectance_at(oz, n)) * n * n * ray[3] / oz
    up = toward if side == BACK_FACE else 0.0
    down = toward - up
    z = 0.0 if side == BACK_FACE else slab.thickness
    if coat.is_plain[k]:
        return score_toward_view(state, x, y, z, ray, up, down, 0.0, work.weight, face, coat, slab, view, work)
    clear = 1.0 - coat.haze[k]
    brightest = 0.0
    for c in range(work.weight.size):
        work.before[c] = work.weight[c]
        work.weight[c] *= coat.transmit[k, c] * clear
        brightest = max(brightest, work.weight[c])
    if brightest > 0.0:
        state = score_toward_view(state, x, y, z, ray, up, down, 0.0, work.weight, face, coat, slab, view, work)
    for c in range(work.weight.size):
        work.weight[c] = work.before[c]
    return state


@inner_kernel
def score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, face, coat, slab, view, work):
    """Score a source behind the back face, `density` per steradian there along o, which enters as the ray."""
    if density <= 0.0 or oz <= 0.0 or z > 0.0:
        return state
    at_x = x - ox / oz * z
    at_y = y - oy / oz * z
    return score_entering(state, BACK_FACE, at_x, at_y, ray, oz, density, n, face, coat, slab, view, work)


@inner_kernel
def is_hole(body):
    return body == IN_HOLE or body == PLATED_HOLE


@inner_kernel
def score_through_hole(x, y, z, density, face, slab, view, work):
    """Score a source of `density` toward the viewer that is seen through a hole from face to face."""
    if density <= 0.0 or z >= slab.thickness:
        return
    slope = view.sin_out / view.cos_out
    row, column = face_pixel(face, x + slope * max(0.0, -z), y)
    front_x = x + slope * (slab.thickness - z)
    front_row, front_column = face_pixel(face, front_x, y)
    if not is_hole(face.body[row, column]) or not is_hole(face.body[front_row, front_column]):
        return
    deposit(front_x, y, density / view.cos_out, 0.0, work.weight, view.through, slab, view, work.maps)
