import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from paneglow.errors import RangeError
from paneglow.physics import (
    DiodeCurve,
    FluxCurve,
    fit_diode,
    fit_flux,
    junction_slope_v,
    relative_light,
    saturation_ma,
    shockley_current_ma,
    stacked_curves,
)
from shockley import diode_voltage_v

RED = DiodeCurve(reference_ma=20.0, reference_v=2.0, ideality=2.0, series_ohm=8.0, v_per_k=-0.002)
BLUE = DiodeCurve(reference_ma=5.0, reference_v=2.8, ideality=2.5, series_ohm=12.0, v_per_k=-0.003)
LIGHT = FluxCurve(reference_ma=5.0, peak_ma=1.5, quality=5.0, loss_per_k_frac=0.004)


def current_ma(voltage_v, *, curve, junction_c=25.0):
    """What flows at a voltage, by the explicit law with the curve's own junction."""
    return shockley_current_ma(
        voltage_v,
        saturation_ma=saturation_ma(curve, junction_c=junction_c),
        slope_v=junction_slope_v(curve, junction_c=junction_c),
        series_ohm=curve.series_ohm,
    )


FIT = {"v_per_k": -0.003, "ideality": (2.5, 0.6), "series_ohm": (12.0, 6.0)}


def test_the_reference_point_lies_on_the_curve_at_its_temperature():
    assert float(diode_voltage_v(20.0, curve=RED)) == pytest.approx(2.0, abs=1e-12)


@settings(deadline=None)
@given(st.floats(min_value=-12, max_value=2), st.sampled_from([RED, BLUE]), st.floats(min_value=-20.0, max_value=100.0))
def test_voltage_and_current_undo_each_other_over_fourteen_decades(decade, curve, junction_c):
    drawn_ma = 10.0**decade
    voltage_v = diode_voltage_v(drawn_ma, curve=curve, junction_c=junction_c)
    back_ma = current_ma(voltage_v, curve=curve, junction_c=junction_c)
    # A voltage near 3 V holds 16 digits; one thermal voltage of 0.06 V makes an e-fold of them
    assert float(back_ma) == pytest.approx(drawn_ma, rel=1e-12, abs=1e-18)


def test_without_voltage_nothing_flows_and_in_reverse_only_the_saturation_current():
    assert float(current_ma(0.0, curve=RED)) == pytest.approx(0.0, abs=1e-20)
    assert float(current_ma(-5.0, curve=RED)) == pytest.approx(-float(saturation_ma(RED)), rel=1e-9)


def test_the_explicit_current_is_the_root_of_shockley_and_ohm():
    # The equation itself, V = n Vt ln(1 + I/Is) + Rs I, solved by bisection
    least_ma, slope_v, series_ohm = 1e-12, 0.05, 10.0
    for voltage_v in (0.4, 1.0, 2.0, 20.0):
        low, high = 0.0, 1e3 * voltage_v / series_ohm
        for _ in range(200):
            middle = 0.5 * (low + high)
            drop_v = slope_v * math.log1p(middle / least_ma) + 1e-3 * series_ohm * middle
            low, high = (middle, high) if drop_v < voltage_v else (low, middle)
        found_ma = shockley_current_ma(voltage_v, saturation_ma=least_ma, slope_v=slope_v, series_ohm=series_ohm)
        assert float(found_ma) == pytest.approx(low, rel=1e-9)


def test_far_beyond_what_an_exponential_can_hold_the_resistance_decides():
    added_ma = float(current_ma(200.0, curve=BLUE)) - float(current_ma(199.0, curve=BLUE))
    assert added_ma == pytest.approx(1000.0 / BLUE.series_ohm, rel=1e-3)  # the junction takes 0.06 V per e-fold


@pytest.mark.parametrize("curve", [RED, BLUE])
def test_warmth_lowers_the_voltage_at_the_reference_current_by_the_coefficient(curve):
    warm_v = diode_voltage_v(curve.reference_ma, curve=curve, junction_c=65.0)
    assert float(warm_v) == pytest.approx(curve.reference_v + 40.0 * curve.v_per_k, abs=1e-12)


def test_the_slope_is_the_thermal_voltage_times_the_ideality():
    # kT/q = 25.693 mV at 298.15 K, from the exact SI constants
    assert float(junction_slope_v(RED)) == pytest.approx(2.0 * 0.0256926, rel=1e-5)


def test_a_dense_printed_curve_gives_back_slope_and_resistance():
    true = DiodeCurve(reference_ma=20.0, reference_v=3.1, ideality=3.2, series_ohm=22.0, v_per_k=-0.003)
    current_ma = np.array([0.1, 0.3, 1.0, 3.0, 10.0, 20.0, 30.0])
    fitted = fit_diode(current_ma, diode_voltage_v(current_ma, curve=true), reference_ma=20.0, **FIT)
    # What is usual still pulls a little: 7 points read to 5 mV against a spread of 0.6 and 6 ohm
    assert fitted.ideality == pytest.approx(3.2, rel=0.01)
    assert fitted.series_ohm == pytest.approx(22.0, rel=0.02)
    assert fitted.reference_v == pytest.approx(3.1, abs=2e-3)


def test_one_point_is_met_and_the_rest_is_what_is_usual():
    fitted = fit_diode(20.0, 3.3, reference_ma=20.0, **FIT)
    assert_allclose([fitted.reference_v, fitted.ideality, fitted.series_ohm], [3.3, 2.5, 12.0], rtol=1e-9)


def test_two_points_as_printed_are_both_met():
    fitted = fit_diode([5.0, 20.0], [2.85, 3.2], reference_ma=20.0, **FIT)
    assert_allclose(diode_voltage_v([5.0, 20.0], curve=fitted), [2.85, 3.2], atol=0.006)  # reading error is 5 mV


def test_points_in_any_order_make_the_same_curve():
    forth = fit_diode([1.0, 5.0, 20.0], [2.6, 2.8, 3.1], reference_ma=5.0, **FIT)
    back = fit_diode([20.0, 5.0, 1.0], [3.1, 2.8, 2.6], reference_ma=5.0, **FIT)
    assert forth.series_ohm == pytest.approx(back.series_ohm, rel=1e-9)


@pytest.mark.parametrize(
    ("current_ma", "voltage_v", "words"),
    [([], [], "at least one point"), ([0.0], [2.0], "above 0 mA"), ([1.0, 2.0], [2.0, 1.9], "rises with current")],
)
def test_points_that_are_no_curve_are_refused(current_ma, voltage_v, words):
    with pytest.raises(RangeError, match=words):
        fit_diode(current_ma, voltage_v, reference_ma=5.0, **FIT)


def test_a_reference_voltage_below_the_drop_of_its_own_resistance_is_refused():
    with pytest.raises(RangeError, match="reference_v"):
        replace(RED, series_ohm=200.0)


def test_another_voltage_bin_shifts_every_point_alike():
    current_ma = np.array([0.01, 1.0, 20.0])
    shift_v = diode_voltage_v(current_ma, curve=replace(RED, reference_v=2.2)) - diode_voltage_v(current_ma, curve=RED)
    assert_allclose(shift_v, 0.2, atol=1e-9)


def test_light_is_one_at_the_reference_and_none_without_current():
    assert_allclose(relative_light([0.0, -1.0, 5.0], curve=LIGHT), [0.0, 0.0, 1.0], atol=1e-12)


@settings(deadline=None)
@given(st.floats(min_value=1e-4, max_value=100.0), st.floats(min_value=0.5, max_value=50.0))
def test_light_solves_the_rate_equation(current_ma, quality):
    curve = replace(LIGHT, quality=quality)
    at_peak = float(relative_light(curve.peak_ma, curve=curve))
    light = float(relative_light(current_ma, curve=curve)) / at_peak
    rebuilt = light * (quality + math.sqrt(light) + 1.0 / math.sqrt(light)) / (quality + 2.0)
    assert rebuilt == pytest.approx(current_ma / curve.peak_ma, rel=1e-9)


def test_light_always_rises_with_current_and_is_most_efficient_at_the_peak():
    current_ma = np.geomspace(1e-3, 100.0, 400)
    light = relative_light(current_ma, curve=LIGHT)
    assert np.all(np.diff(light) > 0.0)
    assert current_ma[np.argmax(light / current_ma)] == pytest.approx(LIGHT.peak_ma, rel=0.03)  # one grid step


def test_a_warm_junction_gives_less_light_by_the_coefficient():
    assert float(relative_light(5.0, curve=LIGHT, junction_c=75.0)) == pytest.approx(math.exp(-0.2), rel=1e-12)


def test_printed_light_points_give_back_peak_and_breadth():
    true = FluxCurve(reference_ma=20.0, peak_ma=4.0, quality=9.0, loss_per_k_frac=0.004)
    current_ma = np.array([0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0])
    fitted = fit_flux(
        current_ma,
        relative_light(current_ma, curve=true),
        reference_ma=20.0,
        loss_per_k_frac=0.004,
        peak_ma=(1.5, 3.0),
        quality=(5.0, 3.0),
    )
    assert_allclose(relative_light(current_ma, curve=fitted), relative_light(current_ma, curve=true), rtol=0.01)
    assert fitted.peak_ma == pytest.approx(4.0, rel=0.1)


def test_without_printed_light_points_the_usual_curve_stands():
    fitted = fit_flux([], [], reference_ma=20.0, loss_per_k_frac=0.004, peak_ma=(1.5, 2.0), quality=(5.0, 2.0))
    assert_allclose([fitted.peak_ma, fitted.quality], [1.5, 5.0], rtol=1e-6)


MANY_C = np.array([25.0, 71.0])
LAST_DIGITS = 1e-13  # single numbers and arrays may round exponentials each in their own way


def test_stacked_curves_are_each_curve_alone():
    drawn_ma = np.array([[0.1, 400.0], [20.0, 5.0]])
    volts = diode_voltage_v(drawn_ma, curve=stacked_curves([RED, BLUE]), junction_c=MANY_C)
    lights = (LIGHT, FluxCurve(reference_ma=20.0, peak_ma=30.0, quality=0.4, loss_per_k_frac=0.009))
    light = relative_light(np.array([[-1.0, 0.0], *drawn_ma]), curve=stacked_curves(lights), junction_c=MANY_C)
    for number, (curve, flux) in enumerate(zip((RED, BLUE), lights, strict=True)):
        warm = {"junction_c": float(MANY_C[number])}
        assert_allclose(volts[:, number], diode_voltage_v(drawn_ma[:, number], curve=curve, **warm), rtol=LAST_DIGITS)
        assert_allclose(light[1:, number], relative_light(drawn_ma[:, number], curve=flux, **warm), rtol=LAST_DIGITS)
    assert_allclose(light[0], 0.0)


def test_a_junction_without_voltage_is_refused_among_many():
    with pytest.raises(RangeError, match="junction voltage"):
        saturation_ma(stacked_curves([RED, BLUE]), junction_c=1500.0)
