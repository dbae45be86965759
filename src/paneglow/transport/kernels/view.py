"""Next-event estimator: what every source of diffuse light sends straight to the viewer.

A source inside the slab with density p per steradian toward an inner ray that the front face turns toward the viewer
adds to the radiance of the pixel where that ray leaves: w p exp(-t) S / (n^2 cos_in A), with t the extinction along the
leg, S the share that crosses the face and A the pixel area. For a smooth face there is one such ray, S is the Fresnel
transmittance and n^2 cos_in dOmega_in = cos_out dOmega_out. For a rough face a ray is drawn from those that its facets
turn toward the viewer (`microfacet.sample_view_rays`): radiance over index squared is the same both ways.

A ray is (kind of face it leaves by, x, y, z, x / z, y / z, 1 / z, S / (n^2 z), reflectance of a smooth face along it).
"""

import math

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.inputs import (
    BACK_FACE,
    FRONT_FACE,
    LAMINATE,
    RAY_BOUNCE,
    RAY_SCALE,
    RAY_SECANT,
    RAY_SLOPE_X,
    RAY_SLOPE_Y,
    RAY_X,
    RAY_Y,
    RAY_Z,
    SMOOTH,
    face_pixel,
)
from paneglow.transport.kernels.random import next_uniform
from paneglow.transport.kernels.replicas import (
    FIRST,
    LAST,
    count_replicas,
    locate_replicas,
    replica_in_row,
    replica_place,
    spot_replicas,
)
from paneglow.transport.kernels.weights import accumulate

FAINT = 0.06  # below this density times transmission a score is made rarer and heavier, mean unchanged
FAINT_CHAIN = 0.01  # the same for a chain of specular bounces, after its first
# Optical depth of one crossing above which specular bounces toward the view, then below 1e-5, are left out
OPAQUE_DEPTH = 9.0
LAST_BOUNCE = 1e-4  # a specular chain ends below this remaining share
# ... and after so many crossings: total reflection loses nothing in clear laminate, and that long no board is
MOST_CROSSINGS = 256
HOME_CHANCE = 0.9  # a ray of the kind of face right above is drawn this often, others share the rest


@hot_kernel
def loaded_ray(kind, i, boost, rays):
    return (
        kind,
        rays[kind, i, RAY_X],
        rays[kind, i, RAY_Y],
        rays[kind, i, RAY_Z],
        rays[kind, i, RAY_SLOPE_X],
        rays[kind, i, RAY_SLOPE_Y],
        rays[kind, i, RAY_SECANT],
        boost * rays[kind, i, RAY_SCALE],
        rays[kind, i, RAY_BOUNCE],
    )


@kernel
def drawn_ray(state, x, y, setup):
    """Ray among several kinds of front face; its share makes up for how rarely its kind is drawn."""
    face, coat, view = setup.face, setup.coat, setup.sight
    n_kinds = view.n_rays.size
    kind = 0
    boost = 1.0
    if n_kinds > 1:
        pixel = face_pixel(face, x, y)
        k = face.classes[FRONT_FACE, pixel]
        state, u = next_uniform(state)
        if coat.is_opaque[k] or face.body[pixel] != LAMINATE:
            kind = min(n_kinds - 1, int(u * float(n_kinds)))
            boost = float(n_kinds)
        elif u < HOME_CHANCE:
            kind = coat.kind[k]
            boost = 1.0 / HOME_CHANCE
        else:
            others = n_kinds - 1
            kind = min(others - 1, int((u - HOME_CHANCE) / (1.0 - HOME_CHANCE) * float(others)))
            kind = kind + 1 if kind >= coat.kind[k] else kind
            boost = float(others) / (1.0 - HOME_CHANCE)
    i = 0
    if view.n_rays[kind] > 1:
        state, u = next_uniform(state)
        i = min(view.n_rays[kind] - 1, int(u * float(view.n_rays[kind])))
    ray = loaded_ray(kind, i, boost, view.rays)
    return state, ray


@hot_kernel
def pick_ray(state, x, y, setup):
    """Ray toward the viewer for a source at x, y. Returns (state, ray)."""
    view = setup.sight
    if view.n_rays.size == 1 and view.n_rays[0] == 1:
        ray = loaded_ray(0, 0, 1.0, view.rays)
        return state, ray
    return drawn_ray(state, x, y, setup)


@hot_kernel
def map_pixel(x, y, view):
    """Pixel of the luminance map at a point; -1 beside it."""
    column, row = (x - view.x_min) * view.inverse_pitch, (y - view.y_min) * view.inverse_pitch
    if column < 0.0 or row < 0.0 or column >= view.n_x or row >= view.n_y:
        return -1
    return int(row) * view.n_x + int(column)


@kernel
def deposit(x, y, scale, path, weight, through, maps, setup):
    """Add one score to the map; `path` is the length not yet settled in the weights."""
    view = setup.sight
    spot = map_pixel(x, y, view)
    if spot < 0:
        return
    scale = scale * view.inverse_pixel_area
    for version in range(view.n_versions):
        sum_x = 0.0
        sum_y = 0.0
        sum_z = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            value = weight[c] * through[c] * math.exp(-setup.slab.absorb[c] * path)
            sum_x += value * view.xyz[node, 0]
            sum_y += value * view.xyz[node, 1]
            sum_z += value * view.xyz[node, 2]
        accumulate(maps, 3 * version, spot, scale * sum_x)
        accumulate(maps, 3 * version + 1, spot, scale * sum_y)
        accumulate(maps, 3 * version + 2, spot, scale * sum_z)


@kernel
def deposit_through_coat(x, y, scale, path, weight, kind, setup):
    """Score a ray that meets the front face at x, y, if the face there is of its kind; a coat tints it."""
    face, coat, view = setup.face, setup.coat, setup.sight
    work = setup.work
    pixel = face_pixel(face, x, y)
    if face.body[pixel] != LAMINATE:
        return
    k = face.classes[FRONT_FACE, pixel]
    if coat.kind[k] != kind:
        return
    if coat.is_plain[k]:
        deposit(x, y, scale, path, weight, view.through, work.maps, setup)
        return
    clear = 1.0 - coat.haze[k]
    for c in range(weight.size):
        work.branch_weight[c] = weight[c] * coat.transmit[k, c] * clear
    deposit(x, y, scale, path, work.branch_weight, view.through, work.maps, setup)


@kernel
def sum_score(scale, path, weight, values, setup):
    """Fill `values` with one score's X, Y, Z per version for every place alike."""
    view = setup.sight
    for version in range(view.n_versions):
        for axis in range(3):
            values[3 * version + axis] = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            value = scale * weight[c] * view.through[c] * math.exp(-setup.slab.absorb[c] * path)
            for axis in range(3):
                values[3 * version + axis] += value * view.xyz[node, axis]


@kernel
def deposit_replicas(x, y, share, path, weight, kind, setup):
    """`deposit_through_coat` for every replica of a photon at x, y."""
    face, coat, view, work = setup.face, setup.coat, setup.sight, setup.work
    replicas = work.replicas
    values, maps, n_planes = replicas.values, work.maps, 3 * view.n_versions
    sum_score(share * view.inverse_pixel_area, path, weight, values, setup)
    locate_replicas(x, y, setup)
    spot_replicas(x, y, setup)
    pixels, spots, bodies, classes = replicas.pixel, replicas.spot, face.body, face.classes[FRONT_FACE]
    kinds, is_plain = coat.kind, coat.is_plain
    for row in range(replicas.rows[FIRST], replicas.rows[LAST]):
        pixel, spot = pixels[row], spots[row]
        if spot < 0 or bodies[pixel] != LAMINATE:
            continue
        k = classes[pixel]
        if kinds[k] != kind:
            continue
        if is_plain[k]:
            for plane in range(n_planes):
                maps[plane, spot] += values[plane]
        else:
            at_x, at_y = replica_in_row(row, replicas, x, y)
            deposit_through_coat(at_x, at_y, share, path, weight, kind, setup)


@kernel
def deposit_alike(x, y, scale, weight, setup):
    """Score what leaves the board at x, y for the photon and for every replica, whose face is like its own."""
    view, work = setup.sight, setup.work
    n = count_replicas(work)
    deposit(x, y, scale / float(n + 1), 0.0, weight, view.through, work.maps, setup)
    for m in range(n):
        at_x, at_y = replica_place(work.replicas, m, x, y)
        deposit(at_x, at_y, scale / float(n + 1), 0.0, weight, view.through, work.maps, setup)


@kernel
def score_replica_bounces(x, y, z, ray, toward_up, toward_down, path, weight, setup):
    """`score_bounces` for the photon and every replica; rays that bounce are turned with none of them."""
    work = setup.work
    n = count_replicas(work)
    up, down = toward_up / float(n + 1), toward_down / float(n + 1)
    score_bounces(x, y, z, ray, up, down, path, weight, setup)
    for m in range(n):
        at_x, at_y = replica_place(work.replicas, m, x, y)
        score_bounces(at_x, at_y, z, ray, up, down, path, weight, setup)


@kernel
def is_blocked(x, y, z, to_z, slope_x, slope_y, face):
    """Whether copper inside the slab stands on the leg from z to to_z; x, y at z, slopes per unit of z travelled."""
    low = min(z, to_z)
    high = max(z, to_z)
    for layer in range(face.inner_z.size):
        at_z = face.inner_z[layer]
        if low < at_z < high:
            travelled = abs(at_z - z)
            pixel = face_pixel(face, x + slope_x * travelled, y + slope_y * travelled)
            if face.inner[layer, pixel]:
                return True
    return False


@kernel
def score_bounces(x, y, z, ray, toward_up, toward_down, path, weight, setup):
    """Scores after one or more specular bounces between smooth faces, along the ray.

    `toward_up` and `toward_down` are the densities toward the ray and toward its mirror image.
    """
    face, coat, slab = setup.face, setup.coat, setup.slab
    work = setup.work
    kind, _, _, _, slope_x, slope_y, secant, ray_scale, bounce = ray
    one_crossing = math.exp(-slab.scatter * slab.thickness * secant)
    for start in range(2):
        going_up = start == 1
        leg = slab.thickness - z if going_up else z
        share = (toward_up if going_up else toward_down) * math.exp(-slab.scatter * leg * secant)
        side = FRONT_FACE if going_up else BACK_FACE
        if is_blocked(x, y, z, slab.thickness if going_up else 0.0, slope_x, slope_y, face):
            continue
        travelled = leg * secant
        at_x = x + slope_x * leg
        at_y = y + slope_y * leg
        first = share
        for c in range(weight.size):
            work.bounce_weight[c] = weight[c]
        for _ in range(MOST_CROSSINGS):
            if share <= LAST_BOUNCE * first or share <= 0.0:
                break
            pixel = face_pixel(face, at_x, at_y)
            k = face.classes[side, pixel]
            if face.body[pixel] != LAMINATE or coat.kind[k] != SMOOTH:
                break
            share *= bounce * one_crossing
            if not coat.is_plain[k]:
                clear = 1.0 - coat.haze[k]
                for c in range(weight.size):
                    work.bounce_weight[c] *= coat.transmit[k, c] * coat.transmit[k, c] * clear
            at_z = slab.thickness if side == FRONT_FACE else 0.0
            if is_blocked(at_x, at_y, at_z, slab.thickness - at_z, slope_x, slope_y, face):
                break
            travelled += slab.thickness * secant
            at_x += slope_x * slab.thickness
            at_y += slope_y * slab.thickness
            side = FRONT_FACE - side
            if side == FRONT_FACE:
                deposit_through_coat(at_x, at_y, share * ray_scale, path + travelled, work.bounce_weight, kind, setup)


@kernel
def score_toward_view(state, x, y, z, ray, toward_up, toward_down, path, weight, setup):
    """Score a diffuse source inside the slab along a ray; returns the random state."""
    slab = setup.slab
    kind, _, _, _, slope_x, slope_y, secant, ray_scale, bounce = ray
    leg = slab.thickness - z
    share = toward_up * math.exp(-slab.scatter * leg * secant)
    if slab.scatter * slab.thickness < OPAQUE_DEPTH and bounce > 0.0:
        # What is left after the first bounce bounds the whole chain; faint chains are made rarer and heavier
        over = math.exp(-slab.scatter * slab.thickness * secant)
        below = toward_down * math.exp(-slab.scatter * z * secant)
        bound = (share + below) * bounce * over
        heavier = max(1.0, FAINT_CHAIN / bound) if bound > 0.0 else 0.0
        state, u = next_uniform(state)
        if u * heavier < 1.0 and heavier > 0.0:
            up, down = heavier * toward_up, heavier * toward_down
            score_replica_bounces(x, y, z, ray, up, down, path, weight, setup)
    if share < FAINT:
        state, u = next_uniform(state)
        if u * FAINT >= share:
            return state
        share = FAINT
    if is_blocked(x, y, z, slab.thickness, slope_x, slope_y, setup.face):
        return state
    at_x, at_y, scale, travelled = x + slope_x * leg, y + slope_y * leg, share * ray_scale, path + leg * secant
    n = count_replicas(setup.work)
    scale /= float(n + 1)
    deposit_through_coat(at_x, at_y, scale, travelled, weight, kind, setup)
    if n > 0:
        deposit_replicas(at_x, at_y, scale, travelled, weight, kind, setup)
    return state
