"""IPC-7351B land patterns of chip parts.

The standard's table was never seen: goals and the typical land are from memory on both sides, so the first two tests
only hold the numbers fast and prove nothing of them. The third is independent: the formulas worked by hand.
"""

import pytest

from paneglow.assembly import build_land, joint_goals
from paneglow.catalog import Body, Terminals, read_catalog

PARTS = read_catalog().parts


def edges(land):
    pad = land.pads[1]
    return pad.at_mm[0] - pad.length_mm / 2, pad.at_mm[0] + pad.length_mm / 2


def chip_1608(length_mm=1.6, width_mm=0.8, metal_mm=0.35):
    """A 1608 chip with the tolerances its data sheets usually print, +-0.1 mm on the body."""
    at = (length_mm - metal_mm) / 2
    pads = [
        {"name": name, "role": role, "at_mm": (sign * at, 0.0), "length_mm": metal_mm, "width_mm": width_mm}
        for name, role, sign in (("C", "cathode", -1), ("A", "anode", 1))
    ]
    body = Body(
        length_mm=length_mm, width_mm=width_mm, height_mm=0.6, tolerance_mm=0.1, origin="measured", source="own"
    )
    metal = {"pads": pads, "tolerance_mm": 0.15, "origin": "measured", "source": "own"}
    return PARTS["tv-0603-red"].model_copy(update={"body": body, "terminals": Terminals.model_validate(metal)})


def test_remembered_joint_goals_of_chips_of_1608_and_larger_stay():
    # IPC-7351B chip >= 1608: toe .55/.35/.15, heel -.05, side .05/.00/-.05, courtyard .50/.25/.12 mm, from memory
    goals = [joint_goals(body_length_mm=1.6, density=density) for density in ("most", "nominal", "least")]
    rows = [(goal.toe_mm, goal.heel_mm, goal.side_mm, goal.courtyard_mm) for goal in goals]
    assert rows == [(0.55, -0.05, 0.05, 0.50), (0.35, -0.05, 0.00, 0.25), (0.15, -0.05, -0.05, 0.12)]


def test_a_nominal_land_of_a_1608_chip_is_about_the_remembered_one():
    # Typical nominal pads about .95 x .95 mm at 1.6 mm pitch, from memory: "about" taken as 0.15 mm
    pad = build_land(chip_1608(), mounting="top_view").pads[1]
    assert pad.length_mm == pytest.approx(0.95, abs=0.15)
    assert pad.width_mm == pytest.approx(0.95, abs=0.15)
    assert 2 * pad.at_mm[0] == pytest.approx(1.6, abs=0.15)


def test_a_land_by_the_standards_formulas_worked_by_hand():
    # L 1.5..1.7, T 0.20..0.50, W 0.7..0.9, F = P = 0.1: Z = 1.5 + 0.7 + sqrt(.04 + .01 + .01) = 2.4449
    # S 0.5..1.3: span .8, root of squares sqrt(.04 + 2 x .09) = .46904, Smax = 1.3 - (.8 - .46904)/2 = 1.13452
    # G = 1.13452 + 0.1 - sqrt(.22 + .02) = .74463; X = 0.7 + sqrt(.06) = .94495
    inner, outer = edges(build_land(chip_1608(), mounting="top_view"))
    assert 2 * outer == pytest.approx(2.4449, abs=1e-4)
    assert 2 * inner == pytest.approx(0.7446, abs=1e-4)
    assert build_land(chip_1608(), mounting="top_view").pads[1].width_mm == pytest.approx(0.9449, abs=1e-4)
