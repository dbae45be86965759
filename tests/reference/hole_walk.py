"""A plain analog walk from the viewer back to a lamp in a round hole with bare, milled walls.

    PYTHONPATH=tests:src python -m reference.hole_walk

The wall is matt and reciprocal: of light that meets it from inside the slab the share r_i goes back diffusely and the
rest comes out into the hole diffusely; from the hole r_e comes back and the rest goes in. r_i and r_e are the
hemispherical reflectances of a smooth face, so that (1 - r_i) n^2 = 1 - r_e: radiance over the squared index obeys the
same odds both ways, and a path may be walked from either end. What comes out into the hole is followed until it enters
again or leaves at the front or the back. Nothing of the transport is used here; hits are counted, nothing else.
"""

import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from numba import njit

from reference.facet_walk import diffuse, fresnel, scattered
from reference.make_reference import DATA

LOST, IN_SLAB, IN_HOLE = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleScene:
    """An endless slab with one round hole about the origin; a square Lambertian lamp in it faces the front.

    The front is bare outside the hole; the back is copper of a diffuse reflectance. The lamp does not stop light.
    """

    radius_mm: float
    thickness_mm: float
    refractive_index: float
    scatter_per_mm: float
    absorb_per_mm: float
    asymmetry: float
    copper_reflect: float
    lamp_height_mm: float  # Above the back face
    lamp_side_mm: float
    follow: bool = True  # Whether light that comes out of the slab into the hole is followed; else it is lost there


@njit
def about_wall(x, y, sign):
    """Diffuse direction about the wall's normal at (x, y): away from the axis for sign 1, toward it for -1."""
    radius = math.sqrt(x * x + y * y)
    nx, ny = sign * x / radius, sign * y / radius
    a, b, c = diffuse(1.0)
    return c * nx - a * ny, c * ny + a * nx, b


@njit
def to_cylinder(x, y, ux, uy, radius, outside):
    """Length along the path to the wall, seen from outside or inside of the cylinder; inf where it is missed."""
    a = ux * ux + uy * uy
    if a < 1e-18:
        return math.inf
    b = x * ux + y * uy
    c = x * x + y * y - radius * radius
    root = b * b - a * c
    if root <= 0.0:
        return math.inf
    far = (-b - math.sqrt(root)) / a if outside else (-b + math.sqrt(root)) / a
    return far if far > 1e-12 else math.inf


@njit
def lamp_hit(x, y, z, ux, uy, uz, length, height, side):
    """Whether a path crosses the lamp from its bright side within a length."""
    if uz >= 0.0 or z <= height:
        return False
    far = (height - z) / uz
    return far <= length and abs(x + ux * far) <= 0.5 * side and abs(y + uy * far) <= 0.5 * side


@njit
def meet_face(x, y, up, ux, uy, uz, thickness, n, copper):
    """Light in the slab meets its bare front or its copper back."""
    z = thickness if up else 0.0
    if up and np.random.random() < fresnel(uz, 1.0 / n):
        return IN_SLAB, x, y, z, ux, uy, -uz
    if not up and np.random.random() < copper:
        ux, uy, uz = diffuse(1.0)
        return IN_SLAB, x, y, z, ux, uy, uz
    return LOST, x, y, z, ux, uy, uz


@njit
def step_in_slab(x, y, z, ux, uy, uz, radius, thickness, n, scatter, absorb, g, copper, r_in):
    free = -math.log(1.0 - np.random.random()) / (scatter + absorb)
    wall = to_cylinder(x, y, ux, uy, radius, True)
    face = (thickness - z) / uz if uz > 0.0 else (-z / uz if uz < 0.0 else math.inf)
    leg = min(free, wall, face)
    x, y, z = x + ux * leg, y + uy * leg, z + uz * leg
    if leg == free:
        if np.random.random() * (scatter + absorb) < absorb:
            return LOST, x, y, z, ux, uy, uz
        ux, uy, uz = scattered(ux, uy, uz, g)
        return IN_SLAB, x, y, z, ux, uy, uz
    if leg == face:
        return meet_face(x, y, uz > 0.0, ux, uy, uz, thickness, n, copper)
    back = np.random.random() < r_in
    ux, uy, uz = about_wall(x, y, 1.0 if back else -1.0)
    return IN_SLAB if back else IN_HOLE, x, y, z, ux, uy, uz


@njit
def step_in_hole(x, y, z, ux, uy, uz, radius, thickness, r_out, follow):
    """Returns (where, x, y, z, ux, uy, uz, length)."""
    wall = to_cylinder(x, y, ux, uy, radius, False)
    end = (thickness - z) / uz if uz > 0.0 else (-z / uz if uz < 0.0 else math.inf)
    if end <= wall:
        return LOST, x, y, z, ux, uy, uz, end
    x, y, z = x + ux * wall, y + uy * wall, z + uz * wall
    back = np.random.random() < r_out
    ux, uy, uz = about_wall(x, y, -1.0 if back else 1.0)
    return IN_HOLE if back else (IN_SLAB if follow else LOST), x, y, z, ux, uy, uz, wall


@njit
def hits(
    seed, n_paths, inner, outer, radius, thickness, n, scatter, absorb, g, copper, height, side, r_in, r_out, follow
):
    """Mean number of lamp crossings of paths from an annulus of the front, straight down against the view."""
    np.random.seed(seed)
    found = 0
    for _ in range(n_paths):
        r = math.sqrt(inner * inner + (outer * outer - inner * inner) * np.random.random())
        turn = 2.0 * math.pi * np.random.random()
        x, y, z, ux, uy, uz = r * math.cos(turn), r * math.sin(turn), thickness, 0.0, 0.0, -1.0
        where = LOST if np.random.random() < fresnel(1.0, n) else IN_SLAB
        while where != LOST:
            if where == IN_SLAB:
                where, x, y, z, ux, uy, uz = step_in_slab(
                    x, y, z, ux, uy, uz, radius, thickness, n, scatter, absorb, g, copper, r_in
                )
            else:
                px, py, pz, vx, vy, vz = x, y, z, ux, uy, uz
                where, x, y, z, ux, uy, uz, length = step_in_hole(x, y, z, ux, uy, uz, radius, thickness, r_out, follow)
                found += 1 if lamp_hit(px, py, pz, vx, vy, vz, length, height, side) else 0
    return found / n_paths


def round_hole(radius_mm: float) -> HoleScene:
    """A hole through usual laminate with a lamp half way up that fits it."""
    return HoleScene(
        radius_mm=radius_mm, thickness_mm=1.6, refractive_index=1.5, scatter_per_mm=7.5, absorb_per_mm=0.05,
        asymmetry=0.8, copper_reflect=0.4, lamp_height_mm=0.8, lamp_side_mm=0.7 * radius_mm,
    )  # fmt: skip


def hemispherical(relative_index: float) -> float:
    """Share of diffuse light that a smooth face returns; index beyond it over the index before it."""
    mu = (np.arange(200_000) + 0.5) / 200_000
    s2 = (1.0 - mu**2) / relative_index**2
    t = np.sqrt(np.maximum(0.0, 1.0 - s2))
    k = relative_index
    share = 0.5 * (((mu - k * t) / (mu + k * t)) ** 2 + ((t - k * mu) / (t + k * mu)) ** 2)
    return float(np.mean(2.0 * mu * np.where(s2 >= 1.0, 1.0, share)))


def annulus_over_lamp(
    scene: HoleScene, *, inner_mm: float, outer_mm: float, n_paths: int, n_batches: int = 16
) -> npt.NDArray[np.float64]:
    """Batches of the mean radiance of an annulus of the front, seen straight on, over that of the lamp."""
    r_out, r_in = hemispherical(scene.refractive_index), hemispherical(1.0 / scene.refractive_index)
    return np.array(
        [
            hits(
                1 + batch, n_paths, inner_mm, outer_mm, scene.radius_mm, scene.thickness_mm, scene.refractive_index,
                scene.scatter_per_mm, scene.absorb_per_mm, scene.asymmetry, scene.copper_reflect,
                scene.lamp_height_mm, scene.lamp_side_mm, r_in, r_out, scene.follow,
            )
            for batch in range(n_batches)
        ]
    )  # fmt: skip


RADII_MM = (0.3, 0.75)
ANNULUS_MM = (0.2, 1.2)  # From the rim
PATHS = 400_000  # per batch


def kept_path(radius_mm: float) -> Path:
    return DATA / f"hole-{radius_mm:g}.json"


def main() -> None:
    for radius_mm in RADII_MM:
        scene = round_hole(radius_mm)
        inner, outer = (radius_mm + far for far in ANNULUS_MM)
        batches = annulus_over_lamp(scene, inner_mm=inner, outer_mm=outer, n_paths=PATHS)
        kept = {
            "what": "mean radiance of the ring of the front 0.2 to 1.2 mm from the rim, over that of the lamp",
            "computed_with": f"hole_walk.py, {PATHS} paths per batch",
            "scene": asdict(scene),
            "batches": [float(f"{value:.5g}") for value in batches],
        }
        kept_path(radius_mm).write_text(json.dumps(kept) + "\n")
        error = batches.std(ddof=1) / math.sqrt(batches.size)
        print(f"radius {radius_mm:g} mm: {batches.mean():.5g} +- {error:.2g}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
