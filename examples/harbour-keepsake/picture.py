"""The picture on the front: white ink drawn like a woodcut, and bare metal for what glitters."""

import math
from collections.abc import Iterator

from geometry import Disc, KeepOut, Patch, Point, band, cut, polygon, rounded, sample, spline, straight
from windows import (
    ARCH_CENTRE,
    ARCH_RADIUS_MM,
    BUOY_LAMP,
    HANGING_HOLE,
    HOUSE_WINDOWS,
    LANTERN,
    MAST_LIGHT,
    MOON,
    MOON_INK_RADIUS_MM,
    Window,
    edge,
    wave_long_middle,
)

from paneglow.fab import (
    DrawnObject,
    Flash,
    Region,
    RoundAperture,
    Stroke,
    build_circle,
    build_path,
    build_text,
)

FINE_MM, LINE_MM, BOLD_MM = 0.15, 0.2, 0.3  # 0.15 mm is a usual least width of legend ink (common practice, no source)
HORIZON_MM = 30.6
FRAME_INSET_MM = 1.7

TOWER: tuple[Point, ...] = ((10.0, 36.4), (16.0, 36.4), (14.8, 53.6), (11.2, 53.6))
GALLERY: tuple[Point, ...] = ((10.5, 53.6), (15.5, 53.6), (16.0, 54.4), (10.0, 54.4))
HEADLAND_TOP = spline(
    [(2.0, 39.6), (5.0, 38.3), (9.0, 36.7), (16.5, 36.3), (19.0, 35.2), (20.6, 33.4), (23.4, 32.3), (25.6, 30.6)]
)
HEADLAND: tuple[Point, ...] = (*HEADLAND_TOP, (2.0, 30.6))
COTTAGE: tuple[Point, ...] = ((3.6, 38.8), (8.2, 37.4), (8.2, 40.0), (7.2, 41.6), (4.6, 41.6), (3.6, 40.0))
QUAY: tuple[Point, ...] = ((33.6, 30.6), (34.2, 32.2), (58.3, 32.2), (58.3, 30.6))
HOUSES: tuple[tuple[Point, ...], ...] = (
    ((36.0, 32.2), (36.0, 37.8), (38.7, 41.4), (41.4, 37.8), (41.4, 32.2)),
    (
        *(
            (41.4, 32.2),
            (41.4, 42.2),
            (42.1, 42.2),
            (42.1, 43.5),
            (42.8, 43.5),
            (42.8, 44.8),
            (43.4, 44.8),
            (43.4, 46.0),
        ),
        *(
            (44.4, 46.0),
            (44.4, 44.8),
            (45.0, 44.8),
            (45.0, 43.5),
            (45.7, 43.5),
            (45.7, 42.2),
            (46.4, 42.2),
            (46.4, 32.2),
        ),
    ),
    ((46.4, 32.2), (46.4, 36.2), (47.2, 39.6), (50.7, 39.6), (51.5, 36.2), (51.5, 32.2)),
    (
        (51.5, 32.2),
        (51.5, 40.2),
        *spline([(51.5, 40.2), (52.5, 41.0), (53.0, 43.2), (54.0, 43.9), (55.0, 43.2), (55.5, 41.0), (56.5, 40.2)]),
        (56.5, 32.2),
    ),
)
HULL: tuple[Point, ...] = (
    *spline([(41.0, 17.9), (45.0, 17.3), (50.0, 17.4), (55.6, 18.7)]),
    *spline([(55.6, 18.7), (53.9, 15.2), (51.8, 13.5), (47.0, 13.0), (43.0, 13.4), (41.6, 15.2), (41.0, 17.9)]),
)
MAIN_SAIL: tuple[Point, ...] = (*spline([(48.1, 27.0), (51.4, 23.0), (53.7, 19.6)]), (48.1, 18.7))
JIB: tuple[Point, ...] = (*spline([(46.9, 26.2), (44.0, 21.8), (42.0, 19.4)]), (46.9, 18.7))
BUOY_BODY: tuple[Point, ...] = ((7.4, 15.9), (10.6, 15.9), (11.8, 13.4), (6.2, 13.4))
GULLS = ((33.4, 51.2, 1.7), (37.6, 54.4, 1.25), (24.4, 53.0, 1.2), (29.4, 48.4, 0.9), (42.2, 51.0, 0.95))
STARS = (
    *(
        (9.0, 68.2, 0.3),
        (14.6, 70.8, 0.45),
        (19.0, 66.2, 0.3),
        (22.4, 72.4, 0.35),
        (36.8, 71.8, 0.3),
        (40.4, 67.2, 0.4),
    ),
    *((45.6, 70.0, 0.3), (48.8, 64.8, 0.35), (52.6, 60.2, 0.3), (34.0, 65.2, 0.3), (6.4, 61.4, 0.3), (25.8, 68.0, 0.3)),
    *(
        (5.4, 54.6, 0.3),
        (54.4, 54.4, 0.35),
        (43.4, 60.6, 0.3),
        (37.6, 61.4, 0.35),
        (49.6, 57.0, 0.3),
        (20.4, 62.6, 0.35),
    ),
)
BRIGHT_STARS = ((16.0, 66.9, 1.0), (44.0, 65.0, 1.2), (30.6, 69.2, 0.9))


def build_legend(windows: tuple[Window, ...]) -> tuple[DrawnObject, ...]:
    """White ink of the front face, in the order it is laid down."""
    openings = tuple(window.keep_out for window in windows)
    return (
        *_sky(openings),
        *_water(openings),
        *_headland(),
        *_lighthouse(),
        *_town(openings),
        *_boat(openings),
        *_buoy(openings),
        *_gulls(),
        # White ink over the moon's window: a soft diffuser, and a full moon by day
        Region(contour=build_circle(centre_mm=MOON, radius_mm=MOON_INK_RADIUS_MM)),
        *build_text("Harbour Keepsake", at_mm=(30.0, 3.0), height_mm=2.3, pen_mm=0.28, align="centre", letter_gap=0.42),
    )


def build_metal() -> tuple[DrawnObject, ...]:
    """Mask openings over solid copper on the front: frame, stars, hanging ring and the moon's glitter."""
    ring = build_circle(centre_mm=HANGING_HOLE, radius_mm=2.35)
    return (
        Stroke(path=edge(FRAME_INSET_MM), pen_mm=0.35),
        Stroke(path=ring, pen_mm=0.5),
        Stroke(path=build_path([(7.0, 6.9), (53.0, 6.9)]), pen_mm=0.2),
        *(Flash(at_mm=(x, y), aperture=RoundAperture(diameter_mm=size)) for x, y, size in STARS),
        *(Region(contour=_star((x, y), size=size)) for x, y, size in BRIGHT_STARS),
        *(Region(contour=polygon(*lens)) for lens in _glitter()),
        *(Region(contour=polygon((x - 0.8, 3.9), (x, 3.5), (x + 0.8, 3.9), (x, 4.3))) for x in (8.6, 51.4)),
    )


def _star(centre: Point, *, size: float) -> tuple:
    corners = []
    for i in range(8):
        radius = size if i % 2 == 0 else size * 0.22
        angle = math.pi / 4 * i
        corners.append(rounded((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))))
    return polygon(*corners)


def _glitter() -> tuple[tuple[Point, ...], ...]:
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


def _dashes(
    row: int, *, left: float, right: float, dash: tuple[float, float], gap: tuple[float, float]
) -> Iterator[tuple[float, float]]:
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


def _sky(openings: tuple[KeepOut, ...]) -> Iterator[Stroke]:
    """Dusk: level lines, close at the horizon and thinning out upward."""
    keep_outs = (
        *openings,
        Disc(centre_mm=MOON, radius_mm=5.0),
        Disc(centre_mm=LANTERN, radius_mm=4.6),
        Patch(corners_mm=((17.0, 56.9), (17.0, 58.0), (30.0, 61.0), (30.0, 58.0)), margin_mm=1.1),
        Patch(corners_mm=TOWER, margin_mm=0.7),
        Patch(corners_mm=HEADLAND, margin_mm=0.5),
        Patch(corners_mm=COTTAGE, margin_mm=0.5),
        *(Patch(corners_mm=house, margin_mm=0.6) for house in HOUSES),
        Patch(corners_mm=QUAY, margin_mm=0.5),
        *(Disc(centre_mm=(x, y + 0.2), radius_mm=size * 1.25) for x, y, size in GULLS),
        *(Disc(centre_mm=(x, y), radius_mm=size + 0.5) for x, y, size in (*STARS, *BRIGHT_STARS)),
    )
    y, row = HORIZON_MM + 1.0, 0
    while y < 66.0:
        height = (y - HORIZON_MM) / 36.0
        left, right = _sky_limits(y)
        ends = _dashes(
            row,
            left=left,
            right=right,
            dash=(9 - 6 * height, 26 - 20 * height),
            gap=(0.8 + 3 * height, 2.5 + 14 * height),
        )
        for start, end in ends:
            yield from cut(straight((start, y), (end, y)), keep_outs=keep_outs, pen_mm=FINE_MM, shortest_mm=0.9)
        y += 0.85 + 2.1 * height
        row += 1


def _water(openings: tuple[KeepOut, ...]) -> Iterator[Stroke]:
    """Ripples that grow toward the viewer, open under the moon."""
    keep_outs = (
        *openings,
        *(Patch(corners_mm=lens, margin_mm=0.4) for lens in _glitter()),
        Patch(corners_mm=HULL, margin_mm=0.6),
        Patch(corners_mm=MAIN_SAIL, margin_mm=0.6),
        Patch(corners_mm=JIB, margin_mm=0.6),
        Patch(corners_mm=BUOY_BODY, margin_mm=0.6),
        Patch(corners_mm=((47.5, 17.0), (47.5, 28.0)), margin_mm=0.5),
        Disc(centre_mm=MAST_LIGHT, radius_mm=2.0),
        Disc(centre_mm=BUOY_LAMP, radius_mm=4.4),
    )
    y, row = HORIZON_MM - 0.9, 100
    while y > 8.0:
        depth = (HORIZON_MM - y) / 22.0
        swell, length = 0.03 + 0.24 * depth, 2.6 + 3.4 * depth
        for start, end in _dashes(row, left=2.7, right=57.3, dash=(1.6, 7.0), gap=(0.9, 3.2 + 2 * depth)):
            points = tuple(
                (x, py + swell * math.sin(2 * math.pi * x / length + 2.4 * row))
                for x, py in straight((start, y), (end, y))
            )
            yield from cut(points, keep_outs=keep_outs, pen_mm=FINE_MM + 0.07 * depth, shortest_mm=0.9)
        y -= 0.85 + 0.75 * depth
        row += 1
    crest = tuple((x, y + 1.35) for x, y in sample(lambda t: wave_long_middle(0.02 + 0.96 * t), length_mm=28.0))
    yield from cut(crest, keep_outs=openings, pen_mm=LINE_MM)


def _headland() -> Iterator[DrawnObject]:
    yield Stroke(path=build_path(HEADLAND_TOP), pen_mm=BOLD_MM)
    keep_outs = (Patch(corners_mm=TOWER, margin_mm=0.4), Patch(corners_mm=COTTAGE, margin_mm=0.3))
    for k in range(1, 7):
        strata = [(x + 0.12 * k, y - 0.95 * k - 0.12 * math.sin(1.3 * x + k)) for x, y in HEADLAND_TOP]
        inside = [point for point in strata if point[0] > 2.7 and point[1] > HORIZON_MM + 0.3]
        for i, (start, end) in enumerate(_dashes(40 + k, left=2.7, right=26.0, dash=(1.0, 4.5), gap=(0.5, 1.8))):
            run = [point for point in inside if start <= point[0] <= end]
            yield from cut(run, keep_outs=keep_outs, pen_mm=FINE_MM if i % 3 else LINE_MM)
    walls = ((3.6, 38.8), (3.6, 40.0), (8.2, 40.0), (8.2, 37.4))
    yield Stroke(path=build_path(walls), pen_mm=LINE_MM)
    yield Region(contour=polygon((3.3, 40.0), (8.5, 40.0), (7.3, 41.7), (4.5, 41.7)))
    yield Region(contour=polygon((6.5, 41.7), (7.1, 41.7), (7.1, 42.5), (6.5, 42.5)))
    yield Region(contour=polygon((5.0, 38.5), (5.9, 38.4), (5.9, 39.3), (5.0, 39.3)))


def _lighthouse() -> Iterator[DrawnObject]:
    def half_width(y: float) -> float:
        return 3.0 - 1.2 * (y - 36.4) / 17.2

    yield Region(contour=polygon(*TOWER))
    for low, high in ((40.2, 43.4), (46.8, 49.8)):
        corners = [
            (13 - half_width(low) + 0.28, low),
            (13 + half_width(low) - 0.28, low),
            (13 + half_width(high) - 0.28, high),
            (13 - half_width(high) + 0.28, high),
        ]
        yield Region(contour=polygon(*(rounded(corner) for corner in corners)), dark=False)
    for x, y in ((13.3, 51.2), (12.8, 44.6)):
        yield Stroke(path=build_path([(x, y), (x, y + 0.9)]), pen_mm=0.5, dark=False)
    yield Region(contour=polygon((12.4, 36.4), (13.6, 36.4), (13.6, 38.2), (13.0, 38.8), (12.4, 38.2)), dark=False)
    yield Region(contour=polygon(*GALLERY))
    for x in (10.2, 15.8):
        yield Stroke(path=build_path([(x, 54.4), (x, 55.4)]), pen_mm=LINE_MM)
    for x0, x1 in ((10.2, 11.35), (14.65, 15.8)):
        yield Stroke(path=build_path([(x0, 55.4), (x1, 55.4)]), pen_mm=FINE_MM)
    for x in (11.35, 14.65):
        yield Stroke(path=build_path([(x, 54.4), (x, 59.0)]), pen_mm=0.25)
    dome = spline([(14.9, 58.95), (14.6, 59.7), (13.7, 60.6), (13.0, 60.9), (12.3, 60.6), (11.4, 59.7), (11.1, 58.95)])
    yield Region(contour=polygon(*dome))
    yield Stroke(path=build_path([(13.0, 60.8), (13.0, 62.6)]), pen_mm=LINE_MM)
    yield Flash(at_mm=(13.0, 61.6), aperture=RoundAperture(diameter_mm=0.55))
    # The beam goes on in ink where the window ends
    for spread, start, end in ((-1.15, 0.5, 9.5), (-0.4, 1.6, 15.0), (0.4, 0.8, 12.0), (1.15, 1.2, 7.0)):
        slope = (2.0 + spread * 0.9) / 11.0
        x, y = 29.2, 59.5 + spread
        yield from cut(
            straight((x + start, y + slope * start), (x + end, y + slope * end)), keep_outs=(), pen_mm=FINE_MM
        )


def _town(openings: tuple[KeepOut, ...]) -> Iterator[DrawnObject]:
    yield Stroke(path=build_path(QUAY[:3]), pen_mm=BOLD_MM)
    for i, y in enumerate((31.65, 31.1)):
        for start, end in _dashes(70 + i, left=34.4, right=58.0, dash=(0.9, 1.8), gap=(0.4, 0.6)):
            yield Stroke(path=build_path([rounded((start, y)), rounded((end, y))]), pen_mm=FINE_MM)
    for house in HOUSES:
        yield Stroke(path=build_path(house), pen_mm=LINE_MM)
    for name, (x, y) in HOUSE_WINDOWS.items():
        yield Stroke(path=build_path([(x - 1.45, y - 1.65), (x + 1.45, y - 1.65)]), pen_mm=BOLD_MM)
        # Bricks in courses left and right of the lit window
        left, right = {"house-left": (36.0, 41.4), "house-tall": (41.4, 46.4), "house-right": (51.5, 56.5)}[name]
        for i in range(7):
            level = y - 2.6 + 0.75 * i
            for start, end in _dashes(
                200 + i + round(x), left=left + 0.5, right=right - 0.5, dash=(0.55, 0.75), gap=(0.5, 2.4)
            ):
                yield from cut(
                    straight((start, level), (end, level)),
                    keep_outs=(*openings, Disc(centre_mm=(x, y), radius_mm=1.75)),
                    pen_mm=FINE_MM,
                )
    yield from _roofs()


def _roofs() -> Iterator[DrawnObject]:
    # Side-on roof of the dark house: standing lines between eaves and ridge
    for i in range(1, 10):
        t = i / 10
        yield Stroke(
            path=build_path([rounded((46.4 + 5.1 * t, 36.2)), rounded((47.2 + 3.5 * t, 39.6))]), pen_mm=FINE_MM
        )
    yield Stroke(path=build_path([(46.2, 36.2), (51.7, 36.2)]), pen_mm=BOLD_MM)
    for x in (47.6, 49.9):
        frame = build_path([(x, 33.6), (x + 1.0, 33.6), (x + 1.0, 35.1), (x, 35.1), (x, 33.6)])
        yield Stroke(path=frame, pen_mm=FINE_MM)
        yield Stroke(path=build_path([(x + 0.5, 33.6), (x + 0.5, 35.1)]), pen_mm=FINE_MM)
    # Gable trim, chimneys, round attic lights
    yield Stroke(path=build_path([(35.6, 37.4), (38.7, 41.5), (41.4, 37.9)]), pen_mm=BOLD_MM)
    for x, y in ((38.7, 39.0), (43.9, 43.2), (54.0, 41.6)):
        yield Stroke(path=build_circle(centre_mm=(x, y), radius_mm=0.5), pen_mm=FINE_MM)
    for x, low, high in ((37.0, 39.6, 41.4), (48.3, 39.6, 41.0)):
        yield Region(contour=polygon((x - 0.35, low), (x + 0.35, low), (x + 0.35, high), (x - 0.35, high)))
    for x, y in ((43.9, 34.0), (54.0, 33.4)):
        door = build_path([(x - 0.6, 32.3), (x - 0.6, y), (x + 0.6, y), (x + 0.6, 32.3)])
        yield Stroke(path=door, pen_mm=FINE_MM)


def _boat(openings: tuple[KeepOut, ...]) -> Iterator[DrawnObject]:
    yield Region(contour=polygon(*MAIN_SAIL))
    yield Region(contour=polygon(*JIB))
    for low, high in (((48.1, 21.4), (52.0, 22.0)), ((48.1, 24.2), (50.1, 24.6))):
        yield Stroke(path=build_path([low, high]), pen_mm=FINE_MM, dark=False)
    for low, high in (((46.9, 21.3), (43.7, 21.3)), ((46.9, 23.8), (45.4, 23.8))):
        yield Stroke(path=build_path([low, high]), pen_mm=FINE_MM, dark=False)
    yield Stroke(path=build_path([(47.5, 17.3), (47.5, 27.5)]), pen_mm=BOLD_MM)
    yield Stroke(path=build_path([(47.5, 18.2), (54.2, 18.9)]), pen_mm=LINE_MM)
    yield Stroke(path=build_path(HULL), pen_mm=BOLD_MM)
    for drop, left, right in ((1.0, 41.6, 54.6), (3.3, 43.2, 52.2)):
        plank = tuple(
            (x, 17.35 + 0.028 * (x - 46.5) ** 2 * 0.55 - drop) for x, _ in straight((left, 0.0), (right, 0.0))
        )
        yield from cut(plank, keep_outs=openings, pen_mm=FINE_MM)
    for y, left, right in ((12.3, 41.5, 46.4), (12.3, 49.8, 54.4)):
        yield from cut(straight((left, y), (right, y)), keep_outs=openings, pen_mm=FINE_MM)


def _buoy(openings: tuple[KeepOut, ...]) -> Iterator[DrawnObject]:
    yield Region(contour=polygon(*BUOY_BODY))
    yield Region(contour=polygon((6.95, 14.9), (11.05, 14.9), (11.4, 14.2), (6.6, 14.2)), dark=False)
    x, y = BUOY_LAMP
    for turn in (60, 120):
        angle = math.radians(turn)
        start = rounded((x + 3.3 * math.cos(angle), y + 3.3 * math.sin(angle)))
        end = rounded((x + 3.9 * math.cos(angle), y + 3.9 * math.sin(angle)))
        yield Stroke(path=build_path([start, end]), pen_mm=LINE_MM)
    for level, half in ((13.0, 3.6), (12.4, 2.4)):
        yield from cut(straight((x - half, level), (x + half, level)), keep_outs=openings, pen_mm=LINE_MM)


def _gulls() -> Iterator[Stroke]:
    for x, y, size in GULLS:
        left = spline([(x - size, y), (x - size * 0.62, y + size * 0.42), (x - size * 0.2, y + size * 0.22), (x, y)])
        right = spline(
            [(x, y), (x + size * 0.25, y + size * 0.3), (x + size * 0.62, y + size * 0.5), (x + size, y + size * 0.14)]
        )
        yield Stroke(path=build_path(left), pen_mm=LINE_MM)
        yield Stroke(path=build_path(right), pen_mm=LINE_MM)
