"""How many to make: newsvendor exercises, worked, and the best run on a cost curve against trying every one."""

from datetime import date
from decimal import Decimal
from functools import partial
from statistics import NormalDist

import numpy as np
import pytest

from paneglow.cost.demand import best_run, critical_ratio, demand_quantile, expected_sold
from paneglow.cost.records import Demand, DemandStep
from paneglow.errors import RangeError

D = Decimal
STAMP = {"origin": "quote", "dated": date(2026, 11, 1), "source": "invented for this test"}


def normal(mean, sd):
    return Demand(mean=D(str(mean)), sd=D(str(sd)), **STAMP)


def uniform(least, most):
    return Demand(least=D(least), most=D(most), **STAMP)


def steps(*pairs):
    return Demand(step=tuple(DemandStep(pieces=pieces, weight=D(str(weight))) for pieces, weight in pairs), **STAMP)


def test_a_textbook_magazine():
    # Nahmias: N(11.73, 4.74), cu 0.50, co 0.15 (costs from memory): 0.50/0.65 = 0.769, z = 0.74, 11.73 + 0.74 x 4.74
    ratio = critical_ratio(price=0.75, cost=0.25, salvage=0.10)
    assert ratio == pytest.approx(0.769, abs=5e-4)
    assert demand_quantile(normal(11.73, 4.74), ratio=ratio) == pytest.approx(15.24, abs=0.05)


def test_the_first_exercise():
    # N(1000, 200), cost 100, price 130, salvage 80 (tutorsglobe.com 51686643; answers computed for this project):
    # 30/(30 + 20) = 0.60, z = 0.2533, Q = 1050.7, lost sales 57.0, profit 26137
    assert critical_ratio(price=130, cost=100, salvage=80) == pytest.approx(0.60, abs=1e-12)
    demand = normal(1000, 200)
    best = demand_quantile(demand, ratio=0.60)
    assert best == pytest.approx(1050.7, abs=0.05)
    sold = expected_sold(demand, good=1051)
    assert 1000 - sold == pytest.approx(57.0, abs=0.2)
    # 30 x sold - 20 x (1051 - sold)
    assert 30 * sold - 20 * (1051 - sold) == pytest.approx(26137, abs=1)


def test_the_second_exercise():
    # The same demand, cu 40, co 10: 0.80, Q = 1168.3, lost 22.3, profit 37200
    demand = normal(1000, 200)
    assert demand_quantile(demand, ratio=0.8) == pytest.approx(1168.3, abs=0.05)
    sold = expected_sold(demand, good=1168)
    assert 1000 - sold == pytest.approx(22.3, abs=0.1)
    assert 40 * sold - 10 * (1168 - sold) == pytest.approx(37200, abs=5)


@pytest.mark.parametrize(
    ("demand", "best"),
    # p 20, c 14, s 5: cu 6, co 9, 0.40 (essayzeus.com 36994; answers computed for this project)
    [(uniform(80, 150), 108), (normal(115, 15), 111.20), (normal(115, 5), 113.73)],
)
def test_the_uniform_and_normal_variant(demand, best):
    ratio = critical_ratio(price=20, cost=14, salvage=5)
    assert ratio == pytest.approx(0.40, abs=1e-12)
    assert demand_quantile(demand, ratio=ratio) == pytest.approx(best, abs=0.005)


def test_the_stored_answer_that_is_wrong():
    # One page takes cost minus "loss" and gets 0.35; right is 60/(60 + 30) = 0.667 (qammunity.org 6843903)
    assert critical_ratio(price=100, cost=40, salvage=10) == pytest.approx(0.667, abs=5e-4)


def test_stepped_demand_takes_the_first_step_that_reaches_the_chance():
    # 10, 20, 30 with 1/4, 1/2, 1/4: 0.6 is reached at 20, 0.76 only at 30
    demand = steps((10, 1), (20, 2), (30, 1))
    assert demand_quantile(demand, ratio=0.6) == 20
    assert demand_quantile(demand, ratio=0.76) == 30
    # E[min(D, 20)] = 10/4 + 20/2 + 20/4 = 17.5
    assert expected_sold(demand, good=20) == 17.5


def test_expected_sales_of_a_uniform_demand():
    # U(0, 100), 60 made: 0.6 x 30 + 0.4 x 60 = 42
    assert expected_sold(uniform(0, 100), good=60) == pytest.approx(42, abs=1e-12)
    assert expected_sold(uniform(80, 150), good=80) == 80
    assert expected_sold(uniform(80, 150), good=200) == pytest.approx(115, abs=1e-12)


def test_expected_sales_of_a_normal_demand_against_plain_integration():
    law, demand = NormalDist(100, 30), normal(100, 30)
    for good in (50, 100, 140):
        edges = np.linspace(-80, 280, 20001)
        middles = (edges[1:] + edges[:-1]) / 2
        weights = np.diff([law.cdf(edge) for edge in edges])
        assert expected_sold(demand, good=good) == pytest.approx(float(weights @ np.minimum(middles, good)), abs=1e-4)


def test_the_best_run_with_fixed_costs_is_that_of_trying_every_one():
    # 20 to start a run and 5 a piece, 8 left of a sale, 1 for an unsold one; demand 10, 20 or 30 alike:
    # 20 made: 8 x 16.667 + 1 x 3.333 - 120 = 16.67; 30 made: 8 x 20 + 10 - 170 = 0; 10 made: 80 - 70 = 10
    found = best_run(
        steps((10, 1), (20, 1), (30, 1)),
        way="hand",
        quantities=range(1, 41),
        totals=np.array([D(20 + 5 * good) for good in range(1, 41)]),
        contribution=D(8),
        salvage=D(1),
        variable=D(5),
    )
    assert found.good == 20
    assert found.expected_profit == pytest.approx(D("16.67"), abs=D("0.005"))
    assert found.critical_ratio == pytest.approx(3 / 7, abs=1e-12)


def test_what_is_left_after_pieces_sold_twice_brings_its_salvage():
    # A sure demand of 100, half a piece used up a sale: 80 made serve 100 sales with 50 and leave 30 at 1.00:
    # 8 x 100 + 30 - 400 = 430
    found = best_run(
        steps((100, 1)),
        way="hand",
        quantities=[80],
        totals=np.array([D(400)]),
        contribution=D(8),
        salvage=D(1),
        variable=D(5),
        pieces_per_sale=D("0.5"),
    )
    assert (found.good, found.expected_profit, found.expected_sold) == (80, D(430), 100)
    # One more piece brings 8/0.5 = 16 if it is sold: (16 - 5) / (16 - 1)
    assert found.critical_ratio == pytest.approx(11 / 15, abs=1e-12)


def costs(once):
    return np.array([D(once + 5 * good) for good in range(1, 100)])


def test_no_run_is_made_where_none_pays():
    run = partial(best_run, normal(50, 10), way="hand", quantities=range(1, 100), salvage=D(0))
    expensive = run(totals=costs(1000), contribution=D(8), variable=D(5))
    assert (expensive.good, expensive.expected_profit, expensive.expected_sold) == (0, 0, pytest.approx(0, abs=1e-3))
    below_cost = run(totals=costs(0), contribution=D(4), variable=D(5))
    assert (below_cost.good, below_cost.critical_ratio) == (0, 0)


def test_a_price_below_cost_has_no_critical_ratio():
    with pytest.raises(RangeError, match="below cost no number of pieces is worth making"):
        critical_ratio(price=4, cost=5, salvage=1)
