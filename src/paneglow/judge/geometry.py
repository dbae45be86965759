"""Where a placed part and its light lie on the board, seen from the front; shared by the rules."""

import math

import numpy as np
import numpy.typing as npt
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from paneglow.assembly import ROUND_ENOUGH_MM
from paneglow.board import PlacedLed, Window
from paneglow.grid import Grid

PointPair = tuple[float, float]
CoverageMap = npt.NDArray[np.float32]  # [y, x], share of the pixel covered, 0 to 1


def axis_along_board(led: PlacedLed) -> PointPair:
    """Unit vector along the board in which the part is turned; a side-view part shines along it."""
    angle_rad = math.radians(led.rotation_deg)
    return math.cos(angle_rad), math.sin(angle_rad)


def emitter_point_mm(led: PlacedLed) -> PointPair:
    """Centre of the luminous area seen from the front [mm]; a side-view part carries it on its shining side."""
    reach_mm = led.part.body.width_mm / 2 if led.mounting == "side_view" else 0.0
    along_x, along_y = axis_along_board(led)
    return led.at_mm[0] + reach_mm * along_x, led.at_mm[1] + reach_mm * along_y


def _rectangle(led: PlacedLed, *, length_mm: float, width_mm: float) -> Polygon:
    # Terminals of a side-view part lie across the direction it shines in; of every other part, along its rotation
    turn_deg = led.rotation_deg + (90.0 if led.mounting == "side_view" else 0.0)
    upright = box(-length_mm / 2, -width_mm / 2, length_mm / 2, width_mm / 2)
    turned = affinity.rotate(upright, turn_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, *led.at_mm)


def body_outline(led: PlacedLed) -> Polygon:
    """Outline of the body on the board [mm]."""
    return _rectangle(led, length_mm=led.part.body.length_mm, width_mm=led.part.body.width_mm)


def emitter_outline(led: PlacedLed) -> Polygon:
    """Outline of the luminous area of a part that faces the board [mm]."""
    return _rectangle(led, length_mm=led.part.emitter_length_mm.value, width_mm=led.part.emitter_width_mm.value)


def lens_outline(led: PlacedLed, *, room_mm: float = 0.0) -> Polygon:
    """Outline of what must fit into a hole: the lens where the part states one, else the body [mm].

    Parameters
    ----------
    led : PlacedLed
        A lens as wide as long is round, as is every lens of a part made for drilled holes.
    room_mm : float
        By how much it may be larger than its nominal size [mm].
    """
    part = led.part
    length_mm = (part.body.length_mm if part.lens_length_mm is None else part.lens_length_mm.value) + room_mm
    width_mm = (part.body.width_mm if part.lens_width_mm is None else part.lens_width_mm.value) + room_mm
    is_round = part.lens_length_mm is not None and abs(length_mm - width_mm) <= ROUND_ENOUGH_MM
    if led.mounting != "through_hole" and not is_round:
        return _rectangle(led, length_mm=length_mm, width_mm=width_mm)
    circle = Point(0.0, 0.0).buffer(0.5)
    ellipse = affinity.rotate(affinity.scale(circle, length_mm, width_mm), led.rotation_deg, origin=(0.0, 0.0))
    return affinity.translate(ellipse, *led.at_mm)


def distance_to_window_mm(led: PlacedLed, *, window: Window) -> float:
    """Least distance along the board from the luminous centre to the window; 0 inside it [mm]."""
    return float(window.polygon.distance(Point(emitter_point_mm(led))))


def angle_to_window_rad(led: PlacedLed, *, window: Window) -> float:
    """Least angle, along the board, between the direction the part shines in and any point of the window [rad].

    Zero where the axis meets the window, or where the luminous centre lies in it.
    """
    start = emitter_point_mm(led)
    along_x, along_y = axis_along_board(led)
    x_min, y_min, x_max, y_max = window.polygon.bounds
    far_mm = sum(abs(value) for value in (*start, x_min, y_min, x_max, y_max)) + 1.0
    ray = LineString([start, (start[0] + far_mm * along_x, start[1] + far_mm * along_y)])
    if window.polygon.intersects(ray):
        return 0.0
    rim = np.asarray(window.polygon.exterior.coords)[:, :2] - np.asarray(start)
    lengths = np.hypot(rim[:, 0], rim[:, 1])
    cosines = (rim @ np.array([along_x, along_y])) / np.maximum(lengths, 1e-12)
    return float(np.arccos(np.clip(cosines.max(), -1.0, 1.0)))


def pixels_inside(polygon: Polygon, *, grid: Grid) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Rows and columns of the pixels whose centres lie inside a polygon.

    A polygon that holds no pixel centre gives the one pixel under its inner point, or nothing off the grid.
    """
    x_min, y_min, x_max, y_max = polygon.bounds
    columns = _span(x_min, x_max, start_mm=grid.x_min_mm, pitch_mm=grid.pitch_mm, count=grid.n_x)
    rows = _span(y_min, y_max, start_mm=grid.y_min_mm, pitch_mm=grid.pitch_mm, count=grid.n_y)
    x_mm, y_mm = np.meshgrid(grid.x_centres_mm()[columns], grid.y_centres_mm()[rows])
    row, column = np.nonzero(shapely.contains_xy(polygon, x_mm, y_mm))
    if row.size:
        return row + rows.start, column + columns.start
    inner = polygon.representative_point()
    pixel = grid.pixel_at(x_mm=inner.x, y_mm=inner.y)
    found = np.array([] if pixel is None else [pixel], dtype=np.int64).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _span(low_mm: float, high_mm: float, *, start_mm: float, pitch_mm: float, count: int) -> slice:
    first = math.floor((low_mm - start_mm) / pitch_mm)
    last = math.ceil((high_mm - start_mm) / pitch_mm)
    return slice(min(max(first, 0), count), min(max(last, 0), count))


def covered_frac(coverage: CoverageMap, *, polygon: Polygon, grid: Grid) -> float:
    """Mean coverage under a polygon [1], 0 to 1; 0 where it lies off the grid."""
    rows, columns = pixels_inside(polygon, grid=grid)
    return float(coverage[rows, columns].mean()) if rows.size else 0.0
