"""Closed faces of an outline file to boards: which faces are laminate and which are cut away."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from paneglow.errors import FabricationError, GerberError, RangeError
from paneglow.fab.drawing import CentreLine
from paneglow.fab.outline_faces import GAP_MM, OutlineFaces, build_outline_faces

MAX_BOARD_MM = 1200.0  # assumed: the longest panels commonly made are about 1.2 m; 3 m is a wrong unit
MIN_BOARD_MM = 2.0  # assumed: smaller than any board made, larger than a wrong unit leaves of one
INSIDE_MM = 0.2  # a drawn point counts for a face when it lies this far inside: pads reach over edges and slots
NESTED_INSIDE_MM = 1.0  # the same for a cut-out's place: lands of a part in a cut-out overhang its edge by up to 1 mm
NESTED_SPREAD = 0.5  # of width and of height that copper must span to make a board of a cut-out's place
WORTH_A_NOTE_MM2 = 1.0
INSIDE_SHARE = (
    0.2  # of the copper at least lies inside the outline; less when only its cut-outs close, or another board
)

Points = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlineReading:
    """Boards of an outline file, largest first, cut-outs as interior rings."""

    outline: MultiPolygon
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Face:
    """A face with the number of the face whose hole it lies in (-1: none) and what is drawn inside it."""

    shape: Polygon
    parent: int
    is_drawn_on: bool
    has_spread_copper: bool


def build_outline(
    lines: Sequence[CentreLine], *, copper_points: Points, mask_points: Points, name: str
) -> OutlineReading:
    """Boards that the centre lines of an outline file enclose.

    Nesting gives a first answer: what lies in nothing is board, what lies in board is cut out. What is drawn inside
    has the last word: a face in a cut-out's place that holds copper is a board in its panel's frame, and a face in a
    board's place that holds neither copper nor mask openings, where others do, is frame or drawing and is left out.

    Parameters
    ----------
    lines : sequence of CentreLine
        Strokes and region contours of the outline file [mm].
    copper_points, mask_points : ndarray, shape (n, 2)
        Places where copper, and mask openings, are drawn [mm]; may be empty.
    name : str
        File name for messages.

    Raises
    ------
    FabricationError
        If nothing is drawn, nothing is closed (the gap is named), most copper lies outside, the size is absurd or
        there are too many points.
    """
    if not lines:
        raise FabricationError("draws nothing; an outline is a closed contour of lines and arcs", path=name)
    try:
        faces = build_outline_faces(lines)
    except (RangeError, GerberError) as error:
        raise FabricationError(str(error), path=name) from error
    if not faces.faces:
        raise FabricationError(_open_message(faces), path=name)
    known = _with_content(faces.faces, copper_points=copper_points, mask_points=mask_points)
    kept, left_out = _sorted_out(known)
    merged = shapely.unary_union([face.shape for face in kept])
    boards = sorted(shapely.get_parts(merged), key=lambda board: (-board.area, board.bounds))
    outline = MultiPolygon(boards)
    _check_size(outline, name=name)
    _check_copper_inside(outline, copper_points=copper_points, faces=faces, name=name)
    notes = _notes(faces, left_out=left_out, joined=len(kept) - len(boards), name=name)
    return OutlineReading(outline=outline, notes=notes)


def _with_content(faces: Sequence[Polygon], *, copper_points: Points, mask_points: Points) -> list[_Face]:
    holes = [(Polygon(ring), number) for number, face in enumerate(faces) for ring in face.interiors]
    holes.sort(key=lambda hole: hole[0].area)
    tree = shapely.STRtree([hole for hole, _ in holes])
    known = []
    for face in faces:
        around = tree.query(face.representative_point(), predicate="within")
        inner = face.buffer(-INSIDE_MM)
        drawn = len(_points_inside(inner, copper_points)) + len(_points_inside(inner, mask_points))
        known.append(
            _Face(
                shape=face,
                parent=holes[int(min(around))][1] if len(around) else -1,
                is_drawn_on=drawn > 0,
                has_spread_copper=_has_spread(face, points=copper_points),
            )
        )
    return known


def _has_spread(face: Polygon, *, points: Points) -> bool:
    """Whether points well inside a face span most of it both ways."""
    inside = _points_inside(face.buffer(-NESTED_INSIDE_MM), points)
    if not len(inside):
        return False
    x_min, y_min, x_max, y_max = face.bounds
    width, height = np.ptp(inside, axis=0)
    return bool(width >= NESTED_SPREAD * (x_max - x_min) and height >= NESTED_SPREAD * (y_max - y_min))


def _points_inside(shape: BaseGeometry, points: Points) -> Points:
    if shape.is_empty or not len(points):
        return points[:0]
    x_min, y_min, x_max, y_max = shape.bounds
    x, y = points[:, 0], points[:, 1]
    near = points[(x >= x_min) & (x <= x_max) & (y >= y_min) & (y <= y_max)]
    shapely.prepare(shape)
    inside: Points = near[shapely.contains_xy(shape, near)]
    return inside


def _sorted_out(faces: Sequence[_Face]) -> tuple[list[_Face], list[_Face]]:
    """Board faces, and faces left out although nesting calls them board."""
    anything_drawn = any(face.is_drawn_on for face in faces)
    is_board: dict[int, bool] = {-1: False}
    kept, left_out = [], []

    def settle(number: int) -> bool:
        """Settle the faces around before the face itself."""
        if number not in is_board:
            is_board[number] = False
            face = faces[number]
            if settle(face.parent):
                is_board[number] = face.has_spread_copper
            else:
                is_board[number] = face.is_drawn_on or not anything_drawn
                left_out.extend([] if is_board[number] else [face])
        return is_board[number]

    for number, face in enumerate(faces):
        if settle(number):
            kept.append(face)
    return kept or list(faces), left_out if kept else []


def _check_size(outline: MultiPolygon, *, name: str) -> None:
    x_min, y_min, x_max, y_max = outline.bounds
    width, height = x_max - x_min, y_max - y_min
    if max(width, height) > MAX_BOARD_MM or max(width, height) < MIN_BOARD_MM:
        raise FabricationError(
            f"outline is {width:.4g} x {height:.4g} mm; allowed is {MIN_BOARD_MM:g} to {MAX_BOARD_MM:g} mm on its"
            " longer side: is the unit right?",
            path=name,
        )


def _check_copper_inside(outline: MultiPolygon, *, copper_points: Points, faces: OutlineFaces, name: str) -> None:
    """Raise where most copper lies outside: then only cut-outs were closed, or the outline is of another board."""
    if not len(copper_points):
        return
    filled = shapely.union_all([Polygon(board.exterior) for board in outline.geoms])
    share = len(_points_inside(filled, copper_points)) / len(copper_points)
    if share >= INSIDE_SHARE:
        return
    why = _open_message(faces) if faces.gap is not None else "is this the outline of this board?"
    raise FabricationError(f"closed outlines hold only {share:.0%} of the copper; {why}", path=name)


def _open_message(faces: OutlineFaces) -> str:
    if faces.gap is None:
        return "no line of the outline closes; draw the edge as one closed contour"
    gap = faces.gap
    return (
        f"the outline is open: a gap of {gap.width_mm:.3g} mm from {_place(gap.from_mm)} to {_place(gap.to_mm)} mm;"
        f" allowed is {GAP_MM:g} mm: close the contour"
    )


def _place(point_mm: Sequence[float]) -> str:
    return f"({point_mm[0]:.3f}, {point_mm[1]:.3f})"


def _notes(faces: OutlineFaces, *, left_out: Sequence[_Face], joined: int, name: str) -> tuple[str, ...]:
    notes = []
    if joined > 0:
        notes.append(f"{name}: closed areas that share an edge are read as one board; lines between them cut nothing")
    if faces.bridged_mm > 0.0:
        notes.append(f"{name}: gaps up to {faces.bridged_mm:.2g} mm in the outline were closed")
    if faces.open_lines:
        longest = faces.open_lines[0]
        notes.append(
            f"{name}: {len(faces.open_lines)} open lines, the longest {longest.length:.3g} mm at"
            f" {_place(longest.coords[0])} mm, cut nothing; draw a slot as a closed contour or in a drill file"
        )
    bare = [face.shape.area for face in left_out if face.shape.area >= WORTH_A_NOTE_MM2]
    if bare:
        notes.append(
            f"{name}: {len(bare)} closed areas, {sum(bare):.1f} mm2 in all, hold neither copper nor mask openings"
            " and were left out as frame, gap or drawing"
        )
    return tuple(notes)
