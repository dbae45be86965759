"""A resistor turned a quarter lies across its lands; what most parts of a kind do is taken for right."""

from dataclasses import replace

import pytest
import shapely
import shapely.affinity
from shapely.geometry import box

from paneglow.assembly.other_rows import find_across_lands
from paneglow.board import CopperNets, Land, turn_between
from paneglow.fab import PlacementRow, PlacementRule
from polarity_boards import BOTTOMS

ANGLES_DEG = (0.0, 30.0, 90.0, 200.0, 315.0)


def board():
    """Five resistors at different angles, with two lands each."""
    lands, rows = [], []
    for number, deg in enumerate(ANGLES_DEG, start=1):
        middle = (10.0 * number, 0.0)
        for sign in (-0.8, 0.8):
            plain = box(sign - 0.3, -0.4, sign + 0.3, 0.4)
            land = shapely.affinity.rotate(plain, deg, origin=(0, 0))
            moved = shapely.affinity.translate(land, *middle)
            lands.append(Land(side="back", polygon=moved, net=len(lands), is_pad=True))
        rows.append(
            PlacementRow(
                ref=f"R{number}",
                x_mm=middle[0],
                y_mm=middle[1],
                rotation_deg=deg,
                side="back",
                value="",
                package="",
                line=number,
            )
        )
    nets = CopperNets(pieces=(), names={}, pins=(), lands=tuple(lands), conflicts=(), tree=shapely.STRtree([]))
    return nets, tuple(rows)


def under(rule, rows):
    return tuple(
        replace(row, rotation_deg=turn_between(row.rotation_deg, side="back", given=PlacementRule(), wanted=rule))
        for row in rows
    )


@pytest.mark.parametrize("bottom", BOTTOMS)
@pytest.mark.parametrize("turned_deg", [90.0, 270.0])
def test_only_the_row_that_was_turned_lies_across(bottom, turned_deg):
    nets, rows = board()
    rule = PlacementRule(bottom=bottom)
    plain = under(rule, rows)
    assert find_across_lands(plain, rule=rule, nets=nets, leds=()) == ()
    spoilt = tuple(
        replace(row, rotation_deg=row.rotation_deg + turned_deg) if row.ref == "R3" else row for row in plain
    )
    assert [(one.ref, one.off_deg) for one in find_across_lands(spoilt, rule=rule, nets=nets, leds=())] == [
        ("R3", 90.0)
    ]


def test_half_a_turn_of_a_part_without_polarity_is_no_fault():
    nets, rows = board()
    spoilt = tuple(replace(row, rotation_deg=row.rotation_deg + 180.0) for row in rows)
    assert find_across_lands(spoilt, rule=PlacementRule(), nets=nets, leds=()) == ()


def test_a_drawing_whose_parts_stand_upright_at_zero_is_no_fault():
    nets, rows = board()
    upright = tuple(replace(row, rotation_deg=row.rotation_deg + 90.0) for row in rows)
    assert find_across_lands(upright, rule=PlacementRule(), nets=nets, leds=()) == ()


def test_leds_and_parts_between_no_two_lands_are_left_out():
    nets, rows = board()
    turned = replace(rows[2], rotation_deg=0.0)
    assert find_across_lands([turned], rule=PlacementRule(), nets=nets, leds=("R3",)) == ()
    assert find_across_lands([replace(turned, x_mm=33.0)], rule=PlacementRule(), nets=nets, leds=()) == ()
