"""The polarity chain on small drawn boards: packages of several chips, marks, legend, islands, drawings, files."""

import ast
import inspect
import math
import random
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from shapely import STRtree
from shapely.geometry import box

from paneglow.assembly import build_bench_drawings, build_placement, build_polarity, reconstruct
from paneglow.assembly.drawing import HEIGHT_PX, WIDTH_PX
from paneglow.assembly.legend import marked_ends
from paneglow.assembly.polarity import direction_at_bench
from paneglow.board import CopperNets, CopperPiece, Land, RotationConvention, board_point, build_nets
from paneglow.catalog import Terminals
from paneglow.design import BoardDesign, Design
from paneglow.errors import DesignError, PlacementError
from paneglow.fab import DIALECTS, Netlist, NetPoint, PlacementRule
from polarity_boards import BOTTOMS, ZEROS, Made, make_case, right_rows, through_file, with_row

RULE = PlacementRule()
SVG = "{http://www.w3.org/2000/svg}"


@cache
def made_of(seed, **case):
    return Made(make_case(seed, **case))


def chain(seed=4, *, changed=lambda placement: placement, **case):
    """A board of `make_case` with its LEDs placed right, then changed, and its polarity."""
    made = made_of(seed, **case)
    placement = changed(through_file(right_rows(made.case, RULE), dialect="comma-mm", rule=RULE))
    board = made.board(placement)
    return made, board, build_polarity(made.case.design, board=board)


def test_every_led_names_the_land_and_the_net_its_anode_must_take():
    made, board, polarity = chain()
    truths = {truth.ref: truth for truth in made.case.truths}
    assert polarity.basis == "rails of the design"
    for one in polarity.leds:
        assert one.state == "correct"
        assert one.anode_net != one.cathode_net
        truth = truths[one.ref]
        toward = (one.anode_mm[0] - truth.at_mm[0], one.anode_mm[1] - truth.at_mm[1])
        assert toward[0] * (one.cathode_mm[0] - truth.at_mm[0]) + toward[1] * (one.cathode_mm[1] - truth.at_mm[1]) < 0


def test_a_turned_led_is_reversed_but_its_lands_stay_what_they_must_be():
    _, _, plain = chain()
    _, _, turned = chain(changed=lambda rows: with_row(rows, "D1", rotation_deg=rows.rows[0].rotation_deg + 180))
    assert turned.leds[0].state == "reversed"
    assert turned.leds[0].anode_mm == plain.leds[0].anode_mm
    assert turned.rows[0].state == "reversed"
    assert "positive side" in turned.leds[0].reason


def test_without_rails_nothing_is_told_and_the_reason_says_so():
    made, board, _ = chain()
    polarity = build_polarity(made.case.design.model_copy(update={"rail": ()}), board=board)
    assert {one.state for one in polarity.leds} == {"not told"}
    assert "nothing tells the rails" in polarity.leds[0].reason
    assert {row.state for row in polarity.rows} == {"not told"}


def test_names_of_a_netlist_tell_the_rails_where_the_design_does_not():
    made, board, _ = chain()
    points = tuple(
        NetPoint(net=net, ref="J1", pin=pin, at_mm=rail.at_mm, access="back", line=1)
        for rail, net, pin in zip(made.case.design.rail, ("GND", "+5V"), "12", strict=True)
    )
    named = replace(board, nets=build_nets(made.case.fabrication, netlist=Netlist(path=Path("a.ipc"), points=points)))
    polarity = build_polarity(made.case.design.model_copy(update={"rail": ()}), board=named)
    assert polarity.basis == "names of the nets"
    assert {one.state for one in polarity.leds} == {"correct"}


CORNERS = {"1": (-1.2, 0.45), "2": (-1.2, -0.45), "3": (1.2, 0.45), "4": (1.2, -0.45)}


def package(common, *chips):
    """A package whose terminal 1 is common to chips on terminals 2, 3 and 4."""
    other = {"anode": "cathode", "cathode": "anode"}[common]
    pads = [{"name": "1", "role": common, "chips": list(chips)}]
    pads += [{"name": name, "role": other, "chips": [chip]} for name, chip in zip("234", chips, strict=False)]
    return Terminals.model_validate(
        {
            "pads": [{**pad, "at_mm": CORNERS[pad["name"]], "length_mm": 0.8, "width_mm": 0.5} for pad in pads],
            "origin": "measured",
            "source": "invented for this test",
        }
    )


@pytest.mark.parametrize(
    ("common", "chips", "plus", "state"),
    [
        ("anode", ("red", "green", "blue"), "1", "correct"),
        ("anode", ("red", "green", "blue"), "234", "reversed"),
        ("cathode", ("red", "green", "blue"), "234", "correct"),
        ("cathode", ("red", "green"), "23", "correct"),
        ("cathode", ("red", "green"), "1", "reversed"),
        ("anode", ("red", "green", "blue"), "13", "both on one net"),
    ],
)
def test_packages_of_several_chips_are_right_only_where_every_chip_is(common, chips, plus, state):
    assert corner_state(package(common, *chips), plus=plus) == state


def corner_state(terminals, *, plus):
    """State of a package of several chips whose lands at `plus` are the positive rail, and the others the negative."""
    _, board, _ = chain()
    part = board.leds[0].part.model_copy(update={"terminals": terminals, "mark": None, "tape": None})
    led = replace(board.leds[0], part=part, mounting="top_view", side="front", at_mm=(0.0, 0.0), rotation_deg=0.0)
    corners = {name: box(x - 0.5, y - 0.3, x + 0.5, y + 0.3) for name, (x, y) in CORNERS.items()}
    pieces = tuple(
        CopperPiece(layer="copper_front", polygon=corner, net=int(name in plus), names=None, function=())
        for name, corner in corners.items()
    )
    nets = CopperNets(
        pieces=pieces,
        names={0: "GND", 1: "+5V"},
        pins=(),
        lands=tuple(Land(side="front", polygon=piece.polygon, net=piece.net, is_pad=True) for piece in pieces),
        conflicts=(),
        tree=STRtree([piece.polygon for piece in pieces]),
    )
    design = Design(name="test", board=BoardDesign(fabrication="fab"))
    made = replace(board, nets=nets, leds=(led,), placement=None)
    return build_polarity(design, board=made).leds[0].state


def test_directions_are_those_of_the_bench():
    _, board, _ = chain()
    back = replace(board.leds[0], side="back", at_mm=(10.0, 10.0))
    assert direction_at_bench(back, at_mm=(11.0, 10.0)) == "left"
    assert direction_at_bench(replace(back, side="front"), at_mm=(11.0, 10.0)) == "right"
    assert direction_at_bench(back, at_mm=(10.0, 9.0)) == "bottom"
    assert direction_at_bench(back, at_mm=(10.0, 10.01)) == "middle"


@pytest.mark.parametrize(("legend_wrong", "agrees"), [(False, True), (True, False)])
def test_the_legend_is_read_and_compared(legend_wrong, agrees):
    _, _, polarity = chain(legend_wrong=legend_wrong)
    assert {one.legend_agrees for one in polarity.leds} == {agrees}
    assert {one.legend for one in polarity.leds} == {"cathode" if agrees else "anode"}


def test_a_mark_that_shows_is_compared_with_the_ink_and_one_that_is_hidden_is_not():
    met = set()
    for seed in range(8):
        _, board, polarity = chain(seed=seed)
        for led, one in zip(board.leds, polarity.leds, strict=True):
            mark = led.part.terminals.named(led.part.mark.terminal).role
            # The ink of these boards marks the cathode
            assert one.mark_agrees is (None if led.mounting == "lens_down" else mark == "cathode")
            met.add(one.mark_agrees)
    assert met == {True, False, None}


def test_ink_alike_at_both_ends_marks_neither():
    _, board, polarity = chain()
    led, one = board.leds[0], polarity.leds[0]
    middle = [(a + b) / 2 for a, b in zip(one.anode_mm, one.cathode_mm, strict=True)]
    half = math.dist(one.anode_mm, one.cathode_mm) / 2
    x_mm, y_mm = np.meshgrid(board.maps.grid.x_centres_mm(), board.maps.grid.y_centres_mm())
    along = (
        (x_mm - middle[0]) * (one.anode_mm[0] - middle[0]) + (y_mm - middle[1]) * (one.anode_mm[1] - middle[1])
    ) / half
    across = np.sqrt(np.maximum(0.0, (x_mm - middle[0]) ** 2 + (y_mm - middle[1]) ** 2 - along**2))
    bars = ((abs(abs(along) - half - 1.0) < 0.15) & (across < 0.6)).astype(np.float32)
    maps = replace(board.maps, legend_front=bars, legend_back=bars)
    assert set(marked_ends(led, maps=maps)) == {pad.name for pad in led.part.terminals.pads}
    assert marked_ends(led, maps=replace(maps, legend_front=0 * bars, legend_back=0 * bars)) == ()


def test_a_mark_on_top_vanishes_lens_down_and_shows_otherwise():
    _, board, polarity = chain(seed=11)
    for led, one in zip(board.leds, polarity.leds, strict=True):
        assert one.mark.visible is (led.mounting != "lens_down"), "marks of these parts are on top"
        assert ("ends stay" in one.how_to_test) is (led.mounting == "lens_down")
    styles = {led.mounting for led in board.leds}
    assert styles > {"lens_down"}, "both kinds are on this board"


def test_every_distinct_part_and_style_has_a_drawing_with_terminals_and_mark_labelled():
    _, board, polarity = chain()
    drawings = build_bench_drawings(board, polarity=polarity)
    assert {ref for drawing in drawings for ref in drawing.refs} == {led.ref for led in board.leds}
    for drawing in drawings:
        root = ElementTree.fromstring(drawing.svg)
        words = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
        assert sum(word.startswith(("anode ", "cathode ")) for word in words) == 2
        assert any(" = " in word for word in words), "the mark"
        assert {"+", "\N{MINUS SIGN}"} <= set(words)
        signs = {text.text: float(text.get("x")) for text in root.iter("{http://www.w3.org/2000/svg}text")}
        assert signs["\N{MINUS SIGN}"] < signs["+"], "the anode is drawn at the right"


def test_the_sign_of_a_mark_points_at_the_terminal_that_it_means():
    met = set()
    for seed in range(6):
        _, board, polarity = chain(seed=seed)
        for drawing in build_bench_drawings(board, polarity=polarity):
            root = ElementTree.fromstring(drawing.svg)
            (turn,) = [path.get("transform") for path in root.iter(f"{SVG}path") if path.get("transform")]
            along_x, along_y, *_ = (float(word) for word in turn.removeprefix("matrix(").split(" ")[:2] + ["0"])
            led = next(led for led in board.leds if led.ref == drawing.refs[0])
            means = led.part.terminals.named(led.part.mark.terminal).role
            # The anode is drawn at the right
            assert along_x == pytest.approx(1.0 if means == "anode" else -1.0, abs=1e-3)
            assert along_y == pytest.approx(0.0, abs=1e-3)
            met.add(means)
    assert met == {"anode", "cathode"}


def test_a_drawing_shows_the_face_that_is_soldered_and_not_its_mirror_image():
    met = set()
    for seed in range(8):
        _, board, polarity = chain(seed=seed)
        told = {one.ref: one for one in polarity.leds}
        for drawing in build_bench_drawings(board, polarity=polarity):
            led = next(led for led in board.leds if led.ref == drawing.refs[0])
            paths = [
                (path.get("class"), path.get("d")) for path in ElementTree.fromstring(drawing.svg).iter(f"{SVG}path")
            ]
            places = {kind: re.findall(r"(-?[\d.]+) (-?[\d.]+)", line) for kind, line in paths}
            xs, ys = np.array(places["body"], float).T
            # The body stands in the middle of the paper, whatever its place on the board
            assert (xs.min() + xs.max()) / 2 == pytest.approx(WIDTH_PX / 2, abs=1.0)
            assert (ys.min() + ys.max()) / 2 == pytest.approx(HEIGHT_PX / 2 - 8.0, abs=1.0)
            if led.mounting != "side_view":
                continue
            # Seen from the front: whether light leaves to the left of the way from cathode to anode
            (ax, ay), (cx, cy) = told[led.ref].anode_mm, told[led.ref].cathode_mm
            (x0, y0), (x1, y1) = (board_point(led, point_mm=point) for point in ((0.0, 0.0), (0.0, 1.0)))
            leaves_left = (ax - cx) * (y1 - y0) - (ay - cy) * (x1 - x0) > 0.0
            start, end = (float(y) for _, y in places["light"])
            # On paper the anode is at the right and y runs downward: left of that way is up, seen from the back down
            assert (end < start) is (leaves_left if led.side == "front" else not leaves_left)
            met.add((led.side, leaves_left))
    assert {side for side, _ in met} == {"front", "back"}


def test_a_part_without_lands_is_drawn_all_the_same():
    _, board, polarity = chain()
    bare = replace(board, nets=replace(board.nets, lands=()))
    for drawing in build_bench_drawings(bare, polarity=polarity):
        kinds = [path.get("class") for path in ElementTree.fromstring(drawing.svg).iter(f"{SVG}path")]
        assert "body" in kinds
        assert "land" not in kinds


def test_a_drawing_escapes_what_a_user_wrote():
    _, board, polarity = chain()
    led = board.leds[0]
    pads = tuple(
        pad.model_copy(update={"name": "<b>&" if pad.role == "anode" else pad.name}) for pad in led.part.terminals.pads
    )
    part = led.part.model_copy(update={"terminals": led.part.terminals.model_copy(update={"pads": pads}), "mark": None})
    board = replace(board, leds=(replace(led, part=part),))
    (drawing,) = build_bench_drawings(board, polarity=polarity)
    assert "&lt;b&gt;&amp;" in drawing.svg
    ElementTree.fromstring(drawing.svg)


@pytest.mark.parametrize("dialect", DIALECTS)
def test_a_written_file_is_checked_from_its_own_text_under_every_rule(dialect):
    rng = random.Random(dialect)
    made, board, _ = chain()
    for bottom in BOTTOMS:
        rule = PlacementRule(bottom=bottom, zero=rng.choice(ZEROS))
        written = build_placement(made.case.design, board=board, dialect=dialect, rule=rule)
        assert {check.state for check in written.checks} == {"correct"}
        assert len(written.checks) == len(made.case.truths)
        assert f"bottom={bottom}" in written.text


def test_a_slip_of_the_writer_is_caught_by_the_second_way(monkeypatch):
    made, board, _ = chain()
    real = RotationConvention.to_file_deg
    monkeypatch.setattr(RotationConvention, "to_file_deg", lambda self, deg: (real(self, deg) + 180.0) % 360)
    written = build_placement(made.case.design, board=board, dialect="comma-mm", rule=RULE)
    assert {check.state for check in written.checks} == {"reversed"}


def test_a_design_that_places_nothing_has_no_file():
    made, board, _ = chain()
    with pytest.raises(PlacementError, match="places no part"):
        build_placement(made.case.design, board=replace(board, leds=(), placement=None), dialect="comma-mm", rule=RULE)


def test_the_two_ways_share_no_geometry():
    tree = ast.parse(inspect.getsource(reconstruct))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names}
    assert not imported & {
        "RotationConvention",
        "board_point",
        "board_point_mm",
        "find_seats",
        "find_pads",
        "polar_axis",
    }
    modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not {module for module in modules if module.endswith(("rotation", "seating", "pads"))}


def test_a_rail_off_the_copper_is_an_error_of_the_design():
    made, board, _ = chain()
    rail = made.case.design.rail[0].model_copy(update={"at_mm": (-50.0, -50.0)})
    with pytest.raises(DesignError, match="no copper on the back"):
        build_polarity(made.case.design.model_copy(update={"rail": (rail,)}), board=board)
