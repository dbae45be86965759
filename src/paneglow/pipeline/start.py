"""From fabrication files alone to a first design."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from paneglow.board import Board, BoardFiles, build_board, read_board_files
from paneglow.catalog import Catalog, read_catalog
from paneglow.design import BoardDesign, Design, read_design
from paneglow.drafting import (
    LEAST_PROPOSED_MM2,
    Draft,
    FoundLed,
    Question,
    count_seated,
    draft_design,
    find_leds,
    is_led,
    propose_leds,
    questions_of,
)
from paneglow.drafting import to_design_toml as to_toml
from paneglow.errors import DesignError, OutputError, PaneglowError, PlacementError
from paneglow.fab import IGNORED, read_placement
from paneglow.writing import write_together

SEATED_SHARE = 0.3  # chosen: at least 0.9 of the rows with a board's own placement file, at most 0.14 with another's
LEAST_COUNTED = 3  # chosen: rows below which their lands say nothing
PLACEMENT_ENDINGS = frozenset({".csv", ".pos", ".txt", ".tsv", ".xy"})  # common practice, no source
MOST_TRIED = 30  # chosen: files beside a fabrication set that are looked at
# Names that say nothing of the board; its folder does. Common practice, no source
PLAIN_NAMES = frozenset({"fab", "fabrication", "gerber", "gerbers", "output", "outputs", "production", "plot", "plots"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beginning:
    """A board as far as its files tell, before anybody was asked."""

    stated: BoardDesign  # its files, by their whole paths
    files: BoardFiles  # the same, as read
    board: Board  # with windows, no LED placed
    leds: tuple[FoundLed, ...]  # found or proposed
    questions: tuple[Question, ...]  # what no file says
    catalog: Catalog  # the starting one
    notes: tuple[str, ...]  # what was decided on the way


def begin(fabrication: Path, *, placement: Path | None = None) -> Beginning:
    """Read a fabrication set and find its windows and LEDs.

    Parameters
    ----------
    fabrication : Path
        A folder or .zip of Gerber and drill files.
    placement : Path, optional
        Placement file; where it is left out, the one that lies in the set or beside it.

    Raises
    ------
    PaneglowError
        Where the files cannot be read as one board, or light can cross nowhere.
    """
    name = name_of_set(fabrication)
    catalog = read_catalog()
    stated, files, board, notes = _read(fabrication, placement=placement, name=name, catalog=catalog)
    leds = find_leds(board, catalog=catalog)
    if not any(led.lights for led in leds):
        why = _why_proposed(board, n_found=len(leds))
        leds = (*leds, *propose_leds(board))
        if not any(led.lights for led in leds):
            raise DesignError(
                f"{fabrication}: light can cross this board nowhere: no place without copper, of"
                f" {LEAST_PROPOSED_MM2:g} mm2 or more, where the mask is open; open the mask where light is to come"
                " through, or see what there is with paneglow windows --all --masked-windows"
            )
        notes = (*notes, f"{why}: an LED is proposed behind the middle of each window, to move as you like")
    return Beginning(
        stated=stated,
        files=files,
        board=board,
        leds=leds,
        questions=questions_of(leds, catalog=catalog),
        catalog=catalog,
        notes=notes,
    )


def draft_from(beginning: Beginning, *, answers: Mapping[str, str]) -> Draft:
    """A design of what was begun; its files are named by their whole paths.

    Raises
    ------
    DesignError
        Where an answer is none.
    """
    return draft_design(
        beginning.board,
        leds=beginning.leds,
        stated=beginning.stated,
        answers=answers,
        catalog=beginning.catalog,
    )


def write_start(beginning: Beginning, *, folder: Path, answers: Mapping[str, str]) -> tuple[Path, Draft]:
    """Write the first design into a folder, and give its path and what stands in it.

    Raises
    ------
    PaneglowError
        Where an answer is none, a design is already there, or the folder cannot be written.
    """
    path = check_free(folder)
    stated = _seen_from(folder, stated=beginning.stated)
    draft = draft_design(
        beginning.board, leds=beginning.leds, stated=stated, answers=answers, catalog=beginning.catalog
    )
    text = to_toml(draft, catalog=beginning.catalog, made_from=Path(stated.fabrication).name)
    write_together(folder, contents={path.name: text.encode("utf-8")})
    read_design(path)  # what was written is what runs
    return path, draft


def check_free(folder: Path) -> Path:
    """The design file that a folder is to hold.

    Raises
    ------
    OutputError
        Where there is one already.
    """
    path = folder / "design.toml"
    if path.exists():
        raise OutputError(f"{path}: is already there and stays as it is; name another folder")
    return path


def name_of_set(fabrication: Path) -> str:
    """What a board may be called after its files: their own name, or that of their folder where theirs says nothing."""
    own = fabrication.resolve()
    stem = own.stem if own.suffix.lower() == ".zip" else own.name
    return own.parent.name or stem if stem.lower() in PLAIN_NAMES else stem


def _why_proposed(board: Board, *, n_found: int) -> str:
    if n_found:
        return f"none of the {n_found} LEDs of the placement file is near a window"
    if board.placement is None:
        return "no placement file"
    return f"none of the {len(board.placement.rows)} rows of the placement file says LED"


def _read(
    fabrication: Path, *, placement: Path | None, name: str, catalog: Catalog
) -> tuple[BoardDesign, BoardFiles, Board, tuple[str, ...]]:
    """The files of the board as a design would name them, by their whole paths, as read, and the board of them."""
    bare = Design(name=name, board=BoardDesign(fabrication=str(fabrication.resolve())))
    if placement is not None:
        placed = _with_placement(bare, path=placement)
        files = read_board_files(placed, folder=Path())
        return placed.board, files, _seated_board(placed, files=files, catalog=catalog), files.notes
    files = read_board_files(bare, folder=Path())
    notes: list[str] = []
    candidates = _placement_files(fabrication, files=files)
    for path in candidates:
        placed = _with_placement(bare, path=path)
        try:
            both = read_board_files(placed, folder=Path(), beside=files)
            board = _seated_board(placed, files=both, catalog=catalog)
        except PaneglowError as problem:
            notes.append(f"{path.name} looks like a placement file, but is not used: {problem}")
            continue
        where = "in the set" if path.is_relative_to(fabrication.resolve()) else "beside it"
        notes.append(f"{path.name}, which lies {where}, is taken as its placement file")
        others = [other.name for other in candidates[candidates.index(path) + 1 :]]
        if others:
            notes.append(
                f"not read beside it: {', '.join(others)}; parts of one board that stand in several files are read"
                " when they are put into one"
            )
        return placed.board, both, board, (*notes, *both.notes)
    return bare.board, files, build_board(bare, files=files, catalog=catalog), tuple(notes)


def _seated_board(design: Design, *, files: BoardFiles, catalog: Catalog) -> Board:
    """The board, where its placement file may be its own.

    Raises
    ------
    PlacementError
        Where hardly a part would come to lie between lands.
    """
    board = build_board(design, files=files, catalog=catalog)
    seated, counted = count_seated(board)
    if counted >= LEAST_COUNTED and seated < SEATED_SHARE * counted:
        raise PlacementError(
            f"only {seated} of its {counted} parts would lie between pads of this board: it is the placement file of"
            " another board or of another state of it; export it together with the fabrication files, with one origin",
            path=design.board.placement,
        )
    return board


def _with_placement(design: Design, *, path: Path) -> Design:
    return design.model_copy(update={"board": design.board.model_copy(update={"placement": str(path.resolve())})})


def _seen_from(folder: Path, *, stated: BoardDesign) -> BoardDesign:
    """The same files, as a design in a folder names them."""

    def relative(path: str) -> str:
        return Path(os.path.relpath(path, folder.resolve())).as_posix()

    placement = None if stated.placement is None else relative(stated.placement)
    return stated.model_copy(update={"fabrication": relative(stated.fabrication), "placement": placement})


def _placement_files(fabrication: Path, *, files: BoardFiles) -> list[Path]:
    """Files in a set or beside it that read as placement files; first those in the set, and with most LEDs."""
    root = fabrication.resolve()
    names = [file.name for file in files.fabrication.files if file.role == IGNORED]
    inside = sorted(root.rglob("*")) if root.is_dir() else [root / name for name in names]
    found: list[tuple[bool, int, int, Path]] = []
    beside = sorted(root.parent.iterdir())
    for path in [path for path in (*inside, *beside) if path.suffix.lower() in PLACEMENT_ENDINGS][:MOST_TRIED]:
        try:
            rows, _ = read_placement(path)
        except (PaneglowError, OSError):
            continue
        if any(row.x_mm or row.y_mm for row in rows):
            found.append((path not in inside, -sum(is_led(row) for row in rows), -len(rows), path))
    return [path for *_, path in sorted(found)]
