"""Placement (centroid) files: where the assembler puts each part, in the dialects the trade writes.

Dialects are told apart by what the file holds, never by who wrote it: encoding (UTF-8 with or without a byte order
mark, UTF-16), separator (tab, semicolon, comma, runs of blanks), header words, unit in a suffix, in the header or in a
line above it, and side words. The seven kinds seen on published boards and the trade's word variants are common
practice, no source.
"""

import csv
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from paneglow.errors import FabricationError, PlacementError, to_plain_text
from paneglow.fab.archive import read_content
from paneglow.fab.placement_rule import PlacementRule, parse_rule

PlacementUnit = Literal["mm", "inch", "mil"]
PlacementSide = Literal["front", "back"]

MAX_PLACEMENT_BYTES = 16_000_000  # chosen: over 100 000 rows, far above any board; larger is not a placement file
HEADER_SEARCH_LINES = 60  # chosen: preambles seen in the wild have fewer than 20 lines

MM_PER_UNIT: dict[PlacementUnit, float] = {
    "mm": 1.0,
    "inch": 25.4,  # exact, international yard and pound agreement, 1959
    "mil": 0.0254,
}
UNIT_WORDS: dict[str, PlacementUnit] = {
    "mm": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "millimetre": "mm",
    "millimetres": "mm",
    "metric": "mm",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    '"': "inch",
    "mil": "mil",
    "mils": "mil",
    "thou": "mil",
}
SIDE_WORDS: dict[str, PlacementSide] = {
    "top": "front",
    "t": "front",
    "front": "front",
    "f": "front",
    "0": "front",
    "bottom": "back",
    "bot": "back",
    "b": "back",
    "back": "back",
    "1": "back",
}
# Header words of the trade, reduced to letters and digits; the first that is present wins (body centre before others)
HEADER_WORDS: dict[str, tuple[str, ...]] = {
    "ref": ("designator", "refdes", "ref", "reference", "referencedesignator", "component", "name", "part"),
    "x": ("midx", "centerx", "centrex", "centroidx", "posx", "positionx", "xpos", "xposition", "xcoord", "x"),
    "y": ("midy", "centery", "centrey", "centroidy", "posy", "positiony", "ypos", "yposition", "ycoord", "y"),
    "rotation": ("rotation", "rot", "angle", "orientation"),
    "side": ("layer", "side", "boardside", "mountside", "face", "tb"),
    "value": ("val", "value", "comment"),
    "package": ("package", "footprint", "pattern"),
}
REQUIRED_COLUMNS = ("ref", "x", "y", "rotation")
COLUMN_ORDER = ("ref", "x", "y", "rotation", "side", "value", "package")  # of a file whose columns a person names
REQUIRED_CELLS = 5  # of them: all but value and package
BARE_COLUMNS = {"ref": 0, "x": 1, "y": 2, "rotation": 3, "value": 4, "package": 5}  # text without a header

_NUMBER = re.compile(r"([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(mm|mils?|thou|in|inch|\"|°|deg)?", re.I)
_UNIT_LINE = re.compile(r"\bunits?\b[^a-z\"]*([a-z]+)", re.IGNORECASE)
_UNIT_IN_HEADER = re.compile(r"[(\[]\s*([a-zA-Z]+)\s*[)\]]\s*$")
_BLANK_CELL = re.compile(r'"([^"]*)"(?=\s|$)|(\S+)')  # of blank-separated text; quoted where it holds blanks
ROUNDING_DIGITS = 6  # of places in mm: a nanometre, so that every unit gives back the same number


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementRow:
    """One part of a placement file.

    The rotation is the number of the file as it stands, counter-clockwise seen from the front; `side` is None where
    the file does not tell.
    """

    ref: str  # Designator of the part
    x_mm: float  # Centre of the part, x
    y_mm: float  # Centre of the part, y
    rotation_deg: float  # Rotation as the file states it
    side: PlacementSide | None  # Face the part is soldered to; None where the file does not say
    value: str  # Value or order code as the placement file words it
    package: str  # Package as the placement file words it
    line: int  # Line number in the file, from 1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How the rows of one file are laid out."""

    separator: str  # "\t", ";", "," or " " for runs of blanks
    columns: Mapping[str, int]
    width: int  # cells of the header; 0 where there is none
    units: Mapping[str, PlacementUnit]  # of x and y
    first_line: int  # of the rows
    side: PlacementSide | None  # where no column tells


def read_placement(
    path: Path | str, *, unit: PlacementUnit | None = None
) -> tuple[tuple[PlacementRow, ...], PlacementRule | None]:
    """Parts of a placement file, in the order of the file, and the rule that it states of itself.

    Parameters
    ----------
    path : Path or str
        Comma-, semicolon-, tab- or blank-separated text, with or without a header; may lie within a .zip
        (`fab.zip/placement.csv`).
    unit : {"mm", "inch", "mil"}, optional
        Unit of the coordinates where the file does not say; mm where neither does.

    Returns
    -------
    rows : tuple of PlacementRow
        Centres in mm, y up where the file states that it counts downward. Rotations are not changed.
    rule : PlacementRule or None
        From a comment line `# rotations: ...`; None where the file states none.

    Raises
    ------
    PlacementError
        With path and line: unreadable or empty file, no header and no plain rows, a missing column, a bad number,
        side or quote, a designator that comes twice, a statement with a word that is not known.
    """
    path = Path(path)
    text = _read_text(path)
    return parse_placement(text, path=path, unit=unit), parse_rule(text.splitlines(), path=path)


def parse_placement(
    text: str, *, path: Path, unit: PlacementUnit | None = None, columns: Sequence[str] = ()
) -> tuple[PlacementRow, ...]:
    """Parts of a placement file's text.

    Parameters
    ----------
    text : str
    path : Path
        For messages and, without a side column, for its side word.
    unit : {"mm", "inch", "mil"}, optional
        As for `read_placement`.
    columns : sequence of str, optional
        Header cells in the order of `COLUMN_ORDER`, where they are not words of the trade.

    Raises
    ------
    PlacementError
        As `read_placement`.
    """
    lines = text.splitlines()
    layout = _find_layout(lines, path=path, unit=unit, named=columns)
    rows = tuple(
        _parse_row(cells, line=line, layout=layout, path=path)
        for line, cells in _numbered_cells(lines, layout=layout, path=path)
    )
    rule = parse_rule(lines, path=path)
    if rule is not None and rule.y == "down":
        rows = tuple(replace(row, y_mm=0.0 - row.y_mm) for row in rows)
    if not rows:
        raise PlacementError("has no parts; export it again with at least one row", path=path)
    _check_unique(rows, path=path)
    return rows


def _read_text(path: Path) -> str:
    try:
        data = read_content(path, most_bytes=MAX_PLACEMENT_BYTES)
    except FabricationError as error:
        raise PlacementError(f"{error}; give a placement file") from error
    return _decode(data, path=path)


def _decode(data: bytes, *, path: Path) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    elif data[1:40:2].count(0) > len(data[1:40:2]) // 2:  # Latin text in UTF-16LE without its mark
        encoding = "utf-16-le"
    else:
        encoding = "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8-sig":
            raise PlacementError("is cut off inside a UTF-16 character; export it again", path=path) from error
        text = data.decode("latin-1")  # degree and micro signs of old exports; numbers are ASCII either way
    if "\0" in text:
        raise PlacementError("is not text; give a placement file (CSV or blank-separated)", path=path)
    return text


def _find_layout(lines: list[str], *, path: Path, unit: PlacementUnit | None, named: Sequence[str]) -> _Layout:
    stated = unit
    for number, raw in enumerate(lines[:HEADER_SEARCH_LINES], start=1):
        line = raw.strip().lstrip("#").strip()
        if match := _UNIT_LINE.search(line):
            stated = UNIT_WORDS.get(match.group(1).lower(), stated)
        separator = _separator_of(line)
        cells = _split(line, separator=separator, path=path, line=number)
        known = bool(named) and cells == list(named)
        columns = {column: place for place, column in enumerate(COLUMN_ORDER[: len(named)])}
        columns = columns if known else _columns_of(cells)
        if {"x", "y"} <= columns.keys() and len(columns) > 2:
            _check_columns(columns, cells, path=path, line=number)
            return _Layout(
                separator=separator,
                columns=columns,
                width=len(cells),
                units={axis: unit_in_header(cells[columns[axis]]) or stated or "mm" for axis in ("x", "y")},
                first_line=number + 1,
                side=None if "side" in columns else _side_in_name(path),
            )
        if _is_bare_row(cells):
            units: dict[str, PlacementUnit] = {"x": stated or "mm", "y": stated or "mm"}
            return _Layout(
                separator=separator,
                columns=BARE_COLUMNS,
                width=0,
                units=units,
                first_line=number,
                side=_side_in_name(path),
            )
    raise PlacementError(
        "has no header with designator, X, Y and rotation and no rows 'name x y rotation'; "
        "name the columns, for example Reference,X (mm),Y (mm),Rotation (deg),Side",
        path=path,
    )


def _separator_of(line: str) -> str:
    return next((mark for mark in ("\t", ";", ",") if mark in line), " ")


def _split(text: str, *, separator: str, path: Path, line: int) -> list[str]:
    if separator == " ":
        return [match.group(2) or match.group(1) or "" for match in _BLANK_CELL.finditer(text)]
    try:
        cells = next(csv.reader([text], delimiter=separator, skipinitialspace=separator != "\t", strict=True), [])
    except csv.Error as error:
        raise PlacementError("has a quote that is not closed or stands inside a cell", path=path, line=line) from error
    return [cell.strip() for cell in cells]


def _columns_of(cells: Iterable[str]) -> dict[str, int]:
    words = [re.sub(r"[^a-z0-9]", "", _UNIT_IN_HEADER.sub("", cell).lower()) for cell in cells]
    found = {
        column: next((words.index(name) for name in names if name in words), None)
        for column, names in HEADER_WORDS.items()
    }
    return {column: index for column, index in found.items() if index is not None}


def _check_columns(columns: Mapping[str, int], cells: list[str], *, path: Path, line: int) -> None:
    missing = [column for column in REQUIRED_COLUMNS if column not in columns]
    if missing:
        words = ", ".join(f"{column} (such as {HEADER_WORDS[column][0]})" for column in missing)
        raise PlacementError(f"the header {cells} has no column for {words}", path=path, line=line)


def unit_in_header(header: str) -> PlacementUnit | None:
    """Unit that a column name states in brackets."""
    match = _UNIT_IN_HEADER.search(header)
    return UNIT_WORDS.get(match.group(1).lower()) if match else None


def _is_bare_row(cells: list[str]) -> bool:
    return len(cells) >= 4 and not _NUMBER.fullmatch(cells[0]) and all(_NUMBER.fullmatch(cell) for cell in cells[1:4])


def _side_in_name(path: Path) -> PlacementSide | None:
    words = {word for word in re.split(r"[^a-z]+", path.stem.lower()) if len(word) > 1}
    sides = {SIDE_WORDS[word] for word in words if word in SIDE_WORDS}
    return sides.pop() if len(sides) == 1 else None


def _numbered_cells(lines: list[str], *, layout: _Layout, path: Path) -> Iterator[tuple[int, list[str]]]:
    for number, raw in enumerate(lines[layout.first_line - 1 :], start=layout.first_line):
        if raw.strip() and not raw.lstrip().startswith("#"):
            yield number, _split(raw.strip(" \r\n"), separator=layout.separator, path=path, line=number)


def _parse_row(cells: list[str], *, line: int, layout: _Layout, path: Path) -> PlacementRow:
    cells = _aligned(cells, line=line, layout=layout, path=path)

    def text(column: str) -> str:
        index = layout.columns.get(column)
        return to_plain_text(cells[index]) if index is not None and index < len(cells) else ""

    ref = text("ref")
    if not ref:
        raise PlacementError("has no designator; name the part or remove the row", path=path, line=line)
    return PlacementRow(
        ref=ref,
        x_mm=_parse_length(text("x"), what=f"{ref} x", unit=layout.units["x"], path=path, line=line),
        y_mm=_parse_length(text("y"), what=f"{ref} y", unit=layout.units["y"], path=path, line=line),
        rotation_deg=_parse_rotation(text("rotation"), what=f"{ref} rotation", path=path, line=line),
        side=_parse_side(text("side"), ref=ref, path=path, line=line) if "side" in layout.columns else layout.side,
        value=text("value"),
        package=text("package"),
        line=line,
    )


def _aligned(cells: list[str], *, line: int, layout: _Layout, path: Path) -> list[str]:
    """Cells in the header's columns; blanks inside a value of blank-separated text are joined again."""
    extra = len(cells) - layout.width
    if layout.width == 0 or extra == 0:
        return cells
    last_needed = max(layout.columns[column] for column in REQUIRED_COLUMNS)
    if layout.separator != " ":
        if len(cells) > last_needed and (extra < 0 or not any(cells[layout.width :])):
            return cells
    elif extra > 0 and "value" in layout.columns:
        at = layout.columns["value"]
        return [*cells[:at], " ".join(cells[at : at + extra + 1]), *cells[at + extra + 1 :]]
    raise PlacementError(f"has {len(cells)} cells where the header has {layout.width}", path=path, line=line)


def _parse_number(text: str, *, what: str, path: Path, line: int) -> tuple[float, str]:
    match = _NUMBER.fullmatch(text)
    if not match or not math.isfinite(value := float(match.group(1).replace(",", "."))):
        raise PlacementError(
            f"{what} is {text!r}; needed is a finite number, with a unit or without: 12.7, 12.7mm, 500mil",
            path=path,
            line=line,
        )
    return value, (match.group(2) or "").lower()


def _parse_length(text: str, *, what: str, unit: PlacementUnit, path: Path, line: int) -> float:
    value, suffix = _parse_number(text, what=what, path=path, line=line)
    stated = UNIT_WORDS.get(suffix) if suffix else unit
    if stated is None:
        raise PlacementError(f"{what} is {text!r}; known units are mm, mil and inch", path=path, line=line)
    return round(value * MM_PER_UNIT[stated], ROUNDING_DIGITS) + 0.0  # no negative zero


def _parse_rotation(text: str, *, what: str, path: Path, line: int) -> float:
    value, suffix = _parse_number(text, what=what, path=path, line=line)
    if suffix not in ("", "°", "deg"):
        raise PlacementError(f"{what} is {text!r}; needed are degrees", path=path, line=line)
    return value


def _parse_side(text: str, *, ref: str, path: Path, line: int) -> PlacementSide:
    word = re.sub(r"[^a-z0-9]|layer|side", "", text.lower())
    if word not in SIDE_WORDS:
        raise PlacementError(
            f"{ref} side is {text!r}; known are top, t, front, 0 and bottom, b, back, 1", path=path, line=line
        )
    return SIDE_WORDS[word]


def _check_unique(rows: Iterable[PlacementRow], *, path: Path) -> None:
    first: dict[str, int] = {}
    for row in rows:
        if row.ref in first:
            raise PlacementError(
                f"designator {row.ref} comes again (first in line {first[row.ref]}); a designator names one part",
                path=path,
                line=row.line,
            )
        first[row.ref] = row.line
