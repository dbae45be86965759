import numpy as np
import pytest
from numpy.testing import assert_allclose

from paneglow.errors import RangeError
from paneglow.physics import (
    DiodeCurve,
    FluxCurve,
    build_junctions,
    junction_slope_v,
    relative_light,
    relative_lights,
    saturation_ma,
)

CURVES = (
    DiodeCurve(reference_ma=20.0, reference_v=2.0, ideality=2.0, series_ohm=5.0, v_per_k=-0.002),
    DiodeCurve(reference_ma=5.0, reference_v=2.9, ideality=3.1, series_ohm=12.0, v_per_k=-0.003, reference_c=20.0),
)
LIGHTS = (
    FluxCurve(reference_ma=20.0, peak_ma=2.0, quality=4.0, loss_per_k_frac=0.003),
    FluxCurve(reference_ma=5.0, peak_ma=30.0, quality=0.4, loss_per_k_frac=0.009),
)
JUNCTION_C = np.array([25.0, 71.0])
LAST_DIGITS = 1e-13  # math and numpy round exponentials each in their own way


def test_junctions_are_those_of_each_diode():
    junctions = build_junctions(CURVES, junction_c=JUNCTION_C)
    each = list(zip(CURVES, JUNCTION_C, strict=True))
    assert_allclose(
        junctions.saturation_ma, [saturation_ma(curve, junction_c=warm) for curve, warm in each], rtol=LAST_DIGITS
    )
    assert_allclose(
        junctions.slope_v, [float(junction_slope_v(curve, junction_c=warm)) for curve, warm in each], rtol=LAST_DIGITS
    )
    assert_allclose(junctions.series_ohm, [5.0, 12.0])


def test_lights_are_those_of_each_led():
    current_ma = np.array([[-1.0, 0.0], [0.1, 400.0], [20.0, 5.0]])
    lights = relative_lights(current_ma, curves=LIGHTS, junction_c=JUNCTION_C)
    each = [
        relative_light(current_ma[:, number], curve=curve, junction_c=JUNCTION_C[number])
        for number, curve in enumerate(LIGHTS)
    ]
    assert_allclose(lights, np.column_stack(each), rtol=LAST_DIGITS)


def test_one_temperature_stands_for_all_and_no_led_gives_nothing():
    assert_allclose(relative_lights(np.array([20.0, 5.0]), curves=LIGHTS, junction_c=25.0), [1.0, 1.0])
    assert relative_lights(np.zeros((3, 0)), curves=(), junction_c=25.0).shape == (3, 0)
    assert build_junctions((), junction_c=25.0).slope_v.shape == (0,)


def test_a_junction_without_voltage_is_refused():
    with pytest.raises(RangeError, match="junction voltage"):
        build_junctions(CURVES, junction_c=1500.0)
