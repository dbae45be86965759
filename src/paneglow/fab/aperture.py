"""Apertures as shapes: the standard templates, macros, and cutting what exposure-off or a hole takes away."""

import math
from collections.abc import Sequence

import numpy as np
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
from paneglow.fab.macro import Macro, MacroPiece, evaluated_primitives, primitive_piece, rectangle, regular_polygon
from paneglow.fab.records import Arc, Line
from paneglow.fab.work import CUT_COST, Budget, corner_count

MAX_APERTURE_MM = 2_000.0  # larger than any board this tool draws
CUT_SAGITTA_MM = 0.0002  # arcs become chords this close where shapes are cut: below 0.1 % of a 0.5 mm disc


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
    sizes, hole = lengths[:size_count], lengths[{"C": 1, "R": 2, "O": 2, "P": 3}[template] :]
    if min(*sizes, *hole, 0.0) < 0:
        raise GerberError(f"aperture {template} has a negative size; allowed is 0 or more")
    _check_reach(max(*sizes, *hole, 0.0) / 2)
    if 0 in sizes:
        return Shape(contours=(), disc_mm=0.0)
    contours = (_OUTERS[template](lengths),)
    is_disc = template == "C" or (template == "O" and sizes[0] == sizes[1])
    if not hole or 0 in hole:
        return Shape(contours=contours, disc_mm=sizes[0] if is_disc else None)
    cutter = _disc(hole) if len(hole) == 1 else _rectangle(hole)
    pieces = [MacroPiece(contours=contours, dark=True), MacroPiece(contours=(cutter,), dark=False)]
    return Shape(contours=cut_contours(pieces, budget=Budget()), disc_mm=None)


def macro_shape(macro: Macro, *, values: Sequence[float], mm_per_unit: float, budget: Budget | None = None) -> Shape:
    """Shape of a macro for the values of one %AD line; its work is counted in the file's budget.

    Raises
    ------
    GerberError
        Where a primitive is unknown, incomplete or impossibly sized; without file and line.
    """
    budget = Budget() if budget is None else budget
    budget.spend(corners=macro.terms)
    to_mm = Similarity(factor=complex(mm_per_unit))
    pieces: list[MacroPiece] = []
    for code, modifiers in evaluated_primitives(macro, values=values):
        if not all(math.isfinite(modifier) for modifier in modifiers):
            raise GerberError(f"macro {macro.name}: a modifier of primitive {code} is not finite")
        piece = primitive_piece(code, modifiers=modifiers)
        if piece is not None:
            contours = tuple(to_mm.of_contour(contour) for contour in piece.contours)
            _check_reach(max(map(abs, _bounds(contours))))
            pieces.append(MacroPiece(contours=contours, dark=piece.dark))
            budget.spend(corners=sum(map(corner_count, contours)), segments=sum(map(len, contours)))
    contours = cut_contours(pieces, budget=budget)
    return Shape(contours=contours, disc_mm=_single_disc_mm(contours) if contours else 0.0)


def cut_contours(pieces: Sequence[MacroPiece], *, budget: Budget) -> tuple[Contour, ...]:
    """Contours of pieces put down in order, non-dark ones erasing what lies below.

    Each dark piece loses the later erasing pieces that touch it; dark pieces are never united, as unions of tangent
    parts are where boolean geometry fails.
    """
    if all(piece.dark for piece in pieces):
        return tuple(contour for piece in pieces for contour in piece.contours)
    low_x, low_y, high_x, high_y = np.array([_bounds(piece.contours) for piece in pieces]).T
    erases = np.array([not piece.dark for piece in pieces])
    corners = np.array([sum(map(corner_count, piece.contours)) for piece in pieces])
    contours: list[Contour] = []
    for order in np.flatnonzero(~erases).tolist():
        meets = (low_x < high_x[order]) & (low_x[order] < high_x) & (low_y < high_y[order]) & (low_y[order] < high_y)
        cutters = np.flatnonzero(meets & erases)
        cutters = cutters[cutters > order]
        budget.spend(corners=CUT_COST * int(corners[cutters].sum() + len(cutters) * corners[order]))
        contours.extend(_cut(pieces[order], cutters=[pieces[later] for later in cutters.tolist()]))
    return tuple(contours)


def _bounds(contours: Sequence[Contour]) -> Bounds:
    return joined_bounds(map(segment_bounds, contours)) or (0.0, 0.0, 0.0, 0.0)


def _cut(piece: MacroPiece, *, cutters: Sequence[MacroPiece]) -> Sequence[Contour]:
    if not cutters:
        return piece.contours
    left = _filled(piece)
    for cutter in cutters:
        left = shapely.difference(left, _filled(cutter))
    parts = [part for part in shapely.get_parts(left) if isinstance(part, shapely.Polygon) and part.area > 0]
    rings = (ring for part in map(orient, parts) for ring in (part.exterior, *part.interiors))
    return [polygon([(float(x), float(y)) for x, y in ring.coords[:-1]]) for ring in rings]


def _filled(piece: MacroPiece) -> BaseGeometry:
    """Polygons of a piece: outer contours joined, then holes (clockwise) taken out."""
    filled: BaseGeometry = shapely.Polygon()
    for contour in piece.contours:
        ring = shapely.LinearRing(segment_points(contour, sagitta_mm=CUT_SAGITTA_MM))
        disc = shapely.make_valid(shapely.Polygon(ring))
        filled = shapely.union(filled, disc) if ring.is_ccw else shapely.difference(filled, disc)
    return filled


def _single_disc_mm(contours: Sequence[Contour]) -> float | None:
    """Diameter where the contours are one full circle about the origin."""
    if len(contours) != 1 or len(contours[0]) != 1:
        return None
    only = contours[0][0]
    if not isinstance(only, Arc) or only.centre_mm != (0.0, 0.0):
        return None
    return 2 * math.dist(only.start_mm, only.centre_mm)


def _check_reach(reach_mm: float) -> None:
    if reach_mm > MAX_APERTURE_MM / 2:
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
