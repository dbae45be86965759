"""The curve holds every break; crossovers and break-even are those of costing every single quantity."""

from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing
from paneglow.cost import cost_run
from paneglow.cost.curve import build_curve, find_break_even, find_crossovers, first_true, sample_quantities

D = Decimal
MOST = 400


def curves_of(costing, ways=("hand", "mixed"), most=MOST):
    quantities = sample_quantities(costing, ways=ways, most=most)
    return tuple(build_curve(costing, way=way, quantities=quantities) for way in ways)


def test_the_first_and_last_quantity_of_every_step_are_on_the_curve():
    # 100 boards are the second step; 8 LEDs each reach 100 LEDs at 13 boards
    quantities = sample_quantities(make_costing(), ways=("hand",), most=10_000)
    assert {1, 12, 13, 99, 100, 10_000} <= set(quantities)
    assert list(quantities) == sorted(set(quantities))
    assert len(quantities) < 300


def test_a_curve_is_the_cost_of_each_run_over_its_pieces():
    # 10 pieces: 45.00 and 43.00 with leftovers carried, as in test_statement
    curve = curves_of(make_costing())[0]
    at_ten = curve.good.index(10)
    assert (curve.unit[at_ten], curve.unit_carried[at_ten]) == (D("4.5"), D("4.3"))


def test_crossovers_are_those_of_costing_every_quantity():
    costing = make_costing(bill=make_bill(mounting="side_view"))
    found = find_crossovers(costing, curves=curves_of(costing))
    cheaper = [
        min(("hand", "mixed"), key=lambda way: cost_run(costing, way=way, good=good).total)
        for good in range(1, MOST + 1)
    ]
    changes = [(good + 1, cheaper[good]) for good in range(1, MOST) if cheaper[good] != cheaper[good - 1]]
    assert [(row.good, row.cheaper) for row in found] == changes
    # 8 + 1.50 + 3 = 12.50 once against 1.50 - 0.0272 a board: 8.49 -> 9
    assert changes == [(9, "mixed")]


def test_break_even_is_the_first_quantity_that_pays():
    # A jig of 100.00 and a price of 8.00: 24 pieces bring 192.00 and cost 48.00 + 19.20 + 36.00 + 100.00 = 203.20;
    # 27: 216.00 against 54.00 + 21.60 + 40.50 + 100.00 = 216.10; 28: 224.00 against 56.00 + 22.40 + 42.00 + 100.00
    once = f'[[one_off]]\nname = "jig"\namount = 100\n{STAMP}\n'
    costing = make_costing(PLAIN + PERFECT + once)
    curve = curves_of(costing)[0]
    found = find_break_even(costing, curve=curve, profit_of=lambda unit: D(8) - unit)
    pays = [8 * good >= cost_run(costing, way="hand", good=good).total for good in range(1, MOST + 1)]
    changes = [(good + 1, pays[good]) for good in range(1, MOST) if pays[good] != pays[good - 1]]
    assert [(row.good, row.pays) for row in found] == changes
    assert changes[0] == (28, True)


def test_a_price_that_never_pays_has_no_break_even():
    curve = curves_of(make_costing())[0]
    assert find_break_even(make_costing(), curve=curve, profit_of=lambda unit: D(1) - unit) == ()


def test_a_price_that_pays_at_once_says_so():
    curve = curves_of(make_costing())[0]
    rows = find_break_even(make_costing(), curve=curve, profit_of=lambda unit: D(1000) - unit)
    assert [(row.good, row.pays) for row in rows] == [(1, True)]


@pytest.mark.parametrize("border", [1, 2, 17, 99, 100])
def test_halving_finds_the_first_number_that_holds(border):
    assert first_true(1, 100, holds=lambda number: number >= border) == border
