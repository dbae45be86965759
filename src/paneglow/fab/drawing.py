"""What one Gerber file draws: flashes, strokes and regions in mm, in drawing order."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from paneglow.fab.curves import (
    Bounds,
    Contour,
    Similarity,
    arc_points,
    convex_hull,
    joined_bounds,
    segment_bounds,
    segment_points,
)
from paneglow.fab.records import Line, Point, Segment
from paneglow.fab.work import corner_count

SWEEP_SAGITTA_MM = 0.0005  # arcs are swept along chords this close: each step is a line's true sweep


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """Outline of an aperture round its origin [mm], after mirroring, rotation and scaling.

    Filled by the non-zero rule: outer contours run counter-clockwise, holes clockwise. `disc_mm` is the diameter where
    the whole shape is one solid disc about the origin (0 for the zero-size aperture), else None. `function` is the
    X2 aperture function, such as ("ViaPad",); empty where the file states none.
    """

    contours: tuple[Contour, ...]
    disc_mm: float | None
    function: tuple[str, ...] = ()

    @cached_property
    def bounds_mm(self) -> Bounds:
        """Bounding rectangle round the origin [mm]; the origin itself where nothing is mark."""
        return joined_bounds(segment_bounds(contour) for contour in self.contours) or (0.0, 0.0, 0.0, 0.0)

    @cached_property
    def corners(self) -> int:
        """Corners of its outlines once arcs are drawn as chords."""
        return sum(map(corner_count, self.contours))

    def moved(self, transform: Similarity) -> "Shape":
        """Return this shape mirrored, rotated and scaled about its origin; the translation is not used."""
        turned = replace(transform, offset=0j)
        return Shape(
            contours=tuple(turned.of_contour(contour) for contour in self.contours),
            disc_mm=None if self.disc_mm is None else self.disc_mm * turned.scale,
            function=self.function,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjectNames:
    """What a file says of one drawn object by X2 or X3 object attributes; empty where it says nothing.

    `net` is .N, empty too where that says "N/C" (not connected); `ref` the component of .P or .C; `pin` and `function`
    the pin of .P and its function.
    """

    net: str = ""  # Name of the net
    ref: str = ""  # Designator of the component; empty where not said
    pin: str = ""  # Number or letter of the pin
    function: str = ""  # Aperture function attribute; empty where not said


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlashMark:
    """A shape put down at one place."""

    at_mm: Point
    shape: Shape
    dark: bool
    names: ObjectNames | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrokeMark:
    """A shape moved along joined segments."""

    segments: tuple[Segment, ...]
    shape: Shape
    dark: bool
    names: ObjectNames | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RegionMark:
    """Filled contours; each is filled by itself, so overlapping contours join. A cut-in is part of its contour."""

    contours: tuple[Contour, ...]
    dark: bool
    names: ObjectNames | None = None


Mark = FlashMark | StrokeMark | RegionMark


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreLine:
    """Joined segments of one stroke, or one contour of a region (then closed, with width 0)."""

    segments: tuple[Segment, ...]  # Segments in the order of travel
    width_mm: float  # Width of the round pen; 0 for a contour
    is_region: bool  # Whether it bounds a region instead of being stroked
    dark: bool  # Whether it draws (dark) or erases (clear)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GerberDrawing:
    """One Gerber file, read: what it draws, what it says about itself, and what was odd.

    `attributes` maps an X2 file attribute without its dot to its fields: "FileFunction" to ("Copper", "L1", "Top").
    Objects are in drawing order, step-repeat and blocks expanded. With `negative` the whole image is inverted: dark
    where nothing is mark.
    """

    path: Path  # File it was read from
    attributes: dict[str, tuple[str, ...]]  # X2 file attributes by name, without the dot
    objects: tuple[Mark, ...]  # What is drawn, in order, repeats expanded
    negative: bool  # Whether the whole image is inverted
    notes: tuple[str, ...]  # What was decided while reading, and why

    @property
    def bounds_mm(self) -> Bounds | None:
        """Rectangle (x_min, y_min, x_max, y_max) round all drawn objects, widths included [mm]; None where empty."""
        return joined_bounds(map(mark_bounds, self.objects))


def mark_bounds(mark: Mark) -> Bounds:
    """Bounding rectangle of one object [mm]."""
    if isinstance(mark, RegionMark):
        return segment_bounds(segment for contour in mark.contours for segment in contour)
    spread = mark.shape.bounds_mm
    x_min, y_min, x_max, y_max = (
        (*mark.at_mm, *mark.at_mm) if isinstance(mark, FlashMark) else segment_bounds(mark.segments)
    )
    return x_min + spread[0], y_min + spread[1], x_max + spread[2], y_max + spread[3]


def swept_outlines(shape: Shape, *, segments: Iterable[Segment]) -> Iterator[list[Point]]:
    """Convex counter-clockwise polygons [mm] that together cover what a shape sweeps along segments.

    The shape is taken as its convex hull: the format lets only discs and rectangles be drawn with.
    """
    corners = convex_hull(
        [point for contour in shape.contours for point in segment_points(contour, sagitta_mm=SWEEP_SAGITTA_MM)]
    )
    for segment in segments:
        start = segment.start_mm
        steps = [segment.end_mm] if isinstance(segment, Line) else arc_points(segment, sagitta_mm=SWEEP_SAGITTA_MM)
        for end in steps:
            yield convex_hull([(x + at[0], y + at[1]) for x, y in corners for at in (start, end)])
            start = end


def moved_mark(
    mark: Mark, *, transform: Similarity, shapes: dict[tuple[int, Similarity], Shape], invert: bool = False
) -> Mark:
    """Return an object mirrored, rotated, scaled and moved, with its polarity turned where `invert`.

    `shapes` keeps each turned shape, so that equal flashes go on sharing one.
    """
    dark = mark.dark != invert
    if isinstance(mark, RegionMark):
        moved = tuple(transform.of_contour(contour) for contour in mark.contours)
        return RegionMark(contours=moved, dark=dark, names=mark.names)
    shape = mark.shape
    if not transform.is_shift:
        key = (id(shape), replace(transform, offset=0j))
        shape = shapes.get(key) or shapes.setdefault(key, mark.shape.moved(transform))
    if isinstance(mark, FlashMark):
        return FlashMark(at_mm=transform.of_point(mark.at_mm), shape=shape, dark=dark, names=mark.names)
    segments = tuple(transform.of_segment(segment) for segment in mark.segments)
    return StrokeMark(segments=segments, shape=shape, dark=dark, names=mark.names)


def centre_lines(drawing: GerberDrawing) -> tuple[CentreLine, ...]:
    """Return every stroke's segments with its width, and every region contour, in drawing order.

    The width of a stroke is the diameter of a round aperture, else the smaller side of its bounding rectangle [mm];
    0 for the zero-size aperture that outlines are often drawn with. Flashes have no centre line.
    """
    return tuple(line for mark in drawing.objects for line in _centre_lines_of(mark))


def _centre_lines_of(mark: Mark) -> Iterator[CentreLine]:
    if isinstance(mark, RegionMark):
        for contour in mark.contours:
            yield CentreLine(segments=contour, width_mm=0.0, is_region=True, dark=mark.dark)
    elif isinstance(mark, StrokeMark):
        width = mark.shape.disc_mm
        if width is None:
            x_min, y_min, x_max, y_max = mark.shape.bounds_mm
            width = min(x_max - x_min, y_max - y_min)
        yield CentreLine(segments=mark.segments, width_mm=width, is_region=False, dark=mark.dark)
