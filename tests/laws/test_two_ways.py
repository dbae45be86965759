"""The two ways that put a part on the board, angles in the plane and turns in space, agree on every terminal."""

import datetime
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from paneglow.assembly.reconstruct import _attitude, _on_board, _Row
from paneglow.board import PlacedLed, RotationConvention, board_point
from paneglow.catalog import Evidence, TapeOrientation, Terminals, read_catalog
from paneglow.fab import BottomRule, PlacementRow, PlacementRule, TurnRule, ZeroRule

PARTS = read_catalog().parts
EVIDENCE = Evidence(kind="meter-test", date=datetime.date(2026, 11, 2), who="invented for this test")
MOUNTINGS = ("lens_down", "top_view", "reverse", "side_view", "cutout", "through_hole")


@st.composite
def two_pads(draw):
    """Cathode and anode at either end, a little off the middle line."""
    x, y = draw(st.floats(0.4, 2.5)), draw(st.floats(-0.3, 0.3))
    sign = draw(st.sampled_from((-1, 1)))
    return [("C", "cathode", (-sign * x, y), ()), ("A", "anode", (sign * x, -y), ())]


@st.composite
def four_pads(draw):
    """Three chips on a common terminal, at four corners in any order."""
    x, y = draw(st.floats(0.5, 2.5)), draw(st.floats(0.3, 1.5))
    corners = draw(st.permutations([(-x, -y), (x, -y), (x, y), (-x, y)]))
    common = draw(st.sampled_from(("anode", "cathode")))
    other = "cathode" if common == "anode" else "anode"
    chips = ("red", "green", "blue")
    return [("1", common, corners[0], chips)] + [
        (str(number + 2), other, corners[number + 1], (chip,)) for number, chip in enumerate(chips)
    ]


def quadrant_of(place, *, face):
    """Quadrants of a terminal in the pocket of a part that lies as it is drawn, or turned over about its long axis."""
    x, y = place if face == "solder-down" else (place[0], -place[1])
    if abs(x) <= 0.01 or abs(y) <= 0.01:
        return None
    return {(False, True): 1, (True, True): 2, (False, False): 3, (True, False): 4}[x > 0, y > 0]


def part_of(pads, *, kind, face, tape):
    terminals = Terminals.model_validate(
        {
            "pads": [
                {"name": name, "role": role, "at_mm": at, "chips": chips, "length_mm": 0.3, "width_mm": 0.3}
                for name, role, at, chips in pads
            ],
            "origin": "measured",
            "source": "invented for this test",
        }
    )
    quadrant = quadrant_of(pads[0][2], face=face)
    plain = PARTS["tv-1206-red"].model_copy(update={"kind": kind, "terminals": terminals, "mark": None, "tape": None})
    if not tape or quadrant is None:
        return plain
    orientation = TapeOrientation(face=face, terminal=pads[0][0], quadrants=(quadrant,), evidence=EVIDENCE)
    return plain.model_copy(update={"tape": orientation})


@settings(max_examples=400, deadline=None)
@given(
    pads=st.one_of(two_pads(), four_pads()),
    kind=st.sampled_from(("chip", "through_hole", "reverse", "side_view")),
    face=st.sampled_from(("solder-down", "solder-up")),
    mounting=st.sampled_from(MOUNTINGS),
    side=st.sampled_from(("front", "back")),
    rule=st.builds(
        PlacementRule,
        bottom=st.sampled_from(get_args(BottomRule)),
        zero=st.sampled_from(get_args(ZeroRule)),
        turn=st.sampled_from(get_args(TurnRule)),
    ),
    file_deg=st.floats(0.0, 359.9),
    further_deg=st.sampled_from((0.0, 90.0, 17.5)),
)
def test_every_terminal_lies_at_the_same_place_by_both_ways(
    pads, kind, face, mounting, side, rule, file_deg, further_deg
):
    part = part_of(pads, kind=kind, face=face, tape=True)
    if rule.zero == "as-taped" and part.tape is None:
        return
    convention = RotationConvention(part=part, mounting=mounting, side=side, rule=rule)
    led = PlacedLed(
        ref="D1",
        part=part,
        mounting=mounting,
        at_mm=(3.0, -2.0),
        rotation_deg=convention.to_design_deg(file_deg) + further_deg,
        side=side,
        window=None,
        current_ma=1.0,
        diffuser="none",
        gap_mm=None,
    )
    row = PlacementRow(ref="D1", x_mm=3.0, y_mm=-2.0, rotation_deg=file_deg, side=side, value="", package="", line=1)
    one = _Row(row=row, part=part, mounting=mounting, side=side, further_deg=further_deg)
    attitude = _attitude(one, rule=rule)
    for _, _, at, _ in pads:
        by_turns = _on_board(np.array([[*at, 0.0]]).T, attitude=attitude, one=one)[:, 0]
        # Rounding of angles to 1e-9 deg on millimetres
        assert tuple(by_turns) == pytest.approx(board_point(led, point_mm=at), abs=1e-6)
