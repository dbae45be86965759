"""Reading one Gerber file (RS-274X, X2, X3) into a drawing in mm; strict, because its answer is an area."""

from collections.abc import Iterable
from pathlib import Path

from paneglow.errors import GerberError
from paneglow.fab.drawing import FlashMark, GerberDrawing, Mark, StrokeMark
from paneglow.fab.gerber_state import GerberState
from paneglow.fab.gerber_text import MAX_TEXT_CHARS, statements
from paneglow.fab.gerber_words import read_statement
from paneglow.fab.records import Point

MAX_EXTENT_MM = 1_500.0  # width and height of all a file draws; a production panel is 457 x 610 mm (common practice)


def parse_gerber(text: str, *, path: Path | str) -> GerberDrawing:
    """Read the text of one Gerber file.

    Parameters
    ----------
    text : str
        The whole file.
    path : Path or str
        Where it came from, for messages only; nothing is opened.

    Returns
    -------
    GerberDrawing
        Everything in mm, step-repeat and blocks expanded. What was odd but lost nothing stands in its notes.

    Raises
    ------
    GerberError
        With path and line, for anything that cannot be drawn as its author meant it.

    References
    ----------
    *The Gerber Layer Format Specification*, revision 2021.02, with its deprecated commands.
    """
    if len(text) > MAX_TEXT_CHARS:
        raise GerberError(f"the file has {len(text)} characters; allowed are {MAX_TEXT_CHARS}", path=path)
    state = GerberState(text=text)
    try:
        for statement in statements(text):
            state.offset = statement.offset
            read_statement(statement, state=state)
            if state.ended:
                break
        objects = state.finished_objects()
        _check_extent(objects)
    except GerberError as error:
        line = state.line if error.line is None else error.line
        raise GerberError(error.args[0], path=path, line=line) from None
    return GerberDrawing(
        path=Path(path),
        attributes=dict(state.attributes.of_file),
        objects=tuple(objects),
        negative=state.negative,
        notes=tuple(state.notes.values()),
    )


def _check_extent(objects: Iterable[Mark]) -> None:
    """Refuse drawings larger than any board; by the end points of segments, which is near enough for a limit."""
    points = [point for mark in objects for point in _end_points(mark)]
    for axis, name in enumerate(("wide", "high")):
        places = [point[axis] for point in points]
        extent = max(places, default=0.0) - min(places, default=0.0)
        if extent > MAX_EXTENT_MM:
            raise GerberError(
                f"the file draws something {extent:.0f} mm {name}; allowed are {MAX_EXTENT_MM:g} mm: "
                "check unit and format"
            )


def _end_points(mark: Mark) -> list[Point]:
    if isinstance(mark, FlashMark):
        return [mark.at_mm]
    if isinstance(mark, StrokeMark):
        return [mark.segments[0].start_mm, *(segment.end_mm for segment in mark.segments)]
    return [segment.end_mm for contour in mark.contours for segment in contour]
