"""The bench sheet: every LED in its place as the person sees the back, with its signs, its step and its tick box."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from paneglow.assembly import NO_BUILDING, assemble
from paneglow.fab import PlacementRule
from paneglow.report import render_bench_sheet
from paneglow.report.bench_sheet import MARGIN_MM
from polarity_boards import Made, make_case, right_rows, through_file

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def made():
    case = make_case(5)
    board = Made(case)
    rule = PlacementRule()
    placed = board.board(through_file(right_rows(case, rule), dialect="comma-mm", rule=rule))
    return placed, assemble(case.design, board=placed, catalog=case.catalog)


def sheet_of(board, assembled):
    return render_bench_sheet(board, polarity=assembled.polarity, building=assembled.building)


def drawings(page):
    return [ElementTree.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)]


def test_every_led_has_a_step_a_tick_box_and_its_reel_a_test(made):
    board, assembled = made
    page = sheet_of(board, assembled)
    for led in board.leds:
        assert len(re.findall(rf'class="box"></span>{led.ref}</span>', page)) == 1
        assert re.search(rf">{led.ref} \(\d+\)</text>", page)
    assert page.count('class="box"></span>tested') == len(assembled.building.ways)
    assert f"{len(board.leds)} LEDs from {len(assembled.building.ways)} reels" in page
    assert "Local rules and qualified advice come first." in page


def test_signs_stand_where_the_lands_are_and_the_back_is_seen_turned_over(made):
    board, assembled = made
    back = [one for one in assembled.polarity.leds if one.side == "back"]
    x_max = board.maps.outline.bounds[2]
    (drawing, *_) = drawings(sheet_of(board, assembled))
    signs = {
        sign: sorted(float(text.get("x")) for text in drawing.iter(f"{SVG}text") if text.text == sign)
        for sign in ("+", "\N{MINUS SIGN}")
    }
    assert len(signs["+"]) == len(signs["\N{MINUS SIGN}"]) == len(back)
    for sign, lands in (("+", [one.anode_mm for one in back]), ("\N{MINUS SIGN}", [one.cathode_mm for one in back])):
        # At the right on the board is at the left on the paper; a sign stands on its land or a little outward
        wanted = sorted(x_max - land[0] + MARGIN_MM for land in lands)
        assert signs[sign] == pytest.approx(wanted, abs=1.5)


def test_an_led_whose_direction_is_unknown_gets_no_sign_and_a_warning(made):
    board, assembled = made
    first = assembled.polarity.leds[0].model_copy(update={"anode_mm": None, "cathode_mm": None, "state": "not told"})
    unknown = assembled.polarity.model_copy(update={"leds": (first, *assembled.polarity.leds[1:])})
    page = render_bench_sheet(board, polarity=unknown, building=assembled.building)
    assert f"Nothing tells which pad takes the anode of {first.ref}" in page
    assert sum(text.text == "?" for drawing in drawings(page) for text in drawing.iter(f"{SVG}text")) == 1


def test_names_that_a_user_wrote_are_escaped(made):
    board, assembled = made
    page = render_bench_sheet(replace(board, name="<b>&"), polarity=assembled.polarity, building=assembled.building)
    assert "<b>&" not in page.replace("<b>&lt;", "")
    assert "&lt;b&gt;&amp;" in page


def test_a_board_without_leds_is_a_sheet_without_steps(made):
    board, assembled = made
    empty = assembled.polarity.model_copy(update={"leds": ()})
    page = render_bench_sheet(replace(board, leds=()), polarity=empty, building=NO_BUILDING)
    assert "0 LEDs from 0 reels" in page
