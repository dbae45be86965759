"""A design and the files it names become the board that will be made; placement rows must lie on it."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import shapely
from shapely.geometry import MultiPolygon

from paneglow.board.faces import build_face_maps
from paneglow.board.leds import Ground, place_leds, split_dice
from paneglow.board.nets import build_nets
from paneglow.board.records import Board, PlacementRead
from paneglow.board.windows import survey_windows
from paneglow.catalog import Catalog
from paneglow.design import BoardDesign, Design
from paneglow.errors import DesignError, PlacementError
from paneglow.fab import (
    Fabrication,
    Netlist,
    PlacementRow,
    PlacementRule,
    read_fabrication,
    read_netlist,
    read_placement,
)

FITTING_SHARE = 0.9  # chosen: connectors and test points may stand over the edge, hardly one part in ten
STRAY_SHARE = 0.1  # chosen: fewer rows than this on the board means another origin, unit or sense of y
EDGE_MM = 1.0  # chosen: centres of edge connectors lie up to about this far outside

# How else the numbers could have been meant: factor on both, and sign of y; factors are ratios of mm, inch and mil
UNIT_FACTORS = {
    "inch read as mm": 25.4,
    "mm read as inch": 1 / 25.4,
    "mil read as mm": 0.0254,
    "mm read as mil": 1 / 0.0254,
    "mil read as inch": 0.001,
    "inch read as mil": 1000.0,
}


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
    bodies, decisions = place_leds(design, ground=site, catalog=catalog)
    leds = split_dice(bodies, design=design)
    return Board(
        name=design.name,
        thickness_mm=design.board.thickness_mm,
        maps=maps,
        survey=survey,
        leds=leds,
        bodies=bodies if leds != bodies else (),
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


class _Meaning(NamedTuple):
    words: str
    factor: float
    y_sign: int


def fit_placement(
    rows: Sequence[PlacementRow], *, outline: MultiPolygon, path: str
) -> tuple[tuple[PlacementRow, ...], tuple[str, ...]]:
    """Rows in the frame of the outline, and what was done to them.

    Parameters
    ----------
    rows : sequence of PlacementRow
        As read.
    outline : MultiPolygon
        Boards of the set, from the fabrication files [mm].
    path : str
        Name of the placement file, for messages.

    Returns
    -------
    rows : tuple of PlacementRow
        The same, or with y negated where nothing else puts the parts on the board.
    notes : tuple of str
        One sentence where y was negated.

    Raises
    ------
    PlacementError
        Where nearly all parts lie off the board: another unit, an ambiguous fit or another origin.
    """
    if _share_on(rows, outline=outline, meaning=_Meaning("as written", 1.0, 1)) > STRAY_SHARE:
        return tuple(rows), ()
    meanings = [_Meaning("y negated", 1.0, -1)]
    meanings += [_Meaning(words, factor, sign) for words, factor in UNIT_FACTORS.items() for sign in (1, -1)]
    fitting = [meaning for meaning in meanings if _share_on(rows, outline=outline, meaning=meaning) >= FITTING_SHARE]
    if [meaning.factor for meaning in fitting] == [1.0]:
        negated = tuple(replace(row, y_mm=-row.y_mm) for row in rows)
        return negated, (f"{path}: y is negated, since only so do the parts lie on the board",)
    if fitting and fitting[0].factor != 1.0 and len({meaning.factor for meaning in fitting}) == 1:
        raise PlacementError(
            f"its parts lie on the board only with {fitting[0].words}: set placement_unit in [board] of the design "
            "to the unit of the file, or write the unit into its header",
            path=path,
        )
    if fitting:
        words = ", ".join(meaning.words for meaning in fitting)
        raise PlacementError(f"its parts fit the board in several ways ({words}): export it again in mm", path=path)
    raise PlacementError(
        f"its parts lie at {_box_words(_bounds(rows))}, the board at {_box_words(outline.bounds)}: export both with "
        "one origin, unless it is the placement file of another board",
        path=path,
    )


def _share_on(rows: Sequence[PlacementRow], *, outline: MultiPolygon, meaning: _Meaning) -> float:
    """Share of the rows that lie on the filled boards, or just beside them."""
    filled = shapely.union_all([shapely.Polygon(piece.exterior) for piece in outline.geoms]).buffer(EDGE_MM)
    x = [row.x_mm * meaning.factor for row in rows]
    y = [row.y_mm * meaning.factor * meaning.y_sign for row in rows]
    return float(shapely.contains_xy(filled, x, y).mean())


def _bounds(rows: Sequence[PlacementRow]) -> tuple[float, float, float, float]:
    x, y = [row.x_mm for row in rows], [row.y_mm for row in rows]
    return min(x), min(y), max(x), max(y)


def _box_words(bounds: tuple[float, float, float, float]) -> str:
    left, low, right, high = bounds
    return f"x {left:.1f} to {right:.1f} mm, y {low:.1f} to {high:.1f} mm"
