"""Everything a design names, read once per command."""

from dataclasses import dataclass
from pathlib import Path

from paneglow.board import BoardFiles, read_board_files
from paneglow.catalog import Catalog, find_film, find_laminate, find_part, read_catalog
from paneglow.design import Design, design_file, read_design
from paneglow.drafting import assumptions_of
from paneglow.drive import build_chip, build_design_supply
from paneglow.errors import DesignError, PaneglowError
from paneglow.pipeline.start import begin, draft_from
from paneglow.scene import FILM_PREFIX


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inputs:
    """A design and what it names, as read."""

    path: Path  # of the design file
    design: Design
    catalog: Catalog  # the starting one with the user's own parts over it
    files: BoardFiles
    provisional: tuple[str, ...] = ()  # assumptions of a design that was drafted just now, from fabrication files alone


def is_set(path: Path) -> bool:
    """Whether a path names fabrication files and no design: a folder without a design.toml, or no .toml file."""
    return not design_file(path).exists() if path.is_dir() else path.exists() and path.suffix.lower() != ".toml"


def read_inputs(path: Path, *, may_draft: bool = False) -> Inputs:
    """Read a design, or the one in a folder, with its own parts, fabrication, placement and netlist.

    Parameters
    ----------
    path : Path
        A design.toml, or the folder that holds it.
    may_draft : bool
        Whether it may be a fabrication set as well: a design is then drafted as `paneglow start` does it, with all that
        no file says assumed.

    Raises
    ------
    PaneglowError
        Where one of them is missing or wrong.
    """
    if may_draft and is_set(path):
        return _drafted(path)
    if path.suffix.lower() == ".zip" and path.is_file():
        raise DesignError(f"{path}: is no design; make one of these fabrication files with paneglow start {path}")
    path = design_file(path)
    design = read_design(path)
    parts = path.parent / "parts"
    catalog = read_catalog(user_parts=parts if parts.is_dir() else None)
    check_names(design, catalog=catalog)
    return Inputs(path=path, design=design, catalog=catalog, files=read_board_files(design, folder=path.parent))


def _drafted(fabrication: Path) -> Inputs:
    try:
        beginning = begin(fabrication)
    except PaneglowError as problem:
        if not fabrication.is_dir():
            raise
        raise DesignError(f"{fabrication}: holds no design.toml; read as fabrication files: {problem}") from problem
    draft = draft_from(beginning, answers={})
    return Inputs(
        path=fabrication,
        design=draft.design,
        catalog=beginning.catalog,
        files=beginning.files,
        provisional=assumptions_of(draft),
    )


def check_names(design: Design, *, catalog: Catalog) -> None:
    """Look up every catalogue name that a design uses, whether or not the command at hand comes to need it.

    Raises
    ------
    CatalogError, DesignError
        For the first name that is not known, or stands for another kind of thing; the nearest known are told.
    """
    board = design.board
    find_laminate(catalog, board.laminate)
    find_film(catalog, board.mask, kind="mask")
    find_film(catalog, board.legend, kind="legend")
    if board.front_film is not None:
        find_film(catalog, board.front_film.film, kind="diffuser")
    for group in design.led:
        find_part(catalog, group.part)
        if group.diffuser != "none":
            find_film(catalog, group.diffuser.removeprefix(FILM_PREFIX), kind="diffuser")
    if design.supply is not None and design.supply.cell is not None:
        build_design_supply(design.supply)
    if design.chip is not None:
        build_chip(design.chip.kind)
