"""Land patterns: lifted pads, gaps a leg must cross, holes and slots a cutter can make."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn_pads import PARTS
from paneglow.assembly import build_land
from paneglow.catalog import Body, Terminals
from paneglow.errors import CatalogError


def chip(*, length_mm, width_mm, metal_frac, tolerance_mm):
    """A chip of any size, terminals at its ends."""
    metal = metal_frac * length_mm
    at = (length_mm - metal) / 2
    pads = [
        {"name": name, "role": role, "at_mm": (sign * at, 0.0), "length_mm": metal, "width_mm": width_mm}
        for name, role, sign in (("C", "cathode", -1), ("A", "anode", 1))
    ]
    sizes = {"length_mm": length_mm, "width_mm": width_mm, "height_mm": 0.6, "tolerance_mm": tolerance_mm}
    made = {
        "body": Body.model_validate({**sizes, "origin": "measured", "source": "own"}),
        "terminals": Terminals.model_validate(
            {"pads": pads, "tolerance_mm": tolerance_mm, "wrap": True, "origin": "measured", "source": "own"}
        ),
        "lens_length_mm": None,
        "lens_width_mm": None,
    }
    return PARTS["tv-1206-red"].model_copy(update=made)


BY_STYLE = [
    ("tv-0402-red", "lens_down"),
    ("tv-1206-red", "lens_down"),
    ("tv-0805-red", "top_view"),
    ("rv-1206-red", "reverse"),
    ("sv-1204-red", "side_view"),
    ("co-1206-red", "cutout"),
    ("th-3mm-red", "through_hole"),
    ("th-5mm-red", "cutout"),
    ("tv-0603-red", "carrier"),
]


def edges(land):
    pad = land.pads[1]
    return pad.at_mm[0] - pad.length_mm / 2, pad.at_mm[0] + pad.length_mm / 2


@pytest.mark.parametrize(("code", "mounting"), BY_STYLE)
def test_denser_goals_give_larger_lands_and_courtyards(code, mounting):
    most, nominal, least = (
        build_land(PARTS[code], mounting=mounting, density=density) for density in ("most", "nominal", "least")
    )
    assert edges(most)[1] >= edges(nominal)[1] >= edges(least)[1]
    assert most.courtyard_mm > nominal.courtyard_mm > least.courtyard_mm


@pytest.mark.parametrize(("code", "mounting"), BY_STYLE)
def test_every_land_lies_like_its_terminals_and_in_its_courtyard(code, mounting):
    land = build_land(PARTS[code], mounting=mounting)
    for pad, terminal in zip(land.pads, PARTS[code].terminals.pads, strict=True):
        assert pad.terminal == terminal.name
        assert math.copysign(1, pad.at_mm[0]) == math.copysign(1, terminal.at_mm[0])
        assert abs(pad.at_mm[0]) + pad.length_mm / 2 < land.courtyard_mm[0] / 2
        assert pad.length_mm > 0.3


def test_lens_down_lands_reach_further_out_the_further_the_terminals_stand_off():
    flat = build_land(PARTS["tv-1206-red"], mounting="top_view")
    near = build_land(PARTS["tv-1206-red"], mounting="lens_down")
    far = build_land(PARTS["tv-1206-red"], mounting="lens_down", gap_mm=0.6)
    assert edges(flat)[1] < edges(near)[1] < edges(far)[1]
    assert far.standoff_mm - near.standoff_mm == pytest.approx(0.6)
    # 0.75 mm of land per mm that the fillet climbs (assumed 0.5 to 1)
    assert edges(far)[1] - edges(near)[1] == pytest.approx(0.75 * 0.6)


def test_a_lens_down_land_leaves_the_lens_on_laminate():
    part = PARTS["tv-1206-red"]
    assert edges(build_land(part, mounting="lens_down"))[0] >= part.lens_length_mm.highest / 2


def test_lens_down_without_metal_up_the_ends_is_told():
    bare = PARTS["sv-1204-red"]
    assert any("no metal to solder to" in note for note in build_land(bare, mounting="lens_down").notes)


def test_a_round_lens_asks_for_a_drilled_hole_and_keeps_copper_off_it():
    land = build_land(PARTS["co-1206-red"], mounting="cutout")
    # A lens of 2.1 mm, +-0.1 mm as is usual
    assert (land.opening.shape, land.opening.length_mm) == ("drilled hole", pytest.approx(2.2))
    # Copper-free margin at least 0.15 mm, hole +-0.05 mm (common practice of board makers)
    assert edges(land)[0] >= 2.2 / 2 + 0.15 + 0.05 - 1e-9


def test_a_square_body_asks_for_a_slot_that_its_corners_enter():
    land = build_land(PARTS["rv-1305-red"], mounting="cutout")
    body, slot = PARTS["rv-1305-red"].body, land.opening
    assert slot.shape == "routed slot"
    assert 0.8 <= slot.cutter_mm <= 2.4  # cutters of board makers, common practice
    assert slot.corner_radius_mm >= 0.25
    # The body's corner touches the rounded corner: no smaller slot takes it, and a larger one lets it wander
    dx = body.length_mm / 2 - (slot.length_mm / 2 - slot.corner_radius_mm)
    dy = body.width_mm / 2 - (slot.width_mm / 2 - slot.corner_radius_mm)
    assert math.hypot(dx, dy) == pytest.approx(slot.corner_radius_mm)
    assert min(dx, dy) > 0.0  # beyond the circle's centre, toward the corner


def test_legs_are_bent_out_over_the_margin_of_the_hole():
    land = build_land(PARTS["th-5mm-red"], mounting="through_hole")
    assert edges(land)[0] >= 5.1 / 2 + 0.15 + 0.05
    assert any("bent" in note for note in land.notes)


def test_a_leg_that_ends_before_its_land_gets_a_longer_one():
    # Cut-out parts over lands drawn for another style leave a gap: pads must be longer (common practice, no source)
    land = build_land(PARTS["th-5mm-red"], mounting="cutout")
    reach = 1.27 + 0.25
    inner, outer = edges(land)
    assert inner > reach
    assert outer - inner >= 0.7
    assert any("crosses that gap" in note for note in land.notes)


CHIPS = st.builds(
    chip,
    length_mm=st.floats(0.6, 6.0),
    width_mm=st.floats(0.3, 4.0),
    metal_frac=st.floats(0.1, 0.4),
    tolerance_mm=st.floats(0.01, 0.15),
)


@settings(deadline=None, max_examples=60)
@given(part=CHIPS, mounting=st.sampled_from(["top_view", "side_view", "reverse", "lens_down"]))
def test_every_land_reaches_beyond_the_outer_end_of_any_chip_and_leaves_a_gap_between_the_two(part, mounting):
    low, high = build_land(part, mounting=mounting).pads
    reach = part.terminals.pads[1].at_mm[0] + part.terminals.pads[1].length_mm / 2
    assert high.at_mm[0] + high.length_mm / 2 > reach + 0.1  # the toe goal, whatever the tolerances
    assert high.at_mm[0] - high.length_mm / 2 >= 0.0
    assert low.at_mm == (-high.at_mm[0], high.at_mm[1])
    assert high.length_mm > 0.0


@settings(deadline=None, max_examples=30)
@given(part=CHIPS, wider=st.floats(0.01, 0.1))
def test_a_looser_body_asks_for_a_larger_land(part, wider):
    loose = part.model_copy(
        update={"body": part.body.model_copy(update={"tolerance_mm": part.body.tolerance_mm + wider})}
    )
    tight_land, loose_land = (build_land(one, mounting="top_view") for one in (part, loose))
    assert edges(loose_land)[1] >= edges(tight_land)[1] - wider  # Z grows by less than the body itself may
    assert loose_land.pads[1].width_mm >= tight_land.pads[1].width_mm - 2 * wider


def test_four_pads_get_a_land_each_in_their_corner():
    corners = {"1": (-1.2, 0.6), "2": (-1.2, -0.6), "3": (1.2, 0.6), "4": (1.2, -0.6)}
    chips = {"1": ("red", "green", "blue"), "2": ("red",), "3": ("green",), "4": ("blue",)}
    pads = [
        {
            "name": name,
            "role": "anode" if name == "1" else "cathode",
            "at_mm": at,
            "length_mm": 0.6,
            "width_mm": 0.7,
            "chips": chips[name],
        }
        for name, at in corners.items()
    ]
    rgb = Terminals.model_validate({"pads": pads, "tolerance_mm": 0.1, "origin": "measured", "source": "own part"})
    land = build_land(PARTS["tv-1206-red"].model_copy(update={"terminals": rgb}), mounting="top_view")
    for pad in land.pads:
        x, y = corners[pad.terminal]
        assert math.copysign(1, pad.at_mm[0]) == math.copysign(1, x)
        assert pad.at_mm[1] == y
        assert pad.width_mm < 1.2  # lands of one side leave a gap


def test_a_part_without_terminals_is_one_clear_line():
    bare = PARTS["tv-1206-red"].model_copy(update={"terminals": None})
    with pytest.raises(CatalogError, match="states no terminals") as caught:
        build_land(bare, mounting="top_view")
    assert len(str(caught.value).splitlines()) == 1
