"""Placement files for assembly services, in plain words of ours or in the user's own."""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from paneglow.errors import PlacementError
from paneglow.fab.placement import (
    COLUMN_ORDER,
    MM_PER_UNIT,
    REQUIRED_CELLS,
    SIDE_WORDS,
    PlacementRow,
    PlacementUnit,
    unit_in_header,
)
from paneglow.fab.placement_rule import PlacementRule

DialectName = Literal["comma-mm", "semicolon-inch", "tab-mil"]
# Digits after the point by which a length comes back as the same multiple of 1e-6 mm
DIGITS: Mapping[PlacementUnit, int] = {"mm": 6, "inch": 8, "mil": 5}
LEAST_DIGITS = 3
ANGLE_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """One way to write a placement file.

    Raises
    ------
    PlacementError
        Where column names or side words cannot be told apart when the file is read again.
    """

    separator: str  # Between cells
    unit: PlacementUnit  # Of X and Y
    columns: tuple[
        str, ...
    ] = ()  # The user's names for reference, x, y, rotation, side, value, package; the first five
    sides: tuple[str, ...] = ("front", "back")  # Words for the two faces
    comments: bool = True  # Whether comment lines above the header say what the numbers mean

    def __post_init__(self) -> None:
        names = {name.strip().casefold() for name in self.columns}
        fits = REQUIRED_CELLS <= len(self.columns) <= len(COLUMN_ORDER) and len(names) == len(self.columns)
        if self.columns and (not fits or "" in names):
            raise PlacementError(
                f"columns are {list(self.columns)}; needed are {REQUIRED_CELLS} to {len(COLUMN_ORDER)} different names "
                f"for {', '.join(COLUMN_ORDER)}, in this order"
            )
        for name in self.columns[1:3]:
            if unit_in_header(name) not in (None, self.unit):
                raise PlacementError(f"column {name!r} names another unit than {self.unit}, which is written")
        if tuple(SIDE_WORDS.get(word.casefold()) for word in self.sides) != ("front", "back"):
            known = {face: [word for word, meant in SIDE_WORDS.items() if meant == face] for face in ("front", "back")}
            raise PlacementError(
                f"side words are {list(self.sides)}; known for the front are {', '.join(known['front'])}, for the back "
                f"{', '.join(known['back'])}"
            )

    @property
    def header(self) -> tuple[str, ...]:
        """Names of the columns."""
        plain = ("Reference", f"X ({self.unit})", f"Y ({self.unit})", "Rotation (deg)", "Side", "Value", "Package")
        return self.columns or plain


DIALECTS: Mapping[DialectName, Dialect] = {
    "comma-mm": Dialect(separator=",", unit="mm"),
    "semicolon-inch": Dialect(separator=";", unit="inch"),
    "tab-mil": Dialect(separator="\t", unit="mil"),
}


def to_placement_text(rows: Iterable[PlacementRow], *, dialect: DialectName | Dialect, rule: PlacementRule) -> str:
    """Text of a placement file.

    Parameters
    ----------
    rows : iterable of PlacementRow
        In the frame of the board; rotations already as `rule` counts them.
    dialect : str or Dialect
        One of `DIALECTS`, or one with names, side words or comments of the user's choice; y counts upward in all.
    rule : PlacementRule
        What the rotations mean; stated in comment lines above the header, unless the dialect has none.

    Returns
    -------
    str
        Read again, it gives the same rows: places to 1e-6 mm, rotations to 1e-6 deg.

    Raises
    ------
    PlacementError
        Where a cell cannot stand in a placement file.
    """
    form = DIALECTS[dialect] if isinstance(dialect, str) else dialect
    cells = [form.header, *(_cells(row, form=form)[: len(form.header)] for row in rows)]
    broken = next((cell for row in cells for cell in row if "\n" in cell or "\r" in cell or '"' in cell), None)
    if broken is not None:
        raise PlacementError(f"{broken!r} holds a quote or a line break; a placement file cannot")
    buffer = io.StringIO()
    if form.comments:
        buffer.writelines(f"{line}\n" for line in (*replace(rule, y="up").statement(), f"# unit: {form.unit}"))
    csv.writer(buffer, delimiter=form.separator, lineterminator="\n").writerows(cells)
    return buffer.getvalue()


def _cells(row: PlacementRow, *, form: Dialect) -> tuple[str, ...]:
    if row.side is None:
        raise PlacementError(f"{row.ref} has no side; say front or back before it is written")
    x, y = (
        _trimmed(value_mm / MM_PER_UNIT[form.unit], digits=DIGITS[form.unit], least=LEAST_DIGITS)
        for value_mm in (row.x_mm, row.y_mm)
    )
    rotation = _trimmed(row.rotation_deg % 360.0, digits=ANGLE_DIGITS, least=0)
    # An angle a hair below a full turn is printed as none
    rotation = "0" if rotation == "360" else rotation
    return row.ref, x, y, rotation, form.sides[row.side == "back"], row.value, row.package


def _trimmed(value: float, *, digits: int, least: int) -> str:
    whole, _, part = f"{value:.{digits}f}".partition(".")
    part = part.rstrip("0").ljust(least, "0")
    text = f"{whole}.{part}" if part else whole
    return text.removeprefix("-") if float(text) == 0.0 else text
