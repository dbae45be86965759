"""Light that goes from a source in the air straight toward the viewer: through the slab or through a hole."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.inputs import BACK_FACE, IN_HOLE, LAMINATE, PLATED_HOLE, SMOOTH, face_pixel
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.view import deposit, pick_ray, score_toward_view

GRAZING = 1e-7  # a ray flatter than this never meets the board within any length that matters


@kernel
def pick_outer_ray(state, x, y, n, setup):
    """Ray toward the viewer and the direction it has behind a smooth back face; n is the slab's index over that side's.

    Returns (state, ray, ox, oy, oz); oz is 0 where no light from outside can take the ray.
    """
    state, ray = pick_ray(state, x, y, setup)
    ox = n * ray[1]
    oy = n * ray[2]
    rest = 1.0 - ox * ox - oy * oy
    oz = math.sqrt(rest) if rest > GRAZING else 0.0
    return state, ray, ox, oy, oz


@kernel
def score_entering(state, side, x, y, ray, oz, density, n, setup):
    """Score light of `density` per steradian that meets a face at x, y from outside and goes on inside along the ray.

    oz is the cosine there; light from the front goes along the ray's mirror image.
    """
    face, coat, work = setup.face, setup.coat, setup.work
    pixel = face_pixel(face, x, y)
    k = face.classes[side, pixel]
    # A rough face scores by itself what enters there
    if face.body[pixel] != LAMINATE or coat.kind[k] != SMOOTH:
        return state
    toward = density * (1.0 - reflectance_at(oz, n)) * n * n * ray[3] / oz
    up = toward if side == BACK_FACE else 0.0
    down = toward - up
    z = 0.0 if side == BACK_FACE else setup.slab.thickness
    if coat.is_plain[k]:
        return score_toward_view(state, x, y, z, ray, up, down, 0.0, work.weight, setup)
    clear = 1.0 - coat.haze[k]
    brightest = 0.0
    for c in range(work.weight.size):
        work.saved_weight[c] = work.weight[c]
        work.weight[c] *= coat.transmit[k, c] * clear
        brightest = max(brightest, work.weight[c])
    if brightest > 0.0:
        state = score_toward_view(state, x, y, z, ray, up, down, 0.0, work.weight, setup)
    for c in range(work.weight.size):
        work.weight[c] = work.saved_weight[c]
    return state


@kernel
def score_from_behind(state, x, y, z, ray, ox, oy, oz, density, n, setup):
    """Score a source behind the back face, `density` per steradian there along o, which enters as the ray."""
    if density <= 0.0 or oz <= 0.0 or z > 0.0:
        return state
    at_x = x - ox / oz * z
    at_y = y - oy / oz * z
    return score_entering(state, BACK_FACE, at_x, at_y, ray, oz, density, n, setup)


@kernel
def is_hole(body):
    return body == IN_HOLE or body == PLATED_HOLE


@kernel
def score_through_hole(x, y, z, density, setup):
    """Score a source of `density` toward the viewer that is seen through a hole: from behind, or from within it."""
    face, slab, view = setup.face, setup.slab, setup.sight
    work = setup.work
    if density <= 0.0 or z >= slab.thickness:
        return
    slope = view.sin_out / view.cos_out
    if z < 0.0 and not is_hole(face.body[face_pixel(face, x - slope * z, y)]):
        return
    front_x = x + slope * (slab.thickness - z)
    if not is_hole(face.body[face_pixel(face, front_x, y)]):
        return
    deposit(front_x, y, density / view.cos_out, 0.0, work.weight, view.through, work.maps, setup)
