"""A design and the files it names become the board that will be made."""

from collections.abc import Hashable
from dataclasses import dataclass, replace
from pathlib import Path

from paneglow.board.faces import build_face_maps
from paneglow.board.leds import Ground, place_leds
from paneglow.board.nets import build_nets
from paneglow.board.place import fit_placement
from paneglow.board.records import Board, PlacementRead
from paneglow.board.windows import survey_windows
from paneglow.catalog import Catalog
from paneglow.design import BoardDesign, Design
from paneglow.errors import DesignError
from paneglow.fab import (
    Fabrication,
    Netlist,
    PlacementRule,
    read_fabrication,
    read_netlist,
    read_placement,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardFiles:
    """The files that a design names, as read."""

    fabrication: Fabrication  # drawn layers, holes and outline
    placement: PlacementRead | None  # None where the design names no placement file
    netlist: Netlist | None  # None where it names no netlist
    notes: tuple[str, ...]  # what was done to placement rows so that they lie on the board
    asked: tuple[Hashable, Hashable]  # where fabrication was read from and as what; the same of the placement


def read_board_files(design: Design, *, folder: Path, beside: BoardFiles | None = None) -> BoardFiles:
    """Read the files that a design names.

    Parameters
    ----------
    design : Design
        As read; its paths are relative to `folder`.
    folder : Path
        Folder of the design file.
    beside : BoardFiles, optional
        Those of another design: what both name is taken from there and not read again.

    Raises
    ------
    FabricationError
        Files that cannot be read as one board, or parts that do not lie on it.
    DesignError
        Where the design and the placement file say different things about rotations.
    """
    board = design.board
    path, layers = folder / board.fabrication, {str(role): name for role, name in board.layers.items()}
    drawn = (path.resolve(), frozenset(layers.items()), board.ignored_files)
    placed = (
        drawn,
        board.placement and (folder / board.placement).resolve(),
        board.placement_unit,
        (board.placement_bottom, board.placement_zero, board.placement_turn),
    )
    known = beside is not None and beside.asked[0] == drawn
    fabrication = (
        beside.fabrication
        if beside is not None and known
        else read_fabrication(path, layer_files=layers, ignored=board.ignored_files)
    )
    if beside is not None and beside.asked[1] == placed:
        placement, notes = beside.placement, beside.notes
    else:
        placement, notes = _placement(design, folder=folder, fabrication=fabrication)
    netlist = (
        None if board.netlist is None else read_netlist(folder / board.netlist, copper_layers=fabrication.copper_layers)
    )
    return BoardFiles(fabrication=fabrication, placement=placement, netlist=netlist, notes=notes, asked=(drawn, placed))


def build_board(design: Design, *, files: BoardFiles, catalog: Catalog) -> Board:
    """The board that a design describes.

    Parameters
    ----------
    design : Design
    files : BoardFiles
        That the design names.
    catalog : Catalog
        Parts by order code.

    Returns
    -------
    Board
        Face maps at the design's pitch, windows with their names, LEDs in place.

    Raises
    ------
    DesignError
        A window or an LED that cannot be where the design puts it.
    CatalogError
        A part that is not in the catalogue.
    """
    maps = build_face_maps(files.fabrication, pitch_mm=design.board.pitch_mm)
    survey = survey_windows(maps, named=design.window, masked_windows=design.board.masked_windows)
    site = Ground(maps=maps, survey=survey, placement=files.placement)
    leds, decisions = place_leds(design, ground=site, catalog=catalog)
    return Board(
        name=design.name,
        thickness_mm=design.board.thickness_mm,
        maps=maps,
        survey=survey,
        leds=leds,
        notes=(*files.notes, *decisions),
        nets=build_nets(files.fabrication, netlist=files.netlist, joined_nets=design.board.joined_nets),
        placement=files.placement,
    )


def _placement(
    design: Design, *, folder: Path, fabrication: Fabrication
) -> tuple[PlacementRead | None, tuple[str, ...]]:
    if design.board.placement is None:
        return None, ()
    path = folder / design.board.placement
    rows, stated = read_placement(path, unit=design.board.placement_unit)
    fitted, notes = fit_placement(rows, outline=fabrication.outline, path=str(path))
    return PlacementRead(rows=fitted, rule=_rule(design.board, stated=stated, path=path)), notes


def _rule(board: BoardDesign, *, stated: PlacementRule | None, path: Path) -> PlacementRule:
    """What rotations mean: the file's word, else the design's; two different words are an error."""
    asked = {
        "bottom": board.placement_bottom,
        "zero": board.placement_zero,
        "turn": board.placement_turn,
    }
    told = {name: word for name, word in asked.items() if word is not None}
    if stated is None:
        return replace(PlacementRule(), **told)  # type: ignore[arg-type]  # words were checked by the design
    for name, word in told.items():
        if getattr(stated, name) != word:
            raise DesignError(
                f"[board] placement_{name} is {word!r}, but {path.name} says {getattr(stated, name)!r} of itself; "
                "correct one of them"
            )
    return stated
