"""Compute the reference scenes with mitsuba (an optional tool: `pip install mitsuba`, with a recent LLVM runtime).

    PYTHONPATH=tests python -m reference.make_reference [--batches N] [--seconds S] [--variant V] NAME...

Volume paths from an orthographic viewer, whose pixels are the blocks, through the faces and the Henyey-Greenstein
medium until they hit the lamp by chance. Every batch has a seed of its own; the spread of the batches gives the error.
Each face is tiled by rectangles: dielectric where it is bare, diffuse where copper covers it. Calls add batches to
what the data file holds.
"""

import argparse
import hashlib
import importlib
import json
import math
import time
from pathlib import Path
from typing import Any

import numpy as np

from reference.rendered_extras import cap_shapes, film_height, film_shapes, glue_medium, is_under_cap
from reference.scene_records import HOLE, INDEX, Cover, Patch, ReferenceScene
from reference.scenes import SCENES, scene_named

DATA = Path(__file__).parent / "data"
FAR = 40.0  # mm; half the size of the slab, beyond the reach of any light here
VARIANTS = ("llvm_ad_mono", "cuda_ad_mono")  # the same code on processors and on a GPU
TOUCH = 0.002  # mm between a face and a body that touches it
Shapes = dict[str, Any]


def fingerprint(scene: ReferenceScene) -> str:
    """Of everything that decides the values, so that a changed scene cannot be compared with old values."""
    return hashlib.sha256(json.dumps(scene.described(), sort_keys=True).encode()).hexdigest()[:16]


def tiles(patches: tuple[Patch, ...], rest: str) -> list[tuple[str, float, float, float, float]]:
    """Split a painted face into rectangles of one cover each: (cover, x_low, x_high, y_low, y_high)."""
    xs = sorted({-FAR, FAR, *(x for patch in patches for x in (patch.low[0], patch.high[0]))})
    ys = sorted({-FAR, FAR, *(y for patch in patches for y in (patch.low[1], patch.high[1]))})
    found: list[tuple[str, float, float, float, float]] = []
    for y_low, y_high in zip(ys[:-1], ys[1:], strict=True):
        for x_low, x_high in zip(xs[:-1], xs[1:], strict=True):
            at_x, at_y = 0.5 * (x_low + x_high), 0.5 * (y_low + y_high)
            cover = rest
            for patch in patches:
                if patch.low[0] < at_x < patch.high[0] and patch.low[1] < at_y < patch.high[1]:
                    cover = patch.cover
            found.append((cover, x_low, x_high, y_low, y_high))
    return found


class Renderer:
    """Turns scenes into those of mitsuba and renders batches."""

    def __init__(self, variant: str) -> None:
        self.mi = importlib.import_module("mitsuba")
        self.mi.set_variant(variant)

    def rectangle(self, u: Any, v: Any, normal: Any, centre: Any) -> Any:
        """Placement of the square [-1, 1]^2: half sides u and v, its normal and its centre."""
        matrix = np.eye(4)
        matrix[:3, 0], matrix[:3, 1], matrix[:3, 2], matrix[:3, 3] = u, v, normal, centre
        return self.mi.ScalarTransform4f(matrix)

    def level(self, bounds: tuple[float, float, float, float], z: float, *, up: bool) -> Any:
        x_low, x_high, y_low, y_high = bounds
        side = 1.0 if up else -1.0
        return self.rectangle(
            [side * 0.5 * (x_high - x_low), 0.0, 0.0], [0.0, 0.5 * (y_high - y_low), 0.0], [0.0, 0.0, side],
            [0.5 * (x_low + x_high), 0.5 * (y_low + y_high), z],
        )  # fmt: skip

    def medium(self, scene: ReferenceScene) -> Any:
        extinction = scene.scatter + scene.absorb
        return {
            "type": "homogeneous", "sigma_t": float(extinction), "albedo": float(scene.scatter / extinction),
            "phase": {"type": "hg", "g": float(scene.asymmetry)},
        }  # fmt: skip

    def face_shapes(self, scene: ReferenceScene, medium: Any, glue: Any) -> Shapes:
        shapes: Shapes = {}
        for side, patches, rest, z in (
            ("front", scene.front, scene.front_rest, scene.thickness), ("back", scene.back, scene.back_rest, 0.0)
        ):  # fmt: skip
            up = side == "front"
            for number, (name, *bounds) in enumerate(tiles(patches, rest)):
                if name == HOLE:
                    continue
                cover = scene.covers[name]
                glued = scene.cap if not up and is_under_cap(scene, tuple(bounds)) else None
                shapes[f"{side}_{number}"] = {
                    "type": "rectangle", "to_world": self.level(tuple(bounds), z, up=up),
                    "bsdf": _face(cover, outside=1.0 if glued is None else glued.index), "interior": medium,
                    **({} if glue is None or glued is None else {"exterior": glue}),
                }  # fmt: skip
                if cover.body_reflect > 0.0:
                    off = scene.thickness + TOUCH if up else -TOUCH
                    shapes[f"{side}_{number}_body"] = {
                        "type": "rectangle", "to_world": self.level(tuple(bounds), off, up=not up),
                        "bsdf": _diffuse(cover.body_reflect),
                    }  # fmt: skip
        return shapes

    def wall_shapes(self, name: str, bounds: Any, heights: Any, inner: Any, medium: Any) -> Shapes:
        """Four upright rectangles about a hole, their normals away from its middle."""
        x_low, x_high, y_low, y_high = bounds
        half = 0.5 * (heights[1] - heights[0])
        z = 0.5 * (heights[0] + heights[1])
        middle_x, middle_y = 0.5 * (x_low + x_high), 0.5 * (y_low + y_high)
        half_x, half_y = 0.5 * (x_high - x_low), 0.5 * (y_high - y_low)
        placed = (
            ([0, half_y, 0], [0, 0, half], [1, 0, 0], [x_high, middle_y, z]),
            ([0, -half_y, 0], [0, 0, half], [-1, 0, 0], [x_low, middle_y, z]),
            ([-half_x, 0, 0], [0, 0, half], [0, 1, 0], [middle_x, y_high, z]),
            ([half_x, 0, 0], [0, 0, half], [0, -1, 0], [middle_x, y_low, z]),
        )
        shapes: Shapes = {}
        for number, place in enumerate(placed):
            shape = {"type": "rectangle", "to_world": self.rectangle(*place), "bsdf": inner}
            shapes[f"{name}_{number}"] = shape if medium is None else {**shape, "exterior": medium}
        return shapes

    def other_shapes(self, scene: ReferenceScene, medium: Any) -> Shapes:
        lamp = scene.lamp
        half_u = np.array(lamp.u) * 0.5 * lamp.size[0]
        half_v = np.array(lamp.v) * 0.5 * lamp.size[1]
        shapes: Shapes = {
            "lamp": {
                "type": "rectangle", "to_world": self.rectangle(half_u, half_v, lamp.axis, lamp.centre),
                "bsdf": {"type": "null"}, "emitter": {"type": "area", "radiance": {"type": "uniform", "value": 1.0}},
            }
        }  # fmt: skip
        if scene.foil is not None:
            for number, patch in enumerate(scene.foil.patches):
                bounds = (patch.low[0], patch.high[0], patch.low[1], patch.high[1])
                shapes[f"foil_{number}"] = {
                    "type": "rectangle", "to_world": self.level(bounds, scene.foil.height, up=True),
                    "bsdf": {"type": "twosided", "face": _diffuse(scene.foil.reflect)}, "interior": medium,
                    "exterior": medium,
                }  # fmt: skip
        if scene.sheet_reflect > 0.0:
            shapes["sheet"] = {
                "type": "rectangle", "to_world": self.level((-FAR, FAR, -FAR, FAR), -scene.sheet_distance, up=True),
                "bsdf": _diffuse(scene.sheet_reflect),
            }  # fmt: skip
        if scene.frame is not None:
            half_x, half_y = 0.5 * scene.frame.length, 0.5 * scene.frame.width
            inside = {"type": "twosided", "face": _diffuse(0.0), "inner": _diffuse(scene.frame.reflect)}
            shapes |= self.wall_shapes(
                "frame", (-half_x + lamp.centre[0], half_x + lamp.centre[0], -half_y + lamp.centre[1],
                          half_y + lamp.centre[1]), (-scene.sheet_distance, 0.0), inside, None,
            )  # fmt: skip
        for number, patch in enumerate(patch for patch in scene.front if patch.cover == HOLE):
            bounds = (patch.low[0], patch.high[0], patch.low[1], patch.high[1])
            plated = {"type": "twosided", "face": _diffuse(scene.plating), "inner": _diffuse(0.0)}
            shapes |= self.wall_shapes(f"slot_{number}", bounds, (0.0, scene.thickness), plated, medium)
        return shapes

    def sensor(self, scene: ReferenceScene, samples: int) -> Any:
        """Orthographic; rows of the picture run along y upward, columns along x, both reckoned on the front face."""
        tilt = math.radians(scene.view_deg)
        n_x, n_y = scene.blocks
        half_x, half_y = 0.5 * n_x * scene.block, 0.5 * n_y * scene.block
        middle = np.array([scene.map_low[0] + half_x, scene.map_low[1] + half_y, scene.thickness])
        toward = np.array([math.sin(tilt), 0.0, math.cos(tilt)])
        # Camera axes: it looks along -toward; its x axis points left in the picture, its y axis up
        right = np.array([math.cos(tilt), 0.0, -math.sin(tilt)])
        matrix = np.eye(4)
        matrix[:3, 0] = -right * half_x * math.cos(tilt)
        matrix[:3, 1] = np.array([0.0, half_x * math.cos(tilt), 0.0])
        matrix[:3, 2] = -toward
        matrix[:3, 3] = middle + 20.0 * toward
        # The picture's height follows from its width: pixels are square, so blocks foreshorten by cropping
        squeeze = half_y / (half_x * math.cos(tilt)) / (n_y / n_x)
        matrix[:3, 1] *= squeeze
        return {
            "type": "orthographic", "to_world": self.mi.ScalarTransform4f(matrix), "near_clip": 0.1, "far_clip": 100.0,
            "film": {"type": "hdrfilm", "width": n_x, "height": n_y, "rfilter": {"type": "box"},
                     "pixel_format": "luminance", "component_format": "float32"},
            "sampler": {"type": "independent", "sample_count": samples},
        }  # fmt: skip

    def loaded(self, scene: ReferenceScene) -> Any:
        medium = self.mi.load_dict(self.medium(scene))
        glue = glue_medium(self.mi, scene)
        return self.mi.load_dict(
            {
                "type": "scene",
                "integrator": {"type": "volpath", "max_depth": 4000, "rr_depth": 1000},
                "sensor": self.sensor(scene, scene.samples),
                **self.face_shapes(scene, medium, glue),
                **self.other_shapes(scene, medium),
                **cap_shapes(scene, glue),
                **film_shapes(self.mi, scene, self.level((-FAR, FAR, -FAR, FAR), film_height(scene), up=True)),
            }
        )


def _diffuse(reflect: float) -> Any:
    return {"type": "diffuse", "reflectance": {"type": "uniform", "value": float(reflect)}}


def _face(cover: Cover, *, outside: float) -> Any:
    """A face whose normal points out of the slab, to a medium of index `outside`."""
    if cover.transmit == 0.0:
        # Outside: a smooth face over black; inside: diffuse
        outer = {"type": "plastic", "int_ior": INDEX, "ext_ior": outside,
                 "diffuse_reflectance": {"type": "uniform", "value": 0.0}}  # fmt: skip
        return {"type": "twosided", "outer": outer, "inner": _diffuse(cover.reflect)}
    if cover.roughness > 0.0:
        return {"type": "roughdielectric", "distribution": "ggx", "alpha": float(cover.roughness), "int_ior": INDEX,
                "ext_ior": outside}  # fmt: skip
    smooth: dict[str, Any] = {"type": "dielectric", "int_ior": INDEX, "ext_ior": outside}
    if cover.transmit < 1.0:
        # One pass on the way through, two where the outer face reflects
        smooth["specular_transmittance"] = {"type": "uniform", "value": float(cover.transmit)}
        smooth["specular_reflectance"] = {"type": "uniform", "value": float(cover.transmit**2)}
    return smooth


def kept_batches(scene: ReferenceScene) -> list[Any]:
    path = DATA / f"{scene.name}.json"
    if not path.exists():
        return []
    kept = json.loads(path.read_text())
    return list(kept["batches"]) if kept["scene"] == fingerprint(scene) else []


def write_batches(scene: ReferenceScene, batches: list[Any], version: str) -> None:
    text = json.dumps(
        {
            "what": f"{scene.claim}; radiance of each block over that of the lamp, rows along y upward",
            "computed_with": f"mitsuba {version} (volpath), {scene.samples} paths per block and batch",
            "scene": fingerprint(scene),
            "batches": batches,
        }
    )
    (DATA / f"{scene.name}.json").write_text(text.replace("]], [[", "]],\n[[") + "\n")


def render(scene: ReferenceScene, *, n_batches: int, seconds: float, variant: str) -> None:
    """Add up to `n_batches` batches, or as many as fit in the time."""
    renderer = Renderer(variant)
    batches = kept_batches(scene)
    loaded = renderer.loaded(scene)
    started = time.perf_counter()
    for _ in range(n_batches):
        picture = np.array(renderer.mi.render(loaded, seed=1 + len(batches), spp=scene.samples))
        # Picture rows run downward
        rows = picture.reshape(scene.blocks[1], scene.blocks[0])[::-1]
        batches.append([[float(f"{value:.5g}") for value in row] for row in rows])
        write_batches(scene, batches, renderer.mi.__version__)
        spent = time.perf_counter() - started
        values = np.array(batches)
        print(f"{scene.name}: {len(batches)} batches, {spent:.0f} s, mean {values.mean():.6f}", flush=True)  # noqa: T201
        if spent > seconds:
            break


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", default=[scene.name for scene in SCENES])
    parser.add_argument("--batches", type=int, default=64)
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--variant", choices=VARIANTS, default=VARIANTS[0])
    arguments = parser.parse_args()
    for name in arguments.names:
        render(scene_named(name), n_batches=arguments.batches, seconds=arguments.seconds, variant=arguments.variant)


if __name__ == "__main__":
    main()
