"""Legend text as strokes of a round pen, in a stroke alphabet of our own: capitals, digits and a few signs.

Capital height is 1, the baseline is y = 0. A glyph is (width, pen paths). A path is a row of points; the first is
(x, y), each later one (x, y) after a straight stroke or (x, y, sweep_deg) after a circular one, whose angle is
positive counter-clockwise.
"""

import math
from typing import Literal

from paneglow.errors import FabricationError
from paneglow.fab.records import Arc, Line, Point, Segment
from paneglow.fab.write_records import Contour, Stroke

SMALL_CAPITAL = 0.76  # height of a lower-case letter, drawn as a small capital, over that of a capital: our choice
LETTER_GAP = 0.24  # free space between letters over the height of a capital: our choice
Align = Literal["left", "centre", "right"]
ALIGN_SHIFT: dict[Align, float] = {"left": 0.0, "centre": -0.5, "right": -1.0}
PathPoint = tuple[float, float] | tuple[float, float, float]
PenPath = tuple[PathPoint, ...]
Glyph = tuple[float, tuple[PenPath, ...]]

_BOWL: PenPath = ((0, 0), (0, 1), (0.3, 1), (0.3, 0.46, -180), (0, 0.46))
_RING: PenPath = ((1, 0.5), (0, 0.5, 180), (1, 0.5, 180))

GLYPHS: dict[str, Glyph] = {
    " ": (0.34, ()),
    "A": (0.72, (((0, 0), (0.36, 1), (0.72, 0)), ((0.11, 0.3), (0.61, 0.3)))),
    "B": (0.58, (((0, 0.53), (0, 1), (0.3, 1), (0.3, 0.53, -180), (0, 0.53), (0, 0), (0.315, 0), (0.315, 0.53, 180)),)),
    "C": (0.86, (((0.854, 0.854), (0.854, 0.146, 270)),)),
    "D": (0.76, (((0, 0), (0, 1), (0.26, 1), (0.26, 0, -180), (0, 0)),)),
    "E": (0.54, (((0.54, 1), (0, 1), (0, 0), (0.54, 0)), ((0, 0.52), (0.44, 0.52)))),
    "F": (0.52, (((0.52, 1), (0, 1), (0, 0)), ((0, 0.5), (0.42, 0.5)))),
    "G": (1.0, (((0.854, 0.854), (1, 0.5, 315), (0.6, 0.5)),)),
    "H": (0.68, (((0, 0), (0, 1)), ((0.68, 0), (0.68, 1)), ((0, 0.52), (0.68, 0.52)))),
    "I": (0.0, (((0, 0), (0, 1)),)),
    "J": (0.42, (((0.42, 1), (0.42, 0.21), (0, 0.21, -180)),)),
    "K": (0.6, (((0, 0), (0, 1)), ((0.58, 1), (0, 0.42)), ((0.18, 0.6), (0.6, 0)))),
    "L": (0.5, (((0, 1), (0, 0), (0.5, 0)),)),
    "M": (0.84, (((0, 0), (0, 1), (0.42, 0.34), (0.84, 1), (0.84, 0)),)),
    "N": (0.7, (((0, 0), (0, 1), (0.7, 0), (0.7, 1)),)),
    "O": (1.0, (_RING,)),
    "P": (0.57, (_BOWL,)),
    "Q": (1.0, (_RING, ((0.62, 0.3), (0.96, -0.06)))),
    "R": (0.6, (_BOWL, ((0.27, 0.46), (0.6, 0)))),
    "S": (0.56, (((0.5, 0.8955), (0.3, 0.51, 235), (0.0911, 0.1087, -235)),)),
    "T": (0.66, (((0, 1), (0.66, 1)), ((0.33, 1), (0.33, 0)))),
    "U": (0.66, (((0, 1), (0, 0.33), (0.66, 0.33, 180), (0.66, 1)),)),
    "V": (0.7, (((0, 1), (0.35, 0), (0.7, 1)),)),
    "W": (1.04, (((0, 1), (0.26, 0), (0.52, 0.8), (0.78, 0), (1.04, 1)),)),
    "X": (0.66, (((0, 0), (0.66, 1)), ((0, 1), (0.66, 0)))),
    "Y": (0.68, (((0, 1), (0.34, 0.48), (0.68, 1)), ((0.34, 0.48), (0.34, 0)))),
    "Z": (0.64, (((0, 1), (0.64, 1), (0, 0), (0.64, 0)),)),
    "0": (0.54, (((0, 0.27), (0.54, 0.27, 180), (0.54, 0.73), (0, 0.73, 180), (0, 0.27)),)),
    "1": (0.22, (((0, 0.8), (0.22, 1), (0.22, 0)),)),
    "2": (0.54, (((0, 0.74), (0.4592, 0.5729, -220), (0, 0), (0.54, 0)),)),
    "3": (0.52, (((0.0478, 0.8775), (0.26, 0.51, -240), (0.0392, 0.1275, -240)),)),
    "4": (0.58, (((0.42, 0), (0.42, 1), (0, 0.3), (0.58, 0.3)),)),
    "5": (0.56, (((0.5, 1), (0.1, 1), (0.0672, 0.5298), (0.0002, 0.15, -280)),)),
    "6": (0.56, (((0.3724, 1), (0.0375, 0.42), (0.5225, 0.14, 180), (0.0375, 0.42, 180)),)),
    "7": (0.54, (((0, 1), (0.54, 1), (0.16, 0)),)),
    "8": (0.54, (((0.27, 0.52), (0.27, 1, 180), (0.27, 0.52, 180), (0.27, 0, -180), (0.27, 0.52, -180)),)),
    "9": (0.56, (((0.1876, 0), (0.5225, 0.58), (0.0375, 0.86, 180), (0.5225, 0.58, 180)),)),
    "+": (0.5, (((0, 0.5), (0.5, 0.5)), ((0.25, 0.25), (0.25, 0.75)))),
    "-": (0.4, (((0, 0.5), (0.4, 0.5)),)),
    ".": (0.0, (((0, 0), (0, 0)),)),
    ",": (0.1, (((0.1, 0.04), (0, -0.14)),)),
    ":": (0.0, (((0, 0.12), (0, 0.12)), ((0, 0.68), (0, 0.68)))),
    "/": (0.46, (((0, -0.08), (0.46, 1.08)),)),
    "'": (0.0, (((0, 1), (0, 0.8)),)),
    "(": (0.22, (((0.22, 1.1), (0.22, -0.1, 100)),)),
    ")": (0.22, (((0, 1.1), (0, -0.1, -100)),)),
}


def build_text(
    text: str,
    *,
    at_mm: Point,
    height_mm: float,
    pen_mm: float,
    align: Align = "left",
    rotation_rad: float = 0.0,
    mirrored: bool = False,
    letter_gap: float = LETTER_GAP,
    function: str | None = None,
    dark: bool = True,
) -> tuple[Stroke, ...]:
    """Strokes that write one line of text; lower-case letters become small capitals.

    Parameters
    ----------
    text : str
        Letters a to z in both cases, digits, blank and + - . , : / ' ( ).
    at_mm : (x, y)
        Where the baseline starts, or its middle or end after `align` [mm].
    height_mm : float
        Height of a capital, pen not counted [mm].
    pen_mm : float
        Width of the stroke [mm].
    rotation_rad : float
        Counter-clockwise about `at_mm` [rad].
    mirrored : bool
        Mirror left and right about `at_mm` first, as text on the back face needs: all layers are drawn as seen
        from the front.
    letter_gap : float
        Free space between letters over the height of a capital [1].

    Raises
    ------
    FabricationError
        If the alphabet has no such sign.
    """
    start = ALIGN_SHIFT[align] * text_width_mm(text, height_mm=height_mm, letter_gap=letter_gap)
    strokes = []
    for sign in text:
        scale = _scale(sign, height_mm=height_mm)
        width, paths = _glyph(sign)
        for path in paths:
            segments = _path_segments(path, scale=scale, shift_mm=start)
            placed = tuple(_place(s, at_mm=at_mm, rotation_rad=rotation_rad, mirrored=mirrored) for s in segments)
            strokes.append(Stroke(path=placed, pen_mm=pen_mm, function=function, dark=dark))
        start += width * scale + letter_gap * height_mm
    return tuple(strokes)


def text_width_mm(text: str, *, height_mm: float, letter_gap: float = LETTER_GAP) -> float:
    """Length of a line of text from the first letter's left edge to the last one's right edge [mm]."""
    letters = sum(_glyph(sign)[0] * _scale(sign, height_mm=height_mm) for sign in text)
    return letters + letter_gap * height_mm * max(0, len(text) - 1)


def _scale(sign: str, *, height_mm: float) -> float:
    return height_mm * SMALL_CAPITAL if sign.islower() else height_mm


def _glyph(sign: str) -> tuple[float, tuple[PenPath, ...]]:
    found = GLYPHS.get(sign.upper())
    if found is None:
        raise FabricationError(f"the legend alphabet has no sign {sign!r}; it has {''.join(sorted(GLYPHS))}")
    return found


def _path_segments(path: PenPath, *, scale: float, shift_mm: float) -> Contour:
    points = [(point[0] * scale + shift_mm, point[1] * scale) for point in path]
    sweeps_rad = [math.radians(point[2]) if len(point) == 3 else 0.0 for point in path]
    return tuple(
        _segment(before, after, sweep_rad=sweep_rad)
        for before, after, sweep_rad in zip(points, points[1:], sweeps_rad[1:], strict=False)
    )


def _segment(start: Point, end: Point, *, sweep_rad: float) -> Segment:
    if sweep_rad == 0.0:
        return Line(start_mm=start, end_mm=end)
    # The centre stands on the chord's perpendicular, left of it for a short counter-clockwise arc
    reach = 0.5 / math.tan(sweep_rad / 2)
    centre = (
        (start[0] + end[0]) / 2 - (end[1] - start[1]) * reach,
        (start[1] + end[1]) / 2 + (end[0] - start[0]) * reach,
    )
    return Arc(start_mm=start, end_mm=end, centre_mm=centre, clockwise=sweep_rad < 0)


def _place(segment: Segment, *, at_mm: Point, rotation_rad: float, mirrored: bool) -> Segment:
    def placed(point: Point) -> Point:
        x = -point[0] if mirrored else point[0]
        cos, sin = math.cos(rotation_rad), math.sin(rotation_rad)
        return at_mm[0] + x * cos - point[1] * sin, at_mm[1] + x * sin + point[1] * cos

    start, end = placed(segment.start_mm), placed(segment.end_mm)
    if isinstance(segment, Line):
        return Line(start_mm=start, end_mm=end)
    # A mirror turns every arc the other way round
    clockwise = segment.clockwise is not mirrored
    return Arc(start_mm=start, end_mm=end, centre_mm=placed(segment.centre_mm), clockwise=clockwise)
