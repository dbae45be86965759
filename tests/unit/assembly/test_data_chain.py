"""LEDs with logic inside on a board that others drew: 38 in one chain, whose files name the pins."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from paneglow.assembly import assemble, build_bench_drawings
from paneglow.board import build_board, read_board_files
from paneglow.catalog import read_catalog
from paneglow.design import Design
from paneglow.drive import wire_up
from paneglow.judge import check_board
from paneglow.report import render_bench_sheet

BOARDS = Path(os.environ.get("PANEGLOW_BOARDS", Path(__file__).parents[4] / "shared" / "boards"))
HEART = BOARDS / "heart-side38"
REFS = [f"D{number}" for number in range(1, 39)]

pytestmark = pytest.mark.skipif(not HEART.is_dir(), reason="needs the boards beside the project")


def _design(order=REFS, **circuit):
    return Design.model_validate(
        {
            "name": "thirty-eight",
            "board": {"fabrication": "fab.zip", "placement": "geheimbadge-pos.csv", "pitch_mm": 0.1},
            "led": [
                {
                    "refs": REFS,
                    "part": "data-4016-side",
                    "mounting": "side_view",
                    "rotation_deg": 270,
                    "die_duty_frac": {"red": 1.0, "green": 0.3, "blue": 0.1},
                }
            ],
            "supply": {"kind": "regulated", "voltage_v": 5.0},
            "circuit": [{"driver": "data", "strings": [list(order)], **circuit}],
        }
    )


@pytest.fixture(scope="module")
def heart():
    catalog, design = read_catalog(), _design()
    return catalog, build_board(design, files=read_board_files(design, folder=HEART), catalog=catalog)


def _turned(board, ref, turn_deg):
    def turn(led):
        return replace(led, rotation_deg=led.rotation_deg + turn_deg) if ref in (led.ref, led.body_ref) else led

    return replace(board, leds=tuple(map(turn, board.leds)), bodies=tuple(map(turn, board.bodies)))


def _polarity(design, *, board, catalog):
    return assemble(design, board=board, catalog=catalog).polarity


def test_every_terminal_lies_on_the_net_whose_pin_the_files_name_so(heart):
    catalog, board = heart
    assert len(board.leds) == 3 * 38
    assert len(board.soldered.leds) == 38
    polarity = _polarity(_design(), board=board, catalog=catalog)
    assert {one.state for one in polarity.leds} == {"correct"}
    assert {(one.anode_net, one.cathode_net) for one in polarity.leds} == {("VCC", "GND")}
    assert [fault.code for fault in polarity.wiring.faults if fault.code.startswith("data")] == []


@pytest.mark.parametrize("turn_deg", [180, 90, 270])
def test_a_turned_part_is_found_on_its_pads(heart, turn_deg):
    catalog, board = heart
    polarity = _polarity(_design(), board=_turned(board, "D5", turn_deg), catalog=catalog)
    (turned,) = [one for one in polarity.leds if one.state != "correct"]
    assert turned.ref == "D5"
    # A row of pads is symmetric under a half turn only; across it the outer ones leave their pads
    assert turned.state == ("reversed" if turn_deg == 180 else "off its pads")
    if turn_deg == 180:
        assert "turned by 180 deg all its terminals lie right" in turned.reason


def test_a_swapped_order_is_found_at_each_place_where_it_differs(heart):
    catalog, board = heart
    order = [*REFS[:9], "D11", "D10", *REFS[11:]]
    faults = _polarity(_design(order), board=board, catalog=catalog).wiring.faults
    differing = {fault.subject: fault.reason for fault in faults if fault.code == "data-order-differs"}
    assert sorted(differing) == ["D10", "D11", "D9"]
    assert "copper leads it to D10" in differing["D9"]


def test_currents_are_those_worked_by_hand(heart):
    catalog, board = heart
    design = _design(level_v=3.3)
    wired = wire_up(design, board=board)
    assert wired.solved is not None
    # 38 x (12 mA x (1 + 0.3 + 0.1) + 0.8 mA idle); sinks hold their current within 1 % on 5 V
    assert wired.solved.point.mean_supply_ma == pytest.approx(38 * (12 * 1.4 + 0.8), rel=0.01)
    (full,) = [load for load in wired.solved.loads if load.quantity == "current with every die full"]
    assert full.used == pytest.approx(38 * (3 * 14.4 + 1.5))
    found = check_board(
        design,
        board=wired.present_board,
        catalog=catalog,
        assembled=assemble(design, board=wired.present_board, catalog=catalog),
        drive=wired.used,
    )
    (level,) = [finding for finding in found if finding.code == "logic-level-low"]
    # 3.3 V on 5 V: between 0.6 x 5 = 3.0 and 0.7 x 5 = 3.5, so some pieces read it and others do not
    assert level.severity == "warning"
    assert level.subject == "D1"


def test_a_body_of_several_dice_is_one_part_on_the_bench_sheet_and_on_the_map(heart):
    catalog, board = heart
    made = assemble(_design(), board=board, catalog=catalog)
    sheet = render_bench_sheet(board, polarity=made.polarity, building=made.building)
    assert "D38" in sheet
    assert "D38.red" not in sheet
    (drawing,) = build_bench_drawings(board, polarity=made.polarity)
    assert drawing.refs == tuple(REFS)
