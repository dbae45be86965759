"""Learning curves, worked by hand and against published pages; two models that must not be mixed up."""

from decimal import Decimal

import pytest

from paneglow.cost.learning import learning_exponent, mean_time, pieces_equivalent, unit_time
from paneglow.errors import RangeError

D = Decimal


def run(pieces, rate, model, learned=0):
    return 100 * pieces_equivalent(pieces, rate=D(rate), model=model, learned=learned)


def test_the_exponent_of_an_80_percent_curve():
    # Wright 1936, J. Aeronaut. Sci. 3, 122-128: b = log2(0.8) = -0.321928
    assert learning_exponent(0.8) == pytest.approx(-0.321928, abs=5e-7)


@pytest.mark.parametrize(
    ("piece", "time"),
    # Unit model at 80 %: 100, 80, 70.21, 64, 51.2 (8), 47.65 (10), 40.96 (16), 22.71 (100), computed for this project
    [(1, 100), (2, 80), (3, 70.21), (4, 64), (8, 51.2), (10, 47.65), (16, 40.96), (100, 22.71)],
)
def test_unit_times_of_an_80_percent_curve(piece, time):
    assert unit_time(100, rate=0.8, piece=piece) == pytest.approx(time, abs=0.005)


@pytest.mark.parametrize(("pieces", "time"), [(1, 100), (2, 80), (4, 64)])
def test_mean_times_of_an_80_percent_cumulative_average_curve(pieces, time):
    # Wright's reading: the mean of the first 2 is 80, of the first 4 is 64 (digitallibrary.usc.edu p15799coll20/143467)
    assert mean_time(100, rate=0.8, pieces=pieces) == pytest.approx(time, abs=1e-9)


def test_the_second_piece_takes_60_where_the_average_is_meant():
    # 2 x 80 - 100 = 60 (maxwideman.com, appendix 2)
    assert run(1, "0.8", "cumulative-average", learned=1) == pytest.approx(60, abs=1e-9)


def test_ten_pieces_take_476_5_or_631_5():
    # Average model: 10 x 100 x 10^-0.321928 = 476.5; unit model: 100 + 80 + 70.21 + .. + 47.65 = 631.5
    assert run(10, "0.8", "cumulative-average") == pytest.approx(476.5, abs=0.05)
    assert run(10, "0.8", "unit") == pytest.approx(631.5, abs=0.05)


def test_the_worked_unit_times_of_a_50_minute_job():
    # business-analysis-made-easy.com: 50, 40 (second), 32 (fourth) minutes, a = 0.322
    assert [round(unit_time(50, rate=0.8, piece=n), 2) for n in (1, 2, 4)] == [50, 40, 32]


def test_a_run_goes_on_where_the_last_one_ended():
    for model in ("unit", "cumulative-average"):
        whole = run(30, "0.9", model)
        assert run(10, "0.9", model) + run(20, "0.9", model, learned=10) == pytest.approx(whole, rel=1e-12)


def test_a_rate_of_one_learns_nothing():
    assert run(7, "1", "unit") == run(7, "1", "cumulative-average") == 700


def test_a_long_run_adds_up_to_its_unit_times():
    # 5000 pieces cross the border between two blocks of the running sum
    expected = sum(n ** learning_exponent(0.85) for n in range(1, 5001))
    assert pieces_equivalent(5000, rate=D("0.85"), model="unit") == pytest.approx(expected, rel=1e-12)


def test_a_rate_above_one_is_refused():
    with pytest.raises(RangeError, match=r"learning rate is 1\.1; allowed is a finite number from 1e-06 to 1"):
        learning_exponent(1.1)
