"""Minutes of LEDs that a cost file leaves out come from how the board is built; its own always win."""

from datetime import date
from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, make_bill, make_costing, make_costs
from paneglow.cost import LedMinutes, build_costing, cost_run, with_led_minutes
from paneglow.errors import DesignError

KNOWN = {
    style: LedMinutes(minutes=0.5, low=0.25, high=1.0, origin="assumed", dated=date(2026, 11, 1), source="a test")
    for style in ("lens_down", "side_view")
}
SOLDER = PLAIN[PLAIN.index("[[operation]]") :]
WITHOUT = PLAIN.replace(SOLDER, "") + PERFECT
FOR_SIDE_VIEW = SOLDER.replace('per = "led"', 'per = "led"\nmounting = "side_view"')


def test_known_styles_fill_the_gap():
    # 8 LEDs x 0.5 min x 10 boards = 40 min
    costs = with_led_minutes(make_costs(WITHOUT), known=KNOWN)
    assert cost_run(build_costing(costs, bill=make_bill()), way="hand", good=10).minutes == 40
    assert {row.name for row in costs.operation} == {"solder lens-down", "solder side-view"}


def test_an_operation_of_the_users_own_for_a_style_wins():
    costs = with_led_minutes(make_costs(WITHOUT + FOR_SIDE_VIEW), known=KNOWN)
    minutes = {row.mounting: row.minutes.value for row in costs.operation}
    assert minutes == {"side_view": Decimal("0.75"), "lens_down": Decimal("0.5")}


def test_an_operation_for_all_leds_leaves_no_gap():
    costs = make_costs()
    assert with_led_minutes(costs, known=KNOWN) == costs


def test_leds_without_minutes_are_told_instead_of_costing_nothing():
    with pytest.raises(DesignError, match=r"no minutes are stated for lens_down LEDs; add an \[\[operation\]\]"):
        cost_run(make_costing(WITHOUT + FOR_SIDE_VIEW), way="hand", good=1)
