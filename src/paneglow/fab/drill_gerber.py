"""Holes drawn as Gerber: round flashes are holes, round strokes are slots and routed paths."""

from collections.abc import Iterator

from paneglow.errors import DrillError
from paneglow.fab.curves import segment_points
from paneglow.fab.drawing import FlashMark, GerberDrawing, Mark, RegionMark, Shape
from paneglow.fab.drill import Bore
from paneglow.fab.drill_machine import ROUTED_ARC_SAGITTA_MM
from paneglow.fab.records import Point

ROUND_MM = 1e-3  # a slot's two sides may differ from a full round end by rounding only


def build_bores(drawing: GerberDrawing, *, name: str) -> tuple[Bore, ...]:
    """Bores that a drill file in Gerber format draws; plating is left to the file function.

    Raises
    ------
    DrillError
        If it draws areas, clear objects or shapes that no drill makes.
    """
    return tuple(bore for drawn in drawing.objects for bore in _bores_of(drawn, name=name))


def _bores_of(drawn: Mark, *, name: str) -> Iterator[Bore]:
    if isinstance(drawn, RegionMark) or not drawn.dark:
        raise DrillError("draws an area or something clear as a hole; allowed are round flashes and strokes", path=name)
    if isinstance(drawn, FlashMark):
        yield _flashed(drawn.shape, at_mm=drawn.at_mm, name=name)
        return
    points = segment_points(drawn.segments, sagitta_mm=ROUTED_ARC_SAGITTA_MM)
    diameter_mm = _diameter(drawn.shape, name=name)
    for start, end in zip(points, points[1:], strict=False):
        yield Bore(start_mm=start, end_mm=end, diameter_mm=diameter_mm, plated=None, line=0)


def _flashed(shape: Shape, *, at_mm: Point, name: str) -> Bore:
    """A hole, or a slot where the flashed shape is longer than wide."""
    if shape.disc_mm is not None:
        return Bore(start_mm=at_mm, end_mm=at_mm, diameter_mm=_diameter(shape, name=name), plated=None, line=0)
    x_min, y_min, x_max, y_max = shape.bounds_mm
    width, height = x_max - x_min, y_max - y_min
    if abs(x_min + x_max) + abs(y_min + y_max) > ROUND_MM or min(width, height) <= 0.0:
        raise DrillError("flashes a shape that no drill makes; allowed are discs and upright slots", path=name)
    half_x, half_y = max(0.0, width - height) / 2.0, max(0.0, height - width) / 2.0
    return Bore(
        start_mm=(at_mm[0] - half_x, at_mm[1] - half_y),
        end_mm=(at_mm[0] + half_x, at_mm[1] + half_y),
        diameter_mm=min(width, height),
        plated=None,
        line=0,
    )


def _diameter(shape: Shape, *, name: str) -> float:
    if not shape.disc_mm:
        raise DrillError("draws holes with a pen that is not round; allowed are round apertures above 0", path=name)
    return shape.disc_mm
