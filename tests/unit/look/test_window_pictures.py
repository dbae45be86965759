"""A window at the ends of its range: one exposure, proportional to light, seen the right way up."""

import numpy as np

from paneglow.grid import Grid
from paneglow.look import Look, render_window_range
from paneglow.look.figures import estimate

GRID = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=8, n_y=6)
WHITE = np.array([0.95047, 1.0, 1.08883])  # of D65, IEC 61966-2-1


def look_of(luminance: np.ndarray, *, low: float, high: float) -> Look:
    return Look(
        grid=GRID,
        xyz=WHITE[:, None, None] * luminance,
        luminance_cd_m2=luminance,
        luminance_se_cd_m2=np.zeros_like(luminance),
        low_cd_m2=low * luminance,
        high_cd_m2=high * luminance,
        lit_room_xyz=WHITE[:, None, None] * luminance,
        windows=(),
        assumed=True,
    )


def test_all_three_share_one_exposure_and_show_light_in_proportion():
    luminance = np.zeros(GRID.shape)
    luminance[1:5, 2:6] = 10.0
    low, nominal, high = render_window_range(
        look_of(luminance, low=0.2140411, high=1.0), bounds_mm=(1.0, 0.0, 7.0, 6.0)
    )
    assert low.shape == nominal.shape == high.shape == (6, 6, 3)
    assert high.max() == nominal.max() == 255
    # Code 127.5 of 255 is 0.2140411 of the light: inverse of the curve of IEC 61966-2-1 at 0.5
    assert abs(int(low.max()) - 127.5) <= 1
    assert low.min() == 0


def test_the_upper_end_of_a_window_is_at_the_top_of_its_picture():
    luminance = np.zeros(GRID.shape)
    luminance[4, 1] = 5.0  # at x 1.5, y 4.5 mm: upper left
    _, nominal, _ = render_window_range(look_of(luminance, low=1.0, high=1.0), bounds_mm=(0.0, 0.0, 8.0, 6.0))
    row, column = np.unravel_index(nominal.sum(axis=2).argmax(), nominal.shape[:2])
    assert (row, column) == (1, 1)


def test_a_dark_window_is_a_black_picture():
    pictures = render_window_range(look_of(np.zeros(GRID.shape), low=1.0, high=1.0), bounds_mm=(0.0, 0.0, 8.0, 6.0))
    assert all(picture.max() == 0 for picture in pictures)


def test_each_cause_alone_leaves_the_part_of_a_range_that_is_its_own():
    # Light of the LEDs (nominal, 1/2, 2 times) down, laminate (nominal, 1/4, 5 times) across: a product
    table = 10.0 * np.outer([1.0, 0.5, 2.0], [1.0, 0.25, 5.0])
    found = estimate(table.ravel(), errors=np.zeros(9))
    assert (found.low, found.high) == (1.25, 100.0)
    assert found.known is not None
    assert found.known.laminate == (5.0, 20.0)
    assert found.known.leds == (2.5, 50.0)
    assert estimate([10.0], errors=[0.1]).known is None
