"""One change to the clean board of `cases` for every rule about parts, lands, standing and building."""

from collections.abc import Callable
from dataclasses import replace

from shapely.geometry import Polygon, box

from paneglow.board import PlacementRead
from paneglow.catalog import SolderingLimits
from paneglow.fab import PlacementRow, PlacementRule
from paneglow.judge.findings import BoardContext
from paneglow.units import Quantity
from unit.judge.cases import (
    COVERED,
    FLAT_LANDS,
    FLAT_LED,
    SIDE_LANDS,
    SIDE_LED,
    SIDE_PART,
    before_light,
    board,
    maps,
)
from unit.judge.known_parts import SOLDER_DOWN, part, quantity, terminals

RGB = terminals(
    pads=[
        {
            "name": "1",
            "role": "anode",
            "at_mm": (-1.3, 0.5),
            "length_mm": 0.5,
            "width_mm": 0.6,
            "chips": ("red", "blue"),
        },
        {"name": "2", "role": "cathode", "at_mm": (1.3, 0.5), "length_mm": 0.5, "width_mm": 0.6, "chips": ("red",)},
        {"name": "3", "role": "cathode", "at_mm": (1.3, -0.5), "length_mm": 0.5, "width_mm": 0.6, "chips": ("blue",)},
    ]
)


def _flat_with(**changes: object) -> BoardContext:
    return before_light(made=board(SIDE_LED, replace(FLAT_LED, part=part(**changes))))


def _flat_on(*lands: Polygon, **changes: object) -> BoardContext:
    flat = replace(FLAT_LED, **changes)
    return before_light(made=board(SIDE_LED, flat, face_maps=maps(copper_back=(*SIDE_LANDS, *lands))))


def _at_opening() -> BoardContext:
    # A round lens of 2 mm and lands that reach 0.05 mm from its hole
    round_lens = {"lens_length_mm": quantity(2.0), "lens_width_mm": quantity(2.0)}
    lands = (box(26.5, 12.2, 27.95, 13.8), box(30.05, 12.2, 31.5, 13.8))
    return _flat_on(*lands, part=part(**round_lens), mounting="cutout")


def celsius(value: float) -> Quantity:
    return quantity(value)


def _soldered(*, mounting: str = "side_view", front: bool = False, **limits: object) -> BoardContext:
    """An LED with soldering limits: a side-view one goes through the oven, a lens-down one off its tape does not."""
    bears = {"soldering": SolderingLimits.model_validate(limits)}
    if mounting == "lens_down":
        return _flat_with(tape=SOLDER_DOWN, **bears)
    side = replace(SIDE_LED, part=SIDE_PART.model_copy(update=bears))
    other = replace(SIDE_LED, side="front", window=None, current_ma=0.0)
    others = (replace(other, ref="D3", at_mm=(8.0, 24.0)), replace(other, ref="D4", at_mm=(8.0, 20.0)))
    return before_light(made=board(side, FLAT_LED, *(others if front else ())))


CALLED_BLUE = PlacementRead(
    rows=(
        PlacementRow(
            ref="D2", x_mm=29.0, y_mm=13.0, rotation_deg=0.0, side="back", value="LED blue", package="", line=2
        ),
    ),
    rule=PlacementRule(),
)  # D2 is red
PART_CASES: dict[str, Callable[[], BoardContext]] = {
    "mark-unverified": lambda: _flat_with(mark=None),
    "value-contradicts-part": lambda: before_light(made=replace(board(), placement=CALLED_BLUE)),
    "cost-left-out": lambda: replace(before_light(), unpriced="there is no offer for flat; add an [[offer]]"),
    "several-chips-as-one": lambda: _flat_with(terminals=RGB, mark=None, tape=None),
    "land-missing": lambda: _flat_on(FLAT_LANDS[0]),
    "land-joined": lambda: _flat_on(box(26.5, 12.2, 31.5, 13.8)),
    "land-overhung": lambda: _flat_on(FLAT_LANDS[0], box(30.0, 13.2, 31.5, 14.8)),
    "part-misses-lands": lambda: _flat_on(
        box(26.0, 12.2, 27.2, 13.8), box(30.8, 12.2, 32.0, 13.8), mounting="top_view"
    ),
    "land-short": lambda: _flat_on(box(27.2, 12.2, 28.0, 13.8), box(30.0, 12.2, 30.8, 13.8)),
    "lens-on-land": lambda: _flat_with(lens_length_mm=quantity(2.4), lens_width_mm=quantity(1.6)),
    "copper-at-opening": _at_opening,
    "bare-copper-near": lambda: _flat_on(*FLAT_LANDS, box(28.6, 13.0, 29.4, 13.6)),
    "ends-without-metal": lambda: _flat_with(terminals=terminals(wrap=False)),
    "oven-too-hot": lambda: _soldered(reflow_peak_c=celsius(220.0)),
    "oven-passes-exceeded": lambda: _soldered(front=True, reflow_passes=1),
    "iron-too-hot": lambda: _soldered(mounting="lens_down", iron_tip_c=celsius(300.0), iron_contact_s=celsius(2.0)),
    "moisture-sensitive": lambda: _soldered(moisture_level="3"),
    "lens-down-unsteady": lambda: before_light(
        made=board(SIDE_LED, replace(FLAT_LED, part=part(lens_length_mm=quantity(2.0)), gap_mm=0.6))
    ),
    "part-meets-cover": lambda: before_light(wanted=COVERED, made=board(SIDE_LED, replace(FLAT_LED, gap_mm=4.0))),
    "leg-too-short": lambda: before_light(
        made=board(SIDE_LED, replace(FLAT_LED, part=part(terminals=terminals(leg_mm=1.0)), mounting="through_hole"))
    ),
    "parts-too-near": lambda: before_light(
        made=board(SIDE_LED, FLAT_LED, replace(FLAT_LED, ref="D3", at_mm=(29.0, 14.7)))
    ),
    "built-by-hand": lambda: _flat_with(tape=SOLDER_DOWN),
    "tape-unknown": lambda: before_light(
        made=board(replace(SIDE_LED, part=SIDE_PART.model_copy(update={"tape": None})), FLAT_LED)
    ),
}
