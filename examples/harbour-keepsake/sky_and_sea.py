"""Sky and sea: level lines at dusk, ripples, the moon's glitter, gulls."""

import math
from collections.abc import Iterator

from geometry import Disc, KeepOut, Patch, Point, band, cut, spline, straight
from silhouettes import (
    BRIGHT_STARS,
    BUOY_CAP,
    BUOY_FLOAT,
    BUOY_TOWER,
    CHIMNEYS,
    COTTAGE,
    FINE_MM,
    FRAME_INSET_MM,
    GULLS,
    HEADLAND,
    HORIZON_MM,
    HOUSES,
    HULL,
    JIB,
    LINE_MM,
    MAIN_SAIL,
    QUAY,
    STARS,
    TOWER,
)
from windows import ARCH_CENTRE, ARCH_RADIUS_MM, BUOY_LAMP, LANTERN, MAST_LIGHT, MOON, wave_long_middle

from paneglow.fab import Stroke, build_path


def build_glitter() -> tuple[tuple[Point, ...], ...]:
    """Lens-shaped glints below the moon, wider and farther apart toward the viewer."""
    rows = (
        *((29.7, 0.0, 1.3), (28.7, -0.7, 1.0), (28.6, 1.6, 0.6), (27.5, 0.4, 1.7), (26.2, -1.1, 1.3), (26.1, 1.7, 0.8)),
        *((24.7, 0.5, 2.2), (23.1, -1.7, 1.4), (23.0, 1.8, 1.5), (21.3, 0.2, 2.5), (19.3, -1.6, 1.8), (19.2, 2.5, 1.2)),
        *(
            (17.2, 0.8, 2.3),
            (15.0, -1.2, 1.8),
        ),
    )
    lenses = []
    for y, shift, half in rows:
        x = MOON[0] + shift
        lenses.append(
            band(
                lambda t, x=x, y=y, half=half: (x - half + 2 * half * t, y),
                half_width_mm=lambda t, half=half: 0.03 + (0.1 + 0.05 * half) * math.sin(math.pi * t),
                length_mm=2 * half,
            )
        )
    return tuple(lenses)


def _chance(i: int, k: int) -> float:
    """Number from 0 to 1 that looks random and is the same on every machine (integer hash)."""
    value = (i * 374761393 + k * 668265263) & 0xFFFFFFFF
    value = ((value ^ (value >> 13)) * 1274126177) & 0xFFFFFFFF
    return ((value ^ (value >> 16)) & 0xFFFF) / 0xFFFF


def dash_ends(
    row: int, *, left: float, right: float, dash: tuple[float, float], gap: tuple[float, float]
) -> Iterator[tuple[float, float]]:
    """Starts and ends of dashes along one row, scattered but the same every time."""
    x = left - 4 * _chance(row, 0)
    i = 1
    while x < right:
        length = dash[0] + (dash[1] - dash[0]) * _chance(row, i)
        if min(right, x + length) - max(left, x) > 0.5:
            yield max(left, x), min(right, x + length)
        x += length + gap[0] + (gap[1] - gap[0]) * _chance(row, i + 1)
        i += 2


def _sky_limits(y: float) -> tuple[float, float]:
    reach = ARCH_RADIUS_MM - FRAME_INSET_MM - 0.9
    if y <= ARCH_CENTRE[1] - 3.6:
        return FRAME_INSET_MM + 0.9, 60 - FRAME_INSET_MM - 0.9
    half = math.sqrt(max(0.0, reach**2 - max(0.0, y - ARCH_CENTRE[1]) ** 2))
    return ARCH_CENTRE[0] - half, ARCH_CENTRE[0] + half


def build_sky(openings: tuple[KeepOut, ...]) -> Iterator[Stroke]:
    """Dusk: level lines, close at the horizon and thinning out upward."""
    keep_outs = (
        *openings,
        Disc(centre_mm=MOON, radius_mm=5.0),
        Disc(centre_mm=LANTERN, radius_mm=4.6),
        Patch(corners_mm=((16.6, 57.2), (44.0, 60.4), (44.0, 64.2)), margin_mm=1.0),
        Disc(centre_mm=(LANTERN[0], LANTERN[1] + 4.6), radius_mm=1.5),
        Patch(corners_mm=TOWER, margin_mm=0.7),
        Patch(corners_mm=HEADLAND, margin_mm=0.5),
        Patch(corners_mm=COTTAGE, margin_mm=0.8),
        *(Patch(corners_mm=chimney, margin_mm=0.5) for chimney in CHIMNEYS),
        *(Patch(corners_mm=house, margin_mm=0.6) for house in HOUSES),
        Patch(corners_mm=QUAY, margin_mm=0.5),
        *(Disc(centre_mm=(x, y + 0.2), radius_mm=size * 1.25) for x, y, size in GULLS),
        *(Disc(centre_mm=(x, y), radius_mm=size + 0.5) for x, y, size in (*STARS, *BRIGHT_STARS)),
    )
    y, row = HORIZON_MM + 1.0, 0
    while y < 66.0:
        height = (y - HORIZON_MM) / 36.0
        left, right = _sky_limits(y)
        ends = dash_ends(
            row,
            left=left,
            right=right,
            dash=(9 - 6 * height, 26 - 20 * height),
            gap=(0.8 + 3 * height, 2.5 + 14 * height),
        )
        for start, end in ends:
            yield from cut(straight((start, y), (end, y)), keep_outs=keep_outs, pen_mm=FINE_MM, shortest_mm=1.6)
        y += 0.85 + 2.1 * height
        row += 1


def build_water(openings: tuple[KeepOut, ...]) -> Iterator[Stroke]:
    """Ripples that grow toward the viewer, open under the moon."""
    keep_outs = (
        *openings,
        *(Patch(corners_mm=lens, margin_mm=0.4) for lens in build_glitter()),
        Patch(corners_mm=HULL, margin_mm=0.6),
        Patch(corners_mm=MAIN_SAIL, margin_mm=0.6),
        Patch(corners_mm=JIB, margin_mm=0.6),
        *(Patch(corners_mm=part, margin_mm=0.6) for part in (BUOY_FLOAT, BUOY_TOWER, BUOY_CAP)),
        Patch(corners_mm=((47.5, 17.0), (47.5, 28.0)), margin_mm=0.5),
        Disc(centre_mm=MAST_LIGHT, radius_mm=2.0),
        Disc(centre_mm=BUOY_LAMP, radius_mm=3.4),
        *(Disc(centre_mm=wave_long_middle(i / 20), radius_mm=2.0) for i in range(21)),
        Patch(corners_mm=((43.4, 9.4), (43.4, 10.4), (54.6, 11.0), (54.6, 9.4)), margin_mm=0.7),
    )
    y, row = HORIZON_MM - 0.9, 100
    while y > 8.0:
        depth = (HORIZON_MM - y) / 22.0
        swell, length = 0.03 + 0.24 * depth, 2.6 + 3.4 * depth
        for start, end in dash_ends(row, left=2.7, right=57.3, dash=(1.6, 7.0), gap=(0.9, 3.2 + 2 * depth)):
            points = tuple(
                (x, py + swell * math.sin(2 * math.pi * x / length + 2.4 * row))
                for x, py in straight((start, y), (end, y))
            )
            yield from cut(points, keep_outs=keep_outs, pen_mm=FINE_MM + 0.07 * depth, shortest_mm=0.9)
        y -= 0.85 + 0.75 * depth
        row += 1
    for lift, first, last in ((1.35, 0.04, 0.98), (-1.3, 0.16, 0.9)):
        crest = [wave_long_middle(first + (last - first) * i / 300) for i in range(301)]
        yield from cut([(x, y + lift) for x, y in crest], keep_outs=openings, pen_mm=LINE_MM)


def build_gulls() -> Iterator[Stroke]:
    """Two wing strokes for every gull."""
    for x, y, size in GULLS:
        left = spline([(x - size, y), (x - size * 0.62, y + size * 0.42), (x - size * 0.2, y + size * 0.22), (x, y)])
        right = spline(
            [(x, y), (x + size * 0.25, y + size * 0.3), (x + size * 0.62, y + size * 0.5), (x + size, y + size * 0.14)]
        )
        yield Stroke(path=build_path(left), pen_mm=LINE_MM)
        yield Stroke(path=build_path(right), pen_mm=LINE_MM)
