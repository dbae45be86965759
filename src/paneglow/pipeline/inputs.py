"""Everything a design names, read once per command."""

from dataclasses import dataclass
from pathlib import Path

from paneglow.board import BoardFiles, read_board_files
from paneglow.catalog import Catalog, read_catalog
from paneglow.design import Design, design_file, read_design


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inputs:
    """A design and what it names, as read."""

    path: Path  # of the design file
    design: Design
    catalog: Catalog  # the starting one with the user's own parts over it
    files: BoardFiles


def read_inputs(path: Path) -> Inputs:
    """Read a design, or the one in a folder, with its own parts, fabrication, placement and netlist.

    Raises
    ------
    PaneglowError
        Where one of them is missing or wrong.
    """
    path = design_file(path)
    design = read_design(path)
    parts = path.parent / "parts"
    catalog = read_catalog(user_parts=parts if parts.is_dir() else None)
    return Inputs(path=path, design=design, catalog=catalog, files=read_board_files(design, folder=path.parent))
