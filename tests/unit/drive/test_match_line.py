import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import linprog

from paneglow.drive.match_line import build_match_line


def line(light, **changes):
    windows, knobs = np.shape(light)
    limits = {
        "fixed_cd_m2": np.zeros(windows),
        "ratio": np.ones(windows),
        "most": np.full(knobs, 20.0),
        "load_ma": np.ones(knobs),
        "load_most_ma": 1e3,
    }
    return build_match_line(np.asarray(light, dtype=float), **{**limits, **changes})


def test_windows_that_are_too_few_or_alike_do_not_determine_the_knobs():
    assert line([[10.0, 1.0]]) is None
    assert line([[10.0, 1.0], [20.0, 2.0]]) is None


def test_the_first_limit_met_sets_the_greatest_level():
    light = [[10.0, 0.0], [0.0, 40.0]]
    assert line(light).greatest_level() == pytest.approx(200.0)  # the first knob is at 20
    assert line(light, load_most_ma=5.0).greatest_level() == pytest.approx(40.0)  # 4 mA and 1 mA


def test_light_from_elsewhere_that_is_already_too_much_leaves_no_level():
    # The second window shows 50 at least, the first 10 at most
    assert (
        line([[10.0, 0.0], [0.0, 1.0]], most=np.array([1.0, 20.0]), fixed_cd_m2=np.array([0.0, 50.0])).greatest_level()
        is None
    )


@pytest.mark.parametrize("seed", range(20))
def test_the_line_is_what_a_linear_program_finds(seed):
    random = np.random.default_rng(seed)
    knobs = 6
    light = np.diag(random.uniform(2.0, 9.0, knobs)) + random.uniform(0.0, 0.4, (knobs, knobs))
    fixed, ratio, most = (
        random.uniform(0.0, 2.0, knobs),
        random.uniform(0.5, 2.0, knobs),
        random.uniform(1.0, 9.0, knobs),
    )
    load_ma, load_most_ma = random.uniform(0.5, 1.5, knobs), 12.0
    found = line(light, fixed_cd_m2=fixed, ratio=ratio, most=most, load_ma=load_ma, load_most_ma=load_most_ma)
    program = linprog(
        np.append(np.zeros(knobs), -1.0),
        A_ub=np.append(load_ma, 0.0)[np.newaxis],
        b_ub=[load_most_ma],
        A_eq=np.column_stack([light, -ratio]),
        b_eq=-fixed,
        bounds=[*((0.0, value) for value in most), (0.0, None)],
    )
    level = found.greatest_level()
    assert (level is None) == (not program.success)
    if level is not None:
        # HiGHS leaves 1e-7 of a limit open
        assert level == pytest.approx(program.x[-1], rel=1e-6)
        assert_allclose(found.value(level), program.x[:-1], rtol=1e-6, atol=1e-6)
        assert_allclose(light @ found.value(level) + fixed, level * ratio, rtol=1e-12)
        assert not found.allows(1.001 * level)
