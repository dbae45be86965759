"""Drill hits to holes: hits that a Gerber file draws, and which hits are plated."""

import re
from collections.abc import Iterator, Sequence

from paneglow.errors import DrillError
from paneglow.fab.curves import segment_points
from paneglow.fab.drawing import FlashMark, GerberDrawing, Mark, RegionMark, Shape
from paneglow.fab.drill import ROUTED_ARC_SAGITTA_MM, DrillHit
from paneglow.fab.layers import LayerFile
from paneglow.fab.records import Hole, Point

ROUND_MM = 1e-3  # a slot's two sides may differ from a full round end by rounding only
# Words of drill file names (common practice, no source)
_UNPLATED_NAME = re.compile(r"npth|non[-_ ]?plated|un[-_ ]?plated", re.IGNORECASE)
_PLATED_NAME = re.compile(r"pth|plated", re.IGNORECASE)
_TOLD = {"drill_plated": True, "drill_unplated": False}
_FUNCTIONS = {"plated": True, "nonplated": False}


def build_hits(drawing: GerberDrawing, *, name: str) -> tuple[DrillHit, ...]:
    """Bores that a drill file in Gerber format draws; plating is left to the file function.

    Raises
    ------
    DrillError
        If it draws areas, clear objects or shapes that no drill makes.
    """
    return tuple(hit for drawn in drawing.objects for hit in _hits_of(drawn, name=name))


def _hits_of(drawn: Mark, *, name: str) -> Iterator[DrillHit]:
    if isinstance(drawn, RegionMark) or not drawn.dark:
        raise DrillError("draws an area or something clear as a hole; allowed are round flashes and strokes", path=name)
    if isinstance(drawn, FlashMark):
        yield _flashed(drawn.shape, at_mm=drawn.at_mm, name=name)
        return
    points = segment_points(drawn.segments, sagitta_mm=ROUTED_ARC_SAGITTA_MM)
    diameter_mm = _diameter(drawn.shape, name=name)
    for start, end in zip(points, points[1:], strict=False):
        yield DrillHit(start_mm=start, end_mm=end, diameter_mm=diameter_mm, plated=None, line=0)


def _flashed(shape: Shape, *, at_mm: Point, name: str) -> DrillHit:
    """A hole, or a slot where the flashed shape is longer than wide."""
    if shape.disc_mm is not None:
        return DrillHit(start_mm=at_mm, end_mm=at_mm, diameter_mm=_diameter(shape, name=name), plated=None, line=0)
    x_min, y_min, x_max, y_max = shape.bounds_mm
    width, height = x_max - x_min, y_max - y_min
    if abs(x_min + x_max) + abs(y_min + y_max) > ROUND_MM or min(width, height) <= 0.0:
        raise DrillError("flashes a shape that no drill makes; allowed are discs and upright slots", path=name)
    half_x, half_y = max(0.0, width - height) / 2.0, max(0.0, height - width) / 2.0
    return DrillHit(
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


def plated_by_file(file: LayerFile, *, function: str) -> bool | None:
    """Plating of a whole drill file by the design's word, its X2 function or its name; None where none says it."""
    if file.role in _TOLD:
        return _TOLD[file.role]
    stated = _FUNCTIONS.get(function.partition(",")[0].strip().lower())
    if stated is not None:
        return stated
    if _UNPLATED_NAME.search(file.name):
        return False
    return True if _PLATED_NAME.search(file.name) else None


def goes_through(function: str, *, copper_layers: int) -> bool:
    """Whether holes cross the whole board, by the layers an X2 drill function names: `Plated,1,2,PTH`."""
    layers = [int(part) for part in function.split(",")[1:3] if re.fullmatch(r"\s*\d{1,4}\s*", part, re.ASCII)]
    return len(layers) < 2 or (min(layers) <= 1 and max(layers) >= copper_layers)


def to_holes(hits: Sequence[DrillHit], *, by_file: bool | None, told: bool) -> tuple[Hole, ...]:
    """Convert hits to holes: each hit's own word first, then its file's, then plated.

    With `told` the design named the plating of the file, which then overrides every tool's own.
    """
    return tuple(
        Hole(
            start_mm=hit.start_mm,
            end_mm=hit.end_mm,
            diameter_mm=hit.diameter_mm,
            plated=_plated(hit, by_file=by_file, told=told),
        )
        for hit in hits
    )


def _plated(hit: DrillHit, *, by_file: bool | None, told: bool) -> bool:
    words = (by_file, hit.plated) if told else (hit.plated, by_file)
    return next((word for word in words if word is not None), True)
