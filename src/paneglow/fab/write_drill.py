"""Holes to the text of one XNC drill file: mm with a decimal point, slots by G85, plating in its attributes."""

import math
from collections.abc import Iterable

from paneglow.errors import FabricationError
from paneglow.fab.records import Hole, Point
from paneglow.fab.write_gerber import LIMIT_MM, Attributes
from paneglow.fab.write_sign import sign

PLACES = 4  # 0.1 um, far below any drill's placement


def to_xnc_text(holes: Iterable[Hole], *, attributes: Attributes) -> str:
    """Text of one XNC file, tools by rising diameter, holes in the order given.

    Parameters
    ----------
    holes : iterable of Hole
        Holes and slots of one plating [mm].
    attributes : tuple of (name, value, ...)
        File attributes without the leading point, such as ("FileFunction", "Plated", "1", "2", "PTH").

    Returns
    -------
    str
        The file's text, lines ended by a line feed; equal input gives equal text.

    Raises
    ------
    FabricationError
        If a coordinate is not finite or beyond the format, or a diameter is not above zero.
    """
    by_tool: dict[str, list[Hole]] = {}
    for hole in sorted(holes, key=lambda hole: hole.diameter_mm):
        by_tool.setdefault(_diameter(hole), []).append(hole)
    lines = ["M48"]
    lines += [f"; #@! TF.{','.join(attribute)}" for attribute in attributes]
    lines += ["METRIC"]
    lines += [f"T{number}C{diameter}" for number, diameter in enumerate(by_tool, start=1)]
    lines += ["%", "G05"]
    for number, same in enumerate(by_tool.values(), start=1):
        lines.append(f"T{number}")
        lines += [_hole_text(hole) for hole in same]
    return sign("\n".join(lines) + "\n", template="; #@! TF.MD5,{}\n", end="M30\n")


def _hole_text(hole: Hole) -> str:
    start, end = _point(hole.start_mm), _point(hole.end_mm)
    return start if start == end else f"{start}G85{end}"


def _diameter(hole: Hole) -> str:
    text = f"{hole.diameter_mm:.{PLACES}f}"
    if not 0 < hole.diameter_mm <= LIMIT_MM or float(text) == 0:
        raise FabricationError(f"a hole at {hole.start_mm} mm has diameter {hole.diameter_mm!r}; allowed is above 0")
    return text


def _point(point_mm: Point) -> str:
    if not all(math.isfinite(value) and abs(value) <= LIMIT_MM for value in point_mm):
        raise FabricationError(f"a hole lies at {point_mm} mm; allowed is -{LIMIT_MM:g} to {LIMIT_MM:g}")
    # Adding zero turns a rounded -0.0 into 0.0
    x, y = (round(value, PLACES) + 0.0 for value in point_mm)
    return f"X{x:.{PLACES}f}Y{y:.{PLACES}f}"
