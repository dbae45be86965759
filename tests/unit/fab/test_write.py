"""The writer: what stands in the files, and what is left on disk."""

import math
import re
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from shapely.geometry import Point as ShapelyPoint

from paneglow.errors import FabricationError
from paneglow.fab import (
    Arc,
    FabricationDrawing,
    Flash,
    Hole,
    LayerDrawing,
    Line,
    ObroundAperture,
    RectangleAperture,
    Region,
    RoundAperture,
    Stroke,
    build_circle,
    build_path,
    build_polygon,
    build_regions,
    build_text,
    text_width_mm,
    write_fabrication,
)

SQUARE = build_polygon([(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)])


def board(*objects, name="tile", outline=(SQUARE,), holes=(), layers=()):
    """Board with the objects on its front copper."""
    front = LayerDrawing(role="copper_front", objects=objects)
    return FabricationDrawing(
        name=name,
        layers=(front, LayerDrawing(role="copper_back", objects=()), *layers),
        outline=outline,
        holes=holes,
    )


def written(drawing, folder, file):
    write_fabrication(drawing, folder=folder)
    return (folder / file).read_text(encoding="ascii")


def test_a_gerber_file_states_format_unit_function_and_carries_no_date(tmp_path):
    text = written(board(), tmp_path / "fab", "tile-copper-front.gbr")
    for line in (
        "%FSLAX46Y46*%",
        "%MOMM*%",
        "%TF.Part,Single*%",
        "%TF.SameCoordinates,tile*%",
        "%TF.FileFunction,Copper,L1,Top*%",
        "%TF.FilePolarity,Positive*%",
    ):
        assert line in text.splitlines()
    assert "CreationDate" not in text
    assert text.endswith("M02*\n")


def test_every_layer_names_its_function(tmp_path):
    roles = ("copper_inner_1", "copper_inner_2", "mask_front", "mask_back", "legend_front", "legend_back")
    write_fabrication(
        board(layers=tuple(LayerDrawing(role=role, objects=()) for role in roles)), folder=tmp_path / "fab"
    )
    functions = {}
    for path in (tmp_path / "fab").iterdir():
        text = path.read_text()
        functions[path.name] = (
            re.search(r"FileFunction,([^*\n]*)", text).group(1),
            re.search(r"FilePolarity,([^*\n]*)", text).group(1),
        )
    assert functions == {
        "tile-copper-front.gbr": ("Copper,L1,Top", "Positive"),
        "tile-copper-inner-1.gbr": ("Copper,L2,Inr", "Positive"),
        "tile-copper-inner-2.gbr": ("Copper,L3,Inr", "Positive"),
        "tile-copper-back.gbr": ("Copper,L4,Bot", "Positive"),
        "tile-mask-front.gbr": ("Soldermask,Top", "Negative"),
        "tile-mask-back.gbr": ("Soldermask,Bot", "Negative"),
        "tile-legend-front.gbr": ("Legend,Top", "Positive"),
        "tile-legend-back.gbr": ("Legend,Bot", "Positive"),
        "tile-outline.gbr": ("Profile,NP", "Positive"),
    }


def test_coordinates_are_millionths_of_a_millimetre(tmp_path):
    flash = Flash(at_mm=(1.5, -0.000001), aperture=RoundAperture(diameter_mm=0.25))
    text = written(board(flash), tmp_path / "fab", "tile-copper-front.gbr")
    assert "%ADD10C,0.25*%" in text
    assert "X1500000Y-1D03*" in text


def test_apertures_of_one_shape_and_function_share_a_code(tmp_path):
    pad = RectangleAperture(width_mm=1.0, height_mm=2.0)
    objects = (
        Flash(at_mm=(1.0, 1.0), aperture=pad, function="SMDPad,CuDef"),
        Flash(at_mm=(2.0, 1.0), aperture=ObroundAperture(width_mm=1.0, height_mm=2.0)),
        Flash(at_mm=(3.0, 1.0), aperture=pad, function="SMDPad,CuDef"),
        Flash(at_mm=(4.0, 1.0), aperture=pad),
    )
    text = written(board(*objects), tmp_path / "fab", "tile-copper-front.gbr")
    assert [line for line in text.splitlines() if line.startswith("%AD")] == [
        "%ADD10R,1X2*%",
        "%ADD11O,1X2*%",
        "%ADD12R,1X2*%",
    ]
    assert text.index("%TA.AperFunction,SMDPad,CuDef*%") < text.index("%ADD10") < text.index("%TD*%")


def test_a_turned_rectangle_is_an_aperture_macro_in_degrees(tmp_path):
    pad = RectangleAperture(width_mm=1.0, height_mm=2.0, rotation_rad=math.radians(30))
    text = written(board(Flash(at_mm=(1.0, 1.0), aperture=pad)), tmp_path / "fab", "tile-copper-front.gbr")
    assert "%AMTURNED*\n21,1,$1,$2,0,0,$3*%" in text
    assert "%ADD10TURNED,1X2X30*%" in text


def test_polarity_changes_only_where_it_must(tmp_path):
    circle = build_circle(centre_mm=(5.0, 5.0), radius_mm=1.0)
    objects = tuple(Region(contour=circle, dark=dark) for dark in (True, False, False, True))
    text = written(board(*objects), tmp_path / "fab", "tile-copper-front.gbr")
    assert re.findall(r"%LP[DC]", text) == ["%LPD", "%LPC", "%LPD"]


def test_a_tiny_arc_is_not_written_as_a_full_circle(tmp_path):
    # Both ends round to the same millionth; an arc command would then mean a whole turn
    tiny = Arc(start_mm=(1.0, 0.0), end_mm=(1.0, 2e-7), centre_mm=(0.0, 0.0), clockwise=False)
    text = written(board(Stroke(path=(tiny,), pen_mm=0.1)), tmp_path / "fab", "tile-copper-front.gbr")
    assert "G03" not in text
    assert "G02" not in text


def test_a_nearly_full_arc_stays_a_circle(tmp_path):
    nearly = Arc(start_mm=(1.0, 0.0), end_mm=(1.0, -2e-7), centre_mm=(0.0, 0.0), clockwise=False)
    text = written(board(Stroke(path=(nearly,), pen_mm=0.1)), tmp_path / "fab", "tile-copper-front.gbr")
    assert "G03*\nX1000000Y0I-1000000J0D01*" in text


def test_plated_and_unplated_holes_go_to_files_of_their_own(tmp_path):
    holes = (
        Hole(start_mm=(1.0, 2.0), end_mm=(1.0, 2.0), diameter_mm=0.3, plated=True),
        Hole(start_mm=(5.0, 5.0), end_mm=(8.0, 5.0), diameter_mm=1.0, plated=False),
    )
    write_fabrication(board(holes=holes), folder=tmp_path / "fab")
    plated = (tmp_path / "fab" / "tile-drill-plated.drl").read_text()
    unplated = (tmp_path / "fab" / "tile-drill-unplated.drl").read_text()
    assert plated.startswith("M48\n")
    assert "; #@! TF.FileFunction,Plated,1,2,PTH\n" in plated
    assert "METRIC\nT1C0.3000\n%\nG05\nT1\nX1.0000Y2.0000\n" in plated
    assert "; #@! TF.FileFunction,NonPlated,1,2,NPTH\n" in unplated
    assert "X5.0000Y5.0000G85X8.0000Y5.0000\n" in unplated


def test_a_polygon_with_a_hole_clears_the_hole_after_it():
    ring = ShapelyPoint(0, 0).buffer(2).difference(ShapelyPoint(0, 0).buffer(1))
    assert [region.dark for region in build_regions(ring)] == [True, False]
    assert [region.dark for region in build_regions(ring, dark=False)] == [False, True]


def test_equal_drawings_give_equal_bytes(tmp_path):
    drawing = board(*build_text("Dusk 7", at_mm=(2.0, 2.0), height_mm=2.0, pen_mm=0.2))
    first = write_fabrication(drawing, folder=tmp_path / "one")
    second = write_fabrication(drawing, folder=tmp_path / "two")
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


def test_a_second_run_replaces_its_own_files_and_drops_those_no_longer_drawn(tmp_path):
    hole = Hole(start_mm=(1.0, 2.0), end_mm=(1.0, 2.0), diameter_mm=0.3, plated=True)
    folder = tmp_path / "fab"
    write_fabrication(board(holes=(hole,)), folder=folder)
    (folder / "tile-notes.txt").write_text("keep me")
    write_fabrication(board(), folder=folder)
    assert sorted(path.name for path in folder.iterdir()) == [
        "tile-copper-back.gbr",
        "tile-copper-front.gbr",
        "tile-notes.txt",
        "tile-outline.gbr",
    ]


@pytest.mark.parametrize(
    "edit",
    [
        lambda _text: "drawn by hand",
        lambda text: text.replace("G75*", "G75*\nG01*"),
        lambda text: text.replace("M02*", "X0Y0D03*\nM02*"),
    ],
)
def test_a_file_written_or_edited_by_someone_else_is_kept(tmp_path, edit):
    folder = tmp_path / "fab"
    path, *_ = write_fabrication(board(), folder=folder)
    path.write_text(edit(path.read_text()))
    before = path.read_text()
    with pytest.raises(FabricationError, match="tile-copper-front.gbr.*overwrite=True"):
        write_fabrication(board(), folder=folder)
    assert path.read_text() == before
    write_fabrication(board(), folder=folder, overwrite=True)
    assert path.read_text() != before


def test_line_ends_changed_by_a_version_control_still_count_as_our_file(tmp_path):
    path, *_ = write_fabrication(board(), folder=tmp_path / "fab")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    write_fabrication(board(), folder=tmp_path / "fab")
    assert b"\r" not in path.read_bytes()


def test_an_error_or_a_stop_half_way_leaves_nothing_behind(tmp_path, monkeypatch):
    def stop(*_args, **_kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "rename", stop)
    with pytest.raises(KeyboardInterrupt):
        write_fabrication(board(), folder=tmp_path / "fab")
    assert list(tmp_path.iterdir()) == []


def test_a_new_folder_can_be_entered_like_any_other(tmp_path):
    write_fabrication(board(), folder=tmp_path / "fab")
    (tmp_path / "plain").mkdir()
    assert stat.S_IMODE((tmp_path / "fab").stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(FabricationError, match="cannot be written"):
        write_fabrication(board(), folder=tmp_path / "file" / "fab")


OPEN = build_path([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)])
GAP = (Line(start_mm=(0.0, 0.0), end_mm=(1.0, 0.0)), Line(start_mm=(2.0, 0.0), end_mm=(0.0, 0.0)))
CROOKED = Arc(start_mm=(1.0, 0.0), end_mm=(0.0, 2.0), centre_mm=(0.0, 0.0), clockwise=False)
PAD = RoundAperture(diameter_mm=1.0)


@pytest.mark.parametrize(
    ("drawing", "words"),
    [
        (board(Region(contour=OPEN)), "must close"),
        (board(Region(contour=GAP)), "breaks off"),
        (board(Stroke(path=(), pen_mm=0.1)), "no segment"),
        (board(Stroke(path=(CROOKED,), pen_mm=0.1)), "radii 1.0000 and 2.0000"),
        (board(Stroke(path=OPEN, pen_mm=0.0)), "above 0"),
        (board(Flash(at_mm=(math.nan, 0.0), aperture=PAD)), "allowed is -9999 to 9999"),
        (board(Flash(at_mm=(0.0, 1e5), aperture=PAD)), "allowed is -9999 to 9999"),
        (board(name="../up"), "start file names"),
        (board(outline=()), "no outline"),
        (board(outline=(OPEN,)), "must close"),
        (board(layers=(LayerDrawing(role="copper_back", objects=()),)), "copper_back twice"),
        (board(holes=(Hole(start_mm=(0, 0), end_mm=(0, 0), diameter_mm=-1, plated=True),)), "diameter -1"),
        (board(holes=(Hole(start_mm=(math.inf, 0), end_mm=(0, 0), diameter_mm=1, plated=True),)), "a hole lies at"),
        (FabricationDrawing(name="tile", layers=(), outline=(SQUARE,)), "no layer copper_back"),
    ],
)
def test_a_drawing_that_cannot_be_made_is_refused_before_anything_is_written(tmp_path, drawing, words):
    with pytest.raises(FabricationError, match=re.escape(words)):
        write_fabrication(drawing, folder=tmp_path / "fab")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("points", [[], [(0.0, 0.0)], [(0.0, 0.0), (0.0, 0.0)]])
def test_a_path_needs_a_length(points):
    with pytest.raises(FabricationError, match="no length"):
        build_path(points)


def test_a_polygon_needs_three_corners():
    with pytest.raises(FabricationError, match="three different corners"):
        build_polygon([(0.0, 0.0), (1.0, 0.0), (0.0, 0.0)])


def ends(strokes):
    return [point for stroke in strokes for segment in stroke.path for point in (segment.start_mm, segment.end_mm)]


def test_text_is_as_wide_as_stated_and_as_high_as_its_capitals():
    points = ends(build_text("HUZZAH", at_mm=(3.0, 4.0), height_mm=2.0, pen_mm=0.2))
    width = text_width_mm("HUZZAH", height_mm=2.0)
    assert min(x for x, _ in points) == pytest.approx(3.0)
    assert max(x for x, _ in points) == pytest.approx(3.0 + width)
    assert min(y for _, y in points) == pytest.approx(4.0)
    assert max(y for _, y in points) == pytest.approx(6.0)


def test_mirrored_text_is_the_mirror_image_and_turns_its_arcs():
    plain = build_text("S", at_mm=(0.0, 0.0), height_mm=1.0, pen_mm=0.1)
    mirrored = build_text("S", at_mm=(0.0, 0.0), height_mm=1.0, pen_mm=0.1, mirrored=True)
    assert [(-x, y) for x, y in ends(plain)] == ends(mirrored)
    assert [s.clockwise for s in plain[0].path] == [not s.clockwise for s in mirrored[0].path]


def test_every_sign_of_the_alphabet_joins_and_its_arcs_are_circles(tmp_path):
    text = "ABCDEFGHIJKLMNOPQRSTUVWXYZ abcxyz 0123456789 +-.,:/'()"
    strokes = build_text(text, at_mm=(0.0, 0.0), height_mm=2.0, pen_mm=0.2, align="centre", rotation_rad=0.3)
    write_fabrication(board(*strokes), folder=tmp_path / "fab")
    for stroke in strokes:
        for arc in stroke.path:
            if isinstance(arc, Arc):
                assert math.dist(arc.start_mm, arc.centre_mm) == pytest.approx(math.dist(arc.end_mm, arc.centre_mm))


def test_a_sign_outside_the_alphabet_is_named():
    with pytest.raises(FabricationError, match="no sign '€'"):
        build_text("€", at_mm=(0.0, 0.0), height_mm=1.0, pen_mm=0.1)


def test_a_kill_before_the_last_rename_leaves_no_folder(tmp_path):
    script = f"""
import os, signal
from pathlib import Path
from paneglow.fab import FabricationDrawing, LayerDrawing, build_circle, write_fabrication
Path.rename = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
layers = tuple(LayerDrawing(role=role, objects=()) for role in ("copper_front", "copper_back"))
outline = build_circle(centre_mm=(0.0, 0.0), radius_mm=9.0)
drawing = FabricationDrawing(name="tile", layers=layers, outline=(outline,))
write_fabrication(drawing, folder=Path({str(tmp_path)!r}) / "fab")
"""
    killed = subprocess.run([sys.executable, "-c", script], check=False, timeout=60)
    assert killed.returncode == -signal.SIGKILL
    assert not (tmp_path / "fab").exists()
