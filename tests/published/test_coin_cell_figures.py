"""The 20 x 3.2 mm coin cell (CR2032 of IEC 60086-2) against what is printed of it; each source stands beside."""

import numpy as np
import pytest
from scipy.optimize import brentq

from boards_under_drive import led
from paneglow.drive import WindowLight, build_circuit, build_life, build_supply, rail_strings
from paneglow.physics import DiodeCurve, capacity_mah_at, cell_resistance_ohm, cell_terminal_v, relative_light

CODE = "coin-2032"
# 0.2 mV at 1 mA is far below a thermal voltage: a short of 0.2 ohm, so that the load is its resistor alone
SHORT = DiodeCurve(reference_ma=1.0, reference_v=2e-4, ideality=1.0, series_ohm=0.01, v_per_k=0.0)


def resistor_life(load_ohm, *, end_v, end):
    """A resistor across the cell day and night, until the voltage over it falls to the end voltage."""
    part = led("D1", "red", thermal_k_per_w=0.0, curve=SHORT)
    goal = part.flux.reference_ma * float(relative_light(1e3 * end_v / load_ohm, curve=part.flux))
    wiring = rail_strings([["D1"]], resistor_ohm=[load_ohm - 0.2])
    circuit = build_circuit(wiring, leds=(part,), supply=build_supply(CODE, end=end))
    light = WindowLight(
        names=("end",), luminance_cd_m2_per_ma=np.ones((1, 1)), goal_cd_m2=np.array([goal * (1 + 1e-9)])
    )
    return build_life(circuit, light=light)


@pytest.mark.parametrize("end", ["low", "nominal", "high"])
def test_iec60086_2_duty_of_15_kohm_day_and_night_to_2_v_lasts_its_least_920_hours(end):
    # IEC 60086-2: 15 kohm, 24 h/day, end 2.0 V, minimum average duration 920 h (from memory)
    answer = resistor_life(15_000.0, end_v=2.0, end=end)
    assert answer.end in ("window below goal", "supply empty")  # its table ends at 2.0 V
    assert 920.0 <= answer.lit_h <= 1500.0


def test_the_charge_of_that_duty_is_at_least_178_mah():
    answer = resistor_life(15_000.0, end_v=2.0, end="low")
    assert answer.drawn_mah[-1] >= 178.0  # 920 h at the mean of 2.9 V over 15 kohm (from memory)


def test_capacity_is_220_to_235_mah_at_0_2_ma_to_2_v():
    # Makers' data sheets give 220 to 235 mAh for this size (common practice, from memory)
    assert 220.0 <= capacity_mah_at(build_supply(CODE).curve, current_ma=0.2, end_v=2.0) <= 235.0


def test_resistance_is_10_to_40_ohm_over_most_of_its_life_and_above_30_past_170_mah():
    # "About 18 to 20 ohm", flat up to 150 mAh, "something like 30 ohm" at 170 mAh: a data sheet as read in "Driving
    # circuits from a CR2032 lithium coin cell", interactive-matter.eu, 29 August 2009 (seen); 15 fresh: from memory
    curve = build_supply(CODE).curve
    assert 15.0 <= float(cell_resistance_ohm(curve, 0.0)) <= 20.0
    assert float(cell_resistance_ohm(curve, 175.0 / curve.capacity_mah)) > 30.0
    assert np.all(cell_resistance_ohm(curve, np.linspace(0.0, 0.8, 30)) < 40.0)


@pytest.mark.parametrize("peak_ma", [15.0, 30.0])
def test_pulses_of_15_and_30_ma_leave_half_to_all_of_the_rating(peak_ma):
    # Six makers' cells gave half of the rating to all of it at 15 and at 30 mA peaks: M. Jensen, "Coin cells and peak
    # current draw", application report SWRA349, 2010 (its summary seen); duty 1 % here
    curve = build_supply(CODE).curve

    def above_v(depth):
        mean_ma = 0.01 * peak_ma
        return cell_terminal_v(curve, depth_frac=depth, mean_ma=mean_ma, pulse_ma=peak_ma) - 2.0

    assert 0.5 <= brentq(above_v, 0.0, 1.0) <= 1.0


@pytest.mark.parametrize(("drawn_mah", "low_ohm", "high_ohm"), [(75.0, 15.0, 21.0), (170.0, 24.0, 36.0)])
def test_ten_milliampere_drop_a_fifth_of_a_volt_and_near_the_end_a_third(drawn_mah, low_ohm, high_ohm):
    # The resistances of the test above times 10 mA, "something like" taken as 20 %
    curve = build_supply(CODE).curve
    resting_v, loaded_v = (
        cell_terminal_v(curve, depth_frac=drawn_mah / curve.capacity_mah, mean_ma=mean_ma) for mean_ma in (0.0, 10.0)
    )
    assert 0.01 * low_ohm <= resting_v - loaded_v <= 0.01 * high_ohm
