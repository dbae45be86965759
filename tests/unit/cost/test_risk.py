"""Ranges: one input at a time, and all of them drawn; both against what can be worked out."""

from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, make_costing, run_total
from paneglow.cost.risk import build_risks, build_sensitivity, draw_units, quantile

D = Decimal
RANGED = PLAIN.replace("rate_per_hour = 15", "rate_per_hour = { value = 15, low = 12, high = 24 }") + PERFECT
TWO, THREE = ("hand", "mixed"), ("hand", "mixed", "service")


def test_an_hour_moves_the_cost_by_its_own_range():
    # 10 pieces: 60 min of 45.00; at 12/h 42.00, at 24/h 54.00, at 16.50/h 46.50
    rows = build_sensitivity(make_costing(RANGED), way="hand", good=10)
    first = rows[0]
    assert first.what == "labour: rate per hour"
    assert (first.unit_at_low, first.unit_at_high, first.unit_at_tenth_more) == (D("4.20"), D("5.40"), D("4.65"))
    assert first.swing == D("1.20")


def test_prices_count_by_ten_percent_more_where_they_have_no_range():
    # Boards 20.00 + 10 % = 22.00: 4.70 each; LEDs 10.00 + 10 %: 4.60
    rows = {row.what: row.unit_at_tenth_more for row in build_sensitivity(make_costing(RANGED), way="hand", good=10)}
    assert rows["board: price factor"] == D("4.70")
    assert rows["led loose of shop: price factor"] == D("4.60")


def test_one_triangle_drawn_gives_its_own_quantiles():
    # Hours are the only range: unit = 3.00 + rate/10. Of the triangle 12, 15, 24 a share (x-12)^2/36 lies below x up to
    # 15, and 1 - (24-x)^2/108 beyond: 5 % at 13.342, half at 16.652, 95 % at 21.676
    units = draw_units(make_costing(RANGED), ways=("hand",), good=10, seed=3, draws=2000)["hand"]
    (row,) = build_risks(make_costing(RANGED), ways=("hand",), compared=("hand",), good=10, seed=3, draws=2000)
    # What is printed as best and worst are the ends that one draw in twenty goes beyond: 4 standard errors are 0.026
    # and 0.045, half a cent of rounding on top; one draw in ten would give 4.390 and 5.071
    assert float(row.best) == pytest.approx(3.0 + 13.342 / 10, abs=0.031)
    assert float(row.worst) == pytest.approx(3.0 + 21.676 / 10, abs=0.05)
    for share, rate in ((0.05, 13.342), (0.5, 16.652), (0.95, 21.676)):
        # 4 standard errors of a quantile of 2000 draws, 4 sqrt(p (1-p)/2000) over the density: at most 0.5 of the rate
        assert float(quantile(units, share=share)) == pytest.approx(3.0 + rate / 10, abs=0.07)


def test_the_same_seed_gives_the_same_draws_and_another_seed_others():
    one, again, other = (
        build_risks(make_costing(RANGED), ways=TWO, compared=TWO, good=10, seed=seed, draws=50) for seed in (1, 1, 2)
    )
    assert one == again
    assert one != other


def test_best_likely_and_worst_stand_in_order_and_shares_add_up():
    rows = build_risks(make_costing(RANGED), ways=THREE, compared=THREE, good=10, seed=1, draws=80)
    assert all(row.best <= row.likely <= row.worst for row in rows)
    assert sum(row.cheapest_frac for row in rows) == pytest.approx(1.0, abs=1e-12)


def test_without_ranges_every_draw_is_the_stated_cost():
    (row,) = build_risks(make_costing(), ways=("hand",), compared=("hand",), good=10, seed=1, draws=5)
    assert row.best == row.likely == row.worst == row.stated == D("4.50")


def test_a_moved_input_changes_nothing_else():
    costing = make_costing(RANGED)
    build_sensitivity(costing, way="hand", good=10)
    assert run_total(costing, good=10) == D("45.00")
