import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Point, box

from paneglow.judge import geometry
from paneglow.scene.pose import pose_of
from unit.judge import cases

LANTERN = cases.window("lantern", cases.LANTERN)


def test_a_side_view_body_lies_across_the_direction_it_shines_in():
    upright = geometry.body_outline(cases.SIDE_LED).bounds
    assert upright == pytest.approx((8.0 - 0.8, 15.0 - 1.6, 8.0 + 0.8, 15.0 + 1.6))
    flat = geometry.body_outline(cases.FLAT_LED).bounds
    assert flat == pytest.approx((29.0 - 1.6, 13.0 - 0.8, 29.0 + 1.6, 13.0 + 0.8))


@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 180.0])
@pytest.mark.parametrize("led", [cases.SIDE_LED, cases.FLAT_LED], ids=lambda led: led.mounting)
def test_the_judge_sees_an_emitter_where_the_scene_puts_it(led, turn_deg):
    led = replace(led, rotation_deg=turn_deg)
    pose = pose_of(led, thickness_mm=1.6)
    assert geometry.emitter_point_mm(led) == pytest.approx(pose.centre_mm[:2])
    along = pose.axis if led.mounting == "side_view" else pose.u
    assert geometry.axis_along_board(led) == pytest.approx(along[:2])


@pytest.mark.parametrize("turn_deg", [0.0, 37.0, 90.0, 251.0])
def test_turning_led_and_window_together_changes_neither_distance_nor_angle(turn_deg):
    led = replace(cases.SIDE_LED, at_mm=(3.0, 9.0), rotation_deg=-40.0)
    distance_mm = geometry.distance_to_window_mm(led, window=LANTERN)
    angle_rad = geometry.angle_to_window_rad(led, window=LANTERN)
    turned_window = replace(LANTERN, polygon=geometry.affinity.rotate(LANTERN.polygon, turn_deg, origin=(0.0, 0.0)))
    place = geometry.affinity.rotate(Point(led.at_mm), turn_deg, origin=(0.0, 0.0))
    turned = replace(led, at_mm=(place.x, place.y), rotation_deg=led.rotation_deg + turn_deg)
    assert geometry.distance_to_window_mm(turned, window=turned_window) == pytest.approx(distance_mm)
    assert geometry.angle_to_window_rad(turned, window=turned_window) == pytest.approx(angle_rad)


def test_the_angle_is_zero_when_the_axis_meets_the_window_and_pi_when_it_shines_straight_away():
    assert geometry.angle_to_window_rad(cases.SIDE_LED, window=LANTERN) == 0.0
    thin = replace(LANTERN, polygon=box(10.0, 14.999, 20.0, 15.001))
    away = replace(cases.SIDE_LED, rotation_deg=180.0)
    assert geometry.angle_to_window_rad(away, window=thin) == pytest.approx(math.pi, abs=1e-3)


def test_pixels_inside_a_polygon_add_up_to_its_area():
    rows, _ = geometry.pixels_inside(cases.LANTERN, grid=cases.GRID)
    assert rows.size * cases.GRID.pixel_area_mm2 == pytest.approx(100.0)


def test_a_polygon_smaller_than_a_pixel_has_the_pixel_it_lies_in_and_one_off_the_grid_none():
    rows, columns = geometry.pixels_inside(box(10.01, 20.01, 10.03, 20.03), grid=cases.GRID)
    assert (rows.tolist(), columns.tolist()) == ([200], [100])
    assert geometry.pixels_inside(box(-9.0, -9.0, -8.0, -8.0), grid=cases.GRID)[0].size == 0


def test_covered_share_is_the_mean_under_the_polygon():
    half = np.zeros(cases.GRID.shape, dtype=np.float32)
    half[:, : cases.GRID.n_x // 2] = 1.0
    assert geometry.covered_frac(half, polygon=box(18.0, 10.0, 22.0, 12.0), grid=cases.GRID) == pytest.approx(0.5)
