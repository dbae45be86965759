"""Legend text as strokes of a round pen."""

import math
from typing import Literal

from paneglow.errors import FabricationError
from paneglow.fab.records import Arc, Line, Point, Segment
from paneglow.fab.write_glyphs import GLYPHS, PenPath
from paneglow.fab.write_records import Contour, Stroke

SMALL_CAPITAL = 0.76  # height of a lower-case letter, drawn as a small capital, over that of a capital: our choice
LETTER_GAP = 0.24  # free space between letters over the height of a capital: our choice
Align = Literal["left", "centre", "right"]
ALIGN_SHIFT: dict[Align, float] = {"left": 0.0, "centre": -0.5, "right": -1.0}


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
