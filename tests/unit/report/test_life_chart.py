import re

import pytest

from paneglow.report.life_chart import LABEL_STEP, LifeLine, build_life_chart


def line(name, *values, goal=2.0):
    return LifeLine(name=name, luminance_cd_m2=values, goal_cd_m2=goal, swatch_hex="#ffaa00")


def points(path):
    return [tuple(float(number) for number in pair.split()) for pair in re.split("[ML]", path)[1:]]


def chart(*lines, time_h=(0.0, 50.0, 100.0), limiting=None, end_h=None):
    return build_life_chart(time_h, lines=lines, limiting=limiting, end_h=end_h)


def test_lines_run_from_axis_to_axis_and_fall_as_light_does():
    drawn = chart(line("lantern", 20.0, 10.0, 2.0))
    xs, ys = zip(*points(drawn.lines[0].path), strict=True)
    assert (xs[0], xs[-1]) == (drawn.left, drawn.right)
    assert ys[0] < ys[1] < ys[2]
    # On a logarithmic axis a halving is always the same way down, and the last two steps are 1 and 2.32 of them
    assert (ys[2] - ys[1]) / (ys[1] - ys[0]) == pytest.approx(2.3219, rel=0.01)  # paths are rounded to 0.1


def test_the_goal_lies_where_a_window_that_just_meets_it_ends():
    drawn = chart(line("lantern", 20.0, 10.0, 2.0))
    assert drawn.goals == pytest.approx((drawn.lines[0].end_y,))


def test_labels_of_windows_that_end_alike_stand_apart_in_their_order_and_on_the_drawing():
    names = [f"window-{number}" for number in range(12)]
    drawn = chart(*(line(name, 20.0, 10.0, 2.0 + 0.001 * number) for number, name in enumerate(names)))
    places = sorted(one.label_y for one in drawn.lines)
    assert all(after - before >= LABEL_STEP - 1e-9 for before, after in zip(places, places[1:], strict=False))
    assert places[0] > 0.0
    assert places[-1] <= drawn.bottom
    brightest_last = sorted(drawn.lines, key=lambda one: one.label_y)
    assert [one.name for one in brightest_last] == names[::-1]


def test_long_lives_are_told_in_days_and_short_ones_in_hours():
    assert chart(line("a", 9.0, 5.0, 3.0)).time_unit == "days"
    short = chart(line("a", 9.0, 5.0, 3.0), time_h=(0.0, 20.0, 40.0))
    assert (short.time_unit, [tick.words for tick in short.times]) == ("hours", ["0", "10", "20", "30", "40"])


def test_the_limiting_window_and_the_end_are_marked():
    drawn = chart(line("a", 9.0, 5.0, 3.0), line("b", 9.0, 4.0, 1.0), limiting="b", end_h=50.0)
    assert [one.limiting for one in drawn.lines] == [False, True]
    assert drawn.end_x == pytest.approx((drawn.left + drawn.right) / 2)


def test_a_window_that_goes_dark_stays_on_the_drawing():
    drawn = chart(line("a", 9.0, 5.0, 3.0), line("b", 9.0, 1e-12, 0.0))
    assert all(drawn.top <= y <= drawn.bottom for one in drawn.lines for _, y in points(one.path))


def test_where_no_time_passes_or_nothing_is_lit_there_is_no_drawing():
    assert chart(line("a", 1.0), time_h=(0.0,)) is None
    assert chart(line("a", 0.0, 0.0, 0.0)) is None
    assert chart() is None
