"""The drive section says what the record says: words, units and signs; it computes nothing."""

import pytest

from paneglow.drive import (
    AdjustedValue,
    BrightnessMatch,
    Change,
    DriveResults,
    DriveValue,
    LedDrive,
    LifeStage,
    Load,
    SupplyLife,
    WindowLife,
    WindowMatch,
)
from paneglow.report.drive import build_drive_part, life_sentences, match_sentence, to_hours_text, to_value_text
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
)
SHOWN = (5.0, 3.0, 1.0)


def window_life(name, *, goal_cd_m2, lit_h, **changes):
    values = {"fresh_cd_m2": 5.0, "goal_stated": True, "met_when_fresh": True, "luminance_cd_m2": SHOWN, **changes}
    return WindowLife(name=name, goal_cd_m2=goal_cd_m2, lit_h=lit_h, **values)


LIFE = SupplyLife(
    end="window below goal",
    limiting_window="wave",
    lit_h=60.0,
    evenings=15.0,
    calendar_h=360.0,
    shortest_h=20.0,
    shortest_case="weak supply, high forward voltage",
    longest_h=None,
    longest_case="strong supply, low forward voltage",
    hours_per_day=4.0,
    stages=tuple(
        LifeStage(stage=stage, lit_h=hours, supply_v=3.0, led_ma=(current,))
        for stage, hours, current in (("fresh", 0.0, 0.00004), ("half", 30.0, 0.9), ("end", 60.0, 0.5))
    ),
    time_h=(0.0, 200.0, 400.0),
    supply_v=(3.2, 2.9, 2.5),
    windows=(
        window_life("wave", goal_cd_m2=2.0, lit_h=60.0),
        window_life("buoy", goal_cd_m2=1.0, lit_h=None),
        window_life("lantern", goal_cd_m2=9.0, lit_h=0.0, met_when_fresh=False),
    ),
)
CHANGES = (
    Change(kind="supply", words="USB, 5 V (usb)", windows=("wave", "buoy"), luminance_cd_m2=20.0, reaches=True),
    Change(kind="windows", words="leave wave out of the match", windows=("buoy",), luminance_cd_m2=40.0, reaches=False),
    Change(kind="part", words="x instead of y", windows=("wave",), luminance_cd_m2=15.0, reaches=False),
)
WINDOW = WindowMatch(
    name="wave",
    ratio=2.0,
    asked_cd_m2=20.0,
    before_cd_m2=5.0,
    exact_cd_m2=10.0,
    after_cd_m2=9.7,
    within_reach=False,
    short_frac=0.5,
    departure_frac=-0.03,
)
RESISTOR = AdjustedValue(
    name="R7",
    refs=("D1", "D2"),
    kind="resistor",
    unit="ohm",
    before=None,
    exact=8970.0,
    chosen=9100.0,
    pair_ohm=(8200.0, 750.0),
    mean_ma=1.25,
)
MATCH = BrightnessMatch(
    applied=False,
    series="E24",
    asked_cd_m2=10.0,
    level_cd_m2=8.0,
    bought_level_cd_m2=8.1,
    agreement_frac=0.031,
    reasons=("The supply bears less.",),
    changes=CHANGES,
    windows=(WINDOW, WINDOW.model_copy(update={"name": "buoy", "within_reach": True, "short_frac": 0.0})),
    adjusted=(RESISTOR, RESISTOR.model_copy(update={"name": "the resistor of D1-D2"})),
)
DRIVE = DriveResults(
    currents="circuit",
    supply="coin cell",
    supply_v=3.21,
    supply_ma=2.8,
    cycle_hz=400.0,
    leds=(LED,),
    loads=(Load(kind="pin", name="P1", quantity="peak current", used=12.0, limit=10.0, unit="mA"),),
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


def test_life_is_told_in_hours_of_light_and_evenings_with_windows_that_never_met_their_goal_apart():
    first, unmet, ends = life_sentences(LIFE)
    assert first == (
        "After 60 h of light (15 evenings of 4 h) wave drops below its goal,"
        " first of the windows that meet it when fresh."
    )
    assert unmet == "lantern misses its goal from the start and is not counted."
    assert "20 h (weak supply, high forward voltage) to no end (strong supply, low forward voltage)" in ends


def test_where_no_window_meets_the_goal_the_half_of_fresh_is_what_is_told():
    windows = [window.model_copy(update={"goal_stated": False, "met_when_fresh": False}) for window in LIFE.windows]
    first, unmet, _ = life_sentences(LIFE.model_copy(update={"windows": tuple(windows), "hours_per_day": 24.0}))
    assert first == "After 60 h of light, day and night wave has fallen to half of its fresh brightness."
    assert unmet.startswith("No window meets its goal when fresh")


@pytest.mark.parametrize(
    ("end", "words"),
    [
        ("supply cut off", "switches off"),
        ("supply empty", "the supply is empty"),
        ("not reached", "no end"),
        ("never met", "on a fresh supply"),
    ],
)
def test_every_end_of_a_life_has_its_words(end, words):
    assert words in life_sentences(LIFE.model_copy(update={"end": end}))[0]


def test_windows_that_end_first_come_first_and_goals_of_ours_say_so(part):
    assert [row.name for row in part.lasting] == ["lantern", "wave", "buoy"]
    assert [row.lasts for row in part.lasting] == ["missed from the start: 5.0 cd/m²", "60 h", "no end"]
    assert [row.goal for row in part.lasting] == ["9.0 cd/m²", "2.0 cd/m²", "1.0 cd/m²"]


def test_the_chart_marks_the_window_that_ends_it(part):
    assert [line.name for line in part.chart.lines if line.limiting] == ["wave"]


def test_the_match_says_level_shortfall_and_what_would_reach_it(part):
    assert match_sentence(MATCH) == (
        "Proposed E24 values would match the windows at 8.1 cd/m² (10 were asked) within 3.1 %; 1 of 2 is out of reach."
    )
    row = part.match.windows[0]
    assert (row.name, row.short, row.departure) == ("wave (x 2)", "50 % short", "\N{MINUS SIGN}3.0 %")
    assert part.match.changes == (
        "USB, 5 V (usb): all 2 windows that fall short at 20 cd/m², enough",
        "leave wave out of the match: the others could all stand at 40 cd/m²",
        "x instead of y: wave at 15 cd/m², still short",
    )


def test_values_to_buy_stand_beside_the_exact_ones(part):
    row, unnamed = part.match.adjusted
    assert (row.name, row.before, row.exact, row.chosen) == ("R7 (D1\N{EN DASH}D2)", "none", "8.97 kΩ", "9.1 kΩ")
    assert unnamed.name == "D1\N{EN DASH}D2"
    assert row.pair == "8.2 kΩ + 750 Ω"


def test_hours_and_values_are_as_a_person_reads_them():
    assert [to_hours_text(hours) for hours in (5.25, 95.0, 2400.0, None)] == ["5.2 h", "95 h", "2400 h", "no end"]
    assert [to_value_text(ohm, unit="ohm") for ohm in (91.0, 470.0, 1e3, 2.2e6)] == ["91 Ω", "470 Ω", "1 kΩ", "2.2 MΩ"]
    assert (to_value_text(1.25, unit="mA"), to_value_text(0.25, unit="1")) == ("1.25 mA", "25 %")
