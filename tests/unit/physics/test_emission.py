"""Lobes and their sampling tables: exact limits and every refusal."""

import math

import numpy as np
import pytest

from paneglow.errors import RangeError
from paneglow.physics import cosine_power_table, polar_table
from paneglow.physics.emission import cosine_power_exponent

HALF_ANGLES_DEG = (8.0, 15.0, 30.0, 60.0, 65.0, 80.0)


@pytest.mark.parametrize("half_angle_deg", HALF_ANGLES_DEG)
def test_intensity_is_half_at_the_half_angle(half_angle_deg):
    half_angle_rad = math.radians(half_angle_deg)
    table = cosine_power_table(half_angle_rad)
    at_half = np.interp(-math.cos(half_angle_rad), -table.cos_table, table.intensity_table)
    # Linear in the cosine between 0.25 deg steps: a chord error below 1e-3 at the narrowest lobe here
    assert at_half / table.on_axis_per_sr == pytest.approx(0.5, rel=1e-3)


@pytest.mark.parametrize("half_angle_deg", HALF_ANGLES_DEG)
def test_table_has_the_flux_distribution_of_the_lobe(half_angle_deg):
    half_angle_rad = math.radians(half_angle_deg)
    table = cosine_power_table(half_angle_rad)
    exponent = cosine_power_exponent(half_angle_rad)
    front = table.cos_table >= 0.0
    # The integral of cos^m over a cap: 1 - cos^(m + 1) of its flux, (m + 1) / (2 pi) on axis per unit flux
    expected = 1.0 - table.cos_table[front] ** (exponent + 1.0)
    # Trapezoid error of cos^35 on 0.25 deg steps is below 2e-4 of the flux
    np.testing.assert_allclose(table.cdf_table[front], expected, atol=2e-4)
    assert table.on_axis_per_sr == pytest.approx((exponent + 1.0) / (2.0 * np.pi), rel=5e-4)


@pytest.mark.parametrize(
    "table",
    [
        cosine_power_table(math.radians(15.0)),
        polar_table([0.0, 0.3, 1.0], relative_intensity=[1.0, 0.4, 0.2]),
        polar_table(np.radians([0.0, 90.0, 180.0]), relative_intensity=[0.5, 1.0, 0.1]),
    ],
    ids=["narrow", "ends above zero", "shines backward too"],
)
def test_table_is_normalised_and_ordered(table):
    assert table.cos_table.size >= 181
    assert table.cos_table[0] == 1.0
    assert table.cos_table[-1] == -1.0
    assert np.all(np.diff(table.cos_table) <= 0.0)
    assert table.cdf_table[0] == 0.0
    assert table.cdf_table[-1] == 1.0
    assert np.all(np.diff(table.cdf_table) >= 0.0)
    sphere = 2.0 * np.pi * np.trapezoid(table.intensity_table[::-1], table.cos_table[::-1])
    assert sphere == pytest.approx(1.0, rel=1e-12)


def test_cosine_lobe_given_as_a_table_equals_the_closed_form():
    angles_rad = np.radians(np.arange(0.0, 90.5, 0.5))
    # cos(90 deg) is 6e-17, not 0; linear chords of 0.5 deg leave 1e-5
    table = polar_table(angles_rad, relative_intensity=np.cos(angles_rad))
    assert table.on_axis_per_sr == pytest.approx(1.0 / np.pi, rel=2e-5)


def test_uniform_cone_ends_sharply_where_its_table_ends():
    table = polar_table([0.0, np.pi / 3], relative_intensity=[1.0, 1.0])
    assert table.on_axis_per_sr == pytest.approx(1.0 / (2.0 * np.pi * (1.0 - 0.5)), rel=1e-12)
    assert np.all(table.intensity_table[table.cos_table < 0.4999] == 0.0)


def test_samples_drawn_from_the_table_follow_the_lobe():
    table = cosine_power_table(math.radians(30.0))
    uniform = (np.arange(200_000) + 0.5) / 200_000  # evenly spread, so there is no sampling noise
    cosines = np.interp(uniform, table.cdf_table, table.cos_table)
    exponent = cosine_power_exponent(math.radians(30.0))
    # Mean cosine of (m + 1) mu^m is (m + 1)/(m + 2)
    assert cosines.mean() == pytest.approx((exponent + 1.0) / (exponent + 2.0), abs=1e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda: cosine_power_exponent(0.0),
        lambda: cosine_power_exponent(np.pi / 2),
        lambda: cosine_power_exponent(float("nan")),
        lambda: polar_table([0.0, 0.5, 0.4], relative_intensity=[1.0, 1.0, 1.0]),
        lambda: polar_table([0.1, 0.5], relative_intensity=[1.0, 1.0]),
        lambda: polar_table([0.0, 4.0], relative_intensity=[1.0, 1.0]),
        lambda: polar_table([0.0, 0.5], relative_intensity=[1.0, -0.1]),
        lambda: polar_table([0.0, 0.5], relative_intensity=[0.0, 0.0]),
        lambda: polar_table([0.0], relative_intensity=[1.0]),
    ],
)
def test_numbers_outside_the_range_are_refused(call):
    with pytest.raises(RangeError):
        call()
