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

    diameter_mm: float  # Diameter of the disc


@dataclass(frozen=True, slots=True, kw_only=True)
class RectangleAperture:
    """Rectangle about its centre, turned counter-clockwise by `rotation_rad`."""

    width_mm: float  # Size along x before it is turned
    height_mm: float  # Size along y before it is turned
    rotation_rad: float = 0.0  # Turned counter-clockwise by this


@dataclass(frozen=True, slots=True, kw_only=True)
class ObroundAperture:
    """Rectangle whose shorter sides are half circles."""

    width_mm: float  # Size along x
    height_mm: float  # Size along y


Aperture = RoundAperture | RectangleAperture | ObroundAperture


@dataclass(frozen=True, slots=True, kw_only=True)
class Flash:
    """One aperture printed at one point: a pad, a fiducial, a mask opening.

    `function` is the aperture function of the Gerber format, such as "SMDPad,CuDef"; `dark` false takes away what was
    drawn before.
    """

    at_mm: Point  # Where it is flashed (x, y)
    aperture: Aperture  # Shape that is flashed
    function: str | None = None  # Aperture function attribute, as the file states it
    dark: bool = True  # Whether it draws (dark) or erases (clear)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A path drawn with a round pen; its segments join end to start."""

    path: Contour  # Segments the pen follows
    pen_mm: float  # Diameter of the round pen
    function: str | None = None  # Aperture function attribute, as the file states it
    dark: bool = True  # Whether it draws (dark) or erases (clear)


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A filled area inside one closed contour, whose segments join end to start and last to first.

    A region has no holes of its own: draw the hole after it with `dark` false.
    """

    contour: Contour  # Closed contour of segments
    function: str | None = None  # Aperture function attribute, as the file states it
    dark: bool = True  # Whether it draws (dark) or erases (clear)


DrawnObject = Flash | Stroke | Region


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerDrawing:
    """One layer; later objects lie over earlier ones.

    What is drawn dark on a mask layer is where mask is *absent*.
    """

    role: DrawnRole  # Which layer it is
    objects: tuple[DrawnObject, ...]  # What is drawn, in order


@dataclass(frozen=True, slots=True, kw_only=True)
class FabricationDrawing:
    """One board to be written.

    `name` starts every file name. `outline` holds closed contours: the edge of the board and its routed cut-outs.
    """

    name: str  # Name of the board, the stem of its files
    layers: tuple[LayerDrawing, ...]  # What each layer draws
    outline: tuple[Contour, ...]  # Closed contours of the outline: the board's edge and its cut-outs
    holes: tuple[Hole, ...] = field(default=())  # Drilled holes and slots
