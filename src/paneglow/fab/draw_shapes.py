"""Coverage of polygons and drilled holes, by the same samples that Gerber files are drawn with."""

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from shapely.geometry import LinearRing, MultiPolygon

from paneglow.fab.aperture import standard_shape
from paneglow.fab.draw import draw_coverage
from paneglow.fab.drawing import FlashMark, GerberDrawing, Mark, RegionMark, Shape, StrokeMark
from paneglow.fab.records import Hole, Line
from paneglow.fab.write_records import Stroke
from paneglow.grid import Grid


def draw_polygons(polygons: MultiPolygon, *, grid: Grid) -> npt.NDArray[np.float32]:
    """Share of every pixel inside polygons.

    Parameters
    ----------
    polygons : MultiPolygon
        In mm, interior rings cut out; a polygon inside the hole of another one is filled again.
    grid : Grid
        Where to sample.

    Returns
    -------
    ndarray, shape (n_y, n_x)
        Coverage [1], 0 to 1.
    """
    # Larger ones first, so that a board within a panel's frame is not cut away again by the frame's hole
    marks: list[Mark] = []
    for polygon in sorted(polygons.geoms, key=lambda piece: piece.envelope.area, reverse=True):
        marks.append(_region(polygon.exterior, dark=True))
        marks.extend(_region(ring, dark=False) for ring in polygon.interiors)
    return _draw(marks, grid=grid)


def draw_holes(holes: Sequence[Hole], *, grid: Grid) -> npt.NDArray[np.float32]:
    """Share of every pixel that is drilled or routed away by holes and slots.

    Parameters
    ----------
    holes : sequence of Hole
        Round holes, and slots with round ends.
    grid : Grid
        Where to sample.

    Returns
    -------
    ndarray, shape (n_y, n_x)
        Coverage [1], 0 to 1.
    """
    tools = {
        diameter: standard_shape("C", values=(diameter,), mm_per_unit=1.0)
        for diameter in sorted({hole.diameter_mm for hole in holes})
    }
    ordered = sorted(holes, key=lambda hole: hole.diameter_mm)
    return _draw((_bore(hole, tool=tools[hole.diameter_mm]) for hole in ordered), grid=grid)


def draw_strokes(strokes: Iterable[Stroke], *, grid: Grid) -> npt.NDArray[np.float32]:
    """Share of every pixel under strokes of a round pen, such as text.

    Parameters
    ----------
    strokes : iterable of Stroke
        What `build_text` makes; strokes that are not dark erase those before them.
    grid : Grid
        Where to sample.

    Returns
    -------
    ndarray, shape (n_y, n_x)
        Coverage [1], 0 to 1.
    """
    pens: dict[float, Shape] = {}
    marks: list[Mark] = []
    for stroke in strokes:
        pen = pens.setdefault(stroke.pen_mm, standard_shape("C", values=(stroke.pen_mm,), mm_per_unit=1.0))
        marks.append(StrokeMark(segments=stroke.path, shape=pen, dark=stroke.dark))
    return _draw(marks, grid=grid)


def _bore(hole: Hole, *, tool: Shape) -> Mark:
    if hole.start_mm == hole.end_mm:
        return FlashMark(at_mm=hole.start_mm, shape=tool, dark=True)
    return StrokeMark(segments=(Line(start_mm=hole.start_mm, end_mm=hole.end_mm),), shape=tool, dark=True)


def _region(ring: LinearRing, *, dark: bool) -> RegionMark:
    points = [(float(x), float(y)) for x, y, *_ in ring.coords]
    contour = tuple(
        Line(start_mm=start, end_mm=end) for start, end in zip(points, [*points[1:], points[0]], strict=True)
    )
    return RegionMark(contours=(contour,), dark=dark)


def _draw(marks: Iterable[Mark], *, grid: Grid) -> npt.NDArray[np.float32]:
    drawing = GerberDrawing(path=Path(), attributes={}, objects=tuple(marks), negative=False, notes=())
    return draw_coverage(drawing, grid=grid)
