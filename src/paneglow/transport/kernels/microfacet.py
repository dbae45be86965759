"""A rough dielectric face: a random walk over its microfacets, which keeps all energy.

Heights and slopes of the facets are independent (Smith); normals follow the GGX distribution (Walter, Marschner, Li,
Torrance, EGSR 2007). A ray meets facet after facet until it leaves on either side (Heitz, Hanika, d'Eon, Dachsbacher,
SIGGRAPH 2016, doi 10.1145/2897824.2925943), visible normals are drawn by spherical caps (Dupuy and Benyoub, Comput.
Graph. Forum 42(8), 2023, doi 10.1111/cgf.14867). The formulas are from memory of these, checked by laws: energy,
reciprocity, density against samples.

Frame: the face's normal is +z on the side the light comes from; relative indices are beyond over before.
"""

import math

from paneglow.transport.kernels.compile import entry, kernel
from paneglow.transport.kernels.interface import reflectance_at
from paneglow.transport.kernels.random import next_uniform, stream_start

UPRIGHT = 0.9999  # steeper rays meet no facet twice
FLAT = 1e-4
MOST_FACETS = 64  # a ray caught longer than this is let out on the side it is on
LEAST = 1e-30


@kernel
def smith_lambda(wz, alpha):
    """Auxiliary function of the Smith model for a ray that leaves at cosine wz, negative downward."""
    tan2 = max(0.0, 1.0 - wz * wz) / max(LEAST, wz * wz)
    root = math.sqrt(1.0 + alpha * alpha * tan2)
    return 0.5 * (root - 1.0) if wz > 0.0 else -0.5 * (root + 1.0)


@kernel
def escape_chance(wz, height, alpha):
    """Chance that a ray leaves from a height [-1, 1] without another facet."""
    if wz <= 0.0:
        return 0.0
    if wz > UPRIGHT:
        return 1.0
    below = min(1.0, max(0.0, 0.5 * (height + 1.0)))
    return below ** smith_lambda(wz, alpha)


@kernel
def next_height(wz, height, alpha, u):
    """Height of the next facet on the way; 2 where the ray leaves."""
    below = min(1.0, max(0.0, 0.5 * (height + 1.0)))
    if wz > UPRIGHT:
        return 2.0
    if wz < -UPRIGHT:
        return 2.0 * (u * below) - 1.0
    if abs(wz) < FLAT:
        return height
    if u > 1.0 - escape_chance(wz, height, alpha):
        return 2.0
    return min(1.0, 2.0 * below * (1.0 - u) ** (-1.0 / smith_lambda(wz, alpha)) - 1.0)


@kernel
def sample_facet(state, vx, vy, vz, alpha):
    """Normal of a facet seen from the direction v; v may lie below the horizon."""
    sx, sy, sz = alpha * vx, alpha * vy, vz
    scale = 1.0 / math.sqrt(sx * sx + sy * sy + sz * sz)
    sx, sy, sz = sx * scale, sy * scale, sz * scale
    state, u_turn = next_uniform(state)
    state, u_cap = next_uniform(state)
    cz = (1.0 - u_cap) * (1.0 + sz) - sz
    sine = math.sqrt(max(0.0, 1.0 - cz * cz))
    turn = 2.0 * math.pi * u_turn
    mx, my, mz = alpha * (sx + sine * math.cos(turn)), alpha * (sy + sine * math.sin(turn)), max(0.0, sz + cz)
    scale = 1.0 / math.sqrt(max(LEAST, mx * mx + my * my + mz * mz))
    return state, mx * scale, my * scale, mz * scale


@kernel
def facet_density(vz, along, mz, alpha):
    """Density per steradian of the facet normals seen from v; `along` is the cosine between v and the normal."""
    if along <= 0.0 or mz <= 0.0:
        return 0.0
    a2 = alpha * alpha
    base = mz * mz * (a2 - 1.0) + 1.0
    seen_area = 0.5 * (vz + math.sqrt(vz * vz + a2 * max(0.0, 1.0 - vz * vz)))
    return along * a2 / (math.pi * base * base) / max(LEAST, seen_area)


@kernel
def density_mirrored(vx, vy, vz, ox, oy, oz, n, alpha):
    """Density toward o of light from v mirrored by one facet."""
    mx, my, mz = vx + ox, vy + oy, vz + oz
    length = math.sqrt(mx * mx + my * my + mz * mz)
    if length <= 0.0:
        return 0.0
    along = (vx * mx + vy * my + vz * mz) / length
    if along <= 0.0 or mz <= 0.0:
        return 0.0
    return reflectance_at(along, n) * facet_density(vz, along, mz / length, alpha) / (4.0 * along)


@kernel
def density_refracted(vx, vy, vz, ox, oy, oz, n, alpha):
    """Density toward o, beyond the face, of light from v refracted by one facet."""
    mx, my, mz = vx + n * ox, vy + n * oy, vz + n * oz
    length = math.sqrt(mx * mx + my * my + mz * mz)
    if length <= 0.0:
        return 0.0
    sign = 1.0 if mz > 0.0 else -1.0
    mx, my, mz = sign * mx / length, sign * my / length, sign * mz / length
    before = vx * mx + vy * my + vz * mz
    beyond = ox * mx + oy * my + oz * mz
    if before <= 0.0 or beyond >= 0.0:
        return 0.0
    crossing = 1.0 - reflectance_at(before, n)
    base = before + n * beyond
    return crossing * facet_density(vz, before, mz, alpha) * n * n * -beyond / max(LEAST, base * base)


@kernel
def density_toward(wx, wy, wz, height, side, ox, oy, oz, n, alpha):
    """Density toward o by one more facet and then no other; everything in the frame of the side the ray is on.

    `side` is 1 where o lies on the ray's own side, else -1.
    """
    if side > 0:
        return density_mirrored(-wx, -wy, -wz, ox, oy, oz, n, alpha) * escape_chance(oz, height, alpha)
    return density_refracted(-wx, -wy, -wz, ox, oy, oz, n, alpha) * escape_chance(-oz, -height, alpha)


@kernel
def cross_rough(state, wx, wy, wz, n, alpha, ox, oy, oz):
    """Walk over the facets. Returns (state, crossed, wx, wy, wz, density toward o).

    The density is an unbiased estimate, per steradian of the medium that o lies in; o = 0 asks for none.
    """
    side = 1.0  # 1 on the side the light came from
    height = 1.0
    density = 0.0
    asked = ox != 0.0 or oy != 0.0 or oz != 0.0
    for _ in range(MOST_FACETS):
        state, u = next_uniform(state)
        height = next_height(wz, height, alpha, u)
        if height > 1.0:
            break
        if asked:
            same = 1 if side * oz > 0.0 else -1
            density += density_toward(wx, wy, wz, height, same, side * ox, side * oy, side * oz, n, alpha)
        state, mx, my, mz = sample_facet(state, -wx, -wy, -wz, alpha)
        along = -(wx * mx + wy * my + wz * mz)
        state, u = next_uniform(state)
        if along <= 0.0:
            continue
        if u < reflectance_at(along, n):
            wx, wy, wz = wx + 2.0 * along * mx, wy + 2.0 * along * my, wz + 2.0 * along * mz
        else:
            beyond = math.sqrt(max(0.0, 1.0 - (1.0 - along * along) / (n * n)))
            bend = along / n - beyond
            # On the other side everything is seen through a point reflection
            wx, wy, wz = -(wx / n + bend * mx), -(wy / n + bend * my), -(wz / n + bend * mz)
            side, height, n = -side, -height, 1.0 / n
        scale = 1.0 / math.sqrt(wx * wx + wy * wy + wz * wz)
        wx, wy, wz = wx * scale, wy * scale, wz * scale
    wz = max(FLAT, wz) if wz <= 0.0 else wz
    return state, side < 0.0, side * wx, side * wy, side * wz, density


@entry
def sample_view_rays(seed, kind, sin_out, cos_out, n, alpha, rays):
    """Fill `rays[i, 3]` with directions inside that the face turns toward the viewer; returns the share that crosses.

    Light is followed backward from the viewer: what a facet does to it is reciprocal up to the index squared.
    """
    state = stream_start(seed, kind, 0)
    tried = 0
    found = 0
    while found < rays.shape[0]:
        state, crossed, wx, wy, wz, _ = cross_rough(state, -sin_out, 0.0, -cos_out, n, alpha, 0.0, 0.0, 0.0)
        tried += 1
        if crossed:
            rays[found, 0] = -wx
            rays[found, 1] = -wy
            rays[found, 2] = -wz
            found += 1
    return found / tried
