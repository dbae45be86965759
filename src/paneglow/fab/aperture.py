"""Apertures as shapes: the standard templates, macros, and cutting what exposure-off or a hole takes away."""

import math
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from paneglow.errors import GerberError
from paneglow.fab.curves import (
    Bounds,
    Contour,
    Similarity,
    circle,
    joined_bounds,
    polygon,
    segment_bounds,
    segment_points,
)
from paneglow.fab.drawing import Shape
from paneglow.fab.macro import Macro, evaluated_primitives
from paneglow.fab.macro_shapes import Piece, primitive_piece, rectangle, regular_polygon
from paneglow.fab.records import Arc, Line

MAX_APERTURE_MM = 2_000.0  # larger than any board this tool draws
CUT_SAGITTA_MM = 0.0002  # arcs become chords this close where shapes are cut: below 0.1 % of a 0.5 mm disc

_NOTHING = Shape(contours=(), disc_mm=0.0)


def standard_shape(template: str, *, values: Sequence[float], mm_per_unit: float) -> Shape:
    """Shape of a C, R, O or P aperture for the values of its %AD line.

    Raises
    ------
    GerberError
        For a wrong number of values or a negative or too large size; without file and line.
    """
    fewest, most = _VALUE_COUNTS[template]
    if not fewest <= len(values) <= most:
        raise GerberError(f"aperture {template} has {len(values)} values; needed are {fewest} to {most}")
    lengths = [value * mm_per_unit for value in values]
    if template == "P":
        lengths[1] = values[1]
        if len(values) > 2:
            lengths[2] = values[2]
    size_count = 1 if template in "CP" else 2
    sizes, hole_at = lengths[:size_count], {"C": 1, "R": 2, "O": 2, "P": 3}[template]
    if min(*sizes, *lengths[hole_at:], 0.0) < 0:
        raise GerberError(f"aperture {template} has a negative size; allowed is 0 or more")
    outer = _OUTERS[template](lengths)
    shape = Shape(contours=() if 0 in sizes else (outer,), disc_mm=_solid_disc_mm(template, sizes=sizes))
    _check_size(shape)
    return _with_hole(shape, hole_mm=lengths[hole_at:]) if shape.contours else shape


def macro_shape(macro: Macro, *, values: Sequence[float], mm_per_unit: float) -> Shape:
    """Shape of a macro for the values of one %AD line.

    Raises
    ------
    GerberError
        Where a primitive is unknown, incomplete or impossibly sized; without file and line.
    """
    pieces: list[Piece] = []
    for code, modifiers in evaluated_primitives(macro, values=values):
        if not all(math.isfinite(modifier) for modifier in modifiers):
            raise GerberError(f"macro {macro.name}: a modifier of primitive {code} is not finite")
        piece = primitive_piece(code, modifiers=modifiers)
        if piece is not None:
            pieces.append(_scaled(piece, by=mm_per_unit))
    contours = cut_contours(pieces)
    shape = Shape(contours=contours, disc_mm=_single_disc_mm(contours) if contours else 0.0)
    _check_size(shape)
    return shape


def cut_contours(pieces: Sequence[Piece]) -> tuple[Contour, ...]:
    """Contours of pieces put down in order, non-dark ones erasing what lies below.

    Each dark piece loses the later erasing pieces that touch it; dark pieces are never united, as unions of tangent
    parts are where boolean geometry fails.
    """
    contours: list[Contour] = []
    for order, piece in enumerate(pieces):
        if not piece.dark:
            continue
        cutters = [later for later in pieces[order + 1 :] if not later.dark and _overlap(later, piece)]
        contours.extend(_cut(piece, cutters=cutters) if cutters else piece.contours)
    return tuple(contours)


def _scaled(piece: Piece, *, by: float) -> Piece:
    transform = Similarity(factor=complex(by))
    return Piece(contours=tuple(transform.of_contour(contour) for contour in piece.contours), dark=piece.dark)


def _piece_bounds(piece: Piece) -> Bounds:
    bounds = joined_bounds(segment_bounds(contour) for contour in piece.contours)
    return bounds or (math.inf, math.inf, -math.inf, -math.inf)


def _overlap(first: Piece, second: Piece) -> bool:
    a, b = _piece_bounds(first), _piece_bounds(second)
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _cut(piece: Piece, *, cutters: Sequence[Piece]) -> list[Contour]:
    left = _filled(piece)
    for cutter in cutters:
        left = shapely.difference(left, _filled(cutter))
    polygons = [part for part in shapely.get_parts(left) if isinstance(part, shapely.Polygon) and part.area > 0]
    contours: list[Contour] = []
    for part in polygons:
        oriented = orient(part, 1.0)
        contours.extend(_ring(ring) for ring in (oriented.exterior, *oriented.interiors))
    return contours


def _ring(ring: shapely.LinearRing) -> Contour:
    return polygon([(float(x), float(y)) for x, y in ring.coords[:-1]])


def _filled(piece: Piece) -> BaseGeometry:
    """Polygons of a piece: outer contours joined, then holes (clockwise) taken out."""
    filled: BaseGeometry = shapely.Polygon()
    for contour in piece.contours:
        ring = shapely.LinearRing(segment_points(contour, sagitta_mm=CUT_SAGITTA_MM))
        disc = shapely.make_valid(shapely.Polygon(ring))
        filled = shapely.union(filled, disc) if ring.is_ccw else shapely.difference(filled, disc)
    return filled


def _with_hole(shape: Shape, *, hole_mm: Sequence[float]) -> Shape:
    if not hole_mm or 0 in hole_mm:
        return shape
    if len(hole_mm) == 1:
        hole = circle(centre_mm=(0.0, 0.0), diameter_mm=hole_mm[0])
    else:
        hole = rectangle(centre=(0.0, 0.0), width=hole_mm[0], height=hole_mm[1])
    pieces = [Piece(contours=shape.contours, dark=True), Piece(contours=(hole,), dark=False)]
    return Shape(contours=cut_contours(pieces), disc_mm=None)


def _solid_disc_mm(template: str, *, sizes: Sequence[float]) -> float | None:
    if 0 in sizes:
        return 0.0
    return sizes[0] if template == "C" or (template == "O" and sizes[0] == sizes[1]) else None


def _single_disc_mm(contours: Sequence[Contour]) -> float | None:
    """Diameter where the contours are one full circle about the origin."""
    if len(contours) != 1 or len(contours[0]) != 1:
        return None
    only = contours[0][0]
    if not isinstance(only, Arc) or only.centre_mm != (0.0, 0.0):
        return None
    return 2 * math.dist(only.start_mm, only.centre_mm)


def _check_size(shape: Shape) -> None:
    if max(map(abs, shape.bounds_mm)) > MAX_APERTURE_MM / 2:
        raise GerberError(f"aperture reaches over {MAX_APERTURE_MM / 2:g} mm; check its unit (%MOMM*% or %MOIN*%)")


def _disc(lengths: Sequence[float]) -> Contour:
    return circle(centre_mm=(0.0, 0.0), diameter_mm=lengths[0])


def _rectangle(lengths: Sequence[float]) -> Contour:
    return rectangle(centre=(0.0, 0.0), width=lengths[0], height=lengths[1])


def _obround(lengths: Sequence[float]) -> Contour:
    """Rectangle whose shorter sides are half circles."""
    width, height = lengths[0], lengths[1]
    if width == height:
        return circle(centre_mm=(0.0, 0.0), diameter_mm=width)
    radius, reach = min(width, height) / 2, abs(width - height) / 2
    flat = (
        Line(start_mm=(-reach, -radius), end_mm=(reach, -radius)),
        Arc(start_mm=(reach, -radius), end_mm=(reach, radius), centre_mm=(reach, 0.0), clockwise=False),
        Line(start_mm=(reach, radius), end_mm=(-reach, radius)),
        Arc(start_mm=(-reach, radius), end_mm=(-reach, -radius), centre_mm=(-reach, 0.0), clockwise=False),
    )
    return flat if width > height else Similarity(factor=1j).of_contour(flat)


def _regular_polygon(lengths: Sequence[float]) -> Contour:
    rotation_deg = lengths[2] if len(lengths) > 2 else 0.0
    return regular_polygon(centre=(0.0, 0.0), diameter=lengths[0], corners=lengths[1], rotation_deg=rotation_deg)


_VALUE_COUNTS = {"C": (1, 3), "R": (2, 4), "O": (2, 4), "P": (2, 5)}
_OUTERS = {"C": _disc, "R": _rectangle, "O": _obround, "P": _regular_polygon}
