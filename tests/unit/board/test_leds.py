"""LEDs in place: from refs or points, with their windows, and every refusal in one line."""

import pytest

from paneglow.board import PlacementRead, survey_windows
from paneglow.board.leds import Ground, place_leds
from paneglow.catalog import read_catalog
from paneglow.design import BoardDesign, Design, LedGroup, WindowDesign
from paneglow.errors import CatalogError, DesignError
from paneglow.fab import PlacementRow, PlacementRule

from .drawing import Box, Disc, board

CATALOG = read_catalog()
PART = next(iter(CATALOG.parts))
LEFT, RIGHT = Box((-5, 0), (3, 3)), Box((5, 0), (3, 3))
MAPS = board(clear=[LEFT, RIGHT], holes=[Disc((0, 5), 3.0), Disc((0, -5), 0.5)])
WINDOWS = (WindowDesign(name="lantern", at_mm=(-5, 0)), WindowDesign(name="door", at_mm=(5, 0)))
SURVEY = survey_windows(MAPS, named=WINDOWS)


def row(ref, at, *, side="back", rotation=0.0):
    return PlacementRow(ref=ref, x_mm=at[0], y_mm=at[1], rotation_deg=rotation, side=side, value="", package="", line=7)


ROWS = {one.ref: one for one in (row("D1", (-3, 0), rotation=203.0), row("D2", (3, 0)), row("D3", (4, 4), side=None))}


def place(*, rows=ROWS, survey=SURVEY, maps=MAPS, **led):
    group = LedGroup(**{"part": PART, "mounting": "lens_down", "current_ma": 2.0, **led})
    design = Design(name="test", board=BoardDesign(fabrication="fab"), led=(group,), window=WINDOWS)
    placement = None if rows is None else PlacementRead(rows=tuple(rows.values()), rule=PlacementRule())
    return place_leds(design, ground=Ground(maps=maps, survey=survey, placement=placement), catalog=CATALOG)


def test_refs_take_place_rotation_and_side_from_the_placement_file():
    (led,), notes = place(refs=("D1",), window="door")
    assert (led.ref, led.at_mm, led.rotation_deg, led.side, led.window) == ("D1", (-3, 0), 203.0, "back", "door")
    assert (led.part.code, led.current_ma) == (PART, 2.0)
    assert any("looked at through the board from the front" in note for note in notes)


def test_a_rotation_of_the_design_turns_parts_of_the_placement_file_further_and_says_so():
    (led,), notes = place(refs=("D1",), window="door", rotation_deg=90.0)
    assert led.rotation_deg == 293.0
    assert any("rotation_deg 90 is added" in note for note in notes)


def test_a_file_without_sides_leaves_the_side_to_the_design():
    assert place(refs=("D3",), window="door")[0][0].side == "back"
    assert place(refs=("D3",), window="door", side="front")[0][0].side == "front"


def test_a_point_places_an_led_without_any_file():
    (led,), notes = place(rows=None, at_mm=(-4.5, 0.5), rotation_deg=30.0, side="front", window="lantern")
    assert (led.at_mm, led.rotation_deg, led.side) == ((-4.5, 0.5), 30.0, "front")
    assert notes == ()


def test_an_led_without_a_window_takes_the_nearest_and_says_so():
    leds, notes = place(refs=("D1", "D2"))
    assert [led.window for led in leds] == ["lantern", "door"]
    assert "led D1 names no window; the nearest, lantern, is taken (0.50 mm away)" in notes


def test_a_part_in_a_hole_away_from_every_window_lights_none_and_says_so():
    (led,), notes = place(at_mm=(0, 5), mounting="through_hole")
    assert led.window is None
    assert any("shines through its own hole" in note for note in notes)


def test_on_a_board_without_windows_an_led_has_none():
    leds, notes = place(survey=survey_windows(board()), at_mm=(0, 0))
    assert leds[0].window is None
    assert "the board has none" in notes[0]


def test_a_part_in_a_hole_on_purpose_is_fine_and_a_via_under_a_body_too():
    assert place(at_mm=(0, 5), mounting="through_hole", window="door")[0]
    assert place(at_mm=(0, -5), window="door")[0]


def test_a_part_longer_than_the_cut_out_under_it_stands_on_both_its_banks():
    # Published boards solder chip LEDs of 3.2 mm across routed slots of 1 to 2 mm; half a millimetre at each end holds
    slot = board(clear=[LEFT, RIGHT], holes=[Disc((0, 5), 1.5)])
    leds, notes = place(maps=slot, part="tv-1206-red", at_mm=(0, 5), window="door")
    assert leds[0].at_mm == (0, 5)
    assert any("lies across a hole or cut-out" in note for note in notes)


@pytest.mark.parametrize(
    ("led", "says"),
    [
        ({"refs": ("D9",)}, "led D9 is not in the placement file; near to it are D3, D2, D1"),
        ({"refs": ("D1",), "rows": None}, "refs need a placement file"),
        ({"refs": ("D1",), "side": "front"}, "the design says side 'front', line 7 of the placement file 'back'"),
        ({"at_mm": (12, 0)}, "is 2.00 mm off the board"),
        ({"at_mm": (0, 5)}, "sits on a hole or cut-out"),
        ({"at_mm": (0, 0), "window": "lantrn"}, "window 'lantrn' does not exist; the nearest name is lantern"),
    ],
)
def test_what_cannot_be_is_one_clear_line(led, says):
    with pytest.raises(DesignError) as caught:
        place(**led)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_part_that_does_not_exist_is_named_with_its_nearest():
    with pytest.raises(CatalogError, match=PART):
        place(at_mm=(0, 0), part=PART + "x")
