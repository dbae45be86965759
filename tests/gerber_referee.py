"""A second drawing of Gerber files: gerbonara 1.5.0 reads, its primitives are drawn here, with none of our own code.

Known wrong in gerbonara (the project's measured list) and therefore worked round or left out here: `to_arc_poly` of
rotated rectangles (never called), strokes with apertures other than discs (left out on both sides), step-repeat,
mirroring, rotation, scaling and aperture blocks (files with them are not compared), holes and exposure-off that erase
what lies below (files with them are compared only where nothing lies below).
"""

import math
import warnings
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import skia
from gerbonara import GerberFile
from gerbonara.apertures import CircleAperture
from gerbonara.graphic_objects import Arc as ArcObject
from gerbonara.graphic_objects import Line as LineObject
from gerbonara.graphic_primitives import Arc, ArcPoly, Circle, Line, Rectangle
from gerbonara.utils import MM

SAMPLE_MM = 0.0125  # side of the squares that the drawing is sampled in
TURN = complex(math.cos(0.37), math.sin(0.37))  # areas keep under rotation, and no edge lies along the samples
CHORD_MM = 0.0002  # sagitta of arcs
DARK = skia.Paint(AntiAlias=False, Color=0xFF000000, BlendMode=skia.BlendMode.kSrc)
CLEAR = skia.Paint(AntiAlias=False, Color=0x00000000, BlendMode=skia.BlendMode.kSrc)


@dataclass(frozen=True)
class Referee:
    """What gerbonara read: its objects, and how many strokes were left out."""

    objects: tuple[object, ...]
    left_out: int


def read_referee(text: str) -> Referee:
    """Objects of a file as gerbonara reads it; raises what gerbonara raises."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        objects = tuple(GerberFile.from_string(text).objects)
    kept = tuple(
        o for o in objects if not isinstance(o, LineObject | ArcObject) or isinstance(o.aperture, CircleAperture)
    )
    return Referee(objects=kept, left_out=len(objects) - len(kept))


def referee_area_mm2(referee: Referee, *, bounds_mm: tuple[float, float, float, float]) -> float:
    """Dark area inside bounds that hold everything [mm2]."""
    x_min, y_min, x_max, y_max = bounds_mm
    corners = [TURN * complex(x, y) for x in (x_min, x_max) for y in (y_min, y_max)]
    left, low = min(c.real for c in corners), min(c.imag for c in corners)
    n_x = math.ceil((max(c.real for c in corners) - left) / SAMPLE_MM) + 2
    n_y = math.ceil((max(c.imag for c in corners) - low) / SAMPLE_MM) + 2
    samples = np.zeros((n_y, n_x), dtype=np.uint8)
    info = skia.ImageInfo.Make(n_x, n_y, skia.kAlpha_8_ColorType, skia.kPremul_AlphaType)
    canvas = skia.Surface.MakeRasterDirect(info, samples, n_x).getCanvas()
    canvas.scale(1 / SAMPLE_MM, 1 / SAMPLE_MM)
    canvas.translate(-left, -low)
    canvas.concat(skia.Matrix.MakeAll(TURN.real, -TURN.imag, 0, TURN.imag, TURN.real, 0, 0, 0, 1))
    for graphic in referee.objects:
        for primitive in graphic.to_primitives(MM):
            _DRAW[type(primitive)](canvas, primitive, DARK if primitive.polarity_dark else CLEAR)
    return float(np.count_nonzero(samples)) * SAMPLE_MM**2


def _fill(canvas: skia.Canvas, points: list[tuple[float, float]], paint: skia.Paint) -> None:
    path = skia.Path()
    path.addPoly([skia.Point(x, y) for x, y in points], True)
    canvas.drawPath(path, paint)


def _arc(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], *, clockwise: bool
) -> list[tuple[float, float]]:
    """Points of an arc with both ends; gerbonara's full circles start where they end."""
    first = complex(start[0] - centre[0], start[1] - centre[1])
    last = complex(end[0] - centre[0], end[1] - centre[1])
    sweep = math.remainder(math.atan2(last.imag, last.real) - math.atan2(first.imag, first.real), math.tau) % math.tau
    if abs(first - last) < 1e-9:
        sweep = math.tau
    elif clockwise:
        sweep -= math.tau
    steps = max(4, math.ceil(abs(sweep) / (2 * math.acos(max(0.0, 1 - CHORD_MM / max(abs(first), 2 * CHORD_MM))))))
    turn = np.exp(1j * np.linspace(0, sweep, steps + 1)) * np.linspace(1, abs(last) / max(abs(first), 1e-12), steps + 1)
    points = complex(*centre) + first * turn
    return [start, *((float(p.real), float(p.imag)) for p in points[1:-1]), end]


def _draw_circle(canvas: skia.Canvas, circle: Circle, paint: skia.Paint) -> None:
    path = skia.Path()
    path.addPath(_disc(circle.r), circle.x, circle.y)
    canvas.drawPath(path, paint)


@lru_cache(maxsize=1000)
def _disc(radius: float) -> skia.Path:
    path = skia.Path()
    points = _arc((radius, 0.0), (radius, 0.0), (0.0, 0.0), clockwise=False)
    path.addPoly([skia.Point(x, y) for x, y in points], True)
    return path


def _draw_polygon(canvas: skia.Canvas, polygon: ArcPoly, paint: skia.Paint) -> None:
    points: list[tuple[float, float]] = []
    for start, end, (clockwise, centre) in polygon.segments:
        points += [start, end] if clockwise is None else _arc(start, end, centre, clockwise=clockwise)
    if points:
        _fill(canvas, points, paint)


def _draw_rectangle(canvas: skia.Canvas, rectangle: Rectangle, paint: skia.Paint) -> None:
    turn, a, b = complex(math.cos(rectangle.rotation), math.sin(rectangle.rotation)), rectangle.w / 2, rectangle.h / 2
    corners = [turn * complex(x, y) for x, y in ((-a, -b), (a, -b), (a, b), (-a, b))]
    _fill(canvas, [(rectangle.x + c.real, rectangle.y + c.imag) for c in corners], paint)


def _draw_line(canvas: skia.Canvas, line: Line, paint: skia.Paint) -> None:
    _stroke(canvas, [(line.x1, line.y1), (line.x2, line.y2)], line.width, paint)


def _draw_arc(canvas: skia.Canvas, arc: Arc, paint: skia.Paint) -> None:
    points = _arc((arc.x1, arc.y1), (arc.x2, arc.y2), (arc.cx, arc.cy), clockwise=arc.clockwise)
    _stroke(canvas, points, arc.width, paint)


def _stroke(canvas: skia.Canvas, points: list[tuple[float, float]], width: float, paint: skia.Paint) -> None:
    """Rectangles between points and discs on them: the true area of a round stroke."""
    if width == 0:
        return
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        along = complex(x1 - x0, y1 - y0)
        if along:
            across = along / abs(along) * 1j * width / 2
            corners = [(x0, y0, 1), (x0, y0, -1), (x1, y1, -1), (x1, y1, 1)]
            _fill(canvas, [(x + side * across.real, y + side * across.imag) for x, y, side in corners], paint)
    for x, y in dict.fromkeys(points):
        _draw_circle(canvas, Circle(x, y, width / 2), paint)


_DRAW = {Circle: _draw_circle, ArcPoly: _draw_polygon, Rectangle: _draw_rectangle, Line: _draw_line, Arc: _draw_arc}
