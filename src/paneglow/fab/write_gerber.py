"""Drawn shapes to the text of one Gerber X2 file, holes to the text of one XNC file; each closed by its signature.

The signature is the `.MD5` file attribute of the Gerber format: the MD5 of every byte before it, line ends left out.
XNC files carry the same attribute in a comment.

References
----------
*The Gerber Layer Format Specification*, revision 2021.02 (from memory: section names only).
"""

import hashlib
import math
import re
from collections.abc import Iterable, Iterator
from functools import singledispatch

from paneglow.errors import FabricationError
from paneglow.fab.records import Arc, Hole, Line, Point, Segment
from paneglow.fab.write_records import (
    Aperture,
    Contour,
    DrawnObject,
    Flash,
    ObroundAperture,
    RectangleAperture,
    Region,
    RoundAperture,
    Stroke,
)

NM_PER_MM = 1_000_000  # format 4.6: one unit of a coordinate is 1e-6 mm
LIMIT_MM = 9999.0  # four integer digits of format 4.6
FIRST_APERTURE = 10  # D00 to D09 are operation codes of the format
JOIN_TOLERANCE_MM = 1e-6  # one unit of a coordinate
RADIUS_TOLERANCE_MM = 1e-3  # assumed; a start and end farther from one circle are a slip of the drawing, not rounding

Attributes = tuple[tuple[str, ...], ...]
ApertureKey = tuple[str, str | None]  # the shape as the format writes it, and its function
PLACES = 4  # 0.1 um, far below any drill's placement
WRITER = ("GenerationSoftware", "paneglow", "paneglow")  # no version: equal drawings stay equal bytes across releases
ENDINGS = ("M02*", "M30")  # what may follow the signature: end of a Gerber file, end of an XNC file
SIGNATURE_PATTERN = re.compile(r"^(?:%|; #@! )TF\.MD5,([0-9a-f]{32})(?:\*%)?\r?$", re.MULTILINE)


def to_gerber_text(objects: tuple[DrawnObject, ...], *, attributes: Attributes) -> str:
    """Text of one Gerber X2 file: format 4.6, mm, no date, signed with its own MD5.

    Parameters
    ----------
    objects : tuple of DrawnObject
        What is drawn, in order [mm].
    attributes : tuple of (name, value, ...)
        File attributes without the leading point, such as ("FileFunction", "Copper", "L1", "Top").

    Returns
    -------
    str
        The file's text, lines ended by a line feed; equal input gives equal text.

    Raises
    ------
    FabricationError
        If a coordinate is not finite or beyond the format, an aperture is not above zero, or a path does not join.
    """
    codes = _number_apertures(objects)
    lines = [f"%TF.{','.join(attribute)}*%" for attribute in attributes]
    lines += ["%FSLAX46Y46*%", "%MOMM*%"]
    lines += _define_apertures(codes)
    lines += ["G75*", "%LPD*%"]
    lines += _draw(objects, codes=codes)
    return sign("\n".join(lines) + "\n", template="%TF.MD5,{}*%\n", end="M02*\n")


def to_shape_text(aperture: Aperture) -> str:
    """Template and parameters of an aperture as an AD command writes them; a turned rectangle names its macro."""
    match aperture:
        case RoundAperture(diameter_mm=diameter):
            return f"C,{_size(diameter)}"
        case ObroundAperture(width_mm=width, height_mm=height):
            return f"O,{_size(width)}X{_size(height)}"
        case RectangleAperture(width_mm=width, height_mm=height, rotation_rad=0.0):
            return f"R,{_size(width)}X{_size(height)}"
        case RectangleAperture(width_mm=width, height_mm=height, rotation_rad=rotation):
            return f"TURNED,{_size(width)}X{_size(height)}X{_decimal(math.degrees(rotation))}"


# Center line, primitive 21: exposure, width, height, centre x, centre y, rotation in degrees counter-clockwise
TURNED_MACRO = ("%AMTURNED*", "21,1,$1,$2,0,0,$3*%")


def _number_apertures(objects: Iterable[DrawnObject]) -> dict[ApertureKey, int]:
    codes: dict[ApertureKey, int] = {}
    for drawn in objects:
        if not isinstance(drawn, Region):
            codes.setdefault(_aperture_key(drawn), FIRST_APERTURE + len(codes))
    return codes


def _aperture_key(drawn: Flash | Stroke) -> ApertureKey:
    aperture = drawn.aperture if isinstance(drawn, Flash) else RoundAperture(diameter_mm=drawn.pen_mm)
    return to_shape_text(aperture), drawn.function


def _define_apertures(codes: dict[ApertureKey, int]) -> Iterator[str]:
    if any(shape.startswith("TURNED") for shape, _ in codes):
        yield from TURNED_MACRO
    current: str | None = None
    for (shape, function), code in codes.items():
        yield from _change_function(function, current=current)
        current = function
        yield f"%ADD{code}{shape}*%"
    yield from _change_function(None, current=current)


def _change_function(function: str | None, *, current: str | None) -> Iterator[str]:
    if function == current:
        return
    yield "%TD*%" if function is None else f"%TA.AperFunction,{function}*%"


def _draw(objects: Iterable[DrawnObject], *, codes: dict[ApertureKey, int]) -> Iterator[str]:
    dark = True
    aperture: int | None = None
    for drawn in objects:
        if drawn.dark != dark:
            dark = drawn.dark
            yield "%LPD*%" if dark else "%LPC*%"
        if isinstance(drawn, Region):
            yield from _draw_region(drawn)
            continue
        if codes[_aperture_key(drawn)] != aperture:
            aperture = codes[_aperture_key(drawn)]
            yield f"D{aperture}*"
        yield from _draw_with_aperture(drawn)


@singledispatch
def _draw_with_aperture(drawn: object) -> Iterator[str]:
    raise TypeError(f"{type(drawn).__name__} cannot be drawn with an aperture")


@_draw_with_aperture.register
def _(flash: Flash) -> Iterator[str]:
    yield f"{_point(flash.at_mm)}D03*"


@_draw_with_aperture.register
def _(stroke: Stroke) -> Iterator[str]:
    yield from _draw_path(stroke.path)


def _draw_region(region: Region) -> Iterator[str]:
    check_closed(region.contour)
    yield from _change_function(region.function, current=None)
    yield "G36*"
    yield from _draw_path(region.contour)
    yield "G37*"
    yield from _change_function(None, current=region.function)


def _draw_path(path: Contour) -> Iterator[str]:
    check_joined(path)
    yield f"{_point(path[0].start_mm)}D02*"
    mode = ""
    for segment in path:
        for code, statement in _draw_segment(segment):
            if code != mode:
                mode = code
                yield f"{code}*"
            yield statement


def _draw_segment(segment: Segment) -> Iterator[tuple[str, str]]:
    start, end = _units(segment.start_mm), _units(segment.end_mm)
    if isinstance(segment, Line):
        yield "G01", f"{_point(segment.end_mm)}D01*"
        return
    _check_arc(segment)
    # Ends that round to one point would be read as a full circle: a short arc then becomes a zero-length draw
    if start == end and _sweep_rad(segment) < math.pi:
        yield "G01", f"{_point(segment.end_mm)}D01*"
        return
    centre = _units(segment.centre_mm)
    offset = f"I{centre[0] - start[0]}J{centre[1] - start[1]}"
    yield "G02" if segment.clockwise else "G03", f"{_point(segment.end_mm)}{offset}D01*"


def _sweep_rad(arc: Arc) -> float:
    """Angle an arc runs through, above 0 and at most 2 pi; a full circle where start equals end."""
    if arc.start_mm == arc.end_mm:
        return 2 * math.pi
    first = math.atan2(arc.start_mm[1] - arc.centre_mm[1], arc.start_mm[0] - arc.centre_mm[0])
    last = math.atan2(arc.end_mm[1] - arc.centre_mm[1], arc.end_mm[0] - arc.centre_mm[0])
    return (first - last if arc.clockwise else last - first) % (2 * math.pi)


def _check_arc(arc: Arc) -> None:
    first, last = math.dist(arc.start_mm, arc.centre_mm), math.dist(arc.end_mm, arc.centre_mm)
    if first <= 0 or abs(first - last) > RADIUS_TOLERANCE_MM:
        raise FabricationError(
            f"an arc from {arc.start_mm} to {arc.end_mm} mm has radii {first:.4f} and {last:.4f} mm about"
            f" {arc.centre_mm}; both must be equal within {RADIUS_TOLERANCE_MM:g} mm and above 0"
        )


def check_joined(path: Contour) -> None:
    """Raise unless a path has a segment and every segment starts where the one before ended.

    Raises
    ------
    FabricationError
        With the place of the gap.
    """
    if not path:
        raise FabricationError("a drawn path holds no segment; give it at least one")
    for before, after in zip(path, path[1:], strict=False):
        if math.dist(before.end_mm, after.start_mm) > JOIN_TOLERANCE_MM:
            raise FabricationError(f"a drawn path breaks off at {before.end_mm} and goes on at {after.start_mm} mm")


def check_closed(contour: Contour) -> None:
    """Raise unless a path joins and ends where it began.

    Raises
    ------
    FabricationError
        With the place of the gap.
    """
    check_joined(contour)
    if math.dist(contour[-1].end_mm, contour[0].start_mm) > JOIN_TOLERANCE_MM:
        raise FabricationError(
            f"a contour starts at {contour[0].start_mm} and ends at {contour[-1].end_mm} mm; it must close"
        )


def _units(point_mm: Point) -> tuple[int, int]:
    if not all(math.isfinite(value) and abs(value) <= LIMIT_MM for value in point_mm):
        raise FabricationError(f"a drawn point lies at {point_mm} mm; allowed is -{LIMIT_MM:g} to {LIMIT_MM:g}")
    return round(point_mm[0] * NM_PER_MM), round(point_mm[1] * NM_PER_MM)


def _point(point_mm: Point) -> str:
    x, y = _units(point_mm)
    return f"X{x}Y{y}"


def _size(size_mm: float) -> str:
    if not 0 < size_mm <= LIMIT_MM:
        raise FabricationError(f"an aperture measures {size_mm!r} mm; allowed is above 0 and up to {LIMIT_MM:g}")
    return _decimal(size_mm)


def _decimal(value: float) -> str:
    """Plain decimal with at most six places, without an exponent and without idle zeros."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


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
    start, end = _drill_point(hole.start_mm), _drill_point(hole.end_mm)
    return start if start == end else f"{start}G85{end}"


def _diameter(hole: Hole) -> str:
    text = f"{hole.diameter_mm:.{PLACES}f}"
    if not 0 < hole.diameter_mm <= LIMIT_MM or float(text) == 0:
        raise FabricationError(f"a hole at {hole.start_mm} mm has diameter {hole.diameter_mm!r}; allowed is above 0")
    return text


def _drill_point(point_mm: Point) -> str:
    if not all(math.isfinite(value) and abs(value) <= LIMIT_MM for value in point_mm):
        raise FabricationError(f"a hole lies at {point_mm} mm; allowed is -{LIMIT_MM:g} to {LIMIT_MM:g}")
    # Adding zero turns a rounded -0.0 into 0.0
    x, y = (round(value, PLACES) + 0.0 for value in point_mm)
    return f"X{x:.{PLACES}f}Y{y:.{PLACES}f}"


def sign(body: str, *, template: str, end: str) -> str:
    """Close a file's text with its signature and its last line.

    Parameters
    ----------
    body : str
        All that stands before the signature.
    template : str
        The signature's line with `{}` in place of the 32 hexadecimal digits.
    end : str
        What ends the file.
    """
    return body + template.format(_digest(body)) + end


def is_ours(text: str) -> bool:
    """Whether a file's text was written by this writer and is unchanged since."""
    found = SIGNATURE_PATTERN.search(text)
    if found is None or f"TF.{','.join(WRITER)}" not in text[: found.start()]:
        return False
    return text[found.end() :].strip() in ENDINGS and found.group(1) == _digest(text[: found.start()])


def _digest(body: str) -> str:
    return hashlib.md5(body.replace("\r", "").replace("\n", "").encode(), usedforsecurity=False).hexdigest()
