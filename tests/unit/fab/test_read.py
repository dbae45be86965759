"""A whole set read as one board, and every way a set can be wrong answered by one clear line."""

import random
import re
from pathlib import Path

import pytest

from paneglow.errors import DrillError, FabricationError, GerberError, PaneglowError
from paneglow.fab import (
    FabricationDrawing,
    GerberDrawing,
    Hole,
    LayerDrawing,
    build_circle,
    build_polygon,
    read_fabrication,
    write_fabrication,
)
from tiny_sets import (
    BOARD_MM,
    HOLES,
    LANDS,
    LANDS_MM,
    chain,
    drill,
    flashes,
    layer,
    loop,
    tiny_set,
    write_folder,
    write_zip,
)


def read(folder: Path, texts: dict[str, str], **layer_files: str):
    return read_fabrication(write_folder(folder, texts), layer_files=layer_files)


def test_set_becomes_one_board(tmp_path: Path) -> None:
    board = read(tmp_path, tiny_set(gto=layer(LANDS)))
    assert board.source == tmp_path
    assert sorted(board.drawings) == ["copper_back", "copper_front", "legend_front", "mask_back", "mask_front"]
    assert all(isinstance(drawing, GerberDrawing) for drawing in board.drawings.values())
    assert board.outline.area == pytest.approx(200.0, abs=1e-6)
    assert [hole.start_mm for hole in board.holes] == list(LANDS_MM)
    assert board.copper_layers == 2
    assert {file.name: file.role for file in board.files}["tile.drl"] == "drill"
    assert "legend_back: no file; no ink there" in board.notes
    assert "tile.drl does not say which holes are plated; all taken as plated" in board.notes


def test_zip_and_folder_and_order_give_the_same_board(tmp_path: Path) -> None:
    texts = tiny_set(txt="notes", g1=layer(LANDS), g2=layer(LANDS, pen_mm=1.1))
    from_folder = read(tmp_path / "fab", texts)
    shuffler = random.Random(3)
    for number in range(4):
        names = list(texts)
        shuffler.shuffle(names)
        packed = write_zip(tmp_path / f"{number}.zip", {f"top/{name}": texts[name] for name in names})
        from_zip = read_fabrication(packed)
        assert from_zip.files == from_folder.files
        assert from_zip.holes == from_folder.holes
        assert from_zip.notes == from_folder.notes
        assert from_zip.outline.equals_exact(from_folder.outline, tolerance=0.0)


def test_board_written_by_us_reads_back_within_a_micron(tmp_path: Path) -> None:
    edge = build_polygon([(0.0, 0.0), (33.333333, 0.0), (33.333333, 21.7654321), (0.0, 21.7654321)])
    holes = (
        Hole(start_mm=(3.123456, 4.654321), end_mm=(3.123456, 4.654321), diameter_mm=0.8, plated=True),
        Hole(start_mm=(20.0, 5.0), end_mm=(24.2468, 5.1357), diameter_mm=1.0, plated=False),
    )
    roles = ("copper_front", "copper_inner_1", "copper_inner_2", "copper_back", "mask_front", "mask_back")
    drawing = FabricationDrawing(
        name="tile",
        layers=tuple(LayerDrawing(role=role, objects=()) for role in roles),
        outline=(edge, build_circle(centre_mm=(10.0, 10.0), radius_mm=3.0)),
        holes=holes,
    )
    write_fabrication(drawing, folder=tmp_path / "fab")
    board = read_fabrication(tmp_path / "fab")
    assert board.copper_layers == 4
    assert board.outline.bounds == pytest.approx((0.0, 0.0, 33.333333, 21.7654321), abs=1e-3)
    assert len(board.outline.geoms[0].interiors) == 1
    by_plating = sorted(board.holes, key=lambda hole: not hole.plated)
    for hole, written in zip(by_plating, holes, strict=True):
        assert hole.start_mm == pytest.approx(written.start_mm, abs=1e-3)
        assert hole.end_mm == pytest.approx(written.end_mm, abs=1e-3)
        assert (hole.diameter_mm, hole.plated) == (written.diameter_mm, written.plated)


@pytest.mark.parametrize(
    ("name", "plated"),
    [
        ("tile-PTH.drl", True),
        ("tile-NPTH.drl", False),
        ("tile_plated.drl", True),
        ("tile non-plated.drl", False),
        ("unplated.drl", False),
    ],
)
def test_plating_is_told_by_the_file_name(tmp_path: Path, name: str, plated: bool) -> None:
    board = read(tmp_path, {**tiny_set(drl=None), name: drill(*HOLES)})
    assert {hole.plated for hole in board.holes} == {plated}
    assert not any("plated" in note for note in board.notes)


def test_file_beside_unplated_holes_holds_the_plated_ones(tmp_path: Path) -> None:
    board = read(tmp_path, {**tiny_set(), "tile-NPTH.drl": drill("X2.0Y2.0")})
    assert sorted(hole.plated for hole in board.holes) == [False, True, True, True, True]
    assert not any("plated" in note for note in board.notes)


def test_design_tells_the_plating(tmp_path: Path) -> None:
    text = drill(*HOLES, head="; #@! TF.FileFunction,Plated,1,2,PTH\nMETRIC")
    board = read(tmp_path, tiny_set(drl=text), drill_unplated="tile.drl")
    assert {hole.plated for hole in board.holes} == {False}


def test_holes_drawn_as_gerber_are_holes_and_slots(tmp_path: Path) -> None:
    slots = chain((3.0, 2.0), (6.0, 2.0))
    text = layer(LANDS + slots, function="NonPlated,1,2,NPTH", pen_mm=0.9)
    board = read(tmp_path, tiny_set(drl=None, gbr=text))
    assert len(board.holes) == len(LANDS_MM) + 1
    assert {(hole.diameter_mm, hole.plated) for hole in board.holes} == {(0.9, False)}
    assert (board.holes[-1].start_mm, board.holes[-1].end_mm) == ((3.0, 2.0), (6.0, 2.0))


def test_routed_cut_out_counts_as_holes(tmp_path: Path) -> None:
    route = ("G00X2.0Y2.0", "M15", "G01X6.0Y2.0", "G01X6.0Y4.0", "M16", "G05")
    board = read(tmp_path, tiny_set(drl=drill(*HOLES, *route)))
    assert sum(hole.start_mm != hole.end_mm for hole in board.holes) == 2


def test_blind_holes_are_left_out_and_said(tmp_path: Path) -> None:
    blind = drill(*HOLES, head="; #@! TF.FileFunction,Plated,1,2,Blind\nMETRIC")
    inner = {"g1": layer(LANDS), "g2": layer(LANDS, pen_mm=1.1)}
    board = read(tmp_path, tiny_set(drl=blind, **inner))
    assert board.holes == ()
    assert any("drills only part of the way (Plated,1,2,Blind)" in note for note in board.notes)


def test_missing_drill_file_is_said(tmp_path: Path) -> None:
    assert read(tmp_path, tiny_set(drl=None)).notes[-1].startswith("no drill file")


def test_mask_said_to_be_absent_is_no_drawing(tmp_path: Path) -> None:
    board = read(tmp_path, tiny_set(gbs=None), mask_back="none")
    assert "mask_back" not in board.drawings
    assert any("that face has no mask at all" in note for note in board.notes)


def test_equal_outline_files_are_one_and_unlike_ones_are_asked_for(tmp_path: Path) -> None:
    same = tiny_set(gm1=layer(loop(*reversed(BOARD_MM)), pen_mm=0.2))
    board = read(tmp_path / "same", same)
    assert {file.name: file.role for file in board.files}["tile.gm1"] == "ignored"
    unlike = tiny_set(gm1=layer(loop((0.0, 0.0), (20.0, 0.0), (20.0, 9.0), (0.0, 9.0)), pen_mm=0.1))
    with pytest.raises(FabricationError, match=r"two files could be outline: tile.gko and tile.gm1.*outline = "):
        read(tmp_path / "unlike", unlike)
    assert read(tmp_path / "told", unlike, outline="tile.gko").outline.area == pytest.approx(200.0)


def test_outline_by_attribute_stands_above_one_by_name(tmp_path: Path) -> None:
    smaller = layer(loop((0.0, 0.0), (20.0, 0.0), (20.0, 9.0), (0.0, 9.0)), function="Profile,NP", pen_mm=0.1)
    board = read(tmp_path, tiny_set(gbr=smaller))
    assert board.outline.area == pytest.approx(180.0)
    assert {file.name: file.role for file in board.files}["tile.gko"] == "ignored"


def test_file_that_closes_nothing_is_no_rival_of_the_outline(tmp_path: Path) -> None:
    board = read(tmp_path, tiny_set(gm1=layer(chain((0.0, 0.0), (20.0, 0.0)))))
    assert board.outline.area == pytest.approx(200.0)
    assert any("tile.gm1" in note and "not taken for the outline" in note for note in board.notes)


def test_outline_drawn_with_a_pen_of_no_width(tmp_path: Path) -> None:
    assert read(tmp_path, tiny_set(gko=layer(loop(*BOARD_MM), pen_mm=0.0))).outline.area == pytest.approx(200.0)


def test_odd_statements_are_passed_on_as_notes(tmp_path: Path) -> None:
    open_region = "G36*\n" + chain((1.0, 1.0), (3.0, 1.0), (3.0, 3.0)) + "G37*\n"
    board = read(tmp_path, tiny_set(gtl=layer(LANDS + open_region)))
    assert any(note.startswith("tile.gtl: ") for note in board.notes)


INCH_HOLES = tuple(f"X{x / 25.4:.4f}Y{y / 25.4:.4f}" for x, y in LANDS_MM)
OPEN_EDGE = chain((0.0, 0.4), (0.0, 10.0), (20.0, 10.0), (20.0, 0.0), (0.0, 0.0))
HUGE = tuple((x * 150.0, y) for x, y in BOARD_MM)
OUTSIDE = tuple((x + 500.0, y) for x, y in LANDS_MM)


@pytest.mark.parametrize(
    ("changes", "kind", "message"),
    [
        ({"gko": None}, FabricationError, "has no file for outline"),
        ({"gko": layer()}, FabricationError, "draws nothing"),
        ({"gko": layer(OPEN_EDGE)}, FabricationError, "a gap of 0.4 mm from (0.000, 0.000) to (0.000, 0.400) mm"),
        ({"gko": layer(loop(*HUGE))}, FabricationError, "3000"),
        ({"gtl": layer(LANDS).removesuffix("3*\nM02*\n")}, GerberError, "tile.gtl"),
        ({"drl": drill(*INCH_HOLES)}, DrillError, "only when scaled by 25.4"),
        ({"drl": drill(*HOLES, head="INCH")}, DrillError, "4 of 4 holes lie outside the board"),
        ({"drl": drill(*HOLES).removesuffix("0\nM30\n")}, DrillError, "truncated"),
        ({"drl": None, "gbr": layer(flashes(*OUTSIDE), function="Plated,1,2,PTH")}, DrillError, "4 of 4 holes"),
        ({"gts": None}, FabricationError, "no file for mask_front"),
        ({"gbr": layer(LANDS)}, FabricationError, "looks like a layer"),
    ],
)
def test_bad_set_is_one_clear_line(
    tmp_path: Path, changes: dict[str, str | None], kind: type[PaneglowError], message: str
) -> None:
    with pytest.raises(kind, match=re.escape(message)) as caught:
        read(tmp_path, tiny_set(**changes))
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400
    assert "tile." in str(caught.value) or str(tmp_path) in str(caught.value)


def test_path_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(FabricationError, match="nowhere: no such folder or .zip file"):
        read_fabrication(tmp_path / "nowhere")
