"""How a board is built, as the report and the terminal print it."""

import pytest

from drawn_pads import board, led, pads_at
from paneglow.assembly import survey_building
from paneglow.catalog import read_catalog
from paneglow.design import BackCover, BoardDesign, Design
from paneglow.report import build_building_rows

COVERED = BoardDesign(fabrication="fab/", back_cover=BackCover(distance_mm=2.0, reflectance=0.8))


def row_of(placed, *pads):
    design = Design(name="test", board=COVERED)
    found = survey_building(design, board=board(*pads, leds=(placed,)), catalog=read_catalog())
    (row,) = build_building_rows(found)
    return row


def test_a_part_built_by_hand_tells_why_how_long_and_how_it_stands():
    row = row_of(led("tv-0603-red", mounting="lens_down"), *pads_at(inner_mm=0.8, outer_mm=1.6, width_mm=0.9))
    assert (row.way, row.chip, row.stand) == ("by hand", "open", "rocks")
    assert "no machine turns it over" in row.reasons
    assert row.minutes == "1.2 min (0.50\N{EN DASH}2.5, assumed)"
    assert row.height == "0.85 mm, 1.1 mm to the cover"  # 0.6 mm and its tolerance of 0.25 mm


@pytest.mark.parametrize(
    ("pads", "goals", "words"),
    [
        ({"inner_mm": 0.9, "outer_mm": 2.4, "width_mm": 1.8}, "most", "most generous goals; toe 0.80 mm"),
        (
            {"inner_mm": 0.9, "outer_mm": 1.9, "width_mm": 1.8},
            "least",
            "least goals; toe 0.30 mm; overhang allowed in class 3",
        ),
        ({"inner_mm": 0.9, "outer_mm": 1.65, "width_mm": 1.8}, "below least", "below the least goals"),
        ({"inner_mm": 0.9, "outer_mm": 2.4, "width_mm": 1.6, "shift_mm": 0.9}, "most", "not allowed in any class"),
    ],
)
def test_what_the_lands_reach_is_told_with_numbers(pads, goals, words):
    row = row_of(led("tv-1206-red", mounting="top_view"), *pads_at(**pads))
    assert row.goals == goals
    assert words in row.joints


def test_a_missing_land_is_told():
    row = row_of(led("tv-1206-red", mounting="top_view"))
    assert (row.goals, row.joints) == ("missing", "a pad is missing")


def test_a_part_on_a_carrier_has_no_lands_here():
    row = row_of(led("tv-1206-red", mounting="carrier"))
    assert (row.goals, row.joints) == ("not here", "not on this board")


def test_the_land_to_draw_names_its_opening():
    row = row_of(led("co-1206-red", mounting="cutout"))
    assert "drilled hole 2.20 x 2.20 mm" in row.land
