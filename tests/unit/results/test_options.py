"""Versions beside each other: their light read back, and which rows nothing beats."""

from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, make_bill, make_costing
from paneglow.errors import DesignError
from paneglow.results import (
    OptionLight,
    OptionResult,
    SwappedPart,
    TracedLight,
    Version,
    build_led_costs,
    build_option_light,
    build_options,
    build_results,
    luminance_by_part,
    read_light,
    to_json,
)
from paneglow.results.options import dominates
from paneglow.units import Estimate
from sample_evaluation import make_evaluation

D = Decimal


def exact(value):
    return Estimate(value=value, se=0.0, low=value, high=value)


def row(name, unit, minutes, *, light=None):
    seen = None
    if light is not None:
        luminance, evenness, met = light
        seen = OptionLight(
            mean_cd_m2=exact(luminance), evenness=exact(evenness), evenness_least=exact(evenness),
            passed=met == 1, goals_met_frac=met,
        )  # fmt: skip
    return OptionResult(
        name=name, way="hand", good=1, unit=D(unit), more=D(0), minutes=D(minutes),
        light_state="traced" if seen else "not traced", light=seen, best=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (row("a", "5", "3"), row("a", "6", "3"), True),
        (row("a", "5", "3"), row("a", "5", "3"), False),
        (row("a", "5", "4"), row("a", "6", "3"), False),
        (row("a", "5", "3"), row("b", "6", "4"), False),  # unseen: it may look better
        (row("a", "5", "3", light=(20, 0.5, 1)), row("b", "6", "3", light=(20, 0.5, 1)), True),
        (row("a", "5", "3", light=(20, 0.4, 1)), row("b", "6", "3", light=(20, 0.5, 1)), False),
        (row("a", "5", "3", light=(20, 0.5, 0.5)), row("b", "6", "3", light=(20, 0.5, 1)), False),
        (row("a", "5", "3", light=(10, 0.5, 1)), row("a", "6", "3", light=(10, 0.5, 1)), True),
    ],
)
def test_a_row_is_beaten_only_where_everything_is_as_good(one, other, expected):
    assert dominates(one, other) is expected


def test_the_look_of_a_version_is_weighted_by_the_area_of_its_lit_windows():
    evaluation = make_evaluation(origin="measured")
    windows = [window for window in evaluation.look.windows if window.leds]
    light = build_option_light(evaluation.look.windows, verdict=evaluation.verdict)
    whole = sum(window.area_mm2 for window in windows)
    mean = sum(window.area_mm2 * window.mean_cd_m2.value for window in windows) / whole
    assert light.mean_cd_m2.value == pytest.approx(mean, rel=1e-12)
    assert light.evenness_least.value == min(window.evenness.value for window in windows)
    # One goal of three is met, one missed, one open
    assert light.goals_met_frac == pytest.approx(1 / 3, abs=1e-12)
    assert light.passed is False


def test_the_light_of_a_results_file_is_read_back(tmp_path):
    evaluation = make_evaluation()
    path = tmp_path / "results.json"
    path.write_text(to_json(build_results(evaluation)), encoding="utf-8")
    light = read_light(path)
    assert sorted(light.leds) == sorted((led.part.code, led.mounting) for led in evaluation.board.leds)
    direct = build_option_light(evaluation.look.windows, verdict=evaluation.verdict)
    # results.json carries seven digits
    assert light.seen.mean_cd_m2.value == pytest.approx(direct.mean_cd_m2.value, rel=1e-6)


def test_no_file_is_no_light_and_another_file_is_one_clear_line(tmp_path):
    assert read_light(tmp_path / "results.json") is None
    (tmp_path / "results.json").write_text('{"name": 1}', encoding="utf-8")
    with pytest.raises(DesignError, match="is no results.json of this version of paneglow .* run paneglow light again"):
        read_light(tmp_path / "results.json")


def test_a_version_is_shown_with_its_light_only_where_that_is_its_own():
    seen = row("x", "1", "1", light=(20, 0.5, 1)).light
    own = TracedLight(leds=(("led", "lens_down"),) * 8, seen=seen)
    other = TracedLight(leds=(("led", "reverse"),) * 8, seen=seen)
    costing = make_costing()
    versions = [
        Version(name=name, costing=costing, light=light) for name, light in (("a", own), ("b", other), ("c", None))
    ]
    rows = build_options(versions, good=10)
    states = {option.name: option.light_state for option in rows}
    assert states == {"a": "traced", "b": "of another version", "c": "not traced"}
    assert [option.light is not None for option in rows if option.way == "hand"] == [True, False, False]


def test_the_rows_of_one_version_mark_the_cheapest_and_the_fastest():
    rows = build_options([Version(name="a", costing=make_costing(bill=make_bill()), light=None)], good=100)
    by_way = {option.way: option for option in rows}
    assert by_way["hand"].minutes == 6
    assert by_way["service"].minutes == 0
    assert by_way["service"].best
    cheapest = min(rows, key=lambda option: option.unit)
    assert cheapest.best


def test_an_led_costs_what_leaving_it_out_would_save():
    # 10 boards by hand: LEDs 100 x 0.10 = 10.00 and 60 min = 15.00, in all 2.50 a board; at twice the price of an LED
    # 100 of them are 20.00, so 1.00 more
    costing = make_costing()
    twice = make_costing(PLAIN.replace("each = 0.20", "each = 0.40").replace("each = 0.10", "each = 0.20") + PERFECT)
    own = Version(name="a", costing=costing, light=None)
    other = SwappedPart(part="led", by="other", costing=twice)
    (row,) = build_led_costs(own, swapped=(other,), way="hand", good=10)
    assert (row.part, row.count, row.each_board, row.mean_cd_m2) == ("led", 8, D("2.50"), None)
    assert [(swap.by, swap.more_each_board) for swap in row.instead] == [("other", D("1.00"))]


def test_the_light_of_an_led_is_that_of_the_windows_it_is_meant_for():
    evaluation = make_evaluation(origin="measured")
    parts = {led.ref: led.part.code for led in evaluation.board.leds}
    found = luminance_by_part(evaluation.look.windows, parts=parts)
    for part, seen in found.items():
        lit = [window for window in evaluation.look.windows if {parts[ref] for ref in window.leds} & {part}]
        whole = sum(window.area_mm2 for window in lit)
        mean = sum(window.area_mm2 * window.mean_cd_m2.value for window in lit) / whole
        assert seen.value == pytest.approx(mean, rel=1e-12)
    assert found


def test_a_way_that_needs_fees_nobody_quoted_is_neither_best_nor_compared():
    assumed = PLAIN[: PLAIN.index("[assembly]")] + ASSUMED_FEES + PLAIN[PLAIN.index("[labour]") :]
    costing = make_costing(assumed + PERFECT, bill=make_bill(mounting="side_view"))
    rows = {row.way: row for row in build_options([Version(name="a", costing=costing, light=None)], good=1000)}
    assert rows["mixed"].unit < rows["hand"].unit
    assert [way for way, row in rows.items() if row.best] == ["hand"]


ASSUMED_FEES = """[assembly]
per_joint = { value = 0.001, low = 0, high = 0.05 }
origin = "assumed"
dated = 2026-11-01
source = "a range of our own"
"""
