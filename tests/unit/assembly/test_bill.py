"""What one board needs, and that the bill names the same builder for every LED as the record of how it is built."""

from dataclasses import replace

from drawn_pads import board, led
from paneglow.assembly import assemble
from paneglow.board import PlacementRead
from paneglow.catalog import read_catalog
from paneglow.design import BoardDesign, Design
from paneglow.fab import PlacementRow, PlacementRule

DESIGN = Design(name="test", board=BoardDesign(fabrication="fab/"))
RESTING = led("rv-1206-red", mounting="reverse")
HANGING = replace(led("rv-1206-red", mounting="reverse"), ref="D2", gap_mm=1.5)


def bill_of(*leds, rows=()):
    made = replace(board(leds=leds), placement=PlacementRead(rows=rows, rule=PlacementRule()))
    return assemble(DESIGN, board=made, catalog=read_catalog()).bill


def row(ref, value, *, side="back"):
    return PlacementRow(ref=ref, x_mm=1.0, y_mm=1.0, rotation_deg=0.0, side=side, value=value, package="small", line=2)


def test_leds_alike_are_one_row_and_those_built_otherwise_another():
    found = bill_of(RESTING, replace(RESTING, ref="D3"), HANGING)
    assert [(one.item, one.count, one.built_by) for one in found.rows] == [
        ("rv-1206-red", 2, "machine"),
        ("rv-1206-red", 1, "hand"),
    ]
    assert found.size_mm == (30.0, 30.0)


def test_other_rows_of_the_placement_file_are_left_to_a_machine_and_leds_are_not_counted_twice():
    found = bill_of(RESTING, rows=(row("D1", "x"), row("R1", "1k"), row("R2", "1k", side="front"), row("R3", "")))
    others = [(one.item, one.count, one.side, one.built_by) for one in found.rows if one.mounting is None]
    assert others == [("1k", 1, "back", "machine"), ("1k", 1, "front", "machine"), ("small", 1, "back", "machine")]
