"""What is read off many runs at once: prices by size of run, the best run of all, ranges of fees nobody quoted."""

from decimal import Decimal

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing, run_total
from paneglow.cost import build_answer
from paneglow.cost.demand import expected_sold

D = Decimal
SALE = f"[sale]\nprice = 8\nmargin_percent = 30\nvat_percent = 20\n{STAMP}\n"
PACKS = PLAIN.replace('finish = "plain"\n', 'finish = "plain"\nminimum = 10\npack = 10\n')


def answer_of(text, *, bill=None, good=100):
    return build_answer(make_costing(text, bill=bill), quantities=(good,), seed=1)


def test_the_price_for_a_margin_stands_for_every_size_of_run():
    # By hand: 100 boards at 1.00, 8 LEDs at 0.10, 6 min at 15/h: 3.30; gross x 0.7/1.2 = 3.30 -> 5.658, up to 5.66.
    # 10 boards at 2.00: 4.50, and 4.30 without the 20 LEDs left over: 7.715 -> 7.72 and 7.372 -> 7.38
    rows = {row.good: row for row in answer_of(PLAIN + PERFECT + SALE).wanted if row.way == "hand"}
    assert (rows[100].price, rows[100].price_carried) == (D("5.66"), D("5.66"))
    assert (rows[10].price, rows[10].price_carried) == (D("7.72"), D("7.38"))
    assert list(rows) == [10, 20, 50, 100, 200, 500, 1000, 2000, 5000]


def test_profit_is_given_with_leftovers_charged_and_carried():
    # 8/1.2 = 6.6667 less 4.50 or 4.30: 2.17 and 2.37; of 6.6667 that is 32.5 and 35.5 %
    (sale,) = (row for row in answer_of(PLAIN + PERFECT + SALE, good=10).sales if row.way == "hand")
    assert (sale.profit, sale.profit_carried) == (D("2.17"), D("2.37"))
    assert (sale.margin_percent, sale.margin_percent_carried) == (D("32.50"), D("35.50"))


@pytest.mark.parametrize("text", [PLAIN, PACKS])
def test_the_best_run_is_the_best_of_every_size(text):
    demand = f"[demand]\nmean = 137\nsd = 31\nsalvage = 0.5\n{STAMP}\n"
    costing = make_costing(text + PERFECT + SALE + demand)
    (found,) = (row for row in build_answer(costing, quantities=(100,), seed=1).demand if row.way == "hand")

    def profit(good):
        sold = D(float(expected_sold(costing.costs.demand, good=good)))
        return D(8) / D("1.2") * sold + D("0.5") * (good - sold) - run_total(costing, good=good)

    best = max(range(1, 300), key=profit)
    assert found.good == best
    assert found.expected_profit == pytest.approx(profit(best), abs=D("1e-9"))


def test_returned_pieces_that_are_sold_again_count_alike_everywhere():
    # Of 2 sold 1 comes back and all of those are sold again: each sale uses up half a piece. A demand of exactly 100
    # takes 50 pieces: half of 8/1.2 a sale, 333.33, less the run of 50 and nothing left over
    more = "return_percent = 50\nresold_percent = 100\nvat_percent"
    demand = f"[demand]\nsalvage = 0\n{STAMP}\n[[demand.step]]\npieces = 100\nweight = 1\n"
    costing = make_costing(PLAIN + PERFECT + SALE.replace("vat_percent", more) + demand)
    answer = build_answer(costing, quantities=(50,), seed=1)
    (best,) = (row for row in answer.demand if row.way == "hand")
    assert (best.good, best.expected_sold) == (50, 100)
    total = run_total(costing, good=50)
    assert best.expected_profit == pytest.approx(100 * D(8) / D("1.2") / 2 - total, abs=D("1e-9"))
    # What one sale leaves, times all sales, is the same money
    (sale,) = (row for row in answer.sales if row.way == "hand")
    assert 100 * sale.profit == pytest.approx(best.expected_profit, abs=D("0.5"))
    (variable,) = (row for row in answer.variable if row.way == "hand")
    assert variable.unit == pytest.approx((total / 50 / 2).quantize(D("0.01")), abs=D("0.01"))


def test_fees_nobody_quoted_span_a_range_that_their_own_ends_give():
    # 10 side-view boards: boards and LEDs 30.00; set-up 0 to 50 and joints 160 x 0.005 to 0.02: 3.08 and 8.32 a piece
    fees = """[assembly]
setup_per_side = { value = 10, low = 0, high = 50 }
per_joint = { value = 0.01, low = 0.005, high = 0.02 }
origin = "assumed"
dated = 2026-11-01
source = "a range of our own"
"""
    text = PLAIN[: PLAIN.index("[assembly]")] + fees + PLAIN[PLAIN.index("[labour]") :]
    answer = answer_of(text + PERFECT, bill=make_bill(mounting="side_view"), good=10)
    (mixed,) = (row for row in answer.statements if row.way == "mixed")
    assert (mixed.quoted, mixed.unit_low, mixed.unit_high) == (False, D("3.08"), D("8.32"))
    (hand,) = (row for row in answer.statements if row.way == "hand")
    assert (hand.quoted, hand.unit_low, hand.unit_high) == (True, None, None)
    assert answer.cheapest is None
    assert answer.shown == hand


def test_where_every_fee_is_quoted_the_cheapest_way_is_named():
    # Mixed with nothing for hands: 45.60 against 45.00 by hand at 10 pieces; at 20 pieces the machine has won
    for good, way in ((10, "hand"), (20, "mixed")):
        answer = answer_of(PLAIN + PERFECT, bill=make_bill(mounting="side_view"), good=good)
        assert answer.cheapest == way
        assert answer.shown.way == way
