"""Placement files for an assembly service: geometry on the board, the part as taped, and the service's convention."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from paneglow.assembly.polarity import find_levels
from paneglow.assembly.polarity_records import RowCheck
from paneglow.assembly.reconstruct import check_placement
from paneglow.board import Board, RotationConvention, turn_between
from paneglow.design import Design
from paneglow.errors import PlacementError
from paneglow.fab import (
    DIALECTS,
    Dialect,
    DialectName,
    PlacementRow,
    PlacementRule,
    parse_placement,
    parse_rule,
    to_placement_text,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPlacement:
    """A placement file's text, and every LED of it put on the board again from that text."""

    text: str  # Text of the file
    checks: tuple[RowCheck, ...]  # Every LED, put on the board again from the text
    unverified: tuple[str, ...]  # Order codes whose polarity mark nothing stands behind; they block release


WRITTEN = Path("placement")  # stands in messages for a file that is not written yet


def build_placement(
    design: Design, *, board: Board, dialect: DialectName | Dialect, rule: PlacementRule
) -> WrittenPlacement:
    """Write a placement file under a rule and check it from its own text by the second way.

    Parameters
    ----------
    design : Design
    board : Board
        With LEDs in place; other parts come from its placement file.
    dialect : str or Dialect
        One of `DIALECTS`, or one with the user's own names of columns.
    rule : PlacementRule
        How rotations are counted; stated in the file.

    Returns
    -------
    WrittenPlacement
        The LEDs in the order of the design, then the other rows. A row that is not right is in `checks`, not hidden.

    Raises
    ------
    DesignError
        Where the rule rests on what a part's record does not state.
    PlacementError
        Where a cell cannot stand in the dialect, or what is read back is not what was written.
    """
    board = board.soldered
    form = DIALECTS[dialect] if isinstance(dialect, str) else dialect
    rule = replace(rule, y="up")
    rows = (*_led_rows(board, rule=rule), *_other_rows(board, rule=rule))
    if not rows:
        raise PlacementError("the design places no part; there is nothing to write")
    text = to_placement_text(rows, dialect=form, rule=rule)
    back = parse_placement(text, path=WRITTEN, unit=form.unit, columns=form.columns)
    if [_written(row, form=form) for row in back] != [_written(row, form=form) for row in rows]:
        raise PlacementError(f"{WRITTEN}: what is read back differs from what was written; write it in another dialect")
    stated = parse_rule(text.splitlines(), path=WRITTEN)
    codes = (led.part.code for led in board.leds if not led.part.mark_verified)
    return WrittenPlacement(
        text=text,
        unverified=tuple(dict.fromkeys(codes)),
        checks=check_placement(
            back,
            rule=stated or rule,
            leds=board.leds,
            board=board,
            levels=find_levels(design, board=board),
        ),
    )


def _written(row: PlacementRow, *, form: Dialect) -> PlacementRow:
    """What a form keeps of a row."""
    kept = len(form.header)
    return replace(row, line=0, value=row.value if kept > 5 else "", package=row.package if kept > 6 else "")


def _led_rows(board: Board, *, rule: PlacementRule) -> Iterator[PlacementRow]:
    for led in board.leds:
        convention = RotationConvention(part=led.part, mounting=led.mounting, side=led.side, rule=rule)
        yield PlacementRow(
            ref=led.ref,
            x_mm=round(led.at_mm[0], 6),
            y_mm=round(led.at_mm[1], 6),
            rotation_deg=round(convention.to_file_deg(led.rotation_deg), 6),
            side=led.side,
            value=led.part.code,
            package=f"{led.part.body.length_mm:g}x{led.part.body.width_mm:g}",
            line=0,
        )


def _other_rows(board: Board, *, rule: PlacementRule) -> Iterator[PlacementRow]:
    """Rows of parts that are no LEDs; what their zero means stays as it was, how the back counts is carried over."""
    if board.placement is None:
        return
    leds = {led.ref for led in board.leds}
    for row in board.placement.rows:
        if row.ref not in leds:
            side = row.side or "back"
            turned = turn_between(row.rotation_deg, side=side, given=board.placement.rule, wanted=rule)
            yield replace(row, rotation_deg=round(turned, 6), side=side, line=0)
