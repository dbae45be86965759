import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from paneglow.errors import RangeError
from paneglow.physics import (
    CellCurve,
    CellState,
    cell_open_circuit_v,
    cell_resistance_ohm,
    cells_in_series,
    drain_cell,
    drawn_frac,
)

CELL = CellCurve(
    capacity_mah=200.0,
    depth_frac=(0.0, 0.5, 1.0),
    open_circuit_v=(3.2, 2.9, 2.0),
    resistance_ohm=(15.0, 20.0, 100.0),
    fast_frac=0.6,
    near_frac=0.4,
    levelling_per_h=0.08,
    self_discharge_per_h=1e-6,
)
ONE_WELL = replace(CELL, near_frac=1.0, self_discharge_per_h=0.0)


def test_voltage_and_resistance_follow_the_table():
    assert_allclose(cell_open_circuit_v(CELL, [0.0, 0.25, 1.0]), [3.2, 3.05, 2.0])
    assert_allclose(cell_resistance_ohm(CELL, [0.0, 0.75, 2.0]), [15.0, 60.0, 100.0])


def test_cells_in_series_add_voltage_and_resistance_but_no_charge():
    pair = cells_in_series(replace(CELL, cutoff_v=1.0), 2)
    assert_allclose(pair.open_circuit_v, (6.4, 5.8, 4.0))
    assert_allclose(pair.resistance_ohm, (30.0, 40.0, 200.0))
    assert (pair.cutoff_v, pair.capacity_mah) == (2.0, 200.0)


@settings(deadline=None)
@given(
    st.floats(min_value=0.0, max_value=50.0),
    st.floats(min_value=0.01, max_value=300.0),
    st.floats(min_value=0.0, max_value=0.6),
    st.floats(min_value=0.0, max_value=0.6),
)
def test_charge_is_kept_whatever_the_wells_exchange(current_ma, hours, near, far):
    before = CellState(near_frac=near, far_frac=far)
    after = drain_cell(CELL, before, current_ma=current_ma, hours=hours)
    expected = (current_ma / 200.0 + 1e-6) * hours
    assert drawn_frac(CELL, after) - drawn_frac(CELL, before) == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_the_closed_form_agrees_with_the_two_rate_equations_integrated():
    # near x' = i / c + (1 - c) K (y - x), far y' = c K (x - y): Manwell and McGowan 1993 in depths; shelf loss shared
    share, rate, loss, drawn = 0.4, 0.08, 1e-6, 3.0 / 200.0

    def flow(_, depths):
        exchange = rate * (depths[0] - depths[1])
        return [(drawn + loss) / share - (1.0 - share) * exchange, share * exchange]

    reference = solve_ivp(flow, (0.0, 12.0), [0.1, 0.05], rtol=1e-11, atol=1e-13).y[:, -1]
    state = drain_cell(CELL, CellState(near_frac=0.1, far_frac=0.05), current_ma=3.0, hours=12.0)
    assert_allclose([state.near_frac, state.far_frac], reference, rtol=1e-8)


def test_a_rest_lets_the_near_well_recover_toward_the_mean():
    tired = drain_cell(CELL, CellState(), current_ma=10.0, hours=2.0)
    rested = drain_cell(replace(CELL, self_discharge_per_h=0.0), tired, current_ma=0.0, hours=500.0)
    assert tired.near_frac > rested.near_frac
    assert_allclose([rested.near_frac, rested.far_frac], drawn_frac(CELL, tired), rtol=1e-9)


def test_two_half_steps_are_one_whole_step():
    half = drain_cell(CELL, CellState(), current_ma=4.0, hours=3.0)
    whole = drain_cell(CELL, CellState(), current_ma=4.0, hours=6.0)
    assert drain_cell(CELL, half, current_ma=4.0, hours=3.0).near_frac == pytest.approx(whole.near_frac, rel=1e-12)


def test_a_heavier_load_empties_the_near_well_before_as_much_is_drawn():
    def drawn_when_empty_mah(load_ma):
        hours = brentq(lambda h: drain_cell(CELL, CellState(), current_ma=load_ma, hours=h).near_frac - 1.0, 0.0, 4e3)
        return load_ma * hours

    drawn = [drawn_when_empty_mah(load_ma) for load_ma in (0.1, 0.5, 1.0, 3.0, 10.0)]
    assert np.all(np.diff(drawn) < 0.0)
    assert drawn[0] == pytest.approx(200.0, rel=0.02)  # a slow load takes nearly all


def test_steady_load_loses_the_settled_difference_of_the_wells():
    # Long after the start the gap is i / (c K): near = drawn + (1 - c) i / (c K)
    state = drain_cell(CELL, CellState(), current_ma=1.0, hours=150.0)
    gap = (1.0 / 200.0 + 1e-6) / (0.4 * 0.08)
    assert state.near_frac - drawn_frac(CELL, state) == pytest.approx(0.6 * gap, rel=1e-4)  # exp(-12) is left


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"open_circuit_v": (3.0, 3.1, 2.0)}, "must not rise"),
        ({"resistance_ohm": (15.0, 10.0, 20.0)}, "must not fall"),
        ({"depth_frac": (0.0, 0.5, 0.9)}, "from depth 0 to depth 1"),
        ({"capacity_mah": 0.0}, "capacity_mah"),
        ({"near_frac": math.nan}, "near_frac"),
    ],
)
def test_a_table_that_is_no_cell_is_refused(changes, words):
    with pytest.raises(RangeError, match=words):
        replace(CELL, **changes)
