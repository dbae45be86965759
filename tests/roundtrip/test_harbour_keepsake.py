"""The demonstration board: what is committed is what its drawing script draws, and it reads back as one board."""

import subprocess
import sys
from pathlib import Path

import pytest

from paneglow.design import read_design
from paneglow.fab import read_fabrication, read_placement

EXAMPLE = Path(__file__).parents[2] / "examples" / "harbour-keepsake"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory):
    folder = tmp_path_factory.mktemp("keepsake")
    subprocess.run([sys.executable, "-B", EXAMPLE / "draw.py", folder], check=True, capture_output=True, timeout=120)
    return folder


def test_the_committed_files_equal_a_fresh_run(fresh):
    drawn = sorted(path.name for path in (fresh / "fab").iterdir())
    assert drawn == sorted(path.name for path in (EXAMPLE / "fab").iterdir())
    for name in drawn:
        assert (fresh / "fab" / name).read_bytes() == (EXAMPLE / "fab" / name).read_bytes(), name
    assert (fresh / "placement.csv").read_bytes() == (EXAMPLE / "placement.csv").read_bytes()


def test_it_is_one_two_layer_board_of_60_by_80_mm():
    board = read_fabrication(EXAMPLE / "fab")
    assert board.copper_layers == 2
    assert len(board.outline.geoms) == 1
    # The outline's arcs are flattened by the reader to within a few um
    assert board.outline.bounds == pytest.approx((0.0, 0.0, 60.0, 80.0), abs=0.01)


def test_every_led_of_the_design_is_placed_once_and_on_the_back():
    design = read_design(EXAMPLE / "design.toml")
    rows = {row.ref: row for row in read_placement(EXAMPLE / "placement.csv")[0]}
    refs = [ref for group in design.led for ref in group.refs]
    assert len(refs) == len(set(refs)) == 16
    assert {rows[ref].side for ref in refs} == {"back"}
    assert {group.window for group in design.led} == {window.name for window in design.window}


def test_it_shows_the_styles_and_colours_it_promises():
    design = read_design(EXAMPLE / "design.toml")
    assert len(design.window) == 12
    assert {group.mounting for group in design.led} == {"lens_down", "reverse", "side_view"}
    colours = {group.part.rsplit("-", 1)[1] for group in design.led}
    assert colours == {"amber", "orange", "red", "green", "blue"}
