"""One record of how a board is built, put together from its parts."""

import pytest

from drawn_pads import PARTS, board, led, pads_at
from paneglow.assembly import survey_building
from paneglow.catalog import read_catalog
from paneglow.design import BackCover, BoardDesign, Design

CATALOG = read_catalog()
DESIGN = Design(
    name="test", board=BoardDesign(fabrication="fab/", back_cover=BackCover(distance_mm=5.0, reflectance=0.8))
)
LENS_DOWN = led("tv-0603-red", mounting="lens_down")
LEGGED = led("th-3mm-red", mounting="through_hole", ref="D2", at_mm=(18.0, 18.0))
SIDE = led("sv-1204-red", mounting="side_view", ref="D3", at_mm=(12.0, 12.0))


def surveyed(*leds):
    made = board(*pads_at(inner_mm=0.8, outer_mm=1.6, width_mm=0.9), leds=leds)
    return survey_building(DESIGN, board=made, catalog=CATALOG)


def test_minutes_of_one_board_add_up_over_what_is_built_by_hand():
    found = surveyed(LENS_DOWN, LEGGED, SIDE)
    by_hand = [way for way in found.ways if way.way == "hand"]
    assert {way.mounting for way in by_hand} == {"lens_down", "through_hole"}
    assert found.minutes_by_hand.value == pytest.approx(sum(way.minutes_each.value for way in by_hand))
    assert (found.minutes_by_hand.low, found.minutes_by_hand.origin) == (pytest.approx(0.5 + 0.7), "assumed")


def test_a_board_that_a_machine_builds_has_no_minutes():
    assert surveyed(SIDE).minutes_by_hand is None


def test_every_led_has_its_height_and_its_pads():
    found = surveyed(LENS_DOWN, SIDE)
    assert [height.ref for height in found.heights] == ["D1", "D3"]
    assert [fit.ref for fit in found.fits] == ["D1", "D3"]
    assert [(land.part, land.reason) for land in found.lands] == [("tv-0603-red", ""), ("sv-1204-red", "")]
    assert [(one.part, one.stability.stand) for one in found.standings] == [("tv-0603-red", "rocks")]


def test_a_part_without_terminals_says_why_it_has_no_land():
    bare = PARTS["tv-0603-red"].model_copy(update={"terminals": None})
    (needed,) = surveyed(led(bare, mounting="lens_down")).lands
    assert needed.land is None
    assert "states no terminals" in needed.reason
