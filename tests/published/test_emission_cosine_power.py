"""Cosine-power lobes and light behind a gap, against exact values stated outside this project."""

import math

import numpy as np
import pytest

from paneglow.physics import (
    cosine_power_exponent,
    cosine_power_flux_lm,
    cosine_power_flux_within,
    cosine_power_table,
    diffuser_illuminance_lx,
    largest_row_pitch_mm,
    offset_of_share_mm,
    polar_table,
)


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
    exponent = cosine_power_exponent(angle_rad)
    assert cosine_power_flux_within(angle_rad, exponent=exponent) == pytest.approx(share, abs=5e-5)
    table = cosine_power_table(angle_rad)
    in_table = np.interp(-math.cos(angle_rad), -table.cos_table, table.cdf_table)
    assert in_table == pytest.approx(share, abs=2e-4)  # 0.25 deg steps


def test_lambertian_flux_is_pi_times_its_intensity():
    # Exact: flux = pi I0 for cos^1
    assert cosine_power_flux_lm(1.0, exponent=1.0) == pytest.approx(math.pi, rel=1e-15)


def test_zonal_sum_of_the_cosine_check_file_is_pi():
    # I = cos(angle) at 0(10)90 deg: sum over zones of 2 pi (cos a - cos b) mean(I) is pi exactly (computed apart)
    angles_rad = np.radians(np.arange(0.0, 91.0, 10.0))
    table = polar_table(angles_rad, relative_intensity=np.cos(angles_rad))
    at_grid = np.interp(-np.cos(angles_rad), -table.cos_table, table.intensity_table)
    zones = 2.0 * np.pi * -np.diff(np.cos(angles_rad)) * 0.5 * (at_grid[1:] + at_grid[:-1])
    # The table is linear in the angle between entries, so its flux is the zonal sum only up to the 10 deg chords
    assert zones.sum() / at_grid[0] == pytest.approx(np.pi, rel=1e-9)
    assert 1.0 / table.on_axis_per_sr == pytest.approx(np.pi, rel=5e-3)


@pytest.mark.parametrize(("share", "offset_in_gaps"), [(0.5, 0.64), (0.10, 1.47), (0.05, 1.86), (0.02, 2.46)])
def test_brightness_falls_off_with_distance_from_the_source(share, offset_in_gaps):
    # Lambertian point source a distance h behind a thin diffuser: derived (inverse square and cosine laws)
    offset_mm = offset_of_share_mm(share, gap_mm=4.0)
    assert offset_mm / 4.0 == pytest.approx(offset_in_gaps, abs=5e-3)
    foot, there = diffuser_illuminance_lx([0.0, offset_mm], gap_mm=4.0, flux_lm=1.0)
    assert there / foot == pytest.approx(share, rel=1e-12)


@pytest.mark.parametrize(("radius_in_gaps", "edge_over_centre"), [(0.25, 0.89), (0.5, 0.64), (0.75, 0.41), (1.0, 0.25)])
def test_edge_of_a_round_window_over_its_centre(radius_in_gaps, edge_over_centre):
    # Derived, two digits; the LED stands behind the centre
    centre, edge = diffuser_illuminance_lx([0.0, 3.0 * radius_in_gaps], gap_mm=3.0, flux_lm=1.0)
    assert edge / centre == pytest.approx(edge_over_centre, abs=5e-3)


@pytest.mark.parametrize(
    ("evenness", "pitch_in_gaps"), [(0.5, 1.96), (0.7, 1.56), (0.75, 1.46), (0.8, 1.36), (0.9, 1.14)]
)
def test_largest_pitch_of_a_row(evenness, pitch_in_gaps):
    # Derived, three digits; 0.7 gives 1.5551, which the source rounds up
    assert largest_row_pitch_mm(evenness, gap_mm=2.0) / 2.0 == pytest.approx(pitch_in_gaps, abs=6e-3)
