"""Every published set of the shared boards folder reads, with no design file, and agrees with what lies beside it."""

import json
import math
import os
import warnings
import zipfile
from pathlib import Path

import pytest
import shapely

from paneglow.fab import read_fabrication
from paneglow.fab.archive import read_files, to_text
from paneglow.fab.drawing import centre_lines
from paneglow.fab.drill import looks_like_drill, parse_drill
from paneglow.fab.gerber import parse_gerber
from paneglow.fab.records import Fabrication

BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", Path(__file__).parents[3] / "shared" / "boards"))
NAMES = sorted(path.parent.name for path in BOARDS.glob("*/expected.json"))
SKIPPED = f"no board sets in {BOARDS}; name their folder in PANEGLOW_BOARDS"

# "areas 2 % or 0.3 mm2, whichever is larger" (the tolerance written in every expected.json)
AREA_TOLERANCE = {"rel": 0.02, "abs": 0.3}

pytestmark = pytest.mark.skipif(not NAMES, reason=SKIPPED)


def fabrication_path(name: str) -> Path:
    folder = BOARDS / name
    return folder / "fab.zip" if (folder / "fab.zip").exists() else folder / "fab"


def expected(name: str) -> dict[str, float | int | None]:
    values: dict[str, float | int | None] = json.loads((BOARDS / name / "expected.json").read_text())
    return values


@pytest.fixture(scope="module")
def fabrications() -> dict[str, Fabrication]:
    return {name: read_fabrication(fabrication_path(name)) for name in NAMES}


@pytest.mark.parametrize("name", NAMES or ["none"])
def test_outline_area_agrees_inside_the_drawn_line(name: str, fabrications: dict[str, Fabrication]) -> None:
    area_mm2 = expected(name)["outline_area_mm2"]
    if area_mm2 is None:
        pytest.skip("its two readers did not agree on an outline area, so none is stated")
    fabrication = fabrications[name]
    # The readers behind expected.json filled what lies inside the drawn line; the edge itself is the line's centre
    (outline_file,) = [file.name for file in fabrication.files if file.role == "outline"]
    content = next(file.content for file in read_files(fabrication_path(name)) if file.name == outline_file)
    pen_mm = max(line.width_mm for line in centre_lines(parse_gerber(to_text(content) or "", path=outline_file)))
    inside_line = shapely.buffer(fabrication.outline, -pen_mm / 2, join_style="mitre")
    assert inside_line.area == pytest.approx(area_mm2, **AREA_TOLERANCE)
    assert fabrication.outline.area < area_mm2 * 1.04  # the whole edge line adds 3.7 % to the smallest art board


@pytest.mark.parametrize("name", NAMES or ["none"])
def test_copper_layers_agree(name: str, fabrications: dict[str, Fabrication]) -> None:
    assert fabrications[name].copper_layers == expected(name)["copper_layers"]


@pytest.mark.parametrize("name", NAMES or ["none"])
def test_pieces_agree(name: str, fabrications: dict[str, Fabrication]) -> None:
    pieces = expected(name)["pieces"]
    if pieces != 1:
        pytest.skip("counts frame rails and the gaps between them as pieces; see the panel's own test")
    assert len(fabrications[name].outline.geoms) == pieces


@pytest.mark.parametrize("name", NAMES or ["none"])
def test_outline_is_valid_and_holds_most_holes(name: str, fabrications: dict[str, Fabrication]) -> None:
    fabrication = fabrications[name]
    assert fabrication.outline.is_valid
    hull = fabrication.outline.convex_hull.buffer(0.5)
    inside = [hole for hole in fabrication.holes if shapely.contains_xy(hull, *hole.start_mm)]
    assert len(inside) >= 0.97 * len(fabrication.holes)  # a panel has some in rails that are left out


@pytest.mark.skipif("badge-panel2x2" not in NAMES, reason=SKIPPED)
def test_panel_of_four_gives_four_equal_boards_with_five_cut_outs_each(fabrications: dict[str, Fabrication]) -> None:
    # Rails without copper and the routed gap are left out; rails with fiducials stay, as smaller whole pieces
    pieces = list(fabrications["badge-panel2x2"].outline.geoms)
    boards = [piece for piece in pieces if len(piece.interiors) == 5]
    assert len(boards) == 4
    assert boards == pieces[:4]
    assert max(board.area for board in boards) == pytest.approx(min(board.area for board in boards), rel=1e-4)


# Counted in the files with `grep -c '^[XY]'` and `grep -c G85`
@pytest.mark.parametrize(
    ("name", "plated", "unplated", "slots"),
    [("sheep-eyes", 12, 2, 0), ("badge-inch", 128, 3, 4), ("ornament-old", 328, 1, 3), ("keyboard-rgb", 694, 265, 10)],
)
def test_holes_are_counted_and_told_apart(
    name: str, plated: int, unplated: int, slots: int, fabrications: dict[str, Fabrication]
) -> None:
    if name not in NAMES:
        pytest.skip(SKIPPED)
    holes = fabrications[name].holes
    assert sum(hole.plated for hole in holes) == plated
    assert sum(not hole.plated for hole in holes) == unplated
    assert sum(hole.start_mm != hole.end_mm for hole in holes) == slots


@pytest.mark.skipif("sheep-eyes" not in NAMES, reason=SKIPPED)
def test_eyes_of_the_sheep_are_unplated_holes(fabrications: dict[str, Fabrication]) -> None:
    # Its drill files state their 3.3 format only in a comment
    eyes = [hole for hole in fabrications["sheep-eyes"].holes if not hole.plated]
    assert [hole.diameter_mm for hole in eyes] == [3.1, 3.1]
    assert math.dist(eyes[0].start_mm, eyes[1].start_mm) == pytest.approx(63.226 - 59.035, abs=1e-9)


@pytest.mark.skipif("card-disc-side18" not in NAMES, reason=SKIPPED)
def test_scoring_lines_are_not_taken_for_the_outline(fabrications: dict[str, Fabrication]) -> None:
    files = fabrications["card-disc-side18"].files
    assert [file.role for file in files if file.name.endswith("VScore.gbr")] == ["ignored"]
    assert [file.role for file in files if file.name.endswith("EdgeCuts.gbr")] == ["outline"]


@pytest.mark.skipif("dna" not in NAMES, reason=SKIPPED)
def test_order_and_packing_of_files_do_not_matter(tmp_path: Path, fabrications: dict[str, Fabrication]) -> None:
    packed = tmp_path / "set.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted((BOARDS / "dna" / "fab").iterdir(), reverse=True):
            archive.write(path, f"top folder/{path.name}")
    from_zip, from_folder = read_fabrication(packed), fabrications["dna"]
    assert from_zip.files == from_folder.files
    assert from_zip.holes == from_folder.holes
    assert from_zip.notes == from_folder.notes
    assert from_zip.outline.equals_exact(from_folder.outline, tolerance=0.0)


def referee_hits(path: Path) -> list[tuple[float, ...]] | None:
    """Start, end and diameter [mm] of every hole as gerbonara 1.5.0 reads them; None where it refuses the file."""
    from gerbonara.excellon import ExcellonFile
    from gerbonara.graphic_objects import Flash
    from gerbonara.utils import MM

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns about dialects that are read all the same
        try:
            objects = [item.converted(MM) for item in ExcellonFile.open(path).objects]
        except SyntaxError:  # its own word for slots by G85 and for formats stated in a comment
            return None
    hits = []
    for item in objects:
        ends = (item.x, item.y, item.x, item.y) if isinstance(item, Flash) else (item.x1, item.y1, item.x2, item.y2)
        hits.append((*ends, item.tool.equivalent_width(MM)))
    return hits


@pytest.mark.parametrize("name", NAMES or ["none"])
def test_holes_agree_with_the_referee(name: str, tmp_path: Path) -> None:
    texts = {file.name: to_text(file.content) for file in read_files(fabrication_path(name))}
    drills = {file_name: text for file_name, text in texts.items() if text is not None and looks_like_drill(text)}
    assert drills
    compared = 0
    for file_name, text in drills.items():
        path = tmp_path / Path(file_name).name
        path.write_text(text)
        theirs = referee_hits(path)
        if theirs is None:
            continue
        hits = parse_drill(text, name=file_name).hits
        ours = [(*hit.start_mm, *hit.end_mm, hit.diameter_mm) for hit in hits]
        assert len(ours) == len(theirs)
        compared += 1
        pairs = zip(sorted(map(rounded, ours)), sorted(map(rounded, theirs)), strict=True)
        assert all(abs(a - b) <= 1.1e-3 for mine, other in pairs for a, b in zip(mine, other, strict=True))
    if not compared:
        pytest.skip("the referee refuses every drill file of this set")


def rounded(hit: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(round(value, 3) for value in hit)
