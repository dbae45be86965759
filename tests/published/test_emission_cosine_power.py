"""Cosine-power lobes against closed forms: f(half) = 1/2 gives m, the integral over a cap gives its flux."""

import math

import numpy as np
import pytest

from paneglow.physics import cosine_power_table, polar_table
from paneglow.physics.emission import cosine_power_exponent


@pytest.mark.parametrize(
    ("half_angle_deg", "exponent"),
    [
        (10, 45.278),
        (15, 19.994),
        (30, 4.8188),
        (45, 2.0000),
        (55, 1.2470),
        (60, 1.0000),
        (65, 0.8048),
        (70, 0.6461),
    ],
)
def test_exponent_of_the_half_angle(half_angle_deg, exponent):
    # m = -ln 2 / ln cos(half angle), exact; five digits computed apart from this project
    assert cosine_power_exponent(math.radians(half_angle_deg)) == pytest.approx(exponent, rel=1e-4)


@pytest.mark.parametrize(("half_angle_deg", "share"), [(15, 0.5170), (30, 0.5670), (45, 0.6464), (60, 0.7500)])
def test_flux_within_the_half_angle(half_angle_deg, share):
    # 1 - cos^(m+1), exact; four digits computed apart from this project
    angle_rad = math.radians(half_angle_deg)
    table = cosine_power_table(angle_rad)
    in_table = np.interp(-math.cos(angle_rad), -table.cos_table, table.cdf_table)
    assert in_table == pytest.approx(share, abs=2e-4)  # 0.25 deg steps


def test_zonal_sum_of_the_cosine_check_file_is_pi():
    # I = cos(angle) at 0(10)90 deg: sum over zones of 2 pi (cos a - cos b) mean(I) is pi exactly (computed apart)
    angles_rad = np.radians(np.arange(0.0, 91.0, 10.0))
    table = polar_table(angles_rad, relative_intensity=np.cos(angles_rad))
    at_grid = np.interp(-np.cos(angles_rad), -table.cos_table, table.intensity_table)
    zones = 2.0 * np.pi * -np.diff(np.cos(angles_rad)) * 0.5 * (at_grid[1:] + at_grid[:-1])
    # The table is linear in the angle between entries, so its flux is the zonal sum only up to the 10 deg chords
    assert zones.sum() / at_grid[0] == pytest.approx(np.pi, rel=1e-9)
    assert 1.0 / table.on_axis_per_sr == pytest.approx(np.pi, rel=5e-3)
