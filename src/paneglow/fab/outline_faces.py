"""The lines of an outline file to the closed faces between them: ends joined, small gaps bridged, crossings cut."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy
import shapely
from shapely.geometry import LineString, Polygon

from paneglow.errors import RangeError
from paneglow.fab.curves import segment_points
from paneglow.fab.drawing import CentreLine
from paneglow.fab.records import Point
from paneglow.fab.work import CROSSINGS_PER_SEGMENT, MAX_CROSSINGS, check_crossings

SAGITTA_MM = 0.002  # chords stay this close to arcs: 2 um, a fiftieth of the +-0.10 mm routing is good to (trade-facts)
SNAP_MM = 0.001  # ends this close are one point: files round to 1 um or finer
GAP_MM = 0.1  # widest gap bridged by itself, assumed: as wide as routing is uncertain; wider may be meant
NODE_GRID_MM = 1e-4  # crossings are rounded to 0.1 um, so lines that almost coincide do
MAX_POINTS = 30_000  # assumed: ten times the largest of 16 published outlines (3 151 points)
MAX_FACES = 5_000  # assumed: panels of keyboards have some hundreds
SLIVER_MM = 0.01  # faces thinner than this lie between two drawings of one edge
FEW_ENDS = 1_000  # up to these, all distances between ends take less time than a search tree takes to import

Points = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Two open ends that would close an outline, and how far apart they are."""

    from_mm: Point
    to_mm: Point
    width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineFaces:
    """Faces between the lines of an outline; each excludes the faces inside it. `gap` is None where all is closed."""

    faces: tuple[Polygon, ...]
    open_lines: tuple[LineString, ...]
    gap: Gap | None
    bridged_mm: float


def build_outline_faces(lines: Sequence[CentreLine]) -> OutlineFaces:
    """Faces that centre lines enclose, whatever their order, direction, overlap or repetition.

    Ends within `SNAP_MM` count as one point; an end left over is joined to the nearest other end, or to the nearest
    line, within `GAP_MM`.

    Parameters
    ----------
    lines : sequence of CentreLine
        Strokes and region contours [mm]; their widths do not matter, the edge is the centre of the pen.

    Raises
    ------
    RangeError
        If the lines have more than `MAX_POINTS` points, ends or areas crowd, or they cross too often (a GerberError).
    """
    drawn = [points for line in lines if len(points := _path_points(line)) > 1]
    count = sum(map(len, drawn))
    if count > MAX_POINTS:
        raise RangeError(f"the outline has {count} points; allowed are {MAX_POINTS}: draw only the edge and cut-outs")
    paths = _joined_ends(drawn)
    if not paths:
        return OutlineFaces(faces=(), open_lines=(), gap=None, bridged_mm=0.0)
    strings = [LineString(points) for points in paths]
    check_crossings(strings, what="the lines of the outline")
    bridges = _bridges(paths, strings=strings)
    nodes = shapely.unary_union([*strings, *bridges], grid_size=NODE_GRID_MM)
    polygons, cuts, dangles, invalid = shapely.polygonize_full(list(shapely.get_parts(nodes)))
    faces = [face for face in polygons.geoms if not 2.0 * face.area < SLIVER_MM * face.length]
    if len(faces) > MAX_FACES:
        raise RangeError(f"the outline has {len(faces)} closed areas; allowed are {MAX_FACES}")
    loose = shapely.line_merge(shapely.union_all([cuts, dangles, invalid]))
    open_lines = tuple(part for part in shapely.get_parts(loose) if part.length > GAP_MM)
    return OutlineFaces(
        faces=tuple(sorted(faces, key=lambda face: (-face.area, face.bounds))),
        open_lines=tuple(sorted(open_lines, key=lambda line: (-line.length, line.bounds))),
        gap=_widest_need(open_lines),
        bridged_mm=max((bridge.length for bridge in bridges), default=0.0),
    )


def _path_points(line: CentreLine) -> Points:
    """Points of one centre line, repeated ones left out; closed where it is a region."""
    points = segment_points(line.segments, sagitta_mm=SAGITTA_MM)
    if line.is_region and points and points[0] != points[-1]:
        points.append(points[0])
    array = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if not len(array):
        return array
    moved = np.any(np.diff(array, axis=0) != 0.0, axis=1)
    return array[np.concatenate(([True], moved))]


def _joined_ends(paths: list[Points]) -> list[Points]:
    """Paths with ends that differ by rounding only moved onto each other, equal paths once."""
    ends = np.array([path[index] for path in paths for index in (0, -1)]).reshape(-1, 2)
    if not len(ends):
        return []
    most = MAX_CROSSINGS + CROSSINGS_PER_SEGMENT * len(ends)
    if len(ends) <= FEW_ENDS:
        apart_mm = _apart_mm(ends, ends)
        near, pairs = int((apart_mm <= GAP_MM).sum()), np.argwhere(np.triu(apart_mm <= SNAP_MM, k=1))
    else:
        tree = scipy.spatial.cKDTree(ends)
        near, pairs = int(tree.count_neighbors(tree, GAP_MM)), np.empty((0, 2), dtype=int)
        if near <= most:
            pairs = tree.query_pairs(SNAP_MM, output_type="ndarray")
    if near > most:
        raise RangeError(f"too many ends of outline lines lie within {GAP_MM:g} mm; draw each edge once")
    links = scipy.sparse.coo_array(
        (np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(len(ends), len(ends))
    )
    _, cluster = scipy.sparse.csgraph.connected_components(links, directed=False)
    _, first_of = np.unique(cluster, return_index=True)
    target = first_of[cluster]
    joined: dict[bytes, Points] = {}
    for number, path in enumerate(paths):
        moved = path.copy()
        moved[0], moved[-1] = ends[target[2 * number]], ends[target[2 * number + 1]]
        if len(moved) > 2 or np.any(moved[0] != moved[-1]):
            joined.setdefault(min(moved.tobytes(), moved[::-1].tobytes()), moved)
    return list(joined.values())


def _apart_mm(first: Points, second: Points) -> npt.NDArray[np.float64]:
    """Distances [mm] between all points of two sets, shape (first, second)."""
    return np.asarray(np.hypot(*(first[:, None] - second[None]).transpose(2, 0, 1)))


def _bridges(paths: Sequence[Points], *, strings: Sequence[LineString]) -> list[LineString]:
    """Short lines from each open end to the nearest open end, other end or line, within the gap allowed."""
    ends = np.array([path[index] for path in paths for index in (0, -1)])
    _, place, count = np.unique(ends, axis=0, return_inverse=True, return_counts=True)
    is_open = count[place.reshape(-1)] == 1
    tree = scipy.spatial.cKDTree(ends) if len(ends) > FEW_ENDS else None
    lines = shapely.STRtree(list(strings))
    bridges = []
    for own in map(int, np.flatnonzero(is_open)):
        if tree is None:
            around = np.flatnonzero(_apart_mm(ends[own][None], ends)[0] <= GAP_MM).tolist()
        else:
            around = tree.query_ball_point(ends[own], GAP_MM)
        near = [other for other in around if other != own]
        others = [other for other in near if other // 2 != own // 2 or strings[own // 2].length > GAP_MM]
        targets = [_as_point(ends[other]) for other in others if is_open[other]]
        targets = targets or [_as_point(ends[other]) for other in others if other // 2 != own // 2]
        targets = targets or _nearest_on_lines(ends[own], lines=lines, strings=strings, own=own // 2)
        if targets:
            end = _as_point(ends[own])
            closest = min(targets, key=lambda point: (math.dist(point, end), point))
            bridges.append(LineString([end, closest]))
    return [bridge for bridge in bridges if bridge.length > 0.0]


def _nearest_on_lines(end: Points, *, lines: shapely.STRtree, strings: Sequence[LineString], own: int) -> list[Point]:
    """Points of other lines within the gap allowed; none where the end already lies on one."""
    point = shapely.Point(end)
    near = [int(index) for index in lines.query(point, predicate="dwithin", distance=GAP_MM) if int(index) != own]
    spots = [strings[index].interpolate(strings[index].project(point)) for index in near]
    if any(spot.distance(point) < NODE_GRID_MM / 10.0 for spot in spots):
        return []
    return [(float(spot.x), float(spot.y)) for spot in spots]


def _as_point(coordinates: Points) -> Point:
    return (float(coordinates[0]), float(coordinates[1]))


def _widest_need(open_lines: Sequence[LineString]) -> Gap | None:
    """Gap to close the longest open line: from its end to the nearest open end that is not the same point."""
    if not open_lines:
        return None
    longest = max(open_lines, key=lambda line: (line.length, line.bounds))
    ends = [point for line in open_lines for point in (line.coords[0], line.coords[-1])]
    pairs = [
        (math.dist(own, other), own, other)
        for own in (longest.coords[0], longest.coords[-1])
        for other in ends
        if own != other
    ]
    width_mm, start, end = min(pairs)
    return Gap(from_mm=(start[0], start[1]), to_mm=(end[0], end[1]), width_mm=width_mm)
