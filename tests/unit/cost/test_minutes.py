"""Minutes of LEDs that a cost file leaves out come from how the board is built; its own always win."""

from datetime import date
from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, make_bill, make_costing, make_costs
from paneglow.catalog import Timing
from paneglow.cost import build_costing, cost_run, with_led_minutes
from paneglow.errors import DesignError

# Ten boards of 12 lens-down LEDs in 6 min each
TIMED = tuple(
    Timing(mounting="lens_down", leds=12, minutes=6.0, date=date(2026, 11, day), who="own hands")
    for day in range(1, 11)
)
SOLDER = PLAIN[PLAIN.index("[[operation]]") :]
WITHOUT = PLAIN.replace(SOLDER, "") + PERFECT
FOR_SIDE_VIEW = SOLDER.replace('per = "led"', 'per = "led"\nmounting = "side_view"')


def test_the_users_own_clock_fills_the_gap():
    # 8 LEDs x 0.5 min x 10 boards = 40 min
    costs = with_led_minutes(make_costs(WITHOUT), timings=TIMED)
    assert cost_run(build_costing(costs, bill=make_bill()), way="hand", good=10).minutes == 40
    (row,) = (row for row in costs.operation if row.mounting == "lens_down")
    assert (row.name, row.origin, row.dated) == ("solder lens-down", "own-timing", date(2026, 11, 10))


def test_a_style_that_was_never_timed_is_assumed_with_its_range():
    costs = with_led_minutes(make_costs(WITHOUT), timings=TIMED)
    (row,) = (row for row in costs.operation if row.mounting == "side_view")
    assert row.origin == "assumed"
    assert row.minutes.low < row.minutes.value < row.minutes.high


def test_an_operation_of_the_users_own_for_a_style_wins():
    costs = with_led_minutes(make_costs(WITHOUT + FOR_SIDE_VIEW), timings=TIMED)
    minutes = {row.mounting: row.minutes.value for row in costs.operation}
    assert (minutes["side_view"], minutes["lens_down"]) == (Decimal("0.75"), Decimal("0.5"))


def test_an_operation_for_all_leds_leaves_no_gap():
    costs = make_costs()
    assert with_led_minutes(costs, timings=TIMED) == costs


def test_leds_without_minutes_are_told_instead_of_costing_nothing():
    with pytest.raises(DesignError, match=r"no minutes are stated for lens_down LEDs; add an \[\[operation\]\]"):
        cost_run(make_costing(WITHOUT + FOR_SIDE_VIEW), way="hand", good=1)
