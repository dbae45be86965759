"""Rotations under every rule: worked by hand, and undone by their inverse."""

import datetime
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.board import PlacedLed, RotationConvention, board_point, turn_between
from paneglow.catalog import Evidence, TapeOrientation, read_catalog
from paneglow.errors import DesignError
from paneglow.fab import BottomRule, PlacementRule, TurnRule, ZeroRule

PARTS = read_catalog().parts
CHIP, SIDE = PARTS["tv-1206-amber"], PARTS["sv-1204-amber"]
EVIDENCE = Evidence(kind="meter-test", date=datetime.date(2026, 11, 2), who="invented for this test")


def taped(*quadrants, terminal="C", face="solder-down", part=CHIP):
    tape = TapeOrientation(terminal=terminal, quadrants=quadrants, face=face, evidence=EVIDENCE)
    return part.model_copy(update={"tape": tape})


def convention(part=CHIP, *, mounting="top_view", side="back", **rule):
    return RotationConvention(part=part, mounting=mounting, side=side, rule=PlacementRule(**rule))


@pytest.mark.parametrize(
    ("bottom", "at_0", "at_90"),
    [
        ("through-front", 0, 90),
        ("through-front-mirrored", 180, 270),
        ("turned-left-right", 180, 90),
        ("turned-top-bottom", 0, 270),
    ],
)
def test_a_back_part_with_its_cathode_left_points_so_seen_from_the_front(bottom, at_0, at_90):
    chip = convention(bottom=bottom, zero="cathode-left")
    assert (chip.to_design_deg(0.0), chip.to_design_deg(90.0)) == (at_0, at_90)


@pytest.mark.parametrize("bottom", get_args(BottomRule))
def test_rules_for_the_back_leave_the_front_alone(bottom):
    chip = convention(side="front", bottom=bottom, zero="cathode-left")
    assert (chip.to_design_deg(0.0), chip.to_design_deg(90.0)) == (0, 90)


def test_anode_left_is_half_a_turn_from_cathode_left():
    assert convention(zero="anode-left").to_design_deg(0.0) == 180


@pytest.mark.parametrize(("mounting", "apart"), [("lens_down", 180.0), ("top_view", 0.0), ("reverse", 0.0)])
def test_turning_over_about_the_short_axis_swaps_the_ends_and_about_the_long_axis_keeps_them(mounting, apart):
    # Trade facts of this project, derived: a plane turn of the body
    long_axis, short_axis = (convention(mounting=mounting, turn=turn).to_design_deg(0.0) for turn in get_args(TurnRule))
    assert (short_axis - long_axis) % 360 == apart


@pytest.mark.parametrize(
    ("quadrants", "cathode_deg"), [((1, 2), 90.0), ((2, 4), 0.0), ((3, 4), 270.0), ((1, 3), 180.0)]
)
def test_a_terminal_lies_in_the_quadrants_that_its_tape_states(quadrants, cathode_deg):
    # EIA-481-E: 1 upper left, 2 upper right, 3 lower left, 4 lower right, sprocket holes on top (from memory)
    front = convention(taped(*quadrants), side="front", zero="as-taped")
    assert front.to_design_deg(0.0) == (cathode_deg + 180) % 360, "the design counts from cathode to anode"


def test_a_part_that_lies_solder_up_in_its_tape_is_put_down_as_it_lies():
    for turn in get_args(TurnRule):
        part = taped(1, 3, face="solder-up")
        assert convention(part, mounting="lens_down", side="front", zero="as-taped", turn=turn).to_design_deg(0.0) == 0


def test_a_side_view_part_on_the_back_that_shines_right_has_its_cathode_below_seen_from_the_front():
    # Its frame has the cathode at -x and shines toward +y, seen from above; from the front that picture is mirrored
    led = PlacedLed(
        ref="D1",
        part=SIDE,
        mounting="side_view",
        at_mm=(0.0, 0.0),
        rotation_deg=0.0,
        side="back",
        window=None,
        current_ma=1.0,
        diffuser="none",
        gap_mm=None,
    )
    cathode = SIDE.terminals.of_role("cathode")[0]
    assert board_point(led, point_mm=cathode.at_mm) == pytest.approx((0.0, cathode.at_mm[0]))
    assert board_point(led, point_mm=(0.0, 1.0)) == pytest.approx((1.0, 0.0))
    assert convention(SIDE, mounting="side_view", zero="axis").to_design_deg(30.0) == 30.0


@given(
    angle=st.floats(0, 359.99),
    bottom=st.sampled_from(get_args(BottomRule)),
    zero=st.sampled_from(get_args(ZeroRule)),
    turn=st.sampled_from(get_args(TurnRule)),
    side=st.sampled_from(("front", "back")),
    mounting=st.sampled_from(("lens_down", "top_view", "reverse")),
)
def test_the_way_back_undoes_the_way_there(angle, bottom, zero, turn, side, mounting):
    one = convention(taped(1, 2), mounting=mounting, side=side, bottom=bottom, zero=zero, turn=turn)
    # Rotations are kept to 1e-9 deg
    assert (one.to_file_deg(one.to_design_deg(angle)) - angle + 180) % 360 == pytest.approx(180, abs=1e-6)


def test_parts_without_a_record_keep_their_zero_and_follow_how_the_back_counts():
    given, wanted = PlacementRule(bottom="through-front"), PlacementRule(bottom="turned-left-right")
    assert turn_between(90.0, side="back", given=given, wanted=wanted) == 90.0
    assert turn_between(0.0, side="back", given=given, wanted=wanted) == 180.0
    assert turn_between(30.0, side="front", given=given, wanted=wanted) == 30.0


@pytest.mark.parametrize(
    ("part", "zero", "words"),
    [
        (CHIP, "as-taped", "does not say how it lies in its tape"),
        (CHIP.model_copy(update={"terminals": None}), "cathode-left", "does not say where its terminals are"),
        (taped(1), "as-taped", "cannot lie in quadrant 1 alone"),
    ],
)
def test_a_rule_that_rests_on_what_the_part_does_not_state_is_refused_in_one_line(part, zero, words):
    with pytest.raises(DesignError, match=words) as caught:
        convention(part, zero=zero).to_design_deg(0.0)
    assert "\n" not in str(caught.value)
