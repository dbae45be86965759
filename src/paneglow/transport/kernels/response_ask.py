"""Answering from a response: rays from an LED to the back face, and the luminance that tables hold for them."""

import math

import numpy as np

from paneglow.transport.kernels.compile import entry, kernel
from paneglow.transport.kernels.inputs import BACK_FACE, FRONT_FACE, LAMINATE, SMOOTH, face_pixel
from paneglow.transport.kernels.inputs import RAY_SCALE as INNER_SCALE
from paneglow.transport.kernels.inputs import RAY_X as INNER_X
from paneglow.transport.kernels.inputs import RAY_Y as INNER_Y
from paneglow.transport.kernels.inputs import RAY_Z as INNER_Z
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.launch import emitted_at, intensity_toward
from paneglow.transport.kernels.phase import density_hg
from paneglow.transport.kernels.source import GRAZING

N_HARMONICS = 5  # of a point spread, cos(m psi), m = 0 to 4; light loses its direction within a few scatterings
STRIDE_DEPTH = 0.6180339887498949  # the golden ratio's fraction: depths along successive rays fill the slab evenly
# Within so many pixels of the entry a pixel's luminance is the mean over parts, four or two per side: at its middle
# alone thin laminate would be half a percent too dim
SHARP_PIXELS, CURVED_PIXELS = 1.6, 4.0
ON_AXIS = 1e-9  # mm; no direction from the point of entry
# Radical inverses of the primes fill every pair of dimensions evenly: J. M. Hammersley, Ann. N. Y. Acad. Sci. 86:844,
# 1960, doi 10.1111/j.1749-6632.1960.tb42846.x (from memory)

# Columns of a ray
RAY_X = 0
RAY_Y = 1
RAY_COS = 2  # of its azimuth
RAY_SIN = 3
RAY_SINE2 = 4
RAY_DITHER = 5
RAY_CLASS = 6
RAY_KIND = 7  # 0 straight from the LED, 1 by way of the sheet behind the board
RAY_COLUMNS = 8


@kernel
def radical_inverse(number, base):
    value = 0.0
    scale = 1.0 / base
    while number > 0:
        value += scale * (number % base)
        number //= base
        scale /= base
    return value


@kernel
def spread_evenly(sample, n_samples, u):
    """Fill u with point `sample` of Hammersley's set; the polar angle gets its own strata, the azimuth base 2."""
    u[2] = (sample + 0.5) / n_samples
    u[3] = radical_inverse(sample, 2)
    u[0] = radical_inverse(sample, 3)
    u[1] = radical_inverse(sample, 5)
    u[4] = radical_inverse(sample, 7)
    u[5] = radical_inverse(sample, 11)
    u[6] = radical_inverse(sample, 13)


@kernel
def returned_by_sheet(x, y, z, ux, uy, uz, distance, u):
    """Lambertian return from the sheet behind the board."""
    leg = (z + distance) / -uz
    azimuth = 2.0 * math.pi * u[5]
    sine = math.sqrt(u[4])
    up = math.sqrt(1.0 - u[4])
    return x + ux * leg, y + uy * leg, -distance, sine * math.cos(azimuth), sine * math.sin(azimuth), up


@entry
def cast_rays(n_launched, emitter, face, air, u, rays):
    """Rays that meet laminate of the back face, of so many launched; `u[7]` is scratch. Returns how many."""
    found = 0
    for sample in range(n_launched):
        spread_evenly(sample, n_launched, u)
        x, y, z, ux, uy, uz = emitted_at(u[0], u[1], u[2], u[3], emitter)
        kind = 0.0
        if uz < -GRAZING and air.present[BACK_FACE]:
            x, y, z, ux, uy, uz = returned_by_sheet(x, y, z, ux, uy, uz, air.distance[BACK_FACE], u)
            kind = 1.0
        if uz <= GRAZING:
            continue
        leg = -z / uz
        x += ux * leg
        y += uy * leg
        pixel = face_pixel(face, x, y)
        if face.body[pixel] != LAMINATE:
            continue
        sine = math.sqrt(ux * ux + uy * uy)
        rays[found, RAY_X] = x
        rays[found, RAY_Y] = y
        rays[found, RAY_COS] = ux / sine if sine > ON_AXIS else 1.0
        rays[found, RAY_SIN] = uy / sine if sine > ON_AXIS else 0.0
        rays[found, RAY_SINE2] = min(1.0, sine * sine)
        rays[found, RAY_DITHER] = u[6]
        rays[found, RAY_CLASS] = face.classes[BACK_FACE, pixel]
        rays[found, RAY_KIND] = kind
        found += 1
    return found


@kernel
def spread_of(places, weights, order, first, last, out):
    """Mean (out[0]) and variance (out[1]) of places[ray, k], weighted, over a stretch of rays. Returns their weight."""
    total = 0.0
    for k in range(places.shape[1]):
        out[0, k] = 0.0
        out[1, k] = 0.0
    for at in range(first, last):
        i = order[at]
        total += weights[i]
        for k in range(places.shape[1]):
            out[0, k] += weights[i] * places[i, k]
            out[1, k] += weights[i] * places[i, k] * places[i, k]
    for k in range(places.shape[1]):
        out[0, k] /= max(total, 1e-300)
        out[1, k] = max(0.0, out[1, k] / max(total, 1e-300) - out[0, k] * out[0, k])
    return total


@kernel
def split_stretch(places, order, first, last, k, middle):
    """Order a stretch so that rays below the middle of coordinate k come first. Returns where the others begin."""
    low = first
    high = last
    while low < high:
        if places[order[low], k] < middle:
            low += 1
        else:
            high -= 1
            order[low], order[high] = order[high], order[low]
    return low


@entry
def bundle_rays(places, weights, order, stretches, urgency, scratch):
    """Split rays into bundles of rays alike, until there are as many as `stretches` has rows.

    The bundle whose width, weighted with the square root of its light, is greatest is halved next, so that dim places
    have bundles of their own. `order` numbers the rays, bundle by bundle; `stretches[bundle]` says from where to where;
    `urgency[bundle]` is scratch. Returns how many there are.
    """
    n_found = 1
    stretches[0, 0] = 0
    stretches[0, 1] = order.size
    urgency[0] = 1.0
    while n_found < stretches.shape[0]:
        widest = 0
        for bundle in range(n_found):
            if urgency[bundle] > urgency[widest]:
                widest = bundle
        if urgency[widest] <= 0.0:
            break
        first = stretches[widest, 0]
        last = stretches[widest, 1]
        spread_of(places, weights, order, first, last, scratch)
        k = 0
        for other in range(places.shape[1]):
            if scratch[1, other] > scratch[1, k]:
                k = other
        between = split_stretch(places, order, first, last, k, scratch[0, k])
        if between in (first, last):
            urgency[widest] = 0.0
            continue
        stretches[widest, 1] = between
        stretches[n_found, 0] = between
        stretches[n_found, 1] = last
        for bundle in (widest, n_found):
            light = spread_of(places, weights, order, stretches[bundle, 0], stretches[bundle, 1], scratch)
            width = 0.0
            for other in range(places.shape[1]):
                width += scratch[1, other]
            urgency[bundle] = math.sqrt(light) * width
        n_found += 1
    return n_found


@kernel
def ring_at(radius, ring_pitch, growth):
    """Position of a radius between the middles of rings, at least 0."""
    return max(0.0, 0.5 * growth * (math.sqrt(1.0 + 4.0 * radius / (ring_pitch * growth)) - 1.0) - 0.5)


@kernel
def add_rings(dx, dy, weight, table, ring_pitch, growth, out):
    """Add to out[channel], weighted, what table[ring, harmonic, channel] holds at an offset from the entry."""
    radius = math.sqrt(dx * dx + dy * dy)
    place = ring_at(radius, ring_pitch, growth)
    if place >= table.shape[0] - 1:
        return
    ring = int(place)
    outer = np.float32(weight * (place - ring))
    inner = np.float32(weight) - outer
    cosine = np.float32(dx / radius) if radius > ON_AXIS else np.float32(0.0)
    last = cosine
    now = np.float32(1.0)
    for m in range(N_HARMONICS):
        a = inner * now
        b = outer * now
        for channel in range(out.size):
            out[channel] += a * table[ring, m, channel] + b * table[ring + 1, m, channel]
        following = np.float32(2.0) * cosine * now - last
        last = now
        now = following


@kernel
def add_three(dx, dy, weight, table, ring_pitch, growth, out):
    """`add_rings` for three channels, kept in registers."""
    radius = math.sqrt(dx * dx + dy * dy)
    place = ring_at(radius, ring_pitch, growth)
    if place >= table.shape[0] - 1:
        return
    ring = int(place)
    outer = np.float32(weight * (place - ring))
    inner = np.float32(weight) - outer
    cosine = np.float32(dx / radius) if radius > ON_AXIS else np.float32(0.0)
    last = cosine
    now = np.float32(1.0)
    x = np.float32(0.0)
    y = np.float32(0.0)
    z = np.float32(0.0)
    for m in range(N_HARMONICS):
        a = inner * now
        b = outer * now
        x += a * table[ring, m, 0] + b * table[ring + 1, m, 0]
        y += a * table[ring, m, 1] + b * table[ring + 1, m, 1]
        z += a * table[ring, m, 2] + b * table[ring + 1, m, 2]
        following = np.float32(2.0) * cosine * now - last
        last = now
        now = following
    out[0] += x
    out[1] += y
    out[2] += z


@kernel
def add_pixel(dx, dy, pitch, c, s, weight, table, ring_pitch, growth, out):
    """`add_three` as the mean over a pixel near the entry."""
    sharp = SHARP_PIXELS * pitch
    n = 4 if dx * dx + dy * dy < sharp * sharp else 2
    share = weight / (n * n)
    for j in range(n):
        at_y = dy + ((j + 0.5) / n - 0.5) * pitch
        for i in range(n):
            at_x = dx + ((i + 0.5) / n - 0.5) * pitch
            add_three(at_x * c + at_y * s, at_y * c - at_x * s, share, table, ring_pitch, growth, out)


@entry
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


@entry
def spread_near(rays, bins, weights, tables, ring_pitch, growth, reach, x_min, y_min, pitch, out):
    """Add the point spread of every ray to the pixels within reach of it, out[y, x, channel]."""
    n_y, n_x, _ = out.shape
    for i in range(rays.shape[0]):
        c = rays[i, RAY_COS]
        s = rays[i, RAY_SIN]
        x = rays[i, RAY_X]
        y = rays[i, RAY_Y]
        curved = CURVED_PIXELS * pitch
        first = max(0, int(math.floor((y - reach - y_min) / pitch)))
        last = min(n_y, int(math.floor((y + reach - y_min) / pitch)) + 1)
        for row in range(first, last):
            dy = y_min + (row + 0.5) * pitch - y
            half = math.sqrt(max(0.0, reach * reach - dy * dy))
            left = max(0, int(math.floor((x - half - x_min) / pitch)))
            right = min(n_x, int(math.floor((x + half - x_min) / pitch)) + 1)
            for column in range(left, right):
                dx = x_min + (column + 0.5) * pitch - x
                table = tables[bins[i]]
                if dx * dx + dy * dy < curved * curved:
                    add_pixel(dx, dy, pitch, c, s, weights[i], table, ring_pitch, growth, out[row, column])
                    continue
                add_three(dx * c + dy * s, dy * c - dx * s, weights[i], table, ring_pitch, growth, out[row, column])


@entry
def add_rows(rows, weights, table, out):
    """Add weighted rows of table[row, entry] to out[entry]."""
    for i in range(rows.size):
        w = weights[i]
        row = rows[i]
        for c in range(out.size):
            out[c] += w * table[row, c]


@kernel
def view_ray(sample, kind, view):
    """One of the rays that a kind of front face turns toward the viewer, and what a source's density makes of it."""
    i = min(view.n_rays[kind] - 1, int(radical_inverse(sample, 17) * view.n_rays[kind]))
    return (
        view.rays[kind, i, INNER_X],
        view.rays[kind, i, INNER_Y],
        view.rays[kind, i, INNER_Z],
        view.rays[kind, i, INNER_SCALE],
    )


@kernel
def add_seen(x, y, kind, scale, path, tint, transmit, taken, face, coat, view, out):
    """Add light that meets the front at x, y along a view ray after `path`, out[node, y, x]."""
    i = int(math.floor((x - view.x_min) * view.inverse_pitch))
    j = int(math.floor((y - view.y_min) * view.inverse_pitch))
    if i < 0 or j < 0 or i >= view.n_x or j >= view.n_y:
        return
    pixel = face_pixel(face, x, y)
    front = face.classes[FRONT_FACE, pixel]
    if face.body[pixel] != LAMINATE or coat.kind[front] != kind:
        return
    share = scale * (1.0 - coat.haze[front]) * view.inverse_pixel_area
    for node in range(taken.size):
        out[node, j, i] += share * tint[node] * transmit[front, node] * math.exp(-taken[node] * path)


@entry
def see_first(rays, apart, kind, scatter, taken, transmit, face, coat, slab, view, out):
    """Light seen after one scattering on the way in, from rays that meet the back face, out[node, y, x].

    `apart[class]` tells the back classes whose point spread leaves it out, `kind` the front face that the endless slab
    has, `taken[node]` is absorption and scattering per mm together.
    """
    n = slab.refractive_index
    for i in range(rays.shape[0]):
        back = int(rays[i, RAY_CLASS])
        if not apart[back]:
            continue
        sine2 = rays[i, RAY_SINE2]
        inner_sine = math.sqrt(sine2) / n
        ux = inner_sine * rays[i, RAY_COS]
        uy = inner_sine * rays[i, RAY_SIN]
        uz = math.sqrt(1.0 - inner_sine * inner_sine)
        wx, wy, wz, brightness = view_ray(i, kind, view)
        entering = 1.0 - reflectance_at(math.sqrt(1.0 - sine2), n)
        z = slab.thickness * ((0.5 + i * STRIDE_DEPTH) % 1.0)
        density = density_hg(slab.asymmetry, ux * wx + uy * wy + uz * wz)
        scale = entering * scatter * slab.thickness / uz * density * brightness
        rest = slab.thickness - z
        add_seen(
            rays[i, RAY_X] + ux / uz * z + wx / wz * rest, rays[i, RAY_Y] + uy / uz * z + wy / wz * rest, kind, scale,
            z / uz + rest / wz, transmit[back], transmit, taken, face, coat, view, out,
        )  # fmt: skip


@entry
def see_direct(n_samples, emitter, scale, taken, transmit, face, coat, slab, view, u, out):
    """The LED's own light straight through smooth faces along the normal, out[node, y, x]."""
    density = intensity_toward(emitter, emitter.axis[2])
    if density <= 0.0:
        return
    n = slab.refractive_index
    share = scale * density * (1.0 - reflectance_at(1.0, n)) * n * n * view.rays[SMOOTH, 0, INNER_SCALE]
    for sample in range(n_samples):
        spread_evenly(sample, n_samples, u)
        x, y, z, ux, uy, uz = emitted_at(u[0], u[1], u[2], u[3], emitter)
        pixel = face_pixel(face, x, y)
        back = face.classes[BACK_FACE, pixel]
        if z > 0.0 or face.body[pixel] != LAMINATE or coat.kind[back] != SMOOTH:
            continue
        add_seen(
            x, y, SMOOTH, share * (1.0 - coat.haze[back]), slab.thickness, transmit[back], transmit, taken, face, coat,
            view, out,
        )  # fmt: skip
