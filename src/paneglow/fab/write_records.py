"""What the writer takes: one board as drawn shapes, in the order they are laid down, and common shapes of its own."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from paneglow.errors import FabricationError
from paneglow.fab.records import Arc, Hole, Line, Point, Segment

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


def build_circle(*, centre_mm: Point, radius_mm: float) -> Contour:
    """Full circle as one closed contour of two half circles, counter-clockwise."""
    right = (centre_mm[0] + radius_mm, centre_mm[1])
    left = (centre_mm[0] - radius_mm, centre_mm[1])
    return (
        Arc(start_mm=right, end_mm=left, centre_mm=centre_mm, clockwise=False),
        Arc(start_mm=left, end_mm=right, centre_mm=centre_mm, clockwise=False),
    )


def build_path(points_mm: Sequence[Point]) -> Contour:
    """Open path of straight segments through points; repeated points are dropped.

    Raises
    ------
    FabricationError
        If fewer than two different points are left.
    """
    kept = [point for before, point in zip([None, *points_mm], points_mm, strict=False) if point != before]
    if len(kept) < 2:
        raise FabricationError(f"a path of {len(points_mm)} points has no length; give two different points or more")
    return tuple(Line(start_mm=start, end_mm=end) for start, end in zip(kept, kept[1:], strict=False))


def build_polygon(points_mm: Sequence[Point]) -> Contour:
    """Closed contour of straight segments through corners; the last corner need not repeat the first.

    Raises
    ------
    FabricationError
        If there are fewer than three different corners.
    """
    corners = list(points_mm[:-1] if points_mm and points_mm[0] == points_mm[-1] else points_mm)
    if len(set(corners)) < 3:
        raise FabricationError(f"a polygon needs three different corners; {len(set(corners))} were given")
    return build_path([*corners, corners[0]])


def build_regions(
    area: Polygon | MultiPolygon, *, function: str | None = None, dark: bool = True
) -> tuple[Region, ...]:
    """Regions that draw a polygon, its holes after it in the other polarity.

    Draw it before whatever lies in its holes: the holes undo what was drawn there earlier.
    """
    regions = []
    for part in area.geoms if isinstance(area, MultiPolygon) else (area,):
        oriented = orient(part)
        regions.append(Region(contour=_ring(oriented.exterior.coords), function=function, dark=dark))
        for hole in oriented.interiors:
            regions.append(Region(contour=_ring(hole.coords), dark=not dark))
    return tuple(regions)


def _ring(coordinates: Iterable[tuple[float, ...]]) -> Contour:
    return build_polygon([(point[0], point[1]) for point in coordinates])
