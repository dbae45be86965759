"""IPC-A-610 chip parts, revision F ballot (2014) and H (2020), as quoted in docs/sources.md.

Side overhang at most 50 % of the width of terminal or land, whichever is less (classes 1 and 2), 25 % (class 3); end
overhang not permitted; end joint width at least 50 % (1 and 2), 75 % (3).
"""

import pytest

from drawn_pads import board, led, pads_at
from paneglow.assembly import fit_land

WIDTH_MM = 1.6  # of the terminals of the 1206 chip
FINE_MM = 0.02  # the raster finds straight edges to 0.01 mm; limits are tried this far to either side


def joints(**pads):
    placed = led("tv-1206-red", mounting="top_view")
    drawn = pads_at(**{"inner_mm": 1.0, "outer_mm": 2.0, "width_mm": WIDTH_MM} | pads)
    found = fit_land(placed, board=board(*drawn)).joints
    assert len(found) == 2
    return found


@pytest.mark.parametrize(
    ("overhang_frac", "strictest"),
    [(0.0, 3), (0.24, 3), (0.26, 2), (0.49, 2), (0.51, None), (0.8, None)],
)
def test_side_overhang_decides_the_class(overhang_frac, strictest):
    for joint in joints(shift_mm=overhang_frac * WIDTH_MM):
        assert joint.side_overhang_frac == pytest.approx(overhang_frac, abs=FINE_MM / WIDTH_MM)
        assert joint.workmanship == strictest


def test_overhang_counts_against_the_narrower_of_terminal_and_land():
    # A land of half the terminal's width, centred: 0.4 mm of metal hangs over on each side, half of the land's 0.8 mm
    for joint in joints(width_mm=WIDTH_MM / 2 + FINE_MM):
        assert joint.side_overhang_frac == pytest.approx(0.5, abs=0.02)
        assert joint.workmanship == 2


@pytest.mark.parametrize(("outer_mm", "allowed"), [(1.62, True), (1.5, False)])
def test_end_overhang_is_not_permitted_in_any_class(outer_mm, allowed):
    for joint in joints(outer_mm=outer_mm):
        assert (joint.workmanship is not None) == allowed


@pytest.mark.parametrize("joint_frac", [0.74, 0.49])
def test_end_joint_width_decides_the_class(joint_frac):
    for joint in joints(shift_mm=(1 - joint_frac) * WIDTH_MM):
        assert joint.end_joint_frac == pytest.approx(joint_frac, abs=0.02)
        assert joint.workmanship == (2 if joint_frac > 0.5 else None)
