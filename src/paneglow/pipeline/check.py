"""From a design to the defects that show without tracing light."""

from dataclasses import dataclass
from pathlib import Path

from paneglow.assembly import Assembled, assemble
from paneglow.board import Board, build_board
from paneglow.drive import DriveResults, drive_unlit, wire_up
from paneglow.judge import Finding, Improvement, build_changes, check_board
from paneglow.pipeline.cost import read_prices_beside
from paneglow.pipeline.inputs import read_inputs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Checked:
    """A board, how it is built, and what was found on it."""

    board: Board  # The board
    assembled: Assembled  # how the board is built
    drive: DriveResults | None  # what flows, and how long it lasts to half of the light
    changes: tuple[Improvement, ...]  # what to do about them
    findings: tuple[Finding, ...]  # as `paneglow.judge.check_board` gives them
    provisional: tuple[str, ...]  # assumptions of a design that was drafted from fabrication files alone


def check_design(path: Path) -> Checked:
    """Read a design, or the one in a folder, and find the defects that show without tracing light.

    Raises
    ------
    PaneglowError
        Where an input is wrong, the prices of a cost file beside the design included.
    """
    inputs = read_inputs(path, may_draft=True)
    design, catalog = inputs.design, inputs.catalog
    wired = wire_up(design, board=build_board(design, files=inputs.files, catalog=catalog))
    board = wired.present_board
    assembled = assemble(design, board=board, catalog=catalog)
    _, unpriced = read_prices_beside(inputs, bill=assembled.bill)
    findings = check_board(
        design, board=board, catalog=catalog, assembled=assembled, drive=wired.used, unpriced=unpriced
    )
    stated = tuple(name for name, value in design.goals if value is not None)
    return Checked(
        board=board,
        assembled=assembled,
        drive=drive_unlit(wired),
        findings=findings,
        changes=build_changes(findings, goals=(), board=board, stated=stated),
        provisional=inputs.provisional,
    )
