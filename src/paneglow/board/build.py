"""A design and its fabrication files become the board that will be made."""

from pathlib import Path

from paneglow.board.faces import build_face_maps
from paneglow.board.leds import Ground, place_leds
from paneglow.board.place import fit_placement
from paneglow.board.records import Board, FaceMaps
from paneglow.board.windows import survey_windows
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.fab import PlacementRow, read_fabrication, read_placement


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
    rows, notes = _placement(design, folder=folder, maps=maps)
    leds, decisions = place_leds(design, ground=Ground(maps=maps, survey=survey, rows=rows), catalog=catalog)
    return Board(
        name=design.name,
        thickness_mm=design.board.thickness_mm,
        maps=maps,
        survey=survey,
        leds=leds,
        notes=(*notes, *decisions),
    )


def _placement(
    design: Design, *, folder: Path, maps: FaceMaps
) -> tuple[dict[str, PlacementRow] | None, tuple[str, ...]]:
    if design.board.placement is None:
        return None, ()
    path = folder / design.board.placement
    rows, notes = fit_placement(
        read_placement(path, unit=design.board.placement_unit), outline=maps.outline, path=str(path)
    )
    return {row.ref: row for row in rows}, notes
