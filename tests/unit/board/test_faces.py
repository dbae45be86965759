"""Face maps of a fabrication set with known areas."""

from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from paneglow.board import build_face_maps, survey_windows
from paneglow.fab import Fabrication, Hole, parse_gerber

AREA_SHARE = 0.005  # the promise of the tool
HEAD = "%FSLAX46Y46*%\n%MOMM*%\n%LPD*%\n"
POUR = (
    HEAD + "G36*\nX0Y0D02*\nG01*\nX20000000Y0D01*\nX20000000Y10000000D01*\nX0Y10000000D01*\nX0Y0D01*\nG37*\n"
    "%LPC*%\n%ADD10R,4.0X3.0*%\nD10*\nX5000000Y5000000D03*\nM02*\n"
)
OPENING = HEAD + "%ADD10R,4.2X3.2*%\nD10*\nX5000000Y5000000D03*\nM02*\n"


def fabrication(**drawings):
    return Fabrication(
        source=Path("set"),
        files=(),
        drawings={role: parse_gerber(text, path=role) for role, text in drawings.items()},
        holes=(
            Hole(start_mm=(15, 5), end_mm=(15, 5), diameter_mm=2.0, plated=True),
            Hole(start_mm=(10, 2), end_mm=(12, 2), diameter_mm=1.0, plated=False),
        ),
        outline=MultiPolygon([box(0, 0, 20, 10).difference(box(17, 1, 19, 2))]),
        copper_layers=2,
    )


def area(cover, maps):
    return float(cover.sum(dtype=np.float64)) * maps.grid.pixel_area_mm2


@pytest.mark.parametrize("pitch_mm", [0.05, 0.07])
def test_areas_of_every_map(pitch_mm):
    maps = build_face_maps(
        fabrication(copper_front=POUR, copper_back=POUR, mask_front=OPENING, legend_front=OPENING), pitch_mm=pitch_mm
    )
    slot = 2.0 + np.pi / 4
    assert area(maps.outline_inside, maps) == pytest.approx(198, rel=AREA_SHARE)
    assert area(maps.holes, maps) == pytest.approx(np.pi + slot, rel=AREA_SHARE)
    assert area(maps.plated_holes, maps) == pytest.approx(np.pi, rel=AREA_SHARE)
    assert area(maps.inside, maps) == pytest.approx(198 - np.pi - slot, rel=AREA_SHARE)
    assert area(maps.copper_front, maps) == pytest.approx(198 - 12, rel=AREA_SHARE)
    assert area(maps.mask_front, maps) == pytest.approx(198 - 4.2 * 3.2, rel=AREA_SHARE)
    assert area(maps.legend_front, maps) == pytest.approx(4.2 * 3.2, rel=AREA_SHARE)
    assert area(maps.mask_back, maps) == 0.0, "a face without a mask layer is bare"
    (window,) = survey_windows(maps).windows
    assert window.area_mm2 == pytest.approx(12, rel=AREA_SHARE)
    assert window.centre_mm == pytest.approx((5, 5), abs=1.0)


def test_maps_are_seen_from_the_front_with_the_lowest_row_first():
    maps = build_face_maps(fabrication(copper_front=POUR, copper_back=POUR, mask_front=OPENING), pitch_mm=0.1)
    hole = maps.grid.pixel_at(x_mm=15, y_mm=5)
    slot = maps.grid.pixel_at(x_mm=11, y_mm=2)
    assert maps.holes[hole] == maps.holes[slot] == 1.0
    assert maps.plated_holes[slot] == 0.0
    assert {array.shape for array in (maps.inside, maps.copper_front, maps.mask_back)} == {maps.grid.shape}
