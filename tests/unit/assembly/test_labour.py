"""Machine or hand, with the reason, and minutes from one's own clock or from assumed ranges."""

import datetime
from dataclasses import replace

import pytest

from drawn_pads import PARTS, led
from paneglow.assembly import build_ways, minutes_by_hand
from paneglow.catalog import Catalog, Evidence, SolderingLimits, TapeOrientation, Timing, read_catalog
from paneglow.units import Quantity

SHEET = Evidence(kind="data-sheet", document="own sheet", page=2, date=datetime.date(2026, 3, 4))
HEAT = {"reflow_peak_c": 260.0, "iron_tip_c": 350.0, "iron_contact_s": 3.0}


def taped(code, face="solder-down", evidence=SHEET):
    tape = TapeOrientation(face=face, terminal="C", quadrants=(1, 2), evidence=evidence)
    return PARTS[code].model_copy(update={"tape": tape})


def way_of(placed, **changes):
    (way,) = build_ways((placed,), **{"size_mm": (30.0, 30.0), "timings": ()} | changes)
    return way


@pytest.mark.parametrize(
    ("code", "mounting", "face", "way", "words"),
    [
        ("tv-1206-red", "lens_down", "solder-down", "hand", "no machine turns it over"),
        ("tv-1206-red", "lens_down", "solder-up", "machine", "comes lens down"),
        ("tv-0603-red", "lens_down", "solder-up", "hand", "rocks on its lens"),
        ("rv-1206-red", "reverse", "solder-down", "machine", "made to face the board"),
        ("sv-1204-red", "side_view", "solder-down", "machine", "flat top"),
        ("sv-1204-red", "side_view", "solder-up", "hand", "no machine turns it over"),
        ("co-1206-red", "cutout", "solder-down", "machine", "finds the hole"),
        ("th-5mm-red", "through_hole", "solder-down", "hand", "bent"),
        ("tv-0603-red", "carrier", "solder-down", "hand", "carrier board"),
    ],
)
def test_the_way_and_its_reason_follow_from_style_and_tape(code, mounting, face, way, words):
    found = way_of(led(taped(code, face), mounting=mounting))
    assert found.way == way
    assert any(words in reason for reason in found.reasons)
    assert found.open_questions == ()


def test_a_lens_down_part_that_hangs_is_built_by_hand_even_when_taped_right():
    found = way_of(led(taped("tv-1206-red", "solder-up"), mounting="lens_down", gap_mm=0.6))
    assert found.way == "hand"
    assert any("paste does not hold" in reason for reason in found.reasons)


def test_soldering_limits_are_told_for_the_way_it_is_built():
    told = {name: Quantity(value=value, origin="sourced", source="own sheet") for name, value in HEAT.items()}
    part = taped("sv-1204-red").model_copy(update={"soldering": SolderingLimits(**told)})
    assert way_of(led(part, mounting="side_view")).heat == "oven at most 260 degree Celsius"
    by_hand = taped("tv-0603-red").model_copy(update={"soldering": SolderingLimits(**told)})
    assert way_of(led(by_hand, mounting="lens_down")).heat == "iron at most 350 degree Celsius for 3 s"


def test_a_part_whose_tape_is_not_told_leaves_a_question():
    assert way_of(led("sv-1204-red", mounting="side_view")).open_questions
    assert way_of(led(taped("sv-1204-red", evidence=Evidence()), mounting="side_view")).open_questions


def test_a_panel_too_small_for_a_service_is_built_by_hand():
    # Smallest panel about 20 x 20 mm (seen in public price lists)
    small = way_of(led(taped("sv-1204-red"), mounting="side_view"), size_mm=(30.0, 19.0))
    assert small.way == "hand"
    assert any("panel is 19.0 mm wide" in reason for reason in small.reasons)


def test_the_side_with_fewer_parts_is_a_second_pass():
    part = taped("sv-1204-red")
    backs = [led(part, mounting="side_view", ref=f"D{n}") for n in (1, 2)]
    front = led(taped("tv-1206-red"), mounting="top_view", ref="D3", side="front")
    ways = {way.part: way for way in build_ways((*backs, front), size_mm=(30.0, 30.0), timings=())}
    assert ways["sv-1204-red"].way == "machine"
    assert ways["sv-1204-red"].refs == ("D1", "D2")
    assert ways["tv-1206-red"].way == "hand"
    assert any("second pass" in reason for reason in ways["tv-1206-red"].reasons)


def test_leds_of_one_code_and_style_are_told_apart_where_not_all_are_built_alike():
    # One of two reverse parts hangs in its solder, so only the other is left to a machine
    resting, hanging = led(taped("rv-1206-red"), mounting="reverse"), led(taped("rv-1206-red"), mounting="reverse")
    leds = (resting, replace(hanging, ref="D2", gap_mm=1.5))
    assert [(way.refs, way.way) for way in build_ways(leds, size_mm=(30.0, 30.0), timings=())] == [
        (("D1",), "machine"),
        (("D2",), "hand"),
    ]


def timings(count, *, minutes=(10.0, 14.0), leds=12):
    return tuple(
        Timing(
            mounting="lens_down",
            leds=leds,
            minutes=minutes[number % len(minutes)],
            date=datetime.date(2026, 11, 1 + number),
            who="own hands",
        )
        for number in range(count)
    )


def test_minutes_are_assumed_until_ten_boards_are_timed():
    # Half an hour for a board of 12 LEDs (common practice, no source) lies at the end of the range
    assumed, boards = minutes_by_hand("lens_down", timings=timings(9))
    assert (assumed.origin, boards) == ("assumed", 0)
    assert assumed.lowest <= 30 / 60
    assert assumed.highest == pytest.approx(30.0 / 12)


def test_ten_timed_boards_replace_the_assumed_range():
    found, boards = minutes_by_hand("lens_down", timings=timings(10))
    assert (found.origin, boards) == ("measured", 10)
    # Five boards of 10/12 and five of 14/12 min each: mean 1; spread 1/6 x sqrt(10/9) = 0.17568
    assert found.value == pytest.approx(1.0)
    assert found.highest - found.value == pytest.approx(1.645 * 0.17568, rel=1e-4)
    assert "2026-11-01 to 2026-11-10 by own hands" in found.source


def test_boards_timed_in_one_style_say_nothing_about_another():
    assert minutes_by_hand("side_view", timings=timings(10))[0].origin == "assumed"


def test_timings_are_read_from_the_parts_folder(tmp_path):
    row = '[[timing]]\nmounting = "lens_down"\nleds = 12\nminutes = 22.5\ndate = 2026-11-02\nwho = "own hands"\n'
    (tmp_path / "bench.toml").write_text(row * 10, encoding="utf-8")
    catalog: Catalog = read_catalog(user_parts=tmp_path)
    assert len(catalog.timings) == 10
    assert way_of(led("tv-1206-red", mounting="lens_down"), timings=catalog.timings).boards_timed == 10
