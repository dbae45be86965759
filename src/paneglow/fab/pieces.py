"""What a Gerber file draws as polygons: the parts of its objects that no later clear object takes away."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import singledispatch

import numpy as np
import shapely
from shapely.geometry import Point as Place
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from paneglow.errors import GerberError
from paneglow.fab.curves import Bounds, Contour, segment_points
from paneglow.fab.drawing import (
    FlashMark,
    GerberDrawing,
    Mark,
    ObjectNames,
    RegionMark,
    Shape,
    StrokeMark,
    swept_outlines,
)
from paneglow.fab.records import Hole, Point
from paneglow.fab.work import Budget, check_crossings

SAGITTA_MM = 0.002  # arcs become chords this close: a twentieth of the narrowest gap that boards are made with
MANY_CORNERS = 500  # from here on the lines of one stroke are counted before they are joined
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
    try:
        return tuple(_pieces(drawing, bounds_mm=bounds_mm, cut_away=cut_away))
    except GerberError as error:
        raise GerberError(str(error), path=drawing.path) from None


def _pieces(drawing: GerberDrawing, *, bounds_mm: Bounds, cut_away: Sequence[BaseGeometry]) -> Iterator[Piece]:
    shapes: dict[int, BaseGeometry] = {}
    marks: list[Mark] = list(drawing.objects)
    filled = [_filled(mark, shapes=shapes) for mark in marks]
    dark = np.array([mark.dark != drawing.negative for mark in marks], dtype=bool)
    if drawing.negative:
        marks = [RegionMark(contours=(), dark=True), *marks]
        filled = [box(*bounds_mm), *filled]
        dark = np.concatenate([[True], dark])
    cutters = [shape for shape, is_dark in zip(filled, dark, strict=True) if not is_dark] + list(cut_away)
    order = [*np.flatnonzero(~dark), *([len(filled)] * len(cut_away))]
    tree, budget = shapely.STRtree(cutters), Budget()
    for number in np.flatnonzero(dark).tolist():
        shape, mark = filled[number], marks[number]
        near = [place for place in tree.query(shape) if order[place] > number]
        if near:
            budget.spend(corners=int(shapely.get_num_coordinates(tree.geometries[near]).sum()))
            shapely.prepare(shape)
            meeting = tree.geometries[near][shapely.intersects(shape, tree.geometries[near])]
            shape = shapely.difference(shape, shapely.union_all(meeting)) if len(meeting) else shape
        for part in shapely.get_parts(shape):
            if isinstance(part, Polygon) and part.area > LEAST_AREA_MM2:
                yield Piece(
                    polygon=part,
                    names=mark.names,
                    function=() if isinstance(mark, RegionMark) else mark.shape.function,
                    flashed_mm=mark.at_mm if isinstance(mark, FlashMark) else None,
                )


def hole_polygon(hole: Hole, *, grow_mm: float = 0.0) -> Polygon:
    """Area that a hole or slot takes out of the board, grown by a margin [mm]."""
    path = shapely.LineString([hole.start_mm, hole.end_mm]) if hole.start_mm != hole.end_mm else Place(hole.start_mm)
    area: Polygon = path.buffer(hole.diameter_mm / 2 + grow_mm)
    return area


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
    if len(points) > MANY_CORNERS:
        check_crossings([path], what="the lines of one stroke")
    return shapely.buffer(path, mark.shape.disc_mm / 2, quad_segs=8)


@_filled.register
def _(mark: RegionMark, *, shapes: dict[int, BaseGeometry]) -> BaseGeometry:  # noqa: ARG001 - one signature
    return shapely.union_all([_disc(contour) for contour in mark.contours])


def _filled_shape(shape: Shape) -> BaseGeometry:
    """Area of an aperture: outer contours joined, then holes (clockwise) taken out of them."""
    rings = [shapely.LinearRing(segment_points(contour, sagitta_mm=SAGITTA_MM)) for contour in shape.contours]
    outer = _joined(ring for ring in rings if ring.is_ccw)
    return shapely.difference(outer, _joined(ring for ring in rings if not ring.is_ccw))


def _joined(rings: Iterable[shapely.LinearRing]) -> BaseGeometry:
    return shapely.union_all([shapely.make_valid(Polygon(ring)) for ring in rings])


def _disc(contour: Contour) -> BaseGeometry:
    points = segment_points(contour, sagitta_mm=SAGITTA_MM)
    if len(set(points)) < 3:
        return Polygon()
    area = Polygon(points)
    if area.is_valid:
        return area
    check_crossings([area.exterior], what="the edges of one region")
    return shapely.make_valid(area)
