"""The drawing itself: no growth, no seams, the same at every place, tile and pitch."""

import math

import numpy as np
import pytest

from paneglow.fab import GerberDrawing, draw_coverage, parse_gerber
from paneglow.fab.draw import TILE_PIXELS
from paneglow.grid import Grid

HEAD = "%FSLAX46Y46*%\n%MOMM*%\n"


def read(body: str) -> GerberDrawing:
    return parse_gerber(HEAD + body + "M02*\n", path="drawn.gbr")


def digits(value_mm: float) -> str:
    return str(round(value_mm * 1e6))


def area_mm2(drawing: GerberDrawing, *, pitch_mm: float) -> float:
    assert drawing.bounds_mm is not None
    grid = Grid.over(bounds_mm=drawing.bounds_mm, pitch_mm=pitch_mm, margin_mm=3 * pitch_mm)
    return float(draw_coverage(drawing, grid=grid).sum(dtype=float)) * grid.pixel_area_mm2


def square(x_mm: float, y_mm: float, side_mm: float) -> str:
    corners = [(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]
    places = [f"X{digits(x_mm + a * side_mm)}Y{digits(y_mm + b * side_mm)}" for a, b in corners]
    return f"G36*\n{places[0]}D02*\nG01*\n" + "".join(f"{place}D01*\n" for place in places[1:]) + "G37*\n"


def test_result_is_float32_by_row_and_column_with_y_upward() -> None:
    coverage = draw_coverage(read(square(2, 0, 1)), grid=Grid(x_min_mm=0, y_min_mm=0, pitch_mm=1, n_x=4, n_y=3))
    assert coverage.dtype == np.float32
    # A pixel's samples fill a square turned by atan(1/8): about 1/64 crosses each border of the pixel.
    np.testing.assert_allclose(coverage, [[0, 0, 1, 0], [0, 0, 0, 0], [0, 0, 0, 0]], atol=5 / 64)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.77])
def test_edges_along_the_axes_cover_their_share_of_a_pixel(share: float) -> None:
    grid = Grid(x_min_mm=0, y_min_mm=0, pitch_mm=1, n_x=5, n_y=5)
    coverage = draw_coverage(read(square(1 + share, 1 + share, 2)), grid=grid)
    # One sample in 64 is the resolution, and up to 1/64 crosses a border; a lattice along the axes has only 8 depths.
    assert coverage[2, 1] == pytest.approx(1 - share, abs=2.5 / 64)
    assert coverage[2, 3] == pytest.approx(share, abs=2.5 / 64)
    assert coverage[1, 2] == pytest.approx(1 - share, abs=2.5 / 64)
    assert coverage[2, 2] == 1


@pytest.mark.parametrize("diameter_px", [2, 3, 5, 10, 40, 400])
def test_discs_neither_grow_nor_shrink(diameter_px: float) -> None:
    generator = np.random.default_rng(11)
    areas = []
    for _ in range(20):
        x, y = generator.uniform(10, 11, size=2)
        drawing = read(f"%ADD10C,{diameter_px * 0.05:.6f}*%\nD10*\nX{digits(x)}Y{digits(y)}D03*\n")
        areas.append(area_mm2(drawing, pitch_mm=0.05))
    # Mean over 20 random places: sampling noise of a disc of 2 pixels is 0.3 % of its area, of larger ones less.
    assert np.mean(areas) == pytest.approx(math.pi * (diameter_px * 0.05 / 2) ** 2, rel=0.005)


def test_a_disc_lies_where_it_was_put() -> None:
    drawing = read(f"%ADD10C,1*%\nD10*\nX{digits(3.456)}Y{digits(2.345)}D03*\n")
    grid = Grid(x_min_mm=0, y_min_mm=0, pitch_mm=0.05, n_x=100, n_y=100)
    coverage = draw_coverage(drawing, grid=grid).astype(float)
    # 0.5 um: the noise of the samples along the rim; an off-centre block of samples would show as 4 um.
    assert (coverage.sum(axis=0) @ grid.x_centres_mm()) / coverage.sum() == pytest.approx(3.456, abs=0.0005)
    assert (coverage.sum(axis=1) @ grid.y_centres_mm()) / coverage.sum() == pytest.approx(2.345, abs=0.0005)


@pytest.mark.parametrize("angle_deg", [0, 7.125, 30, 45, 90, 133])
@pytest.mark.parametrize("width_px", [1.5, 3, 8])
def test_strokes_of_any_direction_have_their_area(angle_deg: float, width_px: float) -> None:
    generator = np.random.default_rng(12)
    width, along = width_px * 0.05, complex(math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))) * 5
    areas = []
    for _ in range(10):
        x, y = generator.uniform(10, 11, size=2)
        areas.append(
            area_mm2(
                read(
                    f"%ADD10C,{width:.6f}*%\nD10*\nG01*\nX{digits(x)}Y{digits(y)}D02*\n"
                    f"X{digits(x + along.real)}Y{digits(y + along.imag)}D01*\n"
                ),
                pitch_mm=0.05,
            )
        )
    # 1 %: a stroke of 1.5 pixels along the axes has 96 samples across, so one sample is 1 % before averaging.
    assert np.mean(areas) == pytest.approx(width * 5 + math.pi * width**2 / 4, rel=0.01)


@pytest.mark.parametrize("edge_mm", [0.513, 0.5 + 1 / 3, 0.9999])
def test_regions_that_share_an_edge_leave_no_seam(edge_mm: float) -> None:
    left = f"G36*\nX0Y0D02*\nG01*\nX{digits(edge_mm)}D01*\nX{digits(edge_mm + 0.3)}Y2000000D01*\nX0D01*\nY0D01*\nG37*\n"
    right = (
        f"G36*\nX{digits(edge_mm)}Y0D02*\nX2000000D01*\nY2000000D01*\nX{digits(edge_mm + 0.3)}D01*\n"
        f"X{digits(edge_mm)}Y0D01*\nG37*\n"
    )
    inside = Grid(x_min_mm=0.1, y_min_mm=0.1, pitch_mm=0.05, n_x=36, n_y=36)
    assert draw_coverage(read(left + right), grid=inside).min() == 1


def test_clearing_the_same_outline_leaves_no_ghost() -> None:
    body = square(0.513, 0.527, 1.111)
    grid = Grid(x_min_mm=0, y_min_mm=0, pitch_mm=0.05, n_x=40, n_y=40)
    assert draw_coverage(read(body + "%LPC*%\n" + body), grid=grid).max() == 0


def test_many_small_strokes_along_one_line_do_not_widen_it() -> None:
    whole = read("%ADD10C,0.17*%\nD10*\nG01*\nX100000Y333000D02*\nX2100000Y933000D01*\n")
    places = [f"X{digits(0.1 + 2 * k / 200)}Y{digits(0.333 + 0.6 * k / 200)}" for k in range(201)]
    parts = "".join(f"{a}D02*\n{b}D01*\n" for a, b in zip(places, places[1:], strict=False))
    joined = read(f"%ADD10C,0.17*%\nD10*\nG01*\n{parts}")
    assert area_mm2(joined, pitch_mm=0.05) == pytest.approx(area_mm2(whole, pitch_mm=0.05), rel=0.002)


def test_zero_width_strokes_draw_nothing() -> None:
    drawing = read("%ADD10C,0*%\n%ADD11R,0X1*%\nD10*\nG01*\nX0Y0D02*\nX5000000Y5000000D01*\nD11*\nX0D01*\nD03*\n")
    grid = Grid(x_min_mm=-1, y_min_mm=-1, pitch_mm=0.05, n_x=140, n_y=140)
    assert draw_coverage(drawing, grid=grid).max() == 0


def test_negative_image_is_the_complement() -> None:
    grid = Grid(x_min_mm=0, y_min_mm=0, pitch_mm=0.05, n_x=60, n_y=60)
    positive = draw_coverage(read(square(0.51, 0.52, 1.23)), grid=grid)
    negative = draw_coverage(read("%IPNEG*%\n" + square(0.51, 0.52, 1.23)), grid=grid)
    np.testing.assert_allclose(positive + negative, 1, atol=1e-6)


def test_tiles_join_without_a_trace() -> None:
    drawing = read(f"%ADD10C,0.3*%\nD10*\nG01*\nX0Y0D02*\nX{digits(40)}Y{digits(33)}D01*\n" + square(20, 20, 12.345))
    whole = Grid(x_min_mm=-1, y_min_mm=-1, pitch_mm=0.05, n_x=TILE_PIXELS + 400, n_y=TILE_PIXELS + 300)
    coverage = draw_coverage(drawing, grid=whole)
    part = Grid(x_min_mm=-1 + 450 * 0.05, y_min_mm=-1 + 430 * 0.05, pitch_mm=0.05, n_x=150, n_y=170)
    # Both see the same samples but for rounding of coordinates in 32 bits: a sample in a few thousand may differ.
    np.testing.assert_allclose(draw_coverage(drawing, grid=part), coverage[430:600, 450:600], atol=2 / 64)


def test_empty_drawing_covers_nothing_on_grids_of_one_pixel() -> None:
    assert draw_coverage(read(""), grid=Grid(x_min_mm=0, y_min_mm=0, pitch_mm=1, n_x=1, n_y=1)).tolist() == [[0]]


def test_drawing_outside_the_grid_is_left_out() -> None:
    grid = Grid(x_min_mm=100, y_min_mm=100, pitch_mm=0.5, n_x=7, n_y=3)
    assert draw_coverage(read(square(0, 0, 5)), grid=grid).max() == 0
