"""From a design to the placement file that a service wants."""

from pathlib import Path

from paneglow.assembly import WrittenPlacement, build_placement
from paneglow.board import build_board
from paneglow.fab import Dialect, PlacementRule
from paneglow.pipeline.inputs import read_inputs


def place(path: Path, *, dialect: Dialect, rule: PlacementRule) -> WrittenPlacement:
    """Read a design and write its placement file as a service wants it.

    Parameters
    ----------
    path : Path
        A design.toml, or the folder that holds it.
    dialect : Dialect
        How the file is laid out.
    rule : PlacementRule
        How it counts rotations.

    Returns
    -------
    WrittenPlacement
        The text, and what every LED of it comes to, checked from that text.

    Raises
    ------
    PaneglowError
        Where an input is wrong, or the rule rests on what a part does not state.
    """
    inputs = read_inputs(path)
    board = build_board(inputs.design, files=inputs.files, catalog=inputs.catalog)
    return build_placement(inputs.design, board=board, dialect=dialect, rule=rule)
