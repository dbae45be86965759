"""From an LED to the slab: sampled emission, flight through air, openings and covers."""

import math

from paneglow.transport.kernels.compile import inner_kernel
from paneglow.transport.kernels.face import add_fate, enter_face, heaviest_weight, scale_weights
from paneglow.transport.kernels.inputs import (
    ABSORBED,
    BACK,
    BACK_FACE,
    FRONT_FACE,
    HOLE,
    IN_HOLE,
    LAMINATE,
    MISSED,
    OUTSIDE,
    THROUGH,
)
from paneglow.transport.kernels.interface import reflectance_at, sample_lambertian
from paneglow.transport.kernels.view import deposit, face_pixel, score_toward_view
from paneglow.transport.kernels.walk import walk

INVERSE_PI = 1.0 / math.pi
# Additive recurrence of lowest discrepancy in four dimensions: powers of 1/phi_4, phi_4 the root of x^5 = x + 1
# (M. Roberts' R-sequence, from memory; only its evenness matters, and each batch shifts it at random)
GRAZING = 1e-7  # a ray flatter than this never meets the board within any length that matters
STRIDE_1 = 0.8566748838545029
STRIDE_2 = 0.733891856627126
STRIDE_3 = 0.6287067210378087
STRIDE_4 = 0.5385972572236101


@inner_kernel
def table_position(table, value):
    """Index i of a rising table with table[i] <= value <= table[i + 1]."""
    low = 0
    high = table.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle] <= value:
            low = middle
        else:
            high = middle
    return low


@inner_kernel
def sampled_cosine(emitter, u):
    i = table_position(emitter.cdf_table, u)
    span = emitter.cdf_table[i + 1] - emitter.cdf_table[i]
    part = (u - emitter.cdf_table[i]) / span if span > 0.0 else 0.0
    return emitter.cos_table[i] + part * (emitter.cos_table[i + 1] - emitter.cos_table[i])


@inner_kernel
def intensity_toward(emitter, cosine):
    """Intensity per unit flux [1/sr]; the cosine table falls."""
    low = 0
    high = emitter.cos_table.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if emitter.cos_table[middle] >= cosine:
            low = middle
        else:
            high = middle
    span = emitter.cos_table[low] - emitter.cos_table[high]
    part = min(1.0, max(0.0, (emitter.cos_table[low] - cosine) / span)) if span > 0.0 else 0.0
    return emitter.intensity_table[low] + part * (emitter.intensity_table[high] - emitter.intensity_table[low])


@inner_kernel
def score_source(state, x, y, z, density, face, coat, slab, view, work):
    """Score light that goes from a source outside straight toward the view, without a collision.

    `density` is the source's density per steradian in air toward the view. Seen through the slab, or through a hole
    that the ray crosses from face to face.
    """
    if density <= 0.0 or z >= slab.thickness:
        return state
    slope = view.sin_out / view.cos_out
    at_x = x + slope * max(0.0, -z)
    row, column = face_pixel(face, at_x, y)
    body = face.body[row, column]
    if body == IN_HOLE:
        front_x = x + slope * (slab.thickness - z)
        row, column = face_pixel(face, front_x, y)
        if face.body[row, column] == IN_HOLE:
            deposit(front_x, y, density / view.cos_out, 0.0, work.weight, slab, view, work.maps)
        return state
    if body != LAMINATE or z > 0.0:
        return state
    k = face.classes[BACK_FACE, row, column]
    clear = 1.0 - coat.haze[k]
    toward = density * (1.0 - view.reflect) * slab.refractive_index * slab.refractive_index * view.cos_in / view.cos_out
    if coat.is_plain[k]:
        return score_toward_view(state, at_x, y, 0.0, toward, 0.0, 0.0, work.weight, face, coat, slab, view, work)
    # Before the first coat all channels weigh the same, so one number restores them
    before = work.weight[0]
    brightest = 0.0
    for c in range(work.weight.size):
        brightest = max(brightest, coat.transmit[k, c])
    if brightest <= 0.0:
        return state
    for c in range(work.weight.size):
        work.weight[c] = before * coat.transmit[k, c] * clear
    state = score_toward_view(state, at_x, y, 0.0, toward, 0.0, 0.0, work.weight, face, coat, slab, view, work)
    for c in range(work.weight.size):
        work.weight[c] = before
    return state


@inner_kernel
def wall_distance(px, py, dx, dy, emitter):
    """Distance along (dx, dy), as seen in the plane of the board, to the wall of the opening; inf when parallel.

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


@inner_kernel
def enter_wall(state, x, y, z, ux, uy, uz, nx, ny, face, coat, slab, view, work):
    """Light inside an opening meets its bare wall, whose normal (nx, ny) points into the laminate."""
    mu = ux * nx + uy * ny
    returned = reflectance_at(min(1.0, abs(mu)), slab.refractive_index)
    add_fate(HOLE, returned, view, work)
    for c in range(work.weight.size):
        work.weight[c] *= 1.0 - returned
    if heaviest_weight(work.weight) <= 0.0:
        return
    # Snell at the wall: the part along the wall shrinks by the index
    tx = (ux - mu * nx) / slab.refractive_index
    ty = (uy - mu * ny) / slab.refractive_index
    tz = uz / slab.refractive_index
    normal = math.sqrt(max(0.0, 1.0 - tx * tx - ty * ty - tz * tz))
    step = 1.5 / face.inverse_pitch  # past the pixels that the wall cuts
    x += nx * step
    y += ny * step
    walk(state, x, y, z, tx + normal * nx, ty + normal * ny, tz, face, coat, slab, view, work)


@inner_kernel
def shine_in_opening(state, x, y, z, ux, uy, uz, emitter, face, coat, slab, view, work):
    """A part in a hole or cut-out: out at the front, into the wall, or back out."""
    bx = x - emitter.centre[0]
    by = y - emitter.centre[1]
    pu = bx * emitter.u[0] + by * emitter.u[1]
    pv = bx * emitter.v[0] + by * emitter.v[1]
    du = ux * emitter.u[0] + uy * emitter.u[1]
    dv = ux * emitter.v[0] + uy * emitter.v[1]
    reach = wall_distance(pu, pv, du, dv, emitter)
    to_front = (slab.thickness - z) / uz if uz > 0.0 else math.inf
    to_back = -z / uz if uz < 0.0 else math.inf
    if to_front <= reach:
        add_fate(THROUGH, 1.0, view, work)
        return
    if to_back <= reach:
        add_fate(MISSED, 1.0, view, work)
        return
    hit_z = z + uz * reach
    if emitter.opening_plated or hit_z <= 0.0 or hit_z >= slab.thickness:
        add_fate(HOLE, 1.0, view, work)
        return
    hu = pu + du * reach
    hv = pv + dv * reach
    on_u = abs(abs(hu) - 0.5 * emitter.opening_u) <= abs(abs(hv) - 0.5 * emitter.opening_v)
    wu = math.copysign(1.0, hu) if on_u else 0.0
    wv = 0.0 if on_u else math.copysign(1.0, hv)
    if emitter.opening_round:
        length = max(1e-9, math.sqrt(hu * hu + hv * hv))
        wu = hu / length
        wv = hv / length
    nx = wu * emitter.u[0] + wv * emitter.v[0]
    ny = wu * emitter.u[1] + wv * emitter.v[1]
    enter_wall(state, x + ux * reach, y + uy * reach, hit_z, ux, uy, uz, nx, ny, face, coat, slab, view, work)


@inner_kernel
def shine_through_hole(x, y, ux, uy, uz, face, slab, view, work):
    """Light meets the board where there is a hole: out at the other side if it clears the wall, else lost in it."""
    leg = slab.thickness / abs(uz)
    middle_row, middle_column = face_pixel(face, x + 0.5 * ux * leg, y + 0.5 * uy * leg)
    row, column = face_pixel(face, x + ux * leg, y + uy * leg)
    clears = face.body[middle_row, middle_column] != LAMINATE and face.body[row, column] == IN_HOLE
    opposite = THROUGH if uz > 0.0 else BACK
    add_fate(opposite if clears else HOLE, 1.0, view, work)


@inner_kernel
def fly_to_board(state, x, y, z, ux, uy, uz, face, coat, slab, view, work):
    """Light in air, moving toward the board from outside it."""
    side = BACK_FACE if z <= 0.0 else FRONT_FACE
    at_z = 0.0 if side == BACK_FACE else slab.thickness
    leg = (at_z - z) / uz
    x += ux * leg
    y += uy * leg
    row, column = face_pixel(face, x, y)
    body = face.body[row, column]
    if body == OUTSIDE:
        add_fate(MISSED, 1.0, view, work)
        return
    if body == IN_HOLE:
        shine_through_hole(x, y, ux, uy, uz, face, slab, view, work)
        return
    state, alive, ux, uy, uz = enter_face(state, side, x, y, ux, uy, uz, 0.0, face, coat, slab, view, work)
    if alive:
        walk(state, x, y, at_z, ux, uy, uz, face, coat, slab, view, work)


@inner_kernel
def launch(state, sample, shift, emitter, face, coat, slab, view, work):
    """Emit one photon and follow it to its end. `sample` numbers it in its batch, `shift[4]` belongs to the batch."""
    for c in range(work.weight.size):
        work.weight[c] = 1.0
    a = ((shift[0] + sample * STRIDE_1) % 1.0 - 0.5) * emitter.size_u
    b = ((shift[1] + sample * STRIDE_2) % 1.0 - 0.5) * emitter.size_v
    mu = sampled_cosine(emitter, (shift[2] + sample * STRIDE_3) % 1.0)
    azimuth = 2.0 * math.pi * ((shift[3] + sample * STRIDE_4) % 1.0)
    sine = math.sqrt(max(0.0, 1.0 - mu * mu))
    du = sine * math.cos(azimuth)
    dv = sine * math.sin(azimuth)
    x = emitter.centre[0] + a * emitter.u[0] + b * emitter.v[0]
    y = emitter.centre[1] + a * emitter.u[1] + b * emitter.v[1]
    z = emitter.centre[2] + a * emitter.u[2] + b * emitter.v[2]
    ux = mu * emitter.axis[0] + du * emitter.u[0] + dv * emitter.v[0]
    uy = mu * emitter.axis[1] + du * emitter.u[1] + dv * emitter.v[1]
    uz = mu * emitter.axis[2] + du * emitter.u[2] + dv * emitter.v[2]
    toward_view = intensity_toward(emitter, emitter.axis[0] * view.sin_out + emitter.axis[2] * view.cos_out)
    state = score_source(state, x, y, z, toward_view, face, coat, slab, view, work)
    if emitter.opening_u > 0.0:
        shine_in_opening(state, x, y, z, ux, uy, uz, emitter, face, coat, slab, view, work)
        return
    if z <= 0.0 and uz < -GRAZING and emitter.cover_distance > 0.0:
        # The cover returns the light as a Lambertian face
        leg = (z + emitter.cover_distance) / -uz
        x += ux * leg
        y += uy * leg
        z = -emitter.cover_distance
        for c in range(work.aside.size):
            work.aside[c] = emitter.cover_reflect
        scale_weights(work.aside, 1.0, ABSORBED, view, work)
        state = score_source(state, x, y, z, view.cos_out * INVERSE_PI, face, coat, slab, view, work)
        state, ux, uy, uz = sample_lambertian(state, 1.0)
    toward_board = uz > GRAZING if z <= 0.0 else uz < -GRAZING
    if not toward_board:
        add_fate(MISSED, 1.0, view, work)
        return
    fly_to_board(state, x, y, z, ux, uy, uz, face, coat, slab, view, work)
