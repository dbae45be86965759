"""Tiny Gerber files, one construct each, against areas worked out by hand."""

import json
from pathlib import Path

import pytest

from paneglow.fab import draw_coverage, parse_gerber
from paneglow.grid import Grid

DATA = Path(__file__).parents[2] / "data" / "gerber"
PITCH_MM = 0.05  # the default of the tool


def area_mm2(path: Path, *, pitch_mm: float = PITCH_MM) -> float:
    drawing = parse_gerber(path.read_text(), path=path)
    bounds = drawing.bounds_mm
    assert bounds is not None
    grid = Grid.over(bounds_mm=bounds, pitch_mm=pitch_mm, margin_mm=0.2)
    return float(draw_coverage(drawing, grid=grid).sum(dtype=float)) * grid.pixel_area_mm2


MICRO = json.loads((DATA / "micro" / "expected.json").read_text())


@pytest.mark.parametrize("name", sorted(MICRO))
def test_published_tiny_file_has_its_area(name: str) -> None:
    # 3 % is the tolerance the files were published with; 0.5 % is what the project promises, and what is measured
    # here is 0.16 % at most.
    assert area_mm2(DATA / "micro" / f"{name}.gbr") == pytest.approx(MICRO[name]["area_mm2"], rel=0.005)
