"""A scene: faces as classes, a slab, emitters; plain arrays and no part names.

Coordinates: x, y of the board seen from the front [mm]; z from the back face (0) to the front face (thickness).
Wavelength-dependent coefficients stand on one shared axis `wavelength_nm[w]`; an emitter names the nodes it uses.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid

FloatArray = npt.NDArray[np.float64]
ClassMap = npt.NDArray[np.uint8]

# Values of Scene.body[y, x]
BODY_LAMINATE = 0
BODY_OUTSIDE = 1
BODY_HOLE = 2
BODY_PLATED_HOLE = 3  # a hole whose wall is plated


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceClasses:
    """Optical coefficients of every face class.

    A class is a coat on a smooth dielectric face. Light that meets the coat from inside is returned diffusely with
    `reflect`, crosses with `transmit` (per pass) and is lost otherwise; crossing light keeps its direction except for
    the share `haze`, which leaves diffusely; what kept its direction meets the outer Fresnel face. Outside, in air,
    stands a diffuse body of reflectance `backing_reflect` (an LED body; 0 where there is none). A bare face is
    transmit 1, reflect 0, haze 0; copper is transmit 0 and its reflectance. A bare face may be rough.

    Attributes
    ----------
    names : tuple of str, length c
    transmit, reflect, backing_reflect : ndarray, shape (c, w)
        Shares [1], 0 to 1.
    haze : ndarray, shape (c,)
        Share [1], 0 to 1.
    roughness : ndarray, shape (c,), optional
        Width parameter of the facet slopes (GGX) [1], 0 for a smooth face; only bare classes may be rough. None where
        every face is smooth.
    """

    names: tuple[str, ...]
    transmit: FloatArray
    reflect: FloatArray
    haze: FloatArray
    backing_reflect: FloatArray
    roughness: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slab:
    """One version of the laminate: the nominal one or an end of an assumed range.

    `absorb_per_mm` has shape (w,). Versions that share `scatter_per_mm` are answered by one trace.
    """

    name: str
    scatter_per_mm: float
    absorb_per_mm: FloatArray


def slabs_by_scattering(slabs: Sequence[Slab]) -> tuple[tuple[int, ...], ...]:
    """Indices of slab versions that scatter alike, each group where its first member stands.

    Such versions are traced along the same paths, and so share their noise.
    """
    groups: dict[float, list[int]] = {}
    for index, slab in enumerate(slabs):
        groups.setdefault(slab.scatter_per_mm, []).append(index)
    return tuple(tuple(indices) for indices in groups.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InnerLayer:
    """Copper inside the slab: its plane above the back face [mm], where it is [y, x], its diffuse reflectance (w,)."""

    height_mm: float
    copper: npt.NDArray[np.bool_]
    reflect: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """An endless sheet in the air before or behind the board, parallel to it.

    `reflect` and `transmit` have shape (w,); of what crosses, the share `haze` leaves diffusely. A sheet behind the
    board is met from its near side only, and what it does not return is lost.
    """

    distance_mm: float
    reflect: FloatArray
    transmit: FloatArray
    haze: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightWall:
    """An upright frame round an emitter, from the back face down.

    Inner sides along u and across it [mm]; diffuse reflectance of shape (w,).
    """

    length_mm: float
    width_mm: float
    reflect: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dome:
    """Clear glue that joins a part and the back face: a cap of a sphere on the face, centred below the emitter.

    A lens that touches the laminate is a dome as well. `scatter_per_mm` turns light every way alike.
    """

    radius_mm: float
    height_mm: float
    refractive_index: float
    scatter_per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Emitter:
    """One LED as light only.

    A rectangle `size_mm` (along u, along v) about `centre_mm`, emitting about `axis` (unit vectors). `cos_table` and
    `cdf_table` are the inverse-transform table of the polar angle: cumulative share of flux `cdf_table` (0 to 1,
    rising) emitted within angles whose cosine to the axis is at least `cos_table` (1 falling to -1);
    `intensity_table` is the intensity at those cosines per unit flux [1/sr].

    `opening_mm` (along u, along v), `opening_round` and `opening_plated` describe the hole the part shines through,
    centred on the emitter; None where it shines at the closed back face. `dome` holds the emitter, `light_wall` stands
    round it.

    `nodes` index the scene's wavelength axis, `xyz_per_lm[node, 3]` are the CIE 1931 tristimulus values per node of
    one emitted lumen: summed over nodes with full transmission, Y is 1. Where the laminate fluoresces, further nodes
    stand for what it gives back: `start` is 1 for nodes that the LED emits and 0 for those, and `shifted[node, node]`
    the weight that unit weight absorbed at one node brings to another.
    """

    ref: str
    window: str | None
    centre_mm: tuple[float, float, float]
    axis: tuple[float, float, float]
    u: tuple[float, float, float]
    v: tuple[float, float, float]
    size_mm: tuple[float, float]
    cos_table: FloatArray
    cdf_table: FloatArray
    intensity_table: FloatArray
    nodes: npt.NDArray[np.int64]
    xyz_per_lm: FloatArray
    flux_lm: float
    flux_lm_low: float
    flux_lm_high: float
    opening_mm: tuple[float, float] | None = None
    opening_round: bool = False
    opening_plated: bool = False
    dome: Dome | None = None
    light_wall: LightWall | None = None
    start: FloatArray | None = None
    shifted: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything the transport needs.

    `front`, `back` hold a class index and `body` one of BODY_* per pixel of `grid`, all [y, x]. The first slab is
    the nominal one. Luminance is scored on `map_grid` along the direction `view_angle_rad` off the front normal,
    toward +x. `plating` is the diffuse reflectance (w,) of plated walls, 0 where absent. `windows` numbers, from 1, the
    windows whose light is counted by angle; 0 is the rest of the front.
    """

    grid: Grid
    front: ClassMap
    back: ClassMap
    body: ClassMap
    classes: FaceClasses
    wavelength_nm: FloatArray
    thickness_mm: float
    refractive_index: float
    asymmetry: float
    slabs: tuple[Slab, ...]
    emitters: tuple[Emitter, ...]
    view_angle_rad: float
    map_grid: Grid
    inner: tuple[InnerLayer, ...] = ()
    back_sheet: Sheet | None = None
    front_sheet: Sheet | None = None
    plating: FloatArray | None = None
    windows: ClassMap | None = None
