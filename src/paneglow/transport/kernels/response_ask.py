"""Answering from a response: rays from an LED to the back face, and the luminance that tables hold for them."""

import math

from paneglow.transport.kernels.compile import inner_kernel, kernel
from paneglow.transport.kernels.inputs import BACK_FACE, FRONT_FACE, LAMINATE, SMOOTH
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.launch import emitted, intensity_toward
from paneglow.transport.kernels.source import GRAZING
from paneglow.transport.kernels.view import face_pixel

# Two more strides of an additive recurrence, for the return from a sheet: fractional parts of sqrt 7 and sqrt 11
STRIDE_5 = 0.6457513110645906
STRIDE_6 = 0.3166247903553998
STRIDE_7 = 0.6055512754639891  # of sqrt 13, for choosing between neighbouring bins
ON_AXIS = 1e-9  # mm; no direction from the point of entry

# Columns of a ray
RAY_X = 0
RAY_Y = 1
RAY_COS = 2  # of its azimuth
RAY_SIN = 3
RAY_SINE2 = 4
RAY_DITHER = 5
RAY_CLASS = 6
RAY_KIND = 7  # 0 straight from the LED, 1 by way of the sheet behind the board
RAY_START_X = 8
RAY_START_Y = 9
RAY_COLUMNS = 10


@inner_kernel
def returned_by_sheet(sample, x, y, z, ux, uy, uz, distance, shift):
    """Lambertian return from the sheet behind the board."""
    leg = (z + distance) / -uz
    u = (shift[0] + sample * STRIDE_5) % 1.0
    azimuth = 2.0 * math.pi * ((shift[1] + sample * STRIDE_6) % 1.0)
    sine = math.sqrt(u)
    return x + ux * leg, y + uy * leg, -distance, sine * math.cos(azimuth), sine * math.sin(azimuth), math.sqrt(1.0 - u)


@kernel
def cast_rays(n_rays, most, emitter, face, air, shift, rays):
    """Rays that meet laminate of the back face, until `n_rays` are found or `most` were launched.

    Returns (found, launched).
    """
    found = 0
    for sample in range(most):
        x, y, z, ux, uy, uz = emitted(sample, shift, emitter)
        start_x = x
        start_y = y
        kind = 0.0
        if uz < -GRAZING and air.present[BACK_FACE]:
            x, y, z, ux, uy, uz = returned_by_sheet(sample, x, y, z, ux, uy, uz, air.distance[BACK_FACE], shift)
            kind = 1.0
        if uz <= GRAZING:
            continue
        leg = -z / uz
        x += ux * leg
        y += uy * leg
        row, column = face_pixel(face, x, y)
        if face.body[row, column] != LAMINATE:
            continue
        sine = math.sqrt(ux * ux + uy * uy)
        rays[found, RAY_X] = x
        rays[found, RAY_Y] = y
        rays[found, RAY_COS] = ux / sine if sine > ON_AXIS else 1.0
        rays[found, RAY_SIN] = uy / sine if sine > ON_AXIS else 0.0
        rays[found, RAY_SINE2] = min(1.0, sine * sine)
        rays[found, RAY_DITHER] = (shift[2] + found * STRIDE_7) % 1.0
        rays[found, RAY_CLASS] = face.classes[BACK_FACE, row, column]
        rays[found, RAY_KIND] = kind
        rays[found, RAY_START_X] = start_x
        rays[found, RAY_START_Y] = start_y
        found += 1
        if found == n_rays:
            return found, sample + 1
    return found, most


@inner_kernel
def ring_at(radius, ring_pitch, growth):
    """Position of a radius between the middles of rings, at least 0."""
    return max(0.0, 0.5 * growth * (math.sqrt(1.0 + 4.0 * radius / (ring_pitch * growth)) - 1.0) - 0.5)


@inner_kernel
def add_rings(dx, dy, weight, table, ring_pitch, growth, out):
    """Add to out[channel], weighted, what table[ring, harmonic, channel] holds at an offset from the entry."""
    n_rings, n_harmonics, n_channels = table.shape
    radius = math.sqrt(dx * dx + dy * dy)
    place = ring_at(radius, ring_pitch, growth)
    if place >= n_rings - 1:
        return
    ring = int(place)
    outer = weight * (place - ring)
    inner = weight - outer
    cosine = dx / radius if radius > ON_AXIS else 0.0
    last = 1.0
    now = cosine
    for channel in range(n_channels):
        out[channel] += inner * table[ring, 0, channel] + outer * table[ring + 1, 0, channel]
    for m in range(1, n_harmonics):
        a = inner * now
        b = outer * now
        for channel in range(n_channels):
            out[channel] += a * table[ring, m, channel] + b * table[ring + 1, m, channel]
        following = 2.0 * cosine * now - last
        last = now
        now = following


@inner_kernel
def add_three(dx, dy, weight, table, ring_pitch, growth, out):
    """`add_rings` for three channels, kept in registers."""
    n_rings, n_harmonics, _ = table.shape
    radius = math.sqrt(dx * dx + dy * dy)
    place = ring_at(radius, ring_pitch, growth)
    if place >= n_rings - 1:
        return
    ring = int(place)
    outer = place - ring
    inner = 1.0 - outer
    cosine = dx / radius if radius > ON_AXIS else 0.0
    last = cosine
    now = 1.0
    x = 0.0
    y = 0.0
    z = 0.0
    for m in range(n_harmonics):
        x += now * (inner * table[ring, m, 0] + outer * table[ring + 1, m, 0])
        y += now * (inner * table[ring, m, 1] + outer * table[ring + 1, m, 1])
        z += now * (inner * table[ring, m, 2] + outer * table[ring + 1, m, 2])
        following = 2.0 * cosine * now - last
        last = now
        now = following
    out[0] += weight * x
    out[1] += weight * y
    out[2] += weight * z


@kernel
def spread_far(rays, bins, weights, tables, ring_pitch, growth, x_min, y_min, pitch, out):
    """Add the point spread of every ray at the points of a coarse grid, out[y, x, channel]."""
    n_y, n_x, _ = out.shape
    for i in range(rays.shape[0]):
        c = rays[i, RAY_COS]
        s = rays[i, RAY_SIN]
        for row in range(n_y):
            dy = y_min + row * pitch - rays[i, RAY_Y]
            for column in range(n_x):
                dx = x_min + column * pitch - rays[i, RAY_X]
                add_rings(
                    dx * c + dy * s, dy * c - dx * s, weights[i], tables[bins[i]], ring_pitch, growth, out[row, column]
                )


@kernel
def spread_near(rays, bins, weights, tables, ring_pitch, growth, reach, x_min, y_min, pitch, out):
    """Add the point spread of every ray to the pixels within reach of it, out[y, x, channel]."""
    n_y, n_x, _ = out.shape
    for i in range(rays.shape[0]):
        c = rays[i, RAY_COS]
        s = rays[i, RAY_SIN]
        x = rays[i, RAY_X]
        y = rays[i, RAY_Y]
        first = max(0, int(math.floor((y - reach - y_min) / pitch)))
        last = min(n_y, int(math.floor((y + reach - y_min) / pitch)) + 1)
        for row in range(first, last):
            dy = y_min + (row + 0.5) * pitch - y
            half = math.sqrt(max(0.0, reach * reach - dy * dy))
            left = max(0, int(math.floor((x - half - x_min) / pitch)))
            right = min(n_x, int(math.floor((x + half - x_min) / pitch)) + 1)
            for column in range(left, right):
                dx = x_min + (column + 0.5) * pitch - x
                add_three(
                    dx * c + dy * s, dy * c - dx * s, weights[i], tables[bins[i]], ring_pitch, growth, out[row, column]
                )


@kernel
def add_rows(rows, weights, table, out):
    """Add weighted rows of table[row, entry] to out[entry]."""
    for i in range(rows.size):
        w = weights[i]
        row = rows[i]
        for c in range(out.size):
            out[c] += w * table[row, c]


@kernel
def see_direct(n_samples, emitter, face, coat, transmit, slab, view, shift, taken, out):
    """The LED's own light straight through smooth faces toward the viewer, out[node, y, x], per emitted lumen.

    `transmit[class, node]` are the coats, `taken[node]` is absorption and scattering per mm together.
    """
    ray_z = view.rays[0, 0, 2]
    crossing = view.rays[0, 0, 3]
    density = intensity_toward(emitter, emitter.axis[2])
    if density <= 0.0:
        return
    scale = (
        density * (1.0 - reflectance_at(1.0, slab.refractive_index)) * crossing * view.inverse_pixel_area / n_samples
    )
    for sample in range(n_samples):
        x, y, z, ux, uy, uz = emitted(sample, shift, emitter)
        i = int(math.floor((x - view.x_min) * view.inverse_pitch))
        j = int(math.floor((y - view.y_min) * view.inverse_pitch))
        if z > 0.0 or i < 0 or j < 0 or i >= view.n_x or j >= view.n_y:
            continue
        row, column = face_pixel(face, x, y)
        back = face.classes[BACK_FACE, row, column]
        front = face.classes[FRONT_FACE, row, column]
        if face.body[row, column] != LAMINATE or coat.kind[back] != SMOOTH or coat.kind[front] != SMOOTH:
            continue
        clear = (1.0 - coat.haze[back]) * (1.0 - coat.haze[front])
        for c in range(taken.size):
            passed = transmit[back, c] * transmit[front, c] * math.exp(-taken[c] * slab.thickness / ray_z)
            out[c, j, i] += scale * clear * passed
