"""Outlines of regions: sub-pixel polygons in mm, and how round a region is."""

import numpy as np
import numpy.typing as npt
import scipy
from shapely import make_valid
from shapely.geometry import LinearRing, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from skimage.measure import find_contours

from paneglow.board.opening import EIGHT, OpenRegion
from paneglow.grid import Grid

EDGE_LEVEL = 0.5
SIMPLIFY_PX = 0.2  # an outline may move by half a pixel in all: this much here, the rest below
AREA_SHIFT_PX = 0.3


def build_polygon(region: OpenRegion, *, grid: Grid) -> Polygon:
    """Outline of a region through its half-covered pixels, with its holes [mm].

    Parameters
    ----------
    region : OpenRegion
        One region on the grid.
    grid : Grid
        The grid of the map the region was found on.

    Returns
    -------
    Polygon
        Valid, simplified by at most a quarter pixel.
    """
    padded = np.pad(region.weight, 1)
    contours = find_contours(padded, EDGE_LEVEL, fully_connected="high")  # type: ignore[no-untyped-call]
    rings = [ring for ring in contours if len(ring) >= 4]
    origin = (region.window[0].start - 0.5, region.window[1].start - 0.5)
    polygons = [Polygon(_to_mm(ring, origin=origin, grid=grid)) for ring in rings]
    polygons.sort(key=lambda polygon: polygon.area, reverse=True)
    if not polygons:
        return _box(region, grid=grid)
    outer, *inner = polygons
    holes = [hole.exterior for hole in inner if outer.contains(hole.representative_point())]
    drawn = _largest(Polygon(outer.exterior, holes).simplify(SIMPLIFY_PX * grid.pitch_mm))
    return _with_area(drawn, area_mm2=region.area_px * grid.pixel_area_mm2, limit_mm=AREA_SHIFT_PX * grid.pitch_mm)


def _with_area(polygon: Polygon, *, area_mm2: float, limit_mm: float) -> Polygon:
    """Move the outline so that it encloses the counted area: chords of convex curves lie inside them."""
    shift = (area_mm2 - polygon.area) / polygon.length
    moved = polygon.buffer(float(np.clip(shift, -limit_mm, limit_mm)), join_style="mitre", mitre_limit=2.0)
    return polygon if moved.is_empty else _largest(moved)


def roundness(region: OpenRegion) -> float:
    """How near the filled outline of a region is to a circle: 1 for a circle, less for all else.

    The least of two ratios: the box around it, short side to long side; and area to the ellipse in that box, whichever
    of the two is larger below the other.
    """
    height, width = region.extent_px
    filled = region.area_px + sum_of_holes_px(region)
    ellipse = np.pi / 4 * height * width
    return float(min(min(height, width) / max(height, width), filled / ellipse, ellipse / filled))


def sum_of_holes_px(region: OpenRegion) -> float:
    """Area enclosed by a region but not part of it [px2]."""
    return float(hole_weight(region).sum(dtype=np.float64))


def hole_weight(region: OpenRegion) -> npt.NDArray[np.float32]:
    """Share of each pixel of the region's cut-out that the region encloses but does not cover."""
    solid = region.weight > EDGE_LEVEL
    enclosed = scipy.ndimage.binary_fill_holes(solid) & ~solid
    # Edge pixels of the enclosed part count with what the region leaves of them; those of the outer rim do not
    beside = scipy.ndimage.binary_dilation(enclosed, structure=EIGHT) & (solid | enclosed)
    return np.where(beside, 1.0 - region.weight, 0.0).astype(np.float32)


def _to_mm(ring: npt.NDArray[np.float64], *, origin: tuple[float, float], grid: Grid) -> LinearRing:
    rows = ring[:, 0] + origin[0]
    columns = ring[:, 1] + origin[1]
    return LinearRing(np.column_stack([grid.x_min_mm + columns * grid.pitch_mm, grid.y_min_mm + rows * grid.pitch_mm]))


def _largest(shape: BaseGeometry) -> Polygon:
    if not shape.is_valid:
        shape = make_valid(shape)
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon | MultiPolygon)]
    flat = [piece for part in parts for piece in getattr(part, "geoms", [part])]
    largest: Polygon = max(flat, key=lambda polygon: polygon.area)
    return largest


def _box(region: OpenRegion, *, grid: Grid) -> Polygon:
    rows, columns = region.window
    left, right = (grid.x_min_mm + column * grid.pitch_mm for column in (columns.start, columns.stop))
    low, high = (grid.y_min_mm + row * grid.pitch_mm for row in (rows.start, rows.stop))
    return Polygon([(left, low), (right, low), (right, high), (left, high)])
