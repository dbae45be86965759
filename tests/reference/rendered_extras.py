"""For the renderer: caps of glue or lenses as finely faceted spheres, and a film that diffuses what crosses it.

The renderer has no diffusely transmitting surface, so the film is written for it here: light it turns is spread over
either side by the cosine, and the share that goes straight on is left to the renderer's own mask.
"""

import math
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from reference.scene_records import Cap, ReferenceScene

Shapes = dict[str, Any]
RINGS, SEGMENTS = 200, 400  # of a faceted cap: its volume is short by a few parts in 1e5
FILM = "diffuser_film"  # the name under which the film is registered


def is_under_cap(scene: ReferenceScene, bounds: tuple[float, float, float, float]) -> bool:
    """Whether the middle of a tile (x_low, x_high, y_low, y_high) lies in the square round the cap's foot."""
    if scene.cap is None:
        return False
    off_x = 0.5 * (bounds[0] + bounds[1]) - scene.lamp.centre[0]
    off_y = 0.5 * (bounds[2] + bounds[3]) - scene.lamp.centre[1]
    return max(abs(off_x), abs(off_y)) < scene.cap.radius


def glue_medium(mi: Any, scene: ReferenceScene) -> Any:
    """What fills the cap; None where it is clear."""
    if scene.cap is None or scene.cap.scatter == 0.0:
        return None
    return mi.load_dict(
        {"type": "homogeneous", "sigma_t": scene.cap.scatter, "albedo": 1.0, "phase": {"type": "isotropic"}}
    )


def cap_shapes(scene: ReferenceScene, glue: Any) -> Shapes:
    """The cap's outer face, normals away from the glue."""
    if scene.cap is None:
        return {}
    path = Path(tempfile.gettempdir()) / f"{scene.name}.ply"
    _write_mesh(path, *_cap_mesh(scene.cap, centre=scene.lamp.centre[:2]))
    shape: Shapes = {
        "type": "ply", "filename": str(path), "face_normals": True,
        "bsdf": {"type": "dielectric", "int_ior": float(scene.cap.index), "ext_ior": 1.0},
    }  # fmt: skip
    return {"cap": shape if glue is None else {**shape, "interior": glue}}


def _cap_mesh(cap: Cap, *, centre: tuple[float, ...]) -> tuple[Any, Any]:
    """Corners (n, 3) and triangles (m, 3), wound so that normals point out of the cap."""
    sphere = 0.5 * (cap.radius**2 + cap.height**2) / cap.height
    steepest = math.atan2(cap.radius, sphere - cap.height)
    polar, azimuth = np.meshgrid(
        np.linspace(0.0, steepest, RINGS + 1), np.linspace(0.0, 2.0 * np.pi, SEGMENTS, endpoint=False), indexing="ij"
    )
    corners = np.stack(
        [
            centre[0] + sphere * np.sin(polar) * np.cos(azimuth),
            centre[1] + sphere * np.sin(polar) * np.sin(azimuth),
            np.minimum(0.0, sphere - cap.height - sphere * np.cos(polar)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    ring, segment = (grid.ravel() for grid in np.meshgrid(np.arange(RINGS), np.arange(SEGMENTS), indexing="ij"))
    beside = (segment + 1) % SEGMENTS
    a, b = ring * SEGMENTS + segment, ring * SEGMENTS + beside
    c, d = a + SEGMENTS, b + SEGMENTS
    triangles = np.concatenate([np.stack([a, d, c], axis=-1), np.stack([a, b, d], axis=-1)[SEGMENTS:]])
    return corners, triangles


def _write_mesh(path: Path, corners: Any, triangles: Any) -> None:
    """A mesh in the open PLY format, binary."""
    faces = np.empty(len(triangles), dtype=[("n", "u1"), ("corner", "<i4", 3)])
    faces["n"], faces["corner"] = 3, triangles
    head = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(corners)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    path.write_bytes(head.encode() + corners.astype("<f4").tobytes() + faces.tobytes())


def film_height(scene: ReferenceScene) -> float:
    return scene.thickness + (0.0 if scene.film is None else scene.film.distance)


def film_shapes(mi: Any, scene: ReferenceScene, to_world: Any) -> Shapes:
    """The film, endless for all that matters."""
    film = scene.film
    if film is None:
        return {}
    _register_film(mi)
    opacity = 1.0 - film.transmit * (1.0 - film.haze)
    turned = {"type": FILM, "reflect": film.reflect / opacity, "transmit": film.transmit * film.haze / opacity}
    bsdf = {"type": "mask", "opacity": opacity, "nested": turned}
    return {"film": {"type": "rectangle", "to_world": to_world, "bsdf": bsdf}}


def _register_film(mi: Any) -> None:
    """Teach the renderer a film that returns and passes light diffusely, alike from both sides."""
    import drjit as dr  # noqa: PLC0415  comes with the renderer

    class Film(mi.BSDF):  # type: ignore[misc]
        def __init__(self, props: Any) -> None:
            mi.BSDF.__init__(self, props)
            self.reflect, self.transmit = float(props["reflect"]), float(props["transmit"])
            sides = mi.BSDFFlags.FrontSide | mi.BSDFFlags.BackSide
            self.m_components = [mi.BSDFFlags.DiffuseReflection | sides, mi.BSDFFlags.DiffuseTransmission | sides]
            self.m_flags = self.m_components[0] | self.m_components[1]

        def sample(self, ctx: Any, si: Any, sample1: Any, sample2: Any, active: Any = True) -> Any:  # noqa: ARG002
            share = self.reflect / (self.reflect + self.transmit)
            returned = sample1 < share
            wo = mi.warp.square_to_cosine_hemisphere(sample2)
            bs = mi.BSDFSample3f()
            bs.pdf = mi.warp.square_to_cosine_hemisphere_pdf(wo) * dr.select(returned, share, 1.0 - share)
            side = dr.sign(mi.Frame3f.cos_theta(si.wi)) * dr.select(returned, 1.0, -1.0)
            bs.wo = mi.Vector3f(wo.x, wo.y, wo.z * side)
            bs.eta = 1.0
            bs.sampled_type = dr.select(
                returned, mi.UInt32(+mi.BSDFFlags.DiffuseReflection), mi.UInt32(+mi.BSDFFlags.DiffuseTransmission)
            )
            bs.sampled_component = dr.select(returned, mi.UInt32(0), mi.UInt32(1))
            return bs, mi.Spectrum(self.reflect + self.transmit) & (bs.pdf > 0.0)

        def eval(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:  # noqa: ARG002
            cos_i, cos_o = mi.Frame3f.cos_theta(si.wi), mi.Frame3f.cos_theta(wo)
            share = dr.select(cos_i * cos_o > 0.0, self.reflect, self.transmit)
            return mi.Spectrum(share * dr.abs(cos_o) * dr.inv_pi)

        def pdf(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:
            return self.eval(ctx, si, wo, active)[0] / (self.reflect + self.transmit)

        def eval_pdf(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:
            return self.eval(ctx, si, wo, active), self.pdf(ctx, si, wo, active)

    mi.register_bsdf(FILM, Film)
