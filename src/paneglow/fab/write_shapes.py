"""Common shapes as contours and regions for the writer."""

from collections.abc import Iterable, Sequence

from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from paneglow.errors import FabricationError
from paneglow.fab.records import Arc, Line, Point
from paneglow.fab.write_records import Contour, Region


def build_circle(*, centre_mm: Point, radius_mm: float) -> Contour:
    """Full circle as one closed contour of two half circles, counter-clockwise."""
    right = (centre_mm[0] + radius_mm, centre_mm[1])
    left = (centre_mm[0] - radius_mm, centre_mm[1])
    return (
        Arc(start_mm=right, end_mm=left, centre_mm=centre_mm, clockwise=False),
        Arc(start_mm=left, end_mm=right, centre_mm=centre_mm, clockwise=False),
    )


def build_path(points_mm: Sequence[Point]) -> Contour:
    """Open path of straight segments through points; repeated points are dropped.

    Raises
    ------
    FabricationError
        If fewer than two different points are left.
    """
    kept = [point for before, point in zip([None, *points_mm], points_mm, strict=False) if point != before]
    if len(kept) < 2:
        raise FabricationError(f"a path of {len(points_mm)} points has no length; give two different points or more")
    return tuple(Line(start_mm=start, end_mm=end) for start, end in zip(kept, kept[1:], strict=False))


def build_polygon(points_mm: Sequence[Point]) -> Contour:
    """Closed contour of straight segments through corners; the last corner need not repeat the first.

    Raises
    ------
    FabricationError
        If there are fewer than three different corners.
    """
    corners = list(points_mm[:-1] if points_mm and points_mm[0] == points_mm[-1] else points_mm)
    if len(set(corners)) < 3:
        raise FabricationError(f"a polygon needs three different corners; {len(set(corners))} were given")
    return build_path([*corners, corners[0]])


def build_regions(
    area: Polygon | MultiPolygon, *, function: str | None = None, dark: bool = True
) -> tuple[Region, ...]:
    """Regions that draw a polygon, its holes after it in the other polarity.

    Draw it before whatever lies in its holes: the holes undo what was drawn there earlier.
    """
    regions = []
    for part in area.geoms if isinstance(area, MultiPolygon) else (area,):
        oriented = orient(part)
        regions.append(Region(contour=_ring(oriented.exterior.coords), function=function, dark=dark))
        for hole in oriented.interiors:
            regions.append(Region(contour=_ring(hole.coords), dark=not dark))
    return tuple(regions)


def _ring(coordinates: Iterable[tuple[float, ...]]) -> Contour:
    return build_polygon([(point[0], point[1]) for point in coordinates])
