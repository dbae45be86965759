"""Rocking, height behind the board and room between parts."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn_pads import PARTS, board, led
from paneglow.assembly import height_of, leg_needed_mm, stability_of, tight_pairs
from paneglow.units import Quantity

CHIPS = ("tv-0402-red", "tv-0603-red", "tv-0805-red", "tv-1206-red")


def sized(part, factor):
    """The same part, every length times a factor."""
    body = part.body
    lengths = {name: factor * getattr(body, name) for name in ("length_mm", "width_mm", "height_mm")}
    lens = {
        name: Quantity(value=factor * getattr(part, name).value, origin="measured", source="scaled")
        for name in ("lens_length_mm", "lens_width_mm")
    }
    return part.model_copy(update={"body": body.model_copy(update=lengths), **lens})


def test_small_packages_rock_and_large_ones_rest():
    # Common practice, no source: a lens-down 0603 rocks; larger packages (1206) have more lens to rest on
    held = [stability_of(PARTS[code]).unevenness_held_frac.value for code in CHIPS]
    assert held == sorted(held)
    assert stability_of(PARTS["tv-0603-red"]).stand == "rocks"
    assert stability_of(PARTS["tv-1206-red"]).stand == "rests"


@settings(deadline=None, max_examples=30)
@given(factor=st.floats(0.5, 1.4))
def test_weight_against_solder_pull_grows_with_the_square_of_size(factor):
    part = PARTS["tv-0603-red"]
    plain, scaled = stability_of(sized(part, 1.0)), stability_of(sized(part, factor))
    expected = plain.unevenness_held_frac.value * factor**2
    assert scaled.unevenness_held_frac.value == pytest.approx(expected, rel=1e-9)
    assert scaled.topple_deg == pytest.approx(plain.topple_deg)


def test_the_balance_worked_by_hand():
    # 0603, lens 1.1 x 0.8 on 1.6 x 0.8 x 0.6 mm, lens half the height: 0.384 + 0.264 = 0.648 mm3 at 1.9 mg/mm3
    # Weight 12.074 uN x 0.55 mm over pull 0.45 N/m x 0.8 mm x 0.7 = 252 uN x 0.25 mm: 0.10541
    stability = stability_of(PARTS["tv-0603-red"])
    assert stability.mass_mg == pytest.approx(1.2312, rel=1e-4)
    assert stability.unevenness_held_frac.value == pytest.approx(0.10541, rel=1e-3)
    assert stability.topple_deg == pytest.approx(math.degrees(math.atan(0.55 / 0.3)))
    # It tilts about the lens edge until its end, 0.25 mm out, has come down the 0.3 mm of the lens
    assert stability.tilt_most_deg == pytest.approx(math.degrees(math.atan(0.3 / 0.25)))


def test_a_part_held_off_the_board_hangs_whatever_its_size():
    stability = stability_of(PARTS["tv-1206-red"], gap_mm=0.6)
    assert stability.stand == "hangs"
    assert stability.tilt_most_deg == pytest.approx(math.degrees(math.atan2(0.6, 1.0)))


def test_a_part_without_a_lens_is_not_judged():
    assert stability_of(PARTS["sv-1204-red"]) is None


@pytest.mark.parametrize(
    ("code", "mounting", "gap_mm", "height_mm"),
    [
        ("tv-1206-red", "lens_down", None, 1.1 + 0.1),
        ("tv-1206-red", "lens_down", 0.6, 1.1 + 0.6 + 0.1),
        ("sv-1204-red", "side_view", None, 1.5 + 0.1),
        ("co-1206-red", "cutout", None, 1.05 - 0.8 + 0.2),  # lens 0.8 mm into the board
        ("th-5mm-red", "through_hole", None, 8.6 - 1.6 + 0.8),  # body through a board of 1.6 mm
        ("tv-0603-red", "carrier", 3.0, 3.0 + 0.6 + 1.6 + 0.25),
    ],
)
def test_height_behind_the_board_adds_up_at_the_greatest_sizes(code, mounting, gap_mm, height_mm):
    placed = led(code, mounting=mounting, gap_mm=gap_mm)
    found = height_of(placed, board=board(), cover_mm=5.0)
    assert found.height_mm == pytest.approx(height_mm)
    assert found.clearance_mm == pytest.approx(5.0 - height_mm)


def test_a_leg_must_reach_down_to_the_board_and_out_to_the_end_of_its_land():
    # 8.6 mm body through a board of 1.6 mm leaves 7 mm; hole 5.2 mm, margin 0.15 and 0.05 mm, land 1.5 mm: out to
    # 4.3 mm from a leg at 1.27 mm
    placed = led("th-5mm-red", mounting="through_hole")
    assert leg_needed_mm(placed, board=board()) == pytest.approx(7.0 + 4.3 - 1.27)
    assert leg_needed_mm(led("co-1206-red", mounting="cutout"), board=board()) is None


def test_glue_over_a_side_view_part_is_higher_than_the_part():
    # Emitter 0.9 mm up at most, 1.2 mm high at most, and glue up to 2 mm beyond it (all assumed in the catalogue)
    glued = led("sv-1204-red", mounting="side_view", diffuser="hot-glue")
    assert height_of(glued, board=board(), cover_mm=None).height_mm == pytest.approx(0.9 + 0.6 + 2.0)


def test_a_carrier_whose_distance_is_not_told_takes_the_farthest_assumed():
    placed = led("tv-0603-red", mounting="carrier")
    assert height_of(placed, board=board(), cover_mm=None).height_mm == pytest.approx(10.0 + 0.6 + 1.6 + 0.25)


def test_a_part_on_the_front_takes_no_room_behind():
    assert (
        height_of(led("tv-1206-red", mounting="top_view", side="front"), board=board(), cover_mm=1.0).height_mm == 0.0
    )


@pytest.mark.parametrize(("apart_mm", "tight"), [(3.2 + 0.1, True), (3.2 + 0.5, False), (3.0, False)])
def test_bodies_too_near_for_a_tool_are_told(apart_mm, tight):
    first = led("tv-1206-red", mounting="lens_down")
    second = led("tv-1206-red", mounting="lens_down", ref="D2", at_mm=(15.0 + apart_mm, 15.0))
    assert len(list(tight_pairs((first, second)))) == int(tight)


def test_parts_on_two_faces_are_never_too_near():
    first = led("tv-1206-red", mounting="lens_down")
    second = led("tv-1206-red", mounting="lens_down", ref="D2", at_mm=(18.3, 15.0), side="front")
    assert list(tight_pairs((first, second))) == []
