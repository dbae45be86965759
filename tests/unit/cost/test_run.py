"""Boards to start and boards good at the first test: worked by hand, against exact sums, and the order of four laws."""

from datetime import date
from decimal import Decimal
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from paneglow.cost.records import ProcessYield
from paneglow.cost.run import first_pass_yield, pieces_to_start, yield_share
from paneglow.errors import RangeError

D = Decimal


def start(good, share, sure="0.95"):
    return int(pieces_to_start(good, good_share=D(share), confidence=D(sure))[0])


def chance_of_enough(started, good, share):
    """Exact sum of the binomial law, in floating point."""
    return sum(comb(started, k) * share**k * (1 - share) ** (started - k) for k in range(good, started + 1))


def test_one_board_at_95_percent_is_just_enough():
    # P[1 of 1] = 0.95 >= 0.95
    assert start(1, "0.95") == 1


def test_one_board_at_90_percent_needs_two():
    # P[1 of 1] = 0.90 < 0.95; P[at least 1 of 2] = 1 - 0.1^2 = 0.99
    assert start(1, "0.90") == 2


def test_two_boards_at_90_percent_need_four():
    # P[2 of 2] = 0.81; P[>= 2 of 3] = 0.9^3 + 3 x 0.9^2 x 0.1 = 0.729 + 0.243 = 0.972: three are enough
    assert start(2, "0.90") == 3
    assert chance_of_enough(3, 2, 0.9) == pytest.approx(0.972, abs=1e-12)


def test_ten_boards_at_95_percent_need_twelve():
    # P[>= 10 of 11] = 0.95^11 + 11 x 0.95^10 x 0.05 = 0.5688 + 0.3293 = 0.8981;
    # of 12: 0.95^12 + 12 x 0.95^11 x 0.05 + 66 x 0.95^10 x 0.05^2 = 0.5404 + 0.3413 + 0.0988 = 0.9804
    assert chance_of_enough(11, 10, 0.95) == pytest.approx(0.8981, abs=5e-5)
    assert chance_of_enough(12, 10, 0.95) == pytest.approx(0.9804, abs=5e-5)
    assert start(10, "0.95") == 12


def test_the_mean_alone_would_be_too_few():
    # ceil(100 / 0.98) = 103; with r = 0.02/0.98, P[>= 100 of 104] = 0.98^104 (1 + 104 r + 5356 r^2 + 182104 r^3
    # + 4598126 r^4)
    # = 0.12231 (1 + 2.12245 + 2.23073 + 1.54785 + 0.79762) = 0.9417 < 0.95
    assert chance_of_enough(103, 100, 0.98) < 0.95
    assert chance_of_enough(104, 100, 0.98) == pytest.approx(0.9417, abs=1e-4)
    assert start(100, "0.98") == 105


def test_boards_of_95_12_percent_yield():
    # Of 100 good ones: the mean alone says ceil(100 / 0.9512) = 106, the binomial law 109
    assert start(100, "0.9512") == 109
    assert chance_of_enough(109, 100, 0.9512) >= 0.95 > chance_of_enough(108, 100, 0.9512)


def test_nothing_is_lost_of_nothing_or_at_full_yield():
    assert start(0, "0.5") == 0
    assert start(250, "1") == 250


@given(st.integers(1, 60), st.integers(50, 99), st.sampled_from(["0.5", "0.9", "0.95", "0.99"]))
def test_it_is_the_smallest_number_that_suffices(good, percent, sure):
    found = start(good, str(D(percent) / 100), sure)
    # 1e-9: the library's binomial tail against this plain sum
    assert chance_of_enough(found, good, percent / 100) >= float(sure) - 1e-9
    assert found == good or chance_of_enough(found - 1, good, percent / 100) < float(sure) + 1e-9


@pytest.mark.parametrize(("good", "share"), [(-1, "0.9"), (5, "0"), (5, "1.01")])
def test_what_no_run_can_be_is_refused(good, share):
    with pytest.raises(RangeError, match="allowed are at least 0 and above 0 to 1"):
        start(good, share)


def test_a_confidence_of_one_is_refused():
    with pytest.raises(RangeError, match="confidence"):
        start(5, "0.9", "1")


def test_many_runs_at_once_start_like_each_alone():
    good, share = np.arange(1, 400), np.linspace(0.3, 0.999, 399)
    together = pieces_to_start(good, good_share=share, confidence=0.9)
    alone = [int(pieces_to_start(g, good_share=s, confidence=0.9)[0]) for g, s in zip(good, share, strict=True)]
    assert together.tolist() == alone


def bad_joints(ppm, *, joints):
    process = ProcessYield(
        way="hand", joint_defects_ppm=D(ppm), origin="quote", dated=date(2026, 11, 1), source="invented for this test"
    )
    return first_pass_yield(process, joints=joints)


def test_fifty_parts_of_99_9_percent():
    # 0.999^50 = 0.9512
    assert yield_share(0.05, model="independent", joints=50) == pytest.approx(0.9512, abs=5e-5)


def test_500_ppm_of_a_hundred_joints():
    # (1 - 0.0005)^100 = 0.9512
    assert float(bad_joints(500, joints=100)[0]) == pytest.approx(0.9512, abs=5e-5)


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
    assert bad_joints(500, joints=0) == 1


def test_negative_defects_are_refused():
    with pytest.raises(RangeError, match="defects on a board are -1"):
        yield_share(-1, model="poisson")
