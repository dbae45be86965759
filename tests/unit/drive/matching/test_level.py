import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from paneglow.drive.matching.level import MatchProblem, greatest_level_cd_m2, match_light
from paneglow.errors import RangeError


def problem(light, *, most, level=None, ratio=None, fixed=None, load_most_ma=1e3):
    light = np.asarray(light, dtype=float)
    windows, variables = light.shape
    return MatchProblem(
        light=light,
        fixed_cd_m2=np.zeros(windows) if fixed is None else np.asarray(fixed, dtype=float),
        ratio=np.ones(windows) if ratio is None else np.asarray(ratio, dtype=float),
        most=np.asarray(most, dtype=float),
        load_ma=np.ones(variables),
        load_most_ma=load_most_ma,
        level_cd_m2=level,
    )


def test_windows_that_do_not_mix_get_the_level_over_their_light():
    matched = match_light(problem([[10.0, 0.0], [0.0, 40.0]], most=[20, 20], level=80.0))
    assert matched.value == pytest.approx([8.0, 2.0])
    assert matched.luminance_cd_m2 == pytest.approx([80.0, 80.0])


def test_light_of_a_neighbour_is_counted():
    matched = match_light(problem([[10.0, 1.0], [2.0, 40.0]], most=[20, 20], level=80.0))
    assert matched.luminance_cd_m2 == pytest.approx([80.0, 80.0])
    assert matched.value == pytest.approx(np.linalg.solve([[10.0, 1.0], [2.0, 40.0]], [80.0, 80.0]))


def test_ratios_are_kept():
    matched = match_light(problem([[10.0, 0.0], [0.0, 40.0]], most=[20, 20], level=40.0, ratio=[1.0, 2.0]))
    assert matched.luminance_cd_m2 == pytest.approx([40.0, 80.0])


def test_a_window_out_of_reach_gets_all_it_can_and_holds_no_other_back():
    matched = match_light(problem([[10.0, 0.0], [0.0, 1.0]], most=[20, 20], level=80.0))
    assert matched.luminance_cd_m2 == pytest.approx([80.0, 20.0])
    assert list(matched.within_reach) == [True, False]
    assert matched.shortfall_frac(np.ones(2)) == pytest.approx([0.0, 0.75], abs=1e-9)


# 10 I = 5 J with I + J = 3 mA: I = 1, J = 2 and so 10 cd/m2
def test_a_supply_that_is_too_weak_lowers_all_alike():
    matched = match_light(problem([[10.0, 0.0], [0.0, 5.0]], most=[20, 20], level=14.0, load_most_ma=3.0))
    assert matched.level_cd_m2 == pytest.approx(10.0)
    assert matched.value == pytest.approx([1.0, 2.0])


def test_without_a_level_the_weakest_window_sets_it_and_dropping_it_frees_the_others():
    weak = problem([[10.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 8.0]], most=[20, 20, 20])
    assert greatest_level_cd_m2(weak) == pytest.approx(20.0)
    assert match_light(weak).luminance_cd_m2 == pytest.approx([20.0] * 3)
    assert [greatest_level_cd_m2(weak, without=number) for number in range(3)] == pytest.approx([20.0, 160.0, 20.0])


# One string lights both windows: 1 x and 4 x; |x/t - 1| = |4x/t - 1| gives x = 0.4 t, 60 % off either way
def test_where_no_common_level_exists_the_greatest_departure_is_least():
    matched = match_light(problem([[1.0], [4.0]], most=[100.0], level=10.0))
    assert matched.luminance_cd_m2 == pytest.approx([4.0, 16.0])


def test_light_that_a_window_has_already_is_taken_off():
    matched = match_light(problem([[10.0]], most=[20.0], level=80.0, fixed=[30.0]))
    assert matched.value == pytest.approx([5.0])


# The second window's only variable gives 3e-14 cd/m2: the solver cannot tell its share of such a level from rounding
def test_a_window_that_is_as_good_as_dark_leaves_nothing_to_match():
    matched = match_light(problem([[0.0, 15.0], [3.0, 0.0]], most=[1e-14, 1.0], ratio=[0.5, 1.0], load_most_ma=1.0))
    assert np.all(matched.value == 0.0)


@pytest.mark.parametrize("changes", [{"ratio": [0.0, 1.0]}, {"fixed": [0.0]}])
def test_a_problem_that_makes_no_sense_is_refused(changes):
    with pytest.raises(RangeError):
        problem([[1.0, 0.0], [0.0, 1.0]], most=[1.0, 1.0], **changes)


@st.composite
def any_problem(draw):
    windows, variables = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    numbers = st.floats(0.1, 100.0)
    light = [[draw(st.one_of(st.just(0.0), numbers)) for _ in range(variables)] for _ in range(windows)]
    return problem(
        light,
        most=[draw(st.floats(0.0, 25.0)) for _ in range(variables)],
        ratio=[draw(st.floats(0.2, 5.0)) for _ in range(windows)],
        level=draw(st.one_of(st.none(), st.floats(0.1, 500.0))),
        load_most_ma=draw(st.floats(0.01, 60.0)),
    )


# 1e-6: what the solver of linear programs leaves open
@settings(deadline=None)
@given(any_problem())
def test_no_value_is_ever_above_a_limit(case):
    matched = match_light(case)
    assert np.all(matched.value >= 0.0)
    assert np.all(matched.value <= case.most)
    assert case.load_ma @ matched.value <= case.load_most_ma * (1 + 1e-6)


def test_light_from_elsewhere_that_is_already_too_much_leaves_no_level():
    # The second window shows 50 at least, the first 10 at most
    assert greatest_level_cd_m2(problem([[10.0, 0.0], [0.0, 1.0]], most=[1.0, 20.0], fixed=[0.0, 50.0])) == 0.0


@pytest.mark.parametrize("seed", range(20))
def test_where_windows_determine_the_values_the_level_is_what_a_linear_program_finds(seed):
    random = np.random.default_rng(seed)
    size = 6
    light = np.diag(random.uniform(2.0, 9.0, size)) + random.uniform(0.0, 0.4, (size, size))
    fixed, ratio, most = (
        random.uniform(0.0, 2.0, size),
        random.uniform(0.5, 2.0, size),
        random.uniform(1.0, 9.0, size),
    )
    case = problem(light, most=most, ratio=ratio, fixed=fixed, load_most_ma=12.0)
    program = linprog(
        np.append(np.zeros(size), -1.0),
        A_ub=np.append(np.ones(size), 0.0)[np.newaxis],
        b_ub=[12.0],
        A_eq=np.column_stack([light, -ratio]),
        b_eq=-fixed,
        bounds=[*((0.0, value) for value in most), (0.0, None)],
    )
    level = greatest_level_cd_m2(case)
    assert (level == 0.0) == (not program.success)
    if program.success:
        # HiGHS leaves 1e-7 of a limit open
        assert level == pytest.approx(program.x[-1], rel=1e-6)
        assert match_light(case).value == pytest.approx(program.x[:-1], rel=1e-6, abs=1e-6)
