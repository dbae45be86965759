"""Coverage of polygons, holes and strokes: areas are those of geometry."""

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Point, box

from paneglow.fab import Hole, build_text, draw_holes, draw_polygons, draw_strokes
from paneglow.grid import Grid

AREA_SHARE = 0.005  # the promise of the tool
GRID = Grid.over(bounds_mm=(0, 0, 20, 20), pitch_mm=0.05)


def area(cover):
    return float(cover.sum(dtype=np.float64)) * GRID.pixel_area_mm2


def test_a_polygon_with_holes_covers_its_area():
    shape = Point(10.01, 9.98).buffer(8, 128).difference(box(8.013, 8, 11, 11.027))
    assert area(draw_polygons(MultiPolygon([shape]), grid=GRID)) == pytest.approx(shape.area, rel=AREA_SHARE)


@pytest.mark.parametrize("turned", [False, True])
def test_a_board_within_a_frame_is_filled_whatever_the_order(turned):
    frame = box(1, 1, 19, 19).difference(box(3, 3, 17, 17))
    inner = box(5, 5, 15, 15).difference(box(9, 9, 11, 11))
    pieces = [inner, frame] if turned else [frame, inner]
    cover = draw_polygons(MultiPolygon(pieces), grid=GRID)
    assert area(cover) == pytest.approx(frame.area + inner.area, rel=AREA_SHARE)
    assert cover[GRID.pixel_at(x_mm=10, y_mm=10)] == 0.0
    assert cover[GRID.pixel_at(x_mm=6, y_mm=6)] == 1.0


def test_holes_and_slots_cover_their_area():
    round_hole = Hole(start_mm=(5.02, 5.01), end_mm=(5.02, 5.01), diameter_mm=3.3, plated=False)
    slot = Hole(start_mm=(10, 12), end_mm=(13, 16), diameter_mm=1.2, plated=True)
    assert area(draw_holes([round_hole], grid=GRID)) == pytest.approx(np.pi / 4 * 3.3**2, rel=AREA_SHARE)
    assert area(draw_holes([slot], grid=GRID)) == pytest.approx(5 * 1.2 + np.pi / 4 * 1.2**2, rel=AREA_SHARE)
    assert area(draw_holes([], grid=GRID)) == 0.0


def test_text_is_drawn_where_it_is_put():
    cover = draw_strokes(build_text("1", at_mm=(10, 10), height_mm=4, pen_mm=0.5, align="centre"), grid=GRID)
    rows, columns = np.nonzero(cover)
    assert columns.mean() * GRID.pitch_mm == pytest.approx(10, abs=1)
    assert rows.min() * GRID.pitch_mm == pytest.approx(10 - 0.25, abs=0.1)
