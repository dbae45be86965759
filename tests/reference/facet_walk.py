"""A plain analog walk from the viewer back to the lamp, for matt windows in copper: how much light one facet loses.

    PYTHONPATH=tests:src python -m reference.facet_walk

The renderer turns light at a matt face by one facet and drops what would meet a second; light guided in the slab meets
the faces so often that this adds up. The walk follows the same scene either way: by one facet with that loss (visible
normals after Heitz, JCGT 7(4), 2018, from memory), which must give what the renderer gives, or by the walk over all
facets that the transport uses, which keeps all energy. Everything else in it is written anew and counts hits only.
"""

import json
import math
import sys

import numpy as np
from numba import njit

from paneglow.transport.kernels.microfacet import cross_rough
from paneglow.transport.kernels.random import stream_start
from reference.make_reference import DATA, fingerprint
from reference.scene_records import INDEX, ReferenceScene
from reference.scenes import BY_FACET_WALK, scene_named

ONE_FACET, ALL_FACETS = 0, 1
KINDS = {ONE_FACET: "-one-facet", ALL_FACETS: "-all-facets"}
N_BATCHES = 32
PATHS = 8_000  # per block and batch


@njit
def fresnel(c, n):
    s2 = (1.0 - c * c) / (n * n)
    if s2 >= 1.0:
        return 1.0
    t = math.sqrt(1.0 - s2)
    return 0.5 * (((c - n * t) / (c + n * t)) ** 2 + ((t - n * c) / (t + n * c)) ** 2)


@njit
def turned_by_one_facet(wx, wy, wz, n, alpha):
    """Light going down onto a face; n beyond over before. Returns (alive, crossed, x, y, z)."""
    vx, vy, vz = -wx * alpha, -wy * alpha, -wz
    length = math.sqrt(vx * vx + vy * vy + vz * vz)
    vx, vy, vz = vx / length, vy / length, vz / length
    flat = math.sqrt(vx * vx + vy * vy)
    ax, ay = (-vy / flat, vx / flat) if flat > 1e-7 else (1.0, 0.0)
    bx, by, bz = -vz * ay, vz * ax, vx * ay - vy * ax
    radius, turn = math.sqrt(np.random.random()), 2.0 * math.pi * np.random.random()
    p, q, s = radius * math.cos(turn), radius * math.sin(turn), 0.5 * (1.0 + vz)
    q = (1.0 - s) * math.sqrt(1.0 - p * p) + s * q
    r = math.sqrt(max(0.0, 1.0 - p * p - q * q))
    mx, my, mz = alpha * (p * ax + q * bx + r * vx), alpha * (p * ay + q * by + r * vy), max(1e-9, q * bz + r * vz)
    length = math.sqrt(mx * mx + my * my + mz * mz)
    mx, my, mz = mx / length, my / length, mz / length
    c = -(wx * mx + wy * my + wz * mz)
    if c <= 0.0:
        return False, False, 0.0, 0.0, 0.0
    crossed = np.random.random() >= fresnel(c, n)
    if crossed:
        bend = c / n - math.sqrt(max(0.0, 1.0 - (1.0 - c * c) / (n * n)))
        ox, oy, oz = wx / n + bend * mx, wy / n + bend * my, wz / n + bend * mz
    else:
        ox, oy, oz = wx + 2.0 * c * mx, wy + 2.0 * c * my, wz + 2.0 * c * mz
    if (oz < 0.0) != crossed or oz == 0.0:
        return False, crossed, 0.0, 0.0, 0.0
    shadow = 0.5 * (math.sqrt(1.0 + alpha * alpha * (1.0 - oz * oz) / (oz * oz)) - 1.0)
    return np.random.random() < 1.0 / (1.0 + shadow), crossed, ox, oy, oz


@njit
def meet_face(state, facets, wx, wy, wz, n, alpha):
    """Returns (state, alive, crossed, x, y, z)."""
    f = -1.0 if wz > 0.0 else 1.0
    if alpha <= 0.0:
        if np.random.random() < fresnel(abs(wz), n):
            return state, True, False, wx, wy, -wz
        x, y = wx / n, wy / n
        return state, True, True, x, y, math.copysign(math.sqrt(1.0 - x * x - y * y), wz)
    if facets == ONE_FACET:
        alive, crossed, x, y, z = turned_by_one_facet(f * wx, f * wy, f * wz, n, alpha)
        return state, alive, crossed, f * x, f * y, f * z
    state, crossed, x, y, z, _ = cross_rough(state, f * wx, f * wy, f * wz, n, alpha, 0.0, 0.0, 0.0)
    return state, True, crossed, f * x, f * y, f * z


@njit
def diffuse(sign):
    u, turn = np.random.random(), 2.0 * math.pi * np.random.random()
    return math.sqrt(1.0 - u) * math.cos(turn), math.sqrt(1.0 - u) * math.sin(turn), sign * math.sqrt(u)


@njit
def scattered(ux, uy, uz, g):
    k = (1.0 - g * g) / (1.0 - g + 2.0 * g * np.random.random())
    mu = (1.0 + g * g - k * k) / (2.0 * g)
    sine, turn = math.sqrt(max(0.0, 1.0 - mu * mu)), 2.0 * math.pi * np.random.random()
    a, b = sine * math.cos(turn), sine * math.sin(turn)
    if abs(uz) > 0.99999:
        return a, b, math.copysign(mu, mu * uz)
    root = math.sqrt(1.0 - uz * uz)
    return (ux * uz * a - uy * b) / root + ux * mu, (uy * uz * a + ux * b) / root + uy * mu, -a * root + uz * mu


@njit
def hits(seed, facets, n_paths, low, block, view_rad, window, alphas, copper, thickness, scatter, absorb, g, n, lamp):
    """Share of paths from one block, against the view, that reach the lamp. alphas: of the back and the front."""
    np.random.seed(seed)
    state = stream_start(seed, 1, 1)
    extinction = scatter + absorb
    found = 0
    for _ in range(n_paths):
        x, y, z = low[0] + block * np.random.random(), low[1] + block * np.random.random(), thickness
        ux, uy, uz = -math.sin(view_rad), 0.0, -math.cos(view_rad)
        state, alive, crossed, ux, uy, uz = meet_face(state, facets, ux, uy, uz, n, alphas[1])
        if not crossed:
            continue
        while alive:
            free = -math.log(1.0 - np.random.random()) / extinction
            up = uz > 0.0
            leg = (thickness - z) / uz if up else -z / uz
            if free < leg:
                x, y, z = x + ux * free, y + uy * free, z + uz * free
                if np.random.random() * extinction < absorb:
                    break
                ux, uy, uz = scattered(ux, uy, uz, g)
                continue
            x, y, z = x + ux * leg, y + uy * leg, thickness if up else 0.0
            if abs(x) > window[0] or abs(y) > window[1]:
                if np.random.random() >= copper:
                    break
                ux, uy, uz = diffuse(-1.0 if up else 1.0)
                continue
            state, alive, crossed, ux, uy, uz = meet_face(state, facets, ux, uy, uz, 1.0 / n, alphas[1 if up else 0])
            if alive and crossed:
                far = lamp[2] / uz
                on_u, on_v = abs(x + ux * far - lamp[0]) < 0.5 * lamp[3], abs(y + uy * far - lamp[1]) < 0.5 * lamp[4]
                found += 1 if not up and on_u and on_v else 0
                break
    return found / n_paths


def walk_blocks(scene: ReferenceScene, *, facets: int, n_paths: int, n_batches: int) -> list[list[list[float]]]:
    """Batches of blocks of a scene whose faces are one window each, in copper."""
    (front,), (back,) = scene.front, scene.back
    alphas = np.array([scene.covers[back.cover].roughness, scene.covers[front.cover].roughness])
    lamp = np.array([*scene.lamp.centre, *scene.lamp.size])
    copper = scene.covers[scene.front_rest].reflect
    n_x, n_y = scene.blocks
    return [
        [
            [
                hits(
                    1 + i + n_x * (j + n_y * batch), facets, n_paths,
                    (scene.map_low[0] + i * scene.block, scene.map_low[1] + j * scene.block), scene.block,
                    math.radians(scene.view_deg), front.high, alphas, copper, scene.thickness, scene.scatter,
                    scene.absorb, scene.asymmetry, INDEX, lamp,
                )
                for i in range(n_x)
            ]
            for j in range(n_y)
        ]
        for batch in range(n_batches)
    ]  # fmt: skip


def main() -> None:
    for name in sys.argv[1:] or BY_FACET_WALK:
        scene = scene_named(name)
        for facets, ending in KINDS.items():
            batches = walk_blocks(scene, facets=facets, n_paths=PATHS, n_batches=N_BATCHES)
            rounded = [[[float(f"{value:.5g}") for value in row] for row in batch] for batch in batches]
            kept = {
                "what": f"{scene.claim}; radiance of each block over that of the lamp, rows along y upward",
                "computed_with": f"facet_walk.py, {ending[1:]}, {PATHS} paths per block and batch",
                "scene": fingerprint(scene),
                "batches": rounded,
            }
            (DATA / f"{scene.name}{ending}.json").write_text(json.dumps(kept).replace("]], [[", "]],\n[[") + "\n")
            print(name, ending, np.mean(batches), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
