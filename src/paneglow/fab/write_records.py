"""What the writer takes: one board as drawn shapes, in the order they are laid down."""

from dataclasses import dataclass, field
from typing import Literal

from paneglow.fab.records import Hole, Point, Segment

DrawnRole = Literal[
    "copper_front",
    "copper_inner_1",
    "copper_inner_2",
    "copper_back",
    "mask_front",
    "mask_back",
    "legend_front",
    "legend_back",
]
Contour = tuple[Segment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundAperture:
    """Disc."""

    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RectangleAperture:
    """Rectangle about its centre, turned counter-clockwise by `rotation_rad`."""

    width_mm: float
    height_mm: float
    rotation_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ObroundAperture:
    """Rectangle whose shorter sides are half circles."""

    width_mm: float
    height_mm: float


Aperture = RoundAperture | RectangleAperture | ObroundAperture


@dataclass(frozen=True, slots=True, kw_only=True)
class Flash:
    """One aperture printed at one point: a pad, a fiducial, a mask opening.

    `function` is the aperture function of the Gerber format, such as "SMDPad,CuDef"; `dark` false takes away what was
    drawn before.
    """

    at_mm: Point
    aperture: Aperture
    function: str | None = None
    dark: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A path drawn with a round pen; its segments join end to start."""

    path: Contour
    pen_mm: float
    function: str | None = None
    dark: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A filled area inside one closed contour, whose segments join end to start and last to first.

    A region has no holes of its own: draw the hole after it with `dark` false.
    """

    contour: Contour
    function: str | None = None
    dark: bool = True


DrawnObject = Flash | Stroke | Region


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerDrawing:
    """One layer; later objects lie over earlier ones.

    What is drawn dark on a mask layer is where mask is *absent*.
    """

    role: DrawnRole
    objects: tuple[DrawnObject, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FabricationDrawing:
    """One board to be written.

    `name` starts every file name. `outline` holds closed contours: the edge of the board and its routed cut-outs.
    """

    name: str
    layers: tuple[LayerDrawing, ...]
    outline: tuple[Contour, ...]
    holes: tuple[Hole, ...] = field(default=())
