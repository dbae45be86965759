"""The curve holds every break; crossovers and break-even are those of costing every single quantity."""

from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing, run_total
from paneglow.cost import cost_runs
from paneglow.cost.curve import RunTotals, build_curve, find_break_even, find_crossovers, sample_quantities

D = Decimal
MOST = 400
PACKS = PLAIN.replace('finish = "plain"\n', 'finish = "plain"\nminimum = 10\npack = 10\n')
JIG = f'[[one_off]]\nname = "jig"\namount = 100\n{STAMP}\n'


def sampled(costing, *, most=MOST):
    return sample_quantities(costing, ways=("hand", "mixed"), most=most)


def test_the_first_and_last_quantity_of_every_step_are_on_the_curve():
    # 100 boards are the second step; 8 LEDs each reach 100 LEDs at 13 boards
    quantities = sampled(make_costing(), most=10_000)
    assert {1, 12, 13, 99, 100, 10_000} <= set(quantities)
    assert list(quantities) == sorted(set(quantities))
    assert len(quantities) < 300


def test_a_curve_is_the_cost_of_each_run_over_its_pieces():
    # 10 pieces: 45.00 and 43.00 with leftovers carried, as in test_statement
    costing = make_costing()
    curve = build_curve(RunTotals(costing), way="hand", quantities=sampled(costing))
    at_ten = curve.good.index(10)
    assert (curve.unit[at_ten], curve.unit_carried[at_ten]) == (D("4.5"), D("4.3"))


def test_totals_do_not_depend_on_what_was_asked_together():
    costing = make_costing(PACKS + PERFECT)
    together = RunTotals(costing).of("mixed", range(1, 200))
    assert together.tolist() == [run_total(costing, way="mixed", good=good) for good in range(1, 200)]


def test_crossovers_are_those_of_costing_every_quantity():
    costing = make_costing(bill=make_bill(mounting="side_view"))
    found = find_crossovers(RunTotals(costing), ways=("hand", "mixed"), quantities=sampled(costing))
    cheaper = [
        min(("hand", "mixed"), key=lambda way: run_total(costing, way=way, good=good)) for good in range(1, MOST + 1)
    ]
    changes = [(good + 1, cheaper[good]) for good in range(1, MOST) if cheaper[good] != cheaper[good - 1]]
    assert [(row.good, row.cheaper) for row in found if not row.carried] == changes
    # 10 + 2 + 2 = 14.00 once against 1.50 - 0.16 a board: 10.4 -> 11, the leftovers being alike
    assert changes == [(11, "mixed")]
    assert [row.good for row in found if row.carried] == [11]


@pytest.mark.parametrize("text", [PLAIN, PACKS])
@pytest.mark.parametrize("price", ["4.60", "5.20", "6", "8", "11", "1000"])
def test_a_break_even_is_the_smallest_run_that_pays(text, price):
    costing = make_costing(text + PERFECT + JIG)
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=sampled(costing), profit_of=lambda unit: D(price) - unit
    )
    runs = [cost_runs(costing, way="hand", good=[good]) for good in range(1, MOST + 1)]
    for least, carried in ((found.good, False), (found.good_carried, True)):
        totals = [(run.carried if carried else run.total)[0] for run in runs]
        assert least == next(good for good, total in enumerate(totals, start=1) if D(price) * good >= total)


def test_the_break_even_of_a_jig():
    # A jig of 100.00 and a price of 8.00: 27 pieces bring 216.00 and cost 54.00 + 21.60 + 40.50 + 100.00 = 216.10;
    # 28: 224.00 against 56.00 + 22.40 + 42.00 + 100.00
    costing = make_costing(PLAIN + PERFECT + JIG)
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=sampled(costing), profit_of=lambda unit: D(8) - unit
    )
    assert found.good == 28


def test_boards_in_packs_pay_at_a_full_pack_before_they_pay_for_good():
    # Boards in packs of 10 at 2.00, leftovers charged: 30 pieces cost 60 + 24 + 45 + 100 = 229.00 and 31 cost
    # 80 + 24.80 + 46.50 + 100 = 251.30; at 7.70 the 30 bring 231.00, the 31 only 238.70
    costing = make_costing(PACKS + PERFECT + JIG)
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=sampled(costing), profit_of=lambda unit: D("7.70") - unit
    )
    assert found.good == 30
    assert D("7.70") * 31 < run_total(costing, good=31)


def test_a_size_between_those_of_the_curve_can_be_the_smallest_that_pays():
    # 50 is between 49 and 52 of the curve, and a full pack: 100 + 40 + 75 + 100 = 315.00, 6.30 each; 49 cost 6.38 and
    # 52, with ten boards more, 6.53
    costing = make_costing(PACKS + PERFECT + JIG)
    quantities = sampled(costing)
    assert 50 not in quantities
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=quantities, profit_of=lambda unit: D("6.31") - unit
    )
    assert found.good == 50


def test_a_price_that_never_pays_has_no_break_even():
    costing = make_costing()
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=sampled(costing), profit_of=lambda unit: D(1) - unit
    )
    assert (found.good, found.good_carried) == (None, None)


def test_every_quantity_up_to_forty_is_on_the_curve():
    assert sampled(make_costing())[:40] == tuple(range(1, 41))
    assert sampled(make_costing(), most=7) == tuple(range(1, 8))


def test_a_run_that_brings_exactly_what_it_costs_pays():
    # 27 pieces with a jig cost 54.00 + 21.60 + 40.50 + 100.00 = 216.10; with one of 99.90 they cost 216.00, 8.00 each
    costing = make_costing(PLAIN + PERFECT + JIG.replace("100", "99.90"))
    found = find_break_even(
        RunTotals(costing), way="hand", quantities=sampled(costing), profit_of=lambda unit: D(8) - unit
    )
    assert found.good == 27
