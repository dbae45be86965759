"""A placement file whose parts miss their pads all alike is refused in one line that says how they lie."""

import re
import shutil
from pathlib import Path

import pytest

from paneglow.errors import PlacementError
from paneglow.pipeline import check_design

HARBOUR = Path(__file__).parents[3] / "examples" / "harbour-keepsake"
WIDTH_MM = 60.0  # of the plaque, whose lower left corner is the origin
LEFT_MM, RIGHT_MM = 0.0, WIDTH_MM


@pytest.fixture
def design(tmp_path):
    for name in ("fab", "parts"):
        shutil.copytree(HARBOUR / name, tmp_path / name)
    for name in ("design.toml", "placement.csv"):
        shutil.copy(HARBOUR / name, tmp_path)
    return tmp_path


def rewrite(design, change):
    path = design / "placement.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    cells = [row.split(",") for row in rows]
    places = [change(float(row[1]), float(row[2])) for row in cells]
    moved = [",".join([row[0], f"{x:.3f}", f"{y:.3f}", *row[3:]]) for row, (x, y) in zip(cells, places, strict=True)]
    path.write_text("\n".join([head, *moved]) + "\n", encoding="utf-8")


def refusal(design):
    with pytest.raises(PlacementError) as refused:
        check_design(design)
    (line,) = str(refused.value).splitlines()
    return line


@pytest.mark.parametrize("shift_mm", [(0.5, 0.0), (-3.0, 1.25), (2.54, 2.54)])
def test_another_origin_is_told_with_the_way_back(design, shift_mm):
    rewrite(design, lambda x, y: (x + shift_mm[0], y + shift_mm[1]))
    told = re.search(r"all are moved by \((-?[\d.]+), (-?[\d.]+)\) mm", refusal(design))
    assert [float(told[1]), float(told[2])] == pytest.approx([-shift_mm[0], -shift_mm[1]], abs=0.06)


def test_a_file_that_counts_x_from_the_other_edge_is_told_to_be_mirrored(design):
    rewrite(design, lambda x, y: (WIDTH_MM - x, y))
    assert "if all are mirrored left to right" in refusal(design)


def test_exchanged_axes_are_told(design):
    rewrite(design, lambda x, y: (y, x))
    assert "if all are read with x and y exchanged, " in refusal(design)


def test_a_file_that_puts_every_part_on_the_wrong_face_is_told(design):
    path = design / "placement.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",Bottom,", ",Top,"), encoding="utf-8")
    assert "if all are put on the other face" in refusal(design)


def test_parts_that_stand_right_but_for_a_few_are_judged_one_by_one(design):
    path = design / "placement.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r"^(D11|R11),([\d.]+)", lambda row: f"{row[1]},{float(row[2]) + 3}", text, flags=re.M))
    assert {finding.subject for finding in check_design(design).findings if finding.severity == "error"} >= {
        "D11",
        "R11",
    }
