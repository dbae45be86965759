"""From fabrication files alone to what light can get through."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from paneglow.board import FaceMaps, WindowSurvey, build_face_maps, survey_windows
from paneglow.checks import check_between
from paneglow.design import BoardDesign, design_file, read_design
from paneglow.fab import read_fabrication

LEAST_PITCH_MM, MOST_PITCH_MM = 0.01, 0.5  # as for [board] pitch_mm of a design


def survey(
    path: Path,
    *,
    pitch_mm: float | None = None,
    masked_windows: bool = False,
    layer_files: Mapping[str, str] | None = None,
    ignored: Sequence[str] = (),
) -> tuple[FaceMaps, WindowSurvey]:
    """Find what light can get through, from fabrication files alone or from those a design names.

    Parameters
    ----------
    path : Path
        A folder or .zip of fabrication files, a design.toml, or the folder that holds one.
    pitch_mm : float, optional
        Raster pitch [mm]; the design's, or the default of a design, where it is left out.
    masked_windows : bool
        Also count copper-free areas under mask on both faces.
    layer_files : mapping of str to str, optional
        File names for layers that their names and attributes do not settle.
    ignored : sequence of str, optional
        Names of files that are no layer, beside those the design ignores.

    Returns
    -------
    tuple of FaceMaps and WindowSurvey

    Raises
    ------
    PaneglowError
        Where the files cannot be read as one board.
    """
    design_path = design_file(path)
    if design_path.suffix == ".toml" and (design_path.is_file() or not path.is_dir()):
        design = read_design(design_path)
        stated, named, folder = design.board, design.window, design_path.parent / design.board.fabrication
    else:
        stated, named, folder = BoardDesign(fabrication=str(path)), (), path
    pitch_mm = check_between(
        "raster pitch_mm", stated.pitch_mm if pitch_mm is None else pitch_mm, lower=LEAST_PITCH_MM, upper=MOST_PITCH_MM
    )
    told: dict[str, str] = dict(stated.layers.items())
    told.update(layer_files or {})
    fabrication = read_fabrication(folder, layer_files=told, ignored=(*stated.ignored_files, *ignored))
    maps = build_face_maps(fabrication, pitch_mm=pitch_mm)
    found = survey_windows(maps, named=named, masked_windows=masked_windows or stated.masked_windows)
    return maps, found
