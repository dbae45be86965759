"""One drawn board to a folder of Gerber X2 and XNC drill files, each whole or not at all."""

import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from paneglow.errors import FabricationError
from paneglow.fab.write_gerber import WRITER, Attributes, check_closed, is_ours, to_gerber_text, to_xnc_text
from paneglow.fab.write_records import DrawnRole, FabricationDrawing, Stroke

NAME_PATTERN = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
OUTLINE_PEN_MM = 0.05  # assumed; the board's edge is the middle of the line, so the pen's width means nothing

INNER_ROLES: tuple[DrawnRole, ...] = ("copper_inner_1", "copper_inner_2")
FACE_FUNCTIONS: dict[str, tuple[str, ...]] = {
    "mask_front": ("Soldermask", "Top"),
    "mask_back": ("Soldermask", "Bot"),
    "legend_front": ("Legend", "Top"),
    "legend_back": ("Legend", "Bot"),
}


def write_fabrication(drawing: FabricationDrawing, *, folder: Path, overwrite: bool = False) -> tuple[Path, ...]:
    """Write the layers, the outline and the drill files of one board.

    Nothing half-written is left behind by a kill; see `write_board_files`. Equal drawings give equal bytes.

    Parameters
    ----------
    drawing : FabricationDrawing
        The board [mm].
    folder : Path
        Where the files go; made where it is missing.
    overwrite : bool
        Also replace files that this writer did not write, or that were edited since.

    Returns
    -------
    tuple of Path
        The files written: layers in the order given, outline, plated and non-plated drill.

    Raises
    ------
    FabricationError
        If the drawing contradicts itself or the folder holds a file of the same name that must not be replaced.
    """
    texts = to_file_texts(drawing)
    return write_board_files(texts, folder=Path(folder), prefix=f"{drawing.name}-", overwrite=overwrite)


def to_file_texts(drawing: FabricationDrawing) -> dict[str, str]:
    """File name to text for every file of a board.

    Raises
    ------
    FabricationError
        If the name, the layers, the outline or the holes cannot be written.
    """
    _check_drawing(drawing)
    texts = {}
    copper = _copper_functions(drawing)
    for layer in drawing.layers:
        function = copper.get(layer.role) or FACE_FUNCTIONS[layer.role]
        texts[f"{drawing.name}-{layer.role.replace('_', '-')}.gbr"] = to_gerber_text(
            layer.objects, attributes=_attributes(drawing, function=function)
        )
    texts[f"{drawing.name}-outline.gbr"] = to_gerber_text(
        tuple(Stroke(path=contour, pen_mm=OUTLINE_PEN_MM, function="Profile") for contour in drawing.outline),
        attributes=_attributes(drawing, function=("Profile", "NP")),
    )
    for suffix, function, plated in (
        ("plated", ("Plated", "1", str(len(copper)), "PTH"), True),
        ("unplated", ("NonPlated", "1", str(len(copper)), "NPTH"), False),
    ):
        holes = [hole for hole in drawing.holes if hole.plated is plated]
        if holes:
            texts[f"{drawing.name}-drill-{suffix}.drl"] = to_xnc_text(
                holes, attributes=_attributes(drawing, function=function)
            )
    return texts


def _attributes(drawing: FabricationDrawing, *, function: tuple[str, ...]) -> Attributes:
    # A mask file is negative: what it draws is where mask is absent
    polarity = "Negative" if function[0] == "Soldermask" else "Positive"
    return (
        WRITER,
        ("Part", "Single"),
        ("SameCoordinates", drawing.name),
        ("FileFunction", *function),
        ("FilePolarity", polarity),
    )


def _copper_functions(drawing: FabricationDrawing) -> dict[str, tuple[str, ...]]:
    inner = sorted(layer.role for layer in drawing.layers if layer.role in INNER_ROLES)
    functions: dict[str, tuple[str, ...]] = {
        role: ("Copper", f"L{number}", "Inr") for number, role in enumerate(inner, start=2)
    }
    functions["copper_front"] = ("Copper", "L1", "Top")
    functions["copper_back"] = ("Copper", f"L{len(inner) + 2}", "Bot")
    return functions


def _check_drawing(drawing: FabricationDrawing) -> None:
    if not NAME_PATTERN.fullmatch(drawing.name):
        raise FabricationError(
            f"the board's name {drawing.name!r} would start file names; allowed are 1 to 60 of a-z, 0-9 and '-',"
            " not starting with '-'"
        )
    roles = [layer.role for layer in drawing.layers]
    repeated = sorted({role for role in roles if roles.count(role) > 1})
    if repeated:
        raise FabricationError(f"the drawing has layer {repeated[0]} twice; put its objects into one layer")
    missing = sorted({"copper_front", "copper_back"} - set(roles))
    if missing:
        raise FabricationError(f"the drawing has no layer {missing[0]}; add it, empty where nothing is drawn")
    if not drawing.outline:
        raise FabricationError("the drawing has no outline; add the closed contour of the board's edge")
    for contour in drawing.outline:
        check_closed(contour)


def write_board_files(texts: Mapping[str, str], *, folder: Path, prefix: str, overwrite: bool) -> tuple[Path, ...]:
    """Write files to a temporary folder beside, then move them into place.

    A new folder appears by one rename. In a folder that is already there each file is replaced by one rename, and
    files with the prefix that we wrote earlier and no longer need are removed; a kill between two renames leaves
    whole files of both runs, which the next run makes equal again.

    Parameters
    ----------
    texts : mapping of file name to text
        ASCII texts.
    folder : Path
        Where the files go; made where it is missing, and so are its parents.
    prefix : str
        How the names of one board's files start.
    overwrite : bool
        Also replace files that we did not write, or that were edited since.

    Raises
    ------
    FabricationError
        If a file that must not be replaced is in the way, or the folder cannot be written.
    """
    if not overwrite:
        _check_replaceable(folder / name for name in texts)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        staging = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        try:
            _write_and_move(texts, staging=staging, folder=folder, prefix=prefix)
        finally:
            shutil.rmtree(staging, ignore_errors=True)
    except OSError as error:
        raise FabricationError(f"cannot be written ({error.strerror}); choose another folder", path=folder) from error
    return tuple(folder / name for name in texts)


def _write_and_move(texts: Mapping[str, str], *, staging: Path, folder: Path, prefix: str) -> None:
    for name, text in texts.items():
        (staging / name).write_text(text, encoding="ascii", newline="\n")
    if not folder.exists():
        staging.chmod(0o777 & ~_umask())  # mkdtemp makes a folder that only its owner can read
        staging.rename(folder)
        return
    for name in texts:
        os.replace(staging / name, folder / name)
    for path in sorted(folder.glob(f"{prefix}*")):
        if path.name not in texts and _is_our_file(path):
            path.unlink()


def _check_replaceable(paths: Iterable[Path]) -> None:
    for path in paths:
        if path.exists() and not _is_our_file(path):
            raise FabricationError(
                "was written or edited by someone else and would be lost;"
                " choose another folder, move it away or pass overwrite=True",
                path=path,
            )


def _is_our_file(path: Path) -> bool:
    if not path.is_file():
        return False
    return is_ours(path.read_bytes().decode("ascii", errors="replace"))


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
