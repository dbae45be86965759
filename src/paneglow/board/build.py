"""A design and its fabrication files become the board that will be made."""

from dataclasses import replace
from pathlib import Path

from paneglow.board.faces import build_face_maps
from paneglow.board.leds import Ground, place_leds
from paneglow.board.nets import build_nets
from paneglow.board.place import fit_placement
from paneglow.board.records import Board, FaceMaps, PlacementRead
from paneglow.board.windows import survey_windows
from paneglow.catalog import Catalog
from paneglow.design import BoardDesign, Design
from paneglow.errors import DesignError
from paneglow.fab import (
    Netlist,
    PlacementRule,
    read_fabrication,
    read_netlist,
    read_placement,
    read_placement_rule,
)


def build_board(design: Design, *, folder: Path, catalog: Catalog) -> Board:
    """The board that a design describes.

    Parameters
    ----------
    design : Design
        As read; its paths are relative to `folder`.
    folder : Path
        Folder of the design file.
    catalog : Catalog
        Parts by order code.

    Returns
    -------
    Board
        Face maps at the design's pitch, windows with their names, LEDs in place.

    Raises
    ------
    FabricationError
        Files that cannot be read as one board, or parts that do not lie on it.
    DesignError
        A window or an LED that cannot be where the design puts it.
    CatalogError
        A part that is not in the catalogue.
    """
    fabrication = read_fabrication(
        folder / design.board.fabrication, layer_files={str(role): name for role, name in design.board.layers.items()}
    )
    maps = build_face_maps(fabrication, pitch_mm=design.board.pitch_mm)
    survey = survey_windows(maps, named=design.window, masked_windows=design.board.masked_windows)
    placement, notes = _placement(design, folder=folder, maps=maps)
    leds, decisions = place_leds(design, ground=Ground(maps=maps, survey=survey, placement=placement), catalog=catalog)
    return Board(
        name=design.name,
        thickness_mm=design.board.thickness_mm,
        maps=maps,
        survey=survey,
        leds=leds,
        notes=(*notes, *decisions),
        nets=build_nets(fabrication, netlist=_netlist(design, folder=folder, copper_layers=fabrication.copper_layers)),
        placement=placement,
    )


def _placement(design: Design, *, folder: Path, maps: FaceMaps) -> tuple[PlacementRead | None, tuple[str, ...]]:
    if design.board.placement is None:
        return None, ()
    path = folder / design.board.placement
    rows, notes = fit_placement(
        read_placement(path, unit=design.board.placement_unit), outline=maps.outline, path=str(path)
    )
    return PlacementRead(rows=rows, rule=_rule(design.board, stated=read_placement_rule(path), path=path)), notes


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


def _netlist(design: Design, *, folder: Path, copper_layers: int) -> Netlist | None:
    if design.board.netlist is None:
        return None
    return read_netlist(folder / design.board.netlist, copper_layers=copper_layers)
