"""The drive section says what the record says: words, units and signs; it computes nothing."""

import pytest

from paneglow.report.drive import build_drive_part, life_sentence, match_sentence, to_hours_text, to_value_text
from paneglow.results import (
    ChangeResult,
    DriveResults,
    DriveValue,
    LedDrive,
    LifeResult,
    LoadResult,
    MatchedWindowResult,
    MatchResult,
    TurnedResult,
    WindowLife,
)
from sample_evaluation import make_look

LED = LedDrive(
    ref="D1",
    mean_ma=0.00004,
    mean_max_ma=20.0,
    peak_ma=1.5,
    peak_max_ma=60.0,
    forward_v=1.96,
    reverse_v=2.5,
    ghost_ma=0.0,
    light_frac=0.07,
    weak_light_frac=0.42,
    modulation_frac=1.0,
    junction_c=31.4,
    half_life_ma=0.9,
    end_life_ma=0.5,
)
LIFE = LifeResult(
    end="window below goal",
    limiting_window="wave",
    lit_h=60.0,
    calendar_h=360.0,
    shortest_h=20.0,
    shortest_case="weak supply, high forward voltage",
    longest_h=None,
    longest_case="strong supply, low forward voltage",
    hours_per_day=4.0,
    time_h=(0.0, 200.0, 400.0),
    supply_v=(3.2, 2.9, 2.5),
    windows=(
        WindowLife(name="wave", goal_cd_m2=2.0, goal_stated=True, lit_h=60.0, luminance_cd_m2=(5.0, 3.0, 1.0)),
        WindowLife(name="buoy", goal_cd_m2=1.0, goal_stated=False, lit_h=None, luminance_cd_m2=(2.0, 1.9, 1.8)),
        WindowLife(name="lantern", goal_cd_m2=9.0, goal_stated=True, lit_h=0.0, luminance_cd_m2=(2.0, 1.9, 1.8)),
    ),
)
CHANGES = (
    ChangeResult(kind="supply", words="USB, 5 V (usb)", luminance_cd_m2=20.0, reaches=True),
    ChangeResult(kind="windows", words="leave wave out of the match", luminance_cd_m2=40.0, reaches=False),
)
WINDOW = MatchedWindowResult(
    name="wave",
    ratio=2.0,
    asked_cd_m2=20.0,
    before_cd_m2=5.0,
    exact_cd_m2=10.0,
    after_cd_m2=9.7,
    within_reach=False,
    short_frac=0.5,
    departure_frac=-0.03,
    changes=CHANGES,
)
MATCH = MatchResult(
    applied=False,
    series="E24",
    asked_cd_m2=10.0,
    level_cd_m2=8.0,
    bought_level_cd_m2=8.1,
    agreement_frac=0.031,
    reasons=("The supply bears less.",),
    windows=(WINDOW, WINDOW.model_copy(update={"name": "buoy", "within_reach": True, "short_frac": 0.0})),
    turned=(
        TurnedResult(
            refs=("D1", "D2"),
            kind="resistor",
            unit="ohm",
            before=None,
            exact=8970.0,
            chosen=9100.0,
            pair_ohm=(8200.0, 750.0),
            mean_ma=1.25,
        ),
    ),
    other_picture="glow-other-currents.png",
)
DRIVE = DriveResults(
    currents="circuit",
    supply="coin cell",
    supply_v=3.21,
    supply_ma=2.8,
    cycle_hz=400.0,
    leds=(LED,),
    loads=(LoadResult(kind="pin", name="P1", quantity="peak current", used=12.0, limit=10.0, unit="mA"),),
    life=LIFE,
    match=MATCH,
    origins=(DriveValue(item="coin cell", words="capacity_mah: invented", origin="assumed"),),
)


@pytest.fixture(scope="module")
def part():
    return build_drive_part(DRIVE, windows=make_look(spread=0.0).windows)


def test_an_led_is_told_against_its_limits_and_over_the_life(part):
    (row,) = part.leds
    assert row.mean == "<0.0001 of 20 mA"
    assert row.peak == "1.5 of 60 mA"
    assert row.life == "<0.0001, 0.90, 0.50"
    assert row.voltage == "1.96 V, 2.5 V reverse"
    assert row.weak == "42 %"


def test_a_load_above_its_limit_stands_out(part):
    (row,) = part.loads
    assert (row.subject, row.used, row.limit, row.over) == ("pin P1", "12 mA", "10 mA", True)


def test_life_tells_its_end_its_day_and_its_range():
    words = life_sentence(DRIVE)
    assert words.startswith("It shines for 60 h, at 4 h a day, until wave drops below its goal.")
    assert "20 h (weak supply, high forward voltage) to no end (strong supply, low forward voltage)" in words


def test_windows_that_end_first_come_first_and_goals_of_ours_say_so(part):
    assert [row.name for row in part.lasting] == ["lantern", "wave", "buoy"]
    assert [row.lasts for row in part.lasting] == ["never met", "60 h", "no end"]
    assert [row.goal for row in part.lasting] == ["9.0 cd/m²", "2.0 cd/m²", "1.0 cd/m², half of fresh"]


def test_the_chart_marks_the_window_that_ends_it(part):
    assert [line.name for line in part.chart.lines if line.limiting] == ["wave"]


def test_the_match_says_level_shortfall_and_what_would_reach_it(part):
    assert match_sentence(MATCH) == (
        "Proposed E24 values would match the windows at 8.1 cd/m² (10 were asked) within 3.1 %; 1 of 2 is out of reach."
    )
    row = part.match.windows[0]
    assert (row.name, row.short, row.departure) == ("wave (x 2)", "50 % short", "\N{MINUS SIGN}3.0 %")
    assert row.changes == (
        "USB, 5 V (usb): 20 cd/m², enough",
        "leave wave out of the match: the others could all stand at 40 cd/m²",
    )


def test_values_to_buy_stand_beside_the_exact_ones(part):
    (row,) = part.match.turned
    assert (row.refs, row.before, row.exact, row.chosen) == ("D1\N{EN DASH}D2", "none", "8.97 kΩ", "9.1 kΩ")
    assert row.pair == "8.2 kΩ + 750 Ω"


def test_hours_and_values_are_as_a_person_reads_them():
    assert [to_hours_text(hours) for hours in (5.25, 95.0, 96.0, 2400.0, None)] == [
        "5.2 h",
        "95 h",
        "4.0 days",
        "100 days",
        "no end",
    ]
    assert [to_value_text(ohm, unit="ohm") for ohm in (91.0, 470.0, 1e3, 2.2e6)] == ["91 Ω", "470 Ω", "1 kΩ", "2.2 MΩ"]
    assert (to_value_text(1.25, unit="mA"), to_value_text(0.25, unit="1")) == ("1.25 mA", "25 %")
