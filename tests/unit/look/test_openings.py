"""Windows on the luminance map: areas, rims, surrounds."""

import numpy as np
import pytest
from shapely.geometry import box

from paneglow.grid import Grid
from paneglow.look import build_look, window_light_per_lm
from paneglow.look.openings import build_openings, build_resampling, overlap_shares


@pytest.mark.parametrize(("fine_pitch", "offset"), [(0.05, 0.0), (0.07, 0.013), (0.2, -0.31), (0.5, 0.1)])
def test_averaging_keeps_area_for_any_pitch_and_offset(fine_pitch: float, offset: float) -> None:
    fine = Grid(x_min_mm=offset, y_min_mm=offset / 2, pitch_mm=fine_pitch, n_x=40, n_y=30)
    grid = Grid.over(bounds_mm=fine.bounds_mm, pitch_mm=0.2, margin_mm=0.4)
    values = np.random.default_rng(1).random(fine.shape)
    coarse = build_resampling(fine=fine, grid=grid)(values)
    # Single precision sums
    assert coarse.sum() * grid.pixel_area_mm2 == pytest.approx(values.sum() * fine.pixel_area_mm2, rel=1e-5)


def test_shares_of_a_coarse_cell_sum_to_one_inside() -> None:
    shares = overlap_shares(
        fine_min_mm=0.03, fine_pitch_mm=0.07, fine_n=100, grid_min_mm=0.0, grid_pitch_mm=0.2, grid_n=30
    )
    np.testing.assert_allclose(shares.sum(axis=1)[1:30], 1.0, atol=1e-9)


def test_coverage_adds_up_to_the_area_of_the_window(staged) -> None:
    stage = staged({"a": box(1.03, 1.21, 4.18, 3.97), "b": box(5.5, 2, 6, 2.4)}, [], outline=box(0, 0, 8, 6))
    grid = stage.tally.map_grid
    labels = stage.board.survey.labels
    for number, opening in enumerate(build_openings(stage.board, grid=grid), start=1):
        drawn_mm2 = (labels == number).sum() * stage.board.maps.grid.pixel_area_mm2
        assert opening.coverage.sum() * grid.pixel_area_mm2 == pytest.approx(drawn_mm2, rel=1e-5)
        assert opening.coverage.max() <= 1.0 + 1e-6


def test_only_full_pixels_count_where_there_are_enough(staged) -> None:
    stage = staged({"wide": box(1.1, 1.1, 4.1, 4.1), "tiny": box(6, 2, 6.3, 2.3)}, [], outline=box(0, 0, 8, 6))
    wide, tiny = build_openings(stage.board, grid=stage.tally.map_grid)
    assert wide.inside.sum() == 14 * 14  # 3.0 mm off the map's 0.2 mm lines: 14 whole pixels and two halves
    assert wide.coverage[wide.inside].min() >= 0.95
    assert tiny.inside.sum() == (tiny.coverage > 1e-3).sum() > 0


def test_the_surround_is_board_near_the_window_and_no_other_window(staged) -> None:
    stage = staged(
        {"a": box(2, 2, 4, 4), "b": box(4.6, 2, 6.6, 4)}, [], outline=box(0, 0, 12, 6), holes=box(0.6, 2.6, 1.2, 3.2)
    )
    grid = stage.tally.map_grid
    opening = build_openings(stage.board, grid=grid)[0]
    x = grid.x_centres_mm()[opening.columns]
    y = grid.y_centres_mm()[opening.rows]
    rows, columns = np.nonzero(opening.surround)
    x, y = x[columns], y[rows]
    assert not np.any((x > 2) & (x < 4) & (y > 2) & (y < 4))
    assert not np.any((x > 4.6) & (x < 6.6) & (y > 2) & (y < 4))
    assert not np.any((x > 0.7) & (x < 1.1) & (y > 2.7) & (y < 3.1))
    assert np.all((x > 0) & (x < 12) & (y > 0) & (y < 6))
    assert np.hypot(np.maximum(x - 4, 2 - x).clip(0), np.maximum(y - 4, 2 - y).clip(0)).max() < 2.2


def test_a_window_off_the_map_has_no_pixels(staged) -> None:
    stage = staged({"a": box(5, 2, 7, 4)}, [], outline=box(0, 0, 8, 6))
    off = Grid(x_min_mm=-30.0, y_min_mm=-30.0, pitch_mm=0.2, n_x=10, n_y=10)
    opening = build_openings(stage.board, grid=off)[0]
    assert opening.coverage.sum() == 0.0
    assert float(opening.mean(np.ones(off.shape))) == 0.0


def test_light_of_all_leds_adds_up_to_what_the_look_shows(staged, lamp):
    lamps = [
        lamp(ref="D1", at_mm=(2.2, 3.0), window="left", flux_lm=0.5),
        lamp(ref="D2", at_mm=(5.8, 3.0), window="right", flux_lm=0.2, floor=0.05),
    ]
    shapes = {"left": box(1, 1, 3.4, 5), "right": box(4.6, 1, 7, 5)}
    stage = staged(shapes, lamps, outline=box(0, 0, 8, 6), pitch_mm=0.1)
    names, light = window_light_per_lm(stage.board, tally=stage.tally)
    look = build_look(**stage.parts())
    assert names == tuple(window.name for window in look.windows)
    # Maps are float32: sums over a few thousand pixels agree to their rounding
    shown = light @ np.array([0.5, 0.2])
    assert shown == pytest.approx([window.mean_cd_m2.value for window in look.windows], rel=1e-5)
    assert light[0, 1] > 0.0  # the even floor of D2 reaches the other window
