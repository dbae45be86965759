"""Placement files written in the dialects that assembly services take, each stating what its numbers mean."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from paneglow.errors import PlacementError
from paneglow.fab.placement import MM_PER_UNIT, PlacementRow, PlacementSide, PlacementUnit
from paneglow.fab.placement_rule import PlacementRule, YSense

DialectName = Literal["comma-mm", "semicolon-inch", "tab-mil", "blanks-mm-y-down", "comma-mil-suffixed"]
# Digits after the point by which a length comes back as the same multiple of 1e-6 mm
DIGITS: Mapping[PlacementUnit, int] = {"mm": 6, "inch": 8, "mil": 5}
LEAST_DIGITS = 3
ANGLE_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """One way to write a placement file: separator, header words, unit, sense of y and side words."""

    name: DialectName  # Name of the dialect
    separator: str  # " " for cells in columns parted by blanks
    header: tuple[str, str, str, str, str, str, str]  # designator, x, y, rotation, side, value, package
    unit: PlacementUnit  # Unit of x and y
    sides: Mapping[PlacementSide, str]  # Word for each face
    suffixed: bool = False  # the unit stands at every number
    y: YSense = "up"  # Which way y counts


DIALECTS: Mapping[DialectName, Dialect] = {
    dialect.name: dialect
    for dialect in (
        Dialect(
            name="comma-mm",
            separator=",",
            header=("Designator", "Mid X (mm)", "Mid Y (mm)", "Rotation", "Layer", "Value", "Package"),
            unit="mm",
            sides={"front": "Top", "back": "Bottom"},
        ),
        Dialect(
            name="semicolon-inch",
            separator=";",
            header=("RefDes", "PosX (inch)", "PosY (inch)", "Rot", "Side", "Value", "Footprint"),
            unit="inch",
            sides={"front": "T", "back": "B"},
        ),
        Dialect(
            name="tab-mil",
            separator="\t",
            header=("Ref", "X (mil)", "Y (mil)", "Rotation", "Side", "Val", "Package"),
            unit="mil",
            sides={"front": "front", "back": "back"},
        ),
        Dialect(
            name="blanks-mm-y-down",
            separator=" ",
            header=("Designator", "X", "Y", "Rotation", "Side", "Value", "Package"),
            unit="mm",
            sides={"front": "top", "back": "bottom"},
            suffixed=True,
            y="down",
        ),
        Dialect(
            name="comma-mil-suffixed",
            separator=",",
            header=("Reference", "Center-X", "Center-Y", "Angle", "Layer", "Comment", "Pattern"),
            unit="mil",
            sides={"front": "0", "back": "1"},
            suffixed=True,
        ),
    )
}


def to_placement_text(rows: Iterable[PlacementRow], *, dialect: DialectName, rule: PlacementRule) -> str:
    """Text of a placement file.

    Parameters
    ----------
    rows : iterable of PlacementRow
        In the frame of the board; rotations already as `rule` counts them.
    dialect : str
        One of `DIALECTS`, which also decides which way y counts.
    rule : PlacementRule
        What the rotations mean; stated in comment lines above the header.

    Returns
    -------
    str
        Read again, it gives the same rows: places to 1e-6 mm, rotations to 1e-6 deg.

    Raises
    ------
    PlacementError
        Where a cell cannot stand in the dialect.
    """
    form = DIALECTS[dialect]
    lines = [*replace(rule, y=form.y).statement(), f"# dialect: {form.name}; unit: {form.unit}"]
    cells = [form.header, *(_cells(row, form=form) for row in rows)]
    return "\n".join([*lines, *_lines(cells, form=form)]) + "\n"


def _cells(row: PlacementRow, *, form: Dialect) -> tuple[str, ...]:
    if row.side is None:
        raise PlacementError(f"{row.ref} has no side; say front or back before it is written")
    y_mm = -row.y_mm if form.y == "down" else row.y_mm
    return (
        row.ref,
        _length(row.x_mm, form=form),
        _length(y_mm, form=form),
        _trimmed(row.rotation_deg % 360.0, digits=ANGLE_DIGITS, least=0),
        form.sides[row.side],
        row.value,
        row.package,
    )


def _length(value_mm: float, *, form: Dialect) -> str:
    text = _trimmed(value_mm / MM_PER_UNIT[form.unit], digits=DIGITS[form.unit], least=LEAST_DIGITS)
    return f"{text}{form.unit}" if form.suffixed else text


def _trimmed(value: float, *, digits: int, least: int) -> str:
    whole, _, part = f"{value:.{digits}f}".partition(".")
    part = part.rstrip("0").ljust(least, "0")
    text = f"{whole}.{part}" if part else whole
    return text.removeprefix("-") if float(text) == 0.0 else text


def _lines(cells: Sequence[tuple[str, ...]], *, form: Dialect) -> list[str]:
    broken = next((cell for row in cells for cell in row if "\n" in cell or "\r" in cell or '"' in cell), None)
    if broken is not None:
        raise PlacementError(f"{broken!r} holds a quote or a line break; a placement file cannot")
    if form.separator != " ":
        buffer = io.StringIO()
        csv.writer(buffer, delimiter=form.separator, lineterminator="\n").writerows(cells)
        return buffer.getvalue().splitlines()
    quoted = [[cell if cell and " " not in cell else f'"{cell}"' for cell in row] for row in cells]
    widths = [max(len(row[column]) for row in quoted) for column in range(len(form.header))]
    return [" ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in quoted]
