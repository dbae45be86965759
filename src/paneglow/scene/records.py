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

    name: str  # Which version
    scatter_per_mm: float  # Scattering coefficient
    absorb_per_mm: FloatArray  # Absorption coefficient, per wavelength of the scene


def slabs_by_scattering(slabs: Sequence[Slab]) -> tuple[tuple[int, ...], ...]:
    """Indices of slab versions that scatter alike, each group where its first member stands.

    Parameters
    ----------
    slabs : sequence of Slab
        The nominal one first.

    Notes
    -----
    Such versions are traced along the same paths, and so share their noise.
    """
    groups: dict[float, list[int]] = {}
    for index, slab in enumerate(slabs):
        groups.setdefault(slab.scatter_per_mm, []).append(index)
    return tuple(tuple(indices) for indices in groups.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InnerLayer:
    """Copper inside the slab: its plane above the back face [mm], where it is [y, x], its diffuse reflectance (w,)."""

    height_mm: float  # Its plane above the back face
    copper: npt.NDArray[np.bool_]  # Where the layer has copper, [y, x]
    reflect: FloatArray  # Its diffuse reflectance, per wavelength


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """An endless sheet in the air before or behind the board, parallel to it.

    `reflect` and `transmit` have shape (w,); of what crosses, the share `haze` leaves diffusely. A sheet behind the
    board is met from its near side only, and what it does not return is lost.
    """

    distance_mm: float  # Distance from the face of the board
    reflect: FloatArray  # Diffuse reflectance, per wavelength
    transmit: FloatArray  # Transmittance, per wavelength; 0 for a cover
    haze: float  # Share of the crossing light that leaves in a diffuse cone


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightWall:
    """An upright frame round an emitter, from the back face down.

    Inner sides along u and across it [mm]; diffuse reflectance of shape (w,).
    """

    length_mm: float  # Inner length along the emitter's u
    width_mm: float  # Inner width along the emitter's v
    reflect: FloatArray  # Diffuse reflectance of its inside and outside, per wavelength


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dome:
    """Clear glue that joins a part and the back face: a cap of a sphere on the face, centred below the emitter.

    A lens that touches the laminate is a dome as well. `scatter_per_mm` turns light every way alike.
    """

    radius_mm: float  # Radius of the sphere
    height_mm: float  # How far the cap reaches behind the back face
    refractive_index: float  # Index of the glue relative to air
    scatter_per_mm: float  # Scattering coefficient of the glue


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

    ref: str  # Designator of the LED
    window: str | None  # Window that it is meant to light
    centre_mm: tuple[float, float, float]  # Centre (x, y, z) of the luminous area; z is 0 at the back face
    axis: tuple[float, float, float]  # Unit vector of the emission axis
    u: tuple[float, float, float]  # Unit vector along the length of the luminous area
    v: tuple[float, float, float]  # Unit vector along the width of the luminous area
    size_mm: tuple[float, float]  # Luminous area (along u, along v)
    cos_table: FloatArray  # Cosines of the polar angle to the emission axis, from 1 down to -1
    cdf_table: FloatArray  # Cumulative share of the flux within the cosines of `cos_table`, rising from 0 to 1
    intensity_table: FloatArray  # Intensity at the cosines of `cos_table` per unit flux [1/sr]
    nodes: npt.NDArray[np.int64]  # Indices into the scene's wavelength axis
    xyz_per_lm: FloatArray  # CIE 1931 tristimulus values per node of one emitted lumen, [node, 3]
    flux_lm: float  # Luminous flux at the design's current
    flux_lm_low: float  # Least luminous flux of the part's range
    flux_lm_high: float  # Greatest luminous flux of the part's range
    opening_mm: tuple[float, float] | None = None
    """Hole the part shines through (along u, along v); none where it shines at the closed back face."""
    opening_round: bool = False  # Whether that hole is round
    opening_plated: bool = False  # Whether the wall of that hole is plated
    dome: Dome | None = None  # Clear glue or a lens that joins the part and the back face; None where there is air
    light_wall: LightWall | None = None  # Frame round it; None where there is none
    start: FloatArray | None = None
    """Weight of a new photon at each node: 1 where the LED emits, 0 where the laminate glows; None for 1 everywhere."""
    shifted: FloatArray | None = None
    """Weight brought to the second node per weight absorbed at the first; None where nothing fluoresces."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything the transport needs.

    `front`, `back` hold a class index and `body` one of BODY_* per pixel of `grid`, all [y, x]. The first slab is
    the nominal one. Luminance is scored on `map_grid` along the direction `view_angle_rad` off the front normal,
    toward +x. `plating` is the diffuse reflectance (w,) of plated walls, 0 where absent. `windows` numbers, from 1, the
    windows whose light is counted by angle; 0 is the rest of the front.
    """

    grid: Grid  # Grid of the face, body and window maps
    front: ClassMap  # Class of every pixel of the front face, [y, x]
    back: ClassMap  # Class of every pixel of the back face, [y, x]
    body: ClassMap  # Laminate, outside or hole per pixel, [y, x]
    classes: FaceClasses  # Optical coefficients of the face classes
    wavelength_nm: FloatArray  # Nodes of all LEDs; those of one order code stand together, rising
    thickness_mm: float  # Finished thickness of the laminate
    refractive_index: float  # Index of the laminate relative to air
    asymmetry: float  # Mean cosine of the scattering angle (Henyey-Greenstein g), -1 to 1
    slabs: tuple[Slab, ...]  # Versions of the laminate, the nominal one first
    emitters: tuple[Emitter, ...]  # The LEDs as light only
    view_angle_rad: float  # Viewing direction off the front normal, toward +x
    map_grid: Grid  # Grid of the luminance maps
    inner: tuple[InnerLayer, ...] = ()  # Copper layers inside the slab
    back_sheet: Sheet | None = None  # Cover or second board behind the board; None where there is none
    front_sheet: Sheet | None = None  # Film before the board; None where there is none
    plating: FloatArray | None = None  # Diffuse reflectance of plated walls, per wavelength
    windows: ClassMap | None = None
    """Number of the window at every pixel, 0 outside, [y, x]; None where light is not counted by window."""
