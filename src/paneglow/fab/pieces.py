"""What a Gerber file draws as polygons: the parts of its objects that no later clear object takes away."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import singledispatch

import numpy as np
import shapely
from shapely.geometry import Point as Place
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from paneglow.fab.curves import Bounds, Contour, segment_points
from paneglow.fab.drawing import FlashMark, GerberDrawing, ObjectNames, RegionMark, Shape, StrokeMark
from paneglow.fab.records import Hole, Point
from paneglow.fab.sweep import swept_outlines

SAGITTA_MM = 0.002  # arcs become chords this close: a twentieth of the narrowest gap that boards are made with
LEAST_AREA_MM2 = 1e-6  # slivers of rounding below a square of 1 um are nothing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One connected part of one drawn object, with what the file says of it.

    `function` is the X2 aperture function of its aperture, such as ("SMDPad", "CuDef"); empty where none is stated.
    """

    polygon: Polygon  # Its area
    names: ObjectNames | None = None  # What the file says of the object it is part of
    function: tuple[str, ...] = ()  # Aperture function attributes of the object, as the file states them
    flashed_mm: Point | None = None  # where it was flashed


def drawn_pieces(
    drawing: GerberDrawing, *, bounds_mm: Bounds, cut_away: Sequence[BaseGeometry] = ()
) -> tuple[Piece, ...]:
    """Everything a file leaves dark, as polygons that may overlap and touch.

    Parameters
    ----------
    drawing : GerberDrawing
        What `parse_gerber` read.
    bounds_mm : tuple of float
        Rectangle (x_min, y_min, x_max, y_max) that a negative file is dark in where it draws nothing [mm].
    cut_away : sequence of geometry
        What is taken away from all of it, such as unplated holes.

    Returns
    -------
    tuple of Piece
        In drawing order. Each object loses the later clear objects that it meets and falls apart where they part it.

    Notes
    -----
    An object stays dark where no *later* clear object lies, so each is cut by itself and nothing is ever united:
    475 changes of polarity in one file cost no more than one.
    """
    shapes: dict[int, BaseGeometry] = {}
    marks = list(drawing.objects)
    filled = [_filled(mark, shapes=shapes) for mark in marks]
    dark = np.array([mark.dark != drawing.negative for mark in marks], dtype=bool)
    if drawing.negative:
        marks = [RegionMark(contours=(), dark=True), *marks]
        filled = [box(*bounds_mm), *filled]
        dark = np.concatenate([[True], dark])
    cutters = [shape for shape, is_dark in zip(filled, dark, strict=True) if not is_dark] + list(cut_away)
    order = [*np.flatnonzero(~dark), *([len(filled)] * len(cut_away))]
    tree = shapely.STRtree(cutters)
    found = [
        piece
        for number in np.flatnonzero(dark).tolist()
        for piece in _left(
            filled[number], mark=marks[number], cutters=_later(filled[number], number, tree=tree, order=order)
        )
    ]
    return tuple(found)


def hole_polygon(hole: Hole, *, grow_mm: float = 0.0) -> Polygon:
    """Area that a hole or slot takes out of the board, grown by a margin [mm]."""
    path = shapely.LineString([hole.start_mm, hole.end_mm]) if hole.start_mm != hole.end_mm else Place(hole.start_mm)
    bore: Polygon = path.buffer(hole.diameter_mm / 2 + grow_mm)
    return bore


def _later(shape: BaseGeometry, number: int, *, tree: shapely.STRtree, order: Sequence[int]) -> list[BaseGeometry]:
    near = [place for place in tree.query(shape) if order[place] > number]
    if not near:
        return []
    shapely.prepare(shape)
    cutters = tree.geometries[near]
    return list(cutters[shapely.intersects(shape, cutters)])


def _left(
    shape: BaseGeometry, *, mark: FlashMark | StrokeMark | RegionMark, cutters: Sequence[BaseGeometry]
) -> Iterator[Piece]:
    left = shapely.difference(shape, shapely.union_all(cutters)) if cutters else shape
    function = () if isinstance(mark, RegionMark) else mark.shape.function
    flashed = mark.at_mm if isinstance(mark, FlashMark) else None
    for part in shapely.get_parts(left):
        if isinstance(part, Polygon) and part.area > LEAST_AREA_MM2:
            yield Piece(polygon=part, names=mark.names, function=function, flashed_mm=flashed)


@singledispatch
def _filled(mark: object, *, shapes: dict[int, BaseGeometry]) -> BaseGeometry:  # noqa: ARG001 - one signature
    raise TypeError(f"{type(mark).__name__} cannot be filled")


@_filled.register
def _(mark: FlashMark, *, shapes: dict[int, BaseGeometry]) -> BaseGeometry:
    plain = shapes.get(id(mark.shape))
    if plain is None:
        plain = shapes[id(mark.shape)] = _filled_shape(mark.shape)
    return shapely.transform(plain, lambda corners: corners + np.array(mark.at_mm))


@_filled.register
def _(mark: StrokeMark, *, shapes: dict[int, BaseGeometry]) -> BaseGeometry:  # noqa: ARG001 - one signature
    if not mark.shape.contours:
        return Polygon()
    if mark.shape.disc_mm is None:
        return shapely.union_all([Polygon(outline) for outline in swept_outlines(mark.shape, segments=mark.segments)])
    points = segment_points(mark.segments, sagitta_mm=SAGITTA_MM)
    path = shapely.LineString(points) if len(set(points)) > 1 else Place(points[0])
    return shapely.buffer(path, mark.shape.disc_mm / 2, quad_segs=8)


@_filled.register
def _(mark: RegionMark, *, shapes: dict[int, BaseGeometry]) -> BaseGeometry:  # noqa: ARG001 - one signature
    return shapely.union_all([_disc(contour) for contour in mark.contours])


def _filled_shape(shape: Shape) -> BaseGeometry:
    """Area of an aperture: outer contours joined, then holes (clockwise) taken out of them."""
    rings = [shapely.LinearRing(_ring(contour)) for contour in shape.contours]
    outer = _joined(ring for ring in rings if ring.is_ccw)
    return shapely.difference(outer, _joined(ring for ring in rings if not ring.is_ccw))


def _joined(rings: Iterable[shapely.LinearRing]) -> BaseGeometry:
    return shapely.union_all([shapely.make_valid(Polygon(ring)) for ring in rings])


def _disc(contour: Contour) -> BaseGeometry:
    points = _ring(contour)
    return shapely.make_valid(Polygon(points)) if len(set(points)) > 2 else Polygon()


def _ring(contour: Contour) -> list[Point]:
    return segment_points(contour, sagitta_mm=SAGITTA_MM)
