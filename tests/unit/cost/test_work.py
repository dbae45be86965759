"""Own work: learning curves worked by hand, minutes that a file leaves out, and minutes that hold a whole board."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from math import log2

import pytest

from cost_cases import PERFECT, PLAIN, STAMP, make_bill, make_costing, make_costs
from paneglow.catalog import Timing
from paneglow.cost import build_costing, cost_runs, with_led_minutes
from paneglow.cost.work import pieces_equivalent
from paneglow.errors import DesignError, RangeError

D = Decimal


def run(pieces, rate, model, learned=0):
    return 100 * float(pieces_equivalent(pieces, rate=D(rate), model=model, learned=learned)[0])


def unit_time(piece):
    """Time of one piece on an 80 % unit curve whose first takes 100."""
    return run(1, "0.8", "unit", learned=piece - 1)


@pytest.mark.parametrize(
    ("piece", "time"),
    # Unit model at 80 %: 100, 80, 70.21, 64, 51.2 (8), 47.65 (10), 40.96 (16), 22.71 (100), computed for this project
    [(1, 100), (2, 80), (3, 70.21), (4, 64), (8, 51.2), (10, 47.65), (16, 40.96), (100, 22.71)],
)
def test_unit_times_of_an_80_percent_curve(piece, time):
    assert unit_time(piece) == pytest.approx(time, abs=0.005)


@pytest.mark.parametrize(("pieces", "time"), [(1, 100), (2, 80), (4, 64)])
def test_mean_times_of_an_80_percent_cumulative_average_curve(pieces, time):
    # Wright's reading: the mean of the first 2 is 80, of the first 4 is 64 (digitallibrary.usc.edu p15799coll20/143467)
    assert run(pieces, "0.8", "cumulative-average") / pieces == pytest.approx(time, abs=1e-9)


def test_the_second_piece_takes_60_where_the_average_is_meant():
    # 2 x 80 - 100 = 60 (maxwideman.com, appendix 2)
    assert run(1, "0.8", "cumulative-average", learned=1) == pytest.approx(60, abs=1e-9)


def test_ten_pieces_take_476_5_or_631_5():
    # Average model: 10 x 100 x 10^-0.321928 = 476.5; unit model: 100 + 80 + 70.21 + .. + 47.65 = 631.5
    assert run(10, "0.8", "cumulative-average") == pytest.approx(476.5, abs=0.05)
    assert run(10, "0.8", "unit") == pytest.approx(631.5, abs=0.05)


def test_a_run_goes_on_where_the_last_one_ended():
    for model in ("unit", "cumulative-average"):
        whole = run(30, "0.9", model)
        assert run(10, "0.9", model) + run(20, "0.9", model, learned=10) == pytest.approx(whole, rel=1e-12)


def test_a_rate_of_one_learns_nothing():
    assert run(7, "1", "unit") == run(7, "1", "cumulative-average") == 700


@pytest.mark.parametrize("rate", [0.5, 0.7, 0.85, 0.99])
def test_a_long_run_adds_up_to_its_unit_times(rate):
    # At 0.5 the exponent is -1 exactly, where the area under the curve is a logarithm
    expected = sum(n ** log2(rate) for n in range(21, 5021))
    found = pieces_equivalent(5000, rate=D(str(rate)), model="unit", learned=20)
    assert float(found[0]) == pytest.approx(expected, rel=1e-12)


def test_a_rate_above_one_is_refused():
    with pytest.raises(RangeError, match=r"learning rate is 1\.1; allowed is a finite number from 1e-06 to 1"):
        run(7, "1.1", "unit")


# Ten boards of 12 lens-down LEDs in 6 min each
TIMED = tuple(
    Timing(mounting="lens_down", leds=12, minutes=6.0, date=date(2026, 11, day), who="own hands")
    for day in range(1, 11)
)
SOLDER = PLAIN[PLAIN.index("[[operation]]") :]
WITHOUT = PLAIN.replace(SOLDER, "") + PERFECT
FOR_SIDE_VIEW = SOLDER.replace('per = "led"', 'per = "led"\nmounting = "side_view"')


def minutes_of(costing, *, way="hand", good=1):
    return cost_runs(costing, way=way, good=[good]).minutes[0]


def test_the_users_own_clock_fills_the_gap():
    # 8 LEDs x 0.5 min x 10 boards = 40 min
    costs = with_led_minutes(make_costs(WITHOUT), timings=TIMED)
    assert minutes_of(build_costing(costs, bill=make_bill()), good=10) == 40
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
    assert (minutes["side_view"], minutes["lens_down"]) == (D("0.75"), D("0.5"))


def test_an_operation_for_all_leds_leaves_no_gap():
    costs = make_costs()
    assert with_led_minutes(costs, timings=TIMED) == costs


def test_leds_without_minutes_are_an_error_instead_of_costing_nothing():
    with pytest.raises(DesignError, match=r"no minutes are stated for lens_down LEDs; add an \[\[operation\]\]"):
        minutes_of(make_costing(WITHOUT + FOR_SIDE_VIEW), good=1)


WHOLE = f'[[operation]]\nname = "build"\nper = "board"\nsolders = true\nminutes = 30\n{STAMP}\n'


def test_minutes_of_a_whole_board_are_the_minutes_of_that_board():
    # 30 minutes stated are 30 minutes, whatever else is known of soldering its parts
    costs = with_led_minutes(make_costs(WITHOUT + WHOLE), timings=TIMED)
    assert minutes_of(build_costing(costs, bill=make_bill())) == 30
    assert minutes_of(build_costing(costs, bill=make_bill()), way="service") == 0


def test_of_minutes_of_a_whole_board_the_machine_takes_its_joints():
    # 8 LEDs by hand, 24 resistors by machine: 16 of 64 joints, 30 x 16/64 = 7.5
    costs = with_led_minutes(make_costs(WITHOUT + WHOLE), timings=TIMED)
    costs = costs.model_copy(update={"offer": (*costs.offer, costs.offer[0].model_copy(update={"item": "resistor"}))})
    assert minutes_of(build_costing(costs, bill=make_bill(resistor=24)), way="mixed") == D("7.5")


def test_glue_is_done_by_own_hands_in_every_way():
    # 8 side-view LEDs under glue, half a minute each: 4 min a board even where the service places them
    glue = f'[[operation]]\nname = "glue"\nper = "glue"\nminutes = 0.5\n{STAMP}\n'
    bill = make_bill(mounting="side_view")
    glued = replace(bill, rows=tuple(replace(row, glued=True) for row in bill.rows))
    for way in ("mixed", "service"):
        assert minutes_of(make_costing(PLAIN + PERFECT + glue, bill=glued), way=way) == 4
