"""Plane geometry of lines and arcs: sweeps, areas, bounds, fine polygons and similarity transforms; lengths in mm."""

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Self

from paneglow.fab.records import Arc, Line, Point, Segment

Contour = tuple[Segment, ...]
Bounds = tuple[float, float, float, float]

MAX_CHORDS = 4096  # per arc; at this count a 1 m circle is off by 0.3 um, below any file's resolution


@dataclass(frozen=True, slots=True, kw_only=True)
class Similarity:
    """Mirror (y negated), then rotation and scaling, then translation, of the complex number x + iy.

    `factor` is scale * exp(i * rotation); `offset` is in mm.
    """

    factor: complex = 1.0 + 0.0j
    offset: complex = 0.0j
    mirrored: bool = False

    @classmethod
    def shift(cls, *, by_mm: Point) -> Self:
        """Pure translation [mm]."""
        return cls(offset=complex(*by_mm))

    @property
    def is_shift(self) -> bool:
        """Whether sizes and directions stay as they are."""
        return self.factor == 1.0 and not self.mirrored

    @property
    def scale(self) -> float:
        """Ratio of lengths after to lengths before."""
        return abs(self.factor)

    def of_point(self, point_mm: Point) -> Point:
        """Image of a point [mm]."""
        moved = complex(*point_mm)
        if self.mirrored:
            moved = moved.conjugate()
        moved = self.factor * moved + self.offset
        return moved.real, moved.imag

    def of_segment(self, segment: Segment) -> Segment:
        """Image of a line or an arc; a mirror turns the sense of an arc."""
        start, end = self.of_point(segment.start_mm), self.of_point(segment.end_mm)
        if isinstance(segment, Line):
            return Line(start_mm=start, end_mm=end)
        if segment.start_mm == segment.end_mm:
            end = start  # a full circle must not become a tiny arc by rounding
        return Arc(
            start_mm=start,
            end_mm=end,
            centre_mm=self.of_point(segment.centre_mm),
            clockwise=segment.clockwise != self.mirrored,
        )

    def of_contour(self, contour: Contour) -> Contour:
        """Image of a contour that keeps its turning sense: a mirrored contour is walked backwards."""
        moved = tuple(self.of_segment(segment) for segment in contour)
        return reversed_contour(moved) if self.mirrored else moved

    def after(self, first: Self) -> Self:
        """Return the transform that does `first`, then this one."""
        inner, inner_offset = first.factor, first.offset
        if self.mirrored:
            inner, inner_offset = inner.conjugate(), inner_offset.conjugate()
        return type(self)(
            factor=self.factor * inner,
            offset=self.factor * inner_offset + self.offset,
            mirrored=self.mirrored != first.mirrored,
        )


def unit_vector(angle_deg: float) -> complex:
    """Direction of an angle; exact for multiples of 90 degrees."""
    quarters, rest = divmod(angle_deg, 90)
    if rest == 0:
        return (1 + 0j, 1j, -1 + 0j, -1j)[int(quarters) % 4]
    return cmath.rect(1.0, math.radians(angle_deg % 360))


def reversed_contour(contour: Contour) -> Contour:
    """Return the same curve walked the other way."""
    return tuple(_reversed_segment(segment) for segment in reversed(contour))


def _reversed_segment(segment: Segment) -> Segment:
    if isinstance(segment, Line):
        return Line(start_mm=segment.end_mm, end_mm=segment.start_mm)
    return Arc(
        start_mm=segment.end_mm,
        end_mm=segment.start_mm,
        centre_mm=segment.centre_mm,
        clockwise=not segment.clockwise,
    )


def circle(*, centre_mm: Point, diameter_mm: float, clockwise: bool = False) -> Contour:
    """Full circle as one arc; counter-clockwise (filled) unless it is to cut a hole."""
    start = (centre_mm[0] + diameter_mm / 2, centre_mm[1])
    return (Arc(start_mm=start, end_mm=start, centre_mm=centre_mm, clockwise=clockwise),)


def polygon(corners_mm: Iterable[Point]) -> Contour:
    """Closed contour through corners, in their order."""
    corners = list(corners_mm)
    following = corners[1:] + corners[:1]
    return tuple(Line(start_mm=a, end_mm=b) for a, b in zip(corners, following, strict=True))


def arc_radius_mm(arc: Arc) -> float:
    """Radius at the start of an arc [mm]."""
    return math.dist(arc.start_mm, arc.centre_mm)


def arc_sweep_rad(arc: Arc) -> float:
    """Signed angle an arc turns through [rad]: positive counter-clockwise; 2 pi where it ends at its start."""
    (x0, y0), (x1, y1), (xc, yc) = arc.start_mm, arc.end_mm, arc.centre_mm
    if arc.start_mm == arc.end_mm:
        return -math.tau if arc.clockwise else math.tau
    turn = math.atan2(y1 - yc, x1 - xc) - math.atan2(y0 - yc, x0 - xc)
    if arc.clockwise:
        return turn - math.tau if turn > 0 else turn
    return turn + math.tau if turn < 0 else turn


def arc_chords(arc: Arc, *, sagitta_mm: float) -> int:
    """Chords that stay within `sagitta_mm` of an arc, three of a full circle at least: two would enclose nothing."""
    radius = max(arc_radius_mm(arc), math.dist(arc.end_mm, arc.centre_mm))
    reach = 2 * math.acos(max(1 - sagitta_mm / radius, 0.5)) if radius > 0 else math.tau
    # Rounding leaves nothing of the angle where the radius is beyond 1e12 sagittas
    chords = abs(arc_sweep_rad(arc)) / max(reach, 1e-9)
    return min(max(math.ceil(chords), 1), MAX_CHORDS)


def arc_points(arc: Arc, *, sagitta_mm: float) -> list[Point]:
    """Points along an arc after its start, the last one its end, no further than `sagitta_mm` from the true curve.

    Where start and end lie at different distances from the centre (rounded files) the radius goes evenly over.
    """
    xc, yc = arc.centre_mm
    r0, r1 = arc_radius_mm(arc), math.dist(arc.end_mm, arc.centre_mm)
    sweep, chords = arc_sweep_rad(arc), arc_chords(arc, sagitta_mm=sagitta_mm)
    first, step, growth = math.atan2(arc.start_mm[1] - yc, arc.start_mm[0] - xc), sweep / chords, (r1 - r0) / chords
    points = [
        (xc + (r0 + k * growth) * math.cos(first + k * step), yc + (r0 + k * growth) * math.sin(first + k * step))
        for k in range(1, chords)
    ]
    points.append(arc.end_mm)
    return points


def segment_points(segments: Iterable[Segment], *, sagitta_mm: float) -> list[Point]:
    """Polyline along joined segments, from the start of the first to the end of the last [mm]."""
    points: list[Point] = []
    for segment in segments:
        if not points:
            points.append(segment.start_mm)
        if isinstance(segment, Line):
            points.append(segment.end_mm)
        else:
            points.extend(arc_points(segment, sagitta_mm=sagitta_mm))
    return points


def contour_area_mm2(contour: Contour) -> float:
    """Signed area inside a closed contour [mm2]; positive where it runs counter-clockwise."""
    total = 0.0
    for segment in contour:
        (x0, y0), (x1, y1) = segment.start_mm, segment.end_mm
        total += (x0 * y1 - x1 * y0) / 2
        if isinstance(segment, Arc):
            sweep = arc_sweep_rad(segment)
            total += arc_radius_mm(segment) ** 2 * (sweep - math.sin(sweep)) / 2
    return total


def segment_bounds(segments: Iterable[Segment]) -> Bounds:
    """Bounding rectangle (x_min, y_min, x_max, y_max) of the curves themselves [mm]; needs at least one segment."""
    xs: list[float] = []
    ys: list[float] = []
    for segment in segments:
        corners = [segment.start_mm, segment.end_mm]
        if isinstance(segment, Arc):
            corners += _arc_extremes(segment)
        xs += [corner[0] for corner in corners]
        ys += [corner[1] for corner in corners]
    return min(xs), min(ys), max(xs), max(ys)


def _arc_extremes(arc: Arc) -> list[Point]:
    """Leftmost, rightmost, lowest and highest points of the circle that the arc passes."""
    (xc, yc), radius, sweep = arc.centre_mm, arc_radius_mm(arc), arc_sweep_rad(arc)
    first = math.atan2(arc.start_mm[1] - yc, arc.start_mm[0] - xc)
    low, high = min(first, first + sweep), max(first, first + sweep)
    quarters = range(math.ceil(low / (math.pi / 2)), math.floor(high / (math.pi / 2)) + 1)
    compass = ((1, 0), (0, 1), (-1, 0), (0, -1))
    return [(xc + radius * compass[q % 4][0], yc + radius * compass[q % 4][1]) for q in quarters]


def joined_bounds(bounds: Iterable[Bounds]) -> Bounds | None:
    """Smallest rectangle round several; None where there are none."""
    corners = list(bounds)
    if not corners:
        return None
    x_min, y_min, x_max, y_max = zip(*corners, strict=True)
    return min(x_min), min(y_min), max(x_max), max(y_max)


def convex_hull(points: Sequence[Point]) -> list[Point]:
    """Corners of the smallest convex polygon round points, counter-clockwise.

    References
    ----------
    A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", *Information Processing Letters* 9,
    1979, 216-219.
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered
    return _half_hull(ordered)[:-1] + _half_hull(ordered[::-1])[:-1]


def _half_hull(ordered: Sequence[Point]) -> list[Point]:
    hull: list[Point] = []
    for point in ordered:
        while len(hull) > 1 and _turn(hull[-2], hull[-1], point) <= 0:
            hull.pop()
        hull.append(point)
    return hull


def _turn(first: Point, second: Point, third: Point) -> float:
    """Twice the area of a triangle; positive where it runs counter-clockwise."""
    return (second[0] - first[0]) * (third[1] - first[1]) - (second[1] - first[1]) * (third[0] - first[0])
