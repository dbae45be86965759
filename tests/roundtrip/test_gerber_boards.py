"""Real boards, layer by layer, against gerbonara 1.5.0 as referee; they lie outside the project and may be absent."""

import os
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from gerber_referee import read_referee, referee_area_mm2
from paneglow.fab import GerberDrawing, draw_coverage, parse_gerber
from paneglow.fab.drawing import StrokeMark
from paneglow.grid import Grid

BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", Path(__file__).parents[3] / "shared" / "boards"))
EVERY_LAYER = "PANEGLOW_EVERY_LAYER" in os.environ
LAYERS_PER_BOARD = 3  # of the 145 files; all of them take two minutes, so they run on request
PITCH_MM = 0.0471  # near the default, yet no multiple of a drawing grid: sampling errors of parallel lines cancel
TOLERANCE_MM2 = 0.3  # of the project's plan; measured over all 145 files: 0.13 at worst, but for the sheet below
SHEET_TOLERANCES_MM2 = {"ReadOnly.Mechanical": 0.6}  # a drawing sheet, no board layer; 0.45 of 704 mm2

NAMES = sorted(path.name for path in BOARDS.iterdir() if path.is_dir()) if BOARDS.is_dir() else []
needs_boards = pytest.mark.skipif(
    not NAMES, reason=f"no boards in {BOARDS}: set PANEGLOW_BOARDS to a folder of fabrication sets to run this"
)


def gerber_texts(board: str) -> Iterator[tuple[str, str]]:
    """Name and text of every Gerber file of a board, known by its format statement."""
    archive = BOARDS / board / "fab.zip"
    if archive.is_file():
        with zipfile.ZipFile(archive) as packed:
            files = [(name, packed.read(name)) for name in sorted(packed.namelist()) if not name.endswith("/")]
    else:
        paths = sorted(path for path in (BOARDS / board / "fab").rglob("*") if path.is_file())
        files = [(path.name, path.read_bytes()) for path in paths]
    for name, data in files:
        if b"%FS" in data:
            yield name, data.decode("utf-8", errors="replace")


def chosen_texts(board: str) -> list[tuple[str, str]]:
    """All files, or those of middle size, which hold strokes, flashes and regions alike."""
    texts = sorted(gerber_texts(board), key=lambda item: len(item[1]))
    if EVERY_LAYER or len(texts) <= LAYERS_PER_BOARD:
        return texts
    middle = len(texts) * 2 // 3
    return texts[middle - LAYERS_PER_BOARD + 1 : middle + 1]


def without_odd_strokes(drawing: GerberDrawing) -> GerberDrawing:
    """Leave out strokes with apertures other than discs, which the referee draws wrongly."""
    kept = [m for m in drawing.objects if not isinstance(m, StrokeMark) or m.shape.disc_mm is not None]
    return replace(drawing, objects=tuple(kept))


@needs_boards
@pytest.mark.parametrize("board", NAMES)
def test_every_gerber_file_is_read(board: str) -> None:
    drawings = {name: parse_gerber(text, path=name) for name, text in gerber_texts(board)}
    assert len(drawings) >= 6
    assert sum(drawing.bounds_mm is not None for drawing in drawings.values()) >= 5


@needs_boards
@pytest.mark.parametrize("board", NAMES)
def test_layer_areas_agree_with_the_referee(board: str) -> None:
    for name, text in chosen_texts(board):
        drawing = parse_gerber(text, path=name)
        if drawing.bounds_mm is None:
            continue
        # The referee cannot read "C,1X": a separator with nothing after it, which means the same as without.
        referee = read_referee(text.replace("X*%", "*%"))
        if referee.left_out:
            drawing = without_odd_strokes(drawing)
        grid = Grid.over(bounds_mm=drawing.bounds_mm, pitch_mm=PITCH_MM, margin_mm=0.2)
        area = float(draw_coverage(drawing, grid=grid).sum(dtype=float)) * grid.pixel_area_mm2
        tolerance = SHEET_TOLERANCES_MM2.get(Path(name).name, TOLERANCE_MM2)
        assert area == pytest.approx(referee_area_mm2(referee, bounds_mm=grid.bounds_mm), abs=tolerance), name
