"""Curves the picture is made of: sampled bands, rounded shapes, and strokes cut where something stands in front."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from paneglow.fab import Arc, Contour, Line, Stroke, build_path, build_polygon

Point = tuple[float, float]
STEP_MM = 0.1  # sampling of curves; their flattening error is below 1 um for radii above 1.3 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """Round keep-out."""

    centre_mm: Point
    radius_mm: float

    def holds(self, point: Point) -> bool:
        """Whether a point lies inside."""
        return math.dist(point, self.centre_mm) < self.radius_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """Keep-out of straight edges, grown by a margin on all sides."""

    corners_mm: tuple[Point, ...]
    margin_mm: float = 0.0

    def holds(self, point: Point) -> bool:
        """Whether a point lies inside or within the margin."""
        inside = False
        for (x0, y0), (x1, y1) in zip(self.corners_mm, (*self.corners_mm[1:], self.corners_mm[0]), strict=True):
            if (y0 > point[1]) != (y1 > point[1]) and point[0] < x0 + (point[1] - y0) / (y1 - y0) * (x1 - x0):
                inside = not inside
            if self.margin_mm > 0 and _distance_to_segment(point, (x0, y0), (x1, y1)) < self.margin_mm:
                return True
        return inside


KeepOut = Disc | Patch


def _distance_to_segment(point: Point, start: Point, end: Point) -> float:
    along_x, along_y = end[0] - start[0], end[1] - start[1]
    length_squared = along_x * along_x + along_y * along_y
    if length_squared == 0:
        return math.dist(point, start)
    share = ((point[0] - start[0]) * along_x + (point[1] - start[1]) * along_y) / length_squared
    share = min(1.0, max(0.0, share))
    return math.dist(point, (start[0] + share * along_x, start[1] + share * along_y))


def rounded(point: Point) -> Point:
    """Point on a 1 um raster, so that the last bit of a sine never reaches a file."""
    return round(point[0], 3), round(point[1], 3)


def thinned(points: Sequence[Point], *, tolerance_mm: float = 0.002) -> tuple[Point, ...]:
    """Fewest of the points that keep the path within a tolerance (Douglas and Peucker's way)."""
    if len(points) < 3:
        return tuple(points)
    first, last = points[0], points[-1]
    distances = [_distance_to_segment(point, first, last) for point in points[1:-1]]
    farthest = max(distances)
    if farthest <= tolerance_mm:
        return first, last
    middle = distances.index(farthest) + 1
    before = thinned(points[: middle + 1], tolerance_mm=tolerance_mm)
    return (*before[:-1], *thinned(points[middle:], tolerance_mm=tolerance_mm))


def sample(curve: Callable[[float], Point], *, length_mm: float) -> tuple[Point, ...]:
    """Points of a curve given over 0 to 1."""
    count = max(2, math.ceil(length_mm / STEP_MM))
    return thinned([rounded(curve(i / count)) for i in range(count + 1)])


def band(
    middle: Callable[[float], Point], *, half_width_mm: Callable[[float], float], length_mm: float
) -> tuple[Point, ...]:
    """Corners of a band of varying width along a curve given over 0 to 1."""
    upper: list[Point] = []
    lower: list[Point] = []
    count = max(2, math.ceil(length_mm / STEP_MM))
    for i in range(count + 1):
        t = i / count
        x, y = middle(t)
        x0, y0 = middle(max(0.0, t - 1e-3))
        x1, y1 = middle(min(1.0, t + 1e-3))
        size = math.dist((x0, y0), (x1, y1))
        across = (-(y1 - y0) / size, (x1 - x0) / size)
        half = half_width_mm(t)
        upper.append(rounded((x + across[0] * half, y + across[1] * half)))
        lower.append(rounded((x - across[0] * half, y - across[1] * half)))
    return (*thinned(lower), *reversed(thinned(upper)))


def spline(corners: Sequence[Point]) -> tuple[Point, ...]:
    """Smooth curve through points (Catmull-Rom), sampled."""
    padded = [corners[0], *corners, corners[-1]]
    points: list[Point] = []
    for a, b, c, d in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        count = max(1, math.ceil(math.dist(b, c) / STEP_MM))
        points += [rounded(_catmull_rom(a, b, c, d, t=i / count)) for i in range(count)]
    return thinned([*points, rounded(corners[-1])])


def _catmull_rom(a: Point, b: Point, c: Point, d: Point, *, t: float) -> Point:
    def axis(k: int) -> float:
        linear, square = c[k] - a[k], 2 * a[k] - 5 * b[k] + 4 * c[k] - d[k]
        cube = -a[k] + 3 * b[k] - 3 * c[k] + d[k]
        return 0.5 * (2 * b[k] + linear * t + square * t * t + cube * t**3)

    return axis(0), axis(1)


def rounded_rectangle(*, centre_mm: Point, width_mm: float, height_mm: float, radius_mm: float) -> Contour:
    """Rectangle with round corners, counter-clockwise."""
    x, y = centre_mm
    w, h, r = width_mm / 2, height_mm / 2, radius_mm
    corners = ((x + w - r, y - h + r), (x + w - r, y + h - r), (x - w + r, y + h - r), (x - w + r, y - h + r))
    starts = ((0.0, -r), (r, 0.0), (0.0, r), (-r, 0.0))
    arcs = [
        Arc(
            start_mm=rounded((c[0] + starts[i][0], c[1] + starts[i][1])),
            end_mm=rounded((c[0] + starts[(i + 1) % 4][0], c[1] + starts[(i + 1) % 4][1])),
            centre_mm=rounded(c),
            clockwise=False,
        )
        for i, c in enumerate(corners)
    ]
    contour: list[Arc | Line] = []
    for arc, after in zip(arcs, (*arcs[1:], arcs[0]), strict=True):
        contour += [arc, Line(start_mm=arc.end_mm, end_mm=after.start_mm)]
    return tuple(contour)


def arched(*, left_mm: float, right_mm: float, low_mm: float, spring_mm: float) -> Contour:
    """Upright opening with a half-round head, counter-clockwise from the lower left."""
    centre = rounded(((left_mm + right_mm) / 2, spring_mm))
    head = Arc(start_mm=(right_mm, spring_mm), end_mm=(left_mm, spring_mm), centre_mm=centre, clockwise=False)
    foot = build_path([(left_mm, spring_mm), (left_mm, low_mm), (right_mm, low_mm), (right_mm, spring_mm)])
    return (*foot, head)


def cut(
    points: Iterable[Point], *, keep_outs: Sequence[KeepOut], pen_mm: float, shortest_mm: float = 0.5
) -> tuple[Stroke, ...]:
    """Strokes along sampled points, left out where a keep-out stands in front; crumbs are dropped."""
    runs: list[list[Point]] = [[]]
    for point in points:
        if any(keep_out.holds(point) for keep_out in keep_outs):
            runs.append([])
        else:
            runs[-1].append(rounded(point))
    long_enough = [run for run in runs if len(run) > 1 and math.dist(run[0], run[-1]) >= shortest_mm]
    return tuple(Stroke(path=build_path(thinned(run)), pen_mm=pen_mm) for run in long_enough)


def straight(start: Point, end: Point) -> tuple[Point, ...]:
    """Points along a straight line, close enough to be cut by `cut`."""
    count = max(1, math.ceil(math.dist(start, end) / STEP_MM))
    return tuple(
        (start[0] + (end[0] - start[0]) * i / count, start[1] + (end[1] - start[1]) * i / count)
        for i in range(count + 1)
    )


def polygon(*corners: Point) -> Contour:
    """Closed contour through corners."""
    return build_polygon(corners)
