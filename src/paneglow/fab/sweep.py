"""The area that an aperture other than a disc covers when it is drawn along a line or an arc."""

from collections.abc import Iterable, Iterator, Sequence

from paneglow.fab.curves import arc_points, segment_points
from paneglow.fab.drawing import Shape
from paneglow.fab.records import Line, Point, Segment

SWEEP_SAGITTA_MM = 0.0005  # arcs are swept along chords this close: each step is a line's true sweep


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
