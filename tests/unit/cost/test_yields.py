"""Yield from defects: numbers computed for this project, and the order of the four laws."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.cost.yields import first_pass_share, yield_share
from paneglow.errors import RangeError

D = Decimal


def test_fifty_parts_of_99_9_percent():
    # 0.999^50 = 0.9512
    assert yield_share(0.05, model="independent", joints=50) == pytest.approx(0.9512, abs=5e-5)


def test_500_ppm_of_a_hundred_joints():
    # (1 - 0.0005)^100 = 0.9512
    assert first_pass_share(D(500), joints=100, model="independent") == pytest.approx(D("0.9512"), abs=D("5e-5"))


@pytest.mark.parametrize(("model", "share"), [("poisson", 0.90484), ("murphy", 0.90559), ("seeds", 0.90909)])
def test_a_tenth_of_a_defect_on_a_board(model, share):
    # e^-0.1, ((1 - e^-0.1)/0.1)^2, 1/(1 + 0.1)
    assert yield_share(0.1, model=model) == pytest.approx(share, abs=5e-6)


@given(st.floats(0.001, 20))
def test_the_more_clustered_the_defects_the_more_boards_are_good(defects):
    poisson, murphy, seeds = (yield_share(defects, model=model) for model in ("poisson", "murphy", "seeds"))
    assert poisson <= murphy <= seeds
    assert yield_share(defects, model="independent", joints=100) <= poisson


def test_no_defects_and_no_joints_lose_nothing():
    assert yield_share(0.0, model="murphy") == 1
    assert first_pass_share(D(500), joints=0, model="independent") == 1


def test_negative_defects_are_refused():
    with pytest.raises(RangeError, match="defects is -1"):
        yield_share(-1, model="poisson")
