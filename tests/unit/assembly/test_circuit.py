"""The positive side of LEDs by what lies between the rails, and silence where values would decide."""

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from paneglow.assembly.circuit import Link, find_rails, series_links, solve_levels
from paneglow.board import CopperNets, CopperPiece, Land
from paneglow.design import Rail
from paneglow.errors import DesignError
from paneglow.fab import PlacementRow

PLUS, MINUS = 100, 200
RAILS = {PLUS: 1.0, MINUS: 0.0}


def levels(*pairs, rails=RAILS):
    links = [Link(ref=f"X{number}", first=first, second=second) for number, (first, second) in enumerate(pairs)]
    return solve_levels(links, rails=rails, basis="a test")


def copper(*squares, names=None):
    """Squares of 1 mm on the back, each a net of its own in the order given and a land."""
    polygons = [box(x - 0.5, y - 0.5, x + 0.5, y + 0.5) for x, y in squares]
    pieces = tuple(
        CopperPiece(layer="copper_back", polygon=polygon, net=number, names=None, function=())
        for number, polygon in enumerate(polygons)
    )
    lands = tuple(Land(side="back", polygon=piece.polygon, net=piece.net, is_pad=True) for piece in pieces)
    return CopperNets(
        pieces=pieces, names=names or {}, pins=(), lands=lands, conflicts=(), tree=shapely.STRtree(polygons)
    )


def test_an_led_between_the_rails_has_its_anode_on_the_positive_one():
    assert levels((PLUS, MINUS)).higher(PLUS, MINUS) == 1
    assert levels((PLUS, MINUS)).higher(MINUS, PLUS) == -1


def test_levels_fall_along_a_string_whatever_its_parts_are():
    found = levels((PLUS, 1), (1, 2), (3, 2), (MINUS, 3))
    assert [found.higher(a, b) for a, b in ((PLUS, 1), (1, 2), (2, 3), (3, MINUS))] == [1, 1, 1, 1]


def test_a_string_whose_far_end_is_not_known_still_flows_away_from_its_rail():
    hanging_low = levels((MINUS, 1), (1, 2))
    assert (hanging_low.higher(1, MINUS), hanging_low.higher(2, 1)) == (1, 1)
    hanging_high = levels((PLUS, 1), (1, 2))
    assert (hanging_high.higher(PLUS, 1), hanging_high.higher(1, 2)) == (1, 1)


def test_the_middle_of_a_bridge_is_not_told_since_values_decide_it():
    bridge = levels((PLUS, 1), (PLUS, 2), (1, 2), (1, MINUS), (2, MINUS))
    assert bridge.higher(1, 2) == 0
    assert bridge.higher(PLUS, 1) == 1


def test_nets_that_hang_on_no_rail_are_not_told():
    assert levels((1, 2)).higher(1, 2) == 0
    assert levels(rails={}).higher(1, 2) == 0


def test_levels_obey_ohm_in_a_divider():
    # Two parts in series from 1 to 0: the middle lies between, by random values each time
    middle = levels((PLUS, 1), (1, MINUS)).of_net[1]
    assert np.all((middle > 0) & (middle < 1))
    assert np.unique(middle).size == middle.size


def test_rails_are_told_by_a_point_or_by_a_name():
    nets = copper((0, 0), (5, 0), names={1: "RETURN"})
    rails = [Rail(polarity="positive", at_mm=(0.2, 0.2)), Rail(polarity="negative", net="RETURN")]
    assert find_rails(rails, nets=nets) == ({0: 1.0, 1: 0.0}, "rails of the design")


@pytest.mark.parametrize(("name", "level"), [("GND", 0.0), ("+3V3", 1.0), ("5V", 1.0), ("VCC", 1.0), ("SDA", None)])
def test_without_rails_the_usual_names_tell_them(name, level):
    found, basis = find_rails([], nets=copper((0, 0), names={0: name}))
    assert found == ({} if level is None else {0: level})
    assert basis == ("" if level is None else "names of the nets")


@pytest.mark.parametrize(
    ("rails", "words"),
    [
        ([Rail(polarity="positive", at_mm=(2.5, 2.5))], "there is no copper on the back"),
        ([Rail(polarity="positive", at_mm=(0.0, 0.0), side="front")], "there is no copper on the front"),
        ([Rail(polarity="positive", net="VLED")], "'VLED' is not among the nets of the board; the files name RETURN"),
        (
            [Rail(polarity="positive", at_mm=(0.0, 0.0)), Rail(polarity="negative", at_mm=(0.1, 0.0))],
            "is already the other side of the supply",
        ),
    ],
)
def test_a_rail_that_cannot_be_is_told_in_one_line(rails, words):
    with pytest.raises(DesignError, match=words) as caught:
        find_rails(rails, nets=copper((0, 0), names={0: "RETURN"}))
    assert "\n" not in str(caught.value)


def row(ref, x, y):
    return PlacementRow(ref=ref, x_mm=x, y_mm=y, rotation_deg=0, side="back", value="", package="", line=1)


def test_a_resistor_joins_the_two_lands_it_stands_between_and_others_do_not():
    nets = copper((0, 0), (3, 0), (9, 0))
    assert [(one.first, one.second) for one in series_links([row("R1", 1.5, 0.0)], nets=nets, leds=())] == [(0, 1)]
    assert series_links([row("C1", 1.5, 0.0)], nets=nets, leds=()) == ()
    assert series_links([row("R2", 1.5, 2.0)], nets=nets, leds=()) == ()
    assert series_links([row("SW1", 6.0, 0.0)], nets=nets, leds=("SW1",)) == ()
