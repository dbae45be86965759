"""Next-event estimator: what every source of diffuse light sends straight to the viewer.

A source inside the slab with density p per steradian toward the inner view direction adds to the radiance of the
pixel where that ray leaves: w p exp(-t) T / (n^2 cos_in A), with t the extinction along the leg, T the Fresnel
transmittance and A the pixel area: n^2 cos_in dOmega_in = cos_out dOmega_out.
"""

import math

from paneglow.transport.kernels.compile import hot_kernel, inner_kernel
from paneglow.transport.kernels.inputs import BACK_FACE, FRONT_FACE, LAMINATE
from paneglow.transport.kernels.random import next_uniform

FAINT = 0.06  # below this density times transmission a score is made rarer and heavier, mean unchanged
FAINT_CHAIN = 0.01  # the same for a chain of specular bounces, after its first
# Optical depth of one crossing above which specular bounces toward the view, then below 1e-5, are left out
OPAQUE_DEPTH = 9.0
LAST_BOUNCE = 1e-4  # a specular chain ends below this remaining share


@hot_kernel
def face_pixel(face, x, y):
    j = int(math.floor((y - face.y_min) * face.inverse_pitch))
    i = int(math.floor((x - face.x_min) * face.inverse_pitch))
    n_y, n_x = face.body.shape
    return min(max(j, 0), n_y - 1), min(max(i, 0), n_x - 1)


@inner_kernel
def deposit(x, y, scale, path, weight, slab, view, maps):
    """Add one score to the map; `path` is the length not yet settled in the weights."""
    i = int(math.floor((x - view.x_min) * view.inverse_pitch))
    j = int(math.floor((y - view.y_min) * view.inverse_pitch))
    if i < 0 or j < 0 or i >= view.n_x or j >= view.n_y:
        return
    scale = scale * view.inverse_pixel_area
    for version in range(view.n_versions):
        sum_x = 0.0
        sum_y = 0.0
        sum_z = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            value = weight[c] * math.exp(-slab.absorb[c] * path)
            sum_x += value * view.xyz[node, 0]
            sum_y += value * view.xyz[node, 1]
            sum_z += value * view.xyz[node, 2]
        maps[3 * version, j, i] += scale * sum_x
        maps[3 * version + 1, j, i] += scale * sum_y
        maps[3 * version + 2, j, i] += scale * sum_z


@inner_kernel
def deposit_through_coat(x, y, scale, path, weight, face, coat, slab, view, work):
    """Score a ray that meets the front face at x, y along the view; the coat there tints it."""
    row, column = face_pixel(face, x, y)
    if face.body[row, column] != LAMINATE:
        return
    k = face.classes[FRONT_FACE, row, column]
    if coat.is_plain[k]:
        deposit(x, y, scale, path, weight, slab, view, work.maps)
        return
    clear = 1.0 - coat.haze[k]
    for c in range(weight.size):
        work.aside[c] = weight[c] * coat.transmit[k, c] * clear
    deposit(x, y, scale, path, work.aside, slab, view, work.maps)


@hot_kernel
def is_clear(slab, view):
    """Whether specular bounces between the faces reach the viewer to any degree."""
    return slab.scatter * slab.thickness < OPAQUE_DEPTH * view.cos_in and view.reflect > 0.0


@inner_kernel
def score_bounces(x, y, z, toward_up, toward_down, path, weight, face, coat, slab, view, work):
    """Scores after one or more specular bounces between the faces, along the view direction.

    `toward_up` and `toward_down` are the densities toward the view and toward its mirror image.
    """
    slope = view.sin_in / view.cos_in
    share = toward_down * math.exp(-slab.scatter * z / view.cos_in)
    travelled = z / view.cos_in
    at_x = x + slope * z
    side = BACK_FACE
    for start in range(2):
        if start == 1:
            leg = slab.thickness - z
            share = toward_up * math.exp(-slab.scatter * leg / view.cos_in)
            travelled = leg / view.cos_in
            at_x = x + slope * leg
            side = FRONT_FACE
        first = share
        for c in range(weight.size):
            work.aside[c] = weight[c]
        while share > LAST_BOUNCE * first and share > 0.0:
            row, column = face_pixel(face, at_x, y)
            if face.body[row, column] != LAMINATE:
                break
            k = face.classes[side, row, column]
            share *= view.reflect
            if not coat.is_plain[k]:
                clear = 1.0 - coat.haze[k]
                for c in range(weight.size):
                    work.aside[c] *= coat.transmit[k, c] * coat.transmit[k, c] * clear
            share *= math.exp(-slab.scatter * slab.thickness / view.cos_in)
            travelled += slab.thickness / view.cos_in
            at_x += slope * slab.thickness
            side = FRONT_FACE - side
            if side == FRONT_FACE:
                front_row, front_column = face_pixel(face, at_x, y)
                k = face.classes[FRONT_FACE, front_row, front_column]
                if face.body[front_row, front_column] == LAMINATE and coat.is_plain[k]:
                    scale = share * (1.0 - view.reflect) / (slab.refractive_index * slab.refractive_index * view.cos_in)
                    deposit(at_x, y, scale, path + travelled, work.aside, slab, view, work.maps)


@inner_kernel
def score_toward_view(state, x, y, z, toward_up, toward_down, path, weight, face, coat, slab, view, work):
    """Score a diffuse source inside the slab; returns the random state."""
    leg = (slab.thickness - z) / view.cos_in
    share = toward_up * math.exp(-slab.scatter * leg)
    if is_clear(slab, view):
        # What is left after the first bounce bounds the whole chain; faint chains are made rarer and heavier
        crossing = math.exp(-slab.scatter * slab.thickness / view.cos_in)
        below = toward_down * math.exp(-slab.scatter * z / view.cos_in)
        bound = (share + below) * view.reflect * crossing
        heavier = max(1.0, FAINT_CHAIN / bound) if bound > 0.0 else 0.0
        state, u = next_uniform(state)
        if u * heavier < 1.0 and heavier > 0.0:
            up, down = heavier * toward_up, heavier * toward_down
            score_bounces(x, y, z, up, down, path, weight, face, coat, slab, view, work)
    if share < FAINT:
        state, u = next_uniform(state)
        if u * FAINT >= share:
            return state
        share = FAINT
    scale = share * (1.0 - view.reflect) / (slab.refractive_index * slab.refractive_index * view.cos_in)
    at_x = x + view.sin_in / view.cos_in * (slab.thickness - z)
    deposit_through_coat(at_x, y, scale, path + leg, weight, face, coat, slab, view, work)
    return state
