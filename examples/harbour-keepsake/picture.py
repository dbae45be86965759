"""The picture on the front: white ink drawn like a woodcut, and bare metal for what glitters."""

import math
from collections.abc import Iterator

from electrics import VIA_PAD_MM, build_vias
from geometry import Disc, KeepOut, Patch, Point, cut, polygon, rounded, spline, straight
from silhouettes import (
    BOLD_MM,
    BRIGHT_STARS,
    BUOY_CAP,
    BUOY_FLOAT,
    BUOY_FOOT,
    BUOY_TOWER,
    CHIMNEYS,
    COTTAGE,
    FINE_MM,
    FRAME_INSET_MM,
    GALLERY,
    HEADLAND_TOP,
    HORIZON_MM,
    HOUSES,
    HULL,
    JIB,
    LINE_MM,
    MAIN_SAIL,
    QUAY,
    STARS,
    TOWER,
    in_buoy,
)
from sky_and_sea import build_glitter, build_gulls, build_sky, build_water, dash_ends
from windows import (
    BEAM_END,
    BEAM_START,
    HANGING_HOLE,
    HOUSE_WINDOWS,
    MOON,
    MOON_INK_RADIUS_MM,
    WAVE_BLUE,
    Window,
    edge,
    wave_crest,
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


def build_legend(windows: tuple[Window, ...]) -> tuple[DrawnObject, ...]:
    """White ink of the front face, in the order it is laid down."""
    # Ink on the rim of a plated hole does not hold: leave the walls free as well
    walls = tuple(Disc(centre_mm=at, radius_mm=VIA_PAD_MM / 2 + 0.1) for at in build_vias())
    openings = (*(window.keep_out for window in windows), *walls)
    return (
        *build_sky(openings),
        *build_water(openings),
        *_headland(),
        *_lighthouse(),
        *_town(openings),
        *_boat(openings),
        *_buoy(openings),
        *_blue_crest(openings),
        *build_gulls(),
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
        *(Region(contour=polygon(*lens)) for lens in build_glitter()),
        *(Region(contour=polygon((x - 0.8, 3.9), (x, 3.5), (x + 0.8, 3.9), (x, 4.3))) for x in (8.6, 51.4)),
    )


def _star(centre: Point, *, size: float) -> tuple:
    corners = []
    for i in range(8):
        radius = size if i % 2 == 0 else size * 0.22
        angle = math.pi / 4 * i
        corners.append(rounded((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))))
    return polygon(*corners)


def _headland() -> Iterator[DrawnObject]:
    yield Stroke(path=build_path(HEADLAND_TOP), pen_mm=BOLD_MM)
    keep_outs = (Patch(corners_mm=TOWER, margin_mm=0.4), Patch(corners_mm=COTTAGE, margin_mm=0.3))
    for k in range(1, 7):
        strata = [(x + 0.12 * k, y - 0.95 * k - 0.12 * math.sin(1.3 * x + k)) for x, y in HEADLAND_TOP]
        inside = [point for point in strata if point[0] > 2.7 and point[1] > HORIZON_MM + 0.3]
        for i, (start, end) in enumerate(dash_ends(40 + k, left=2.7, right=26.0, dash=(1.0, 4.5), gap=(0.5, 1.8))):
            run = [point for point in inside if start <= point[0] <= end]
            yield from cut(run, keep_outs=keep_outs, pen_mm=FINE_MM if i % 3 else LINE_MM)
    walls = ((3.6, 38.8), (3.6, 40.0), (8.2, 40.0), (8.2, 37.4))
    yield Stroke(path=build_path(walls), pen_mm=LINE_MM)
    yield Region(contour=polygon((3.3, 40.0), (8.5, 40.0), (7.3, 41.7), (4.5, 41.7)))
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
    for x0, x1 in ((10.2, 11.45), (14.55, 15.8)):
        yield Stroke(path=build_path([(x0, 55.4), (x1, 55.4)]), pen_mm=FINE_MM)
    for x in (11.45, 14.55):
        yield Stroke(path=build_path([(x, 54.4), (x, 59.0)]), pen_mm=0.25)
    dome = spline([(14.9, 58.95), (14.6, 59.7), (13.7, 60.6), (13.0, 60.9), (12.3, 60.6), (11.4, 59.7), (11.1, 58.95)])
    yield Region(contour=polygon(*dome))
    yield Stroke(path=build_path([(13.0, 60.8), (13.0, 62.6)]), pen_mm=LINE_MM)
    yield Flash(at_mm=(13.0, 61.6), aperture=RoundAperture(diameter_mm=0.55))
    yield from _beam_in_ink()


def _beam_in_ink() -> Iterator[Stroke]:
    """The beam goes on in ink where its window ends, along rays from the lantern."""
    aim_deg = math.degrees(math.atan2(BEAM_END[1] - BEAM_START[1], BEAM_END[0] - BEAM_START[0]))
    keep_outs = tuple(Disc(centre_mm=(x, y), radius_mm=size + 0.5) for x, y, size in (*STARS, *BRIGHT_STARS))
    # The window's half width grows by 0.22 mm from 0.55 mm over its length: its rays meet 18.5 mm before its narrow end
    start = math.dist(BEAM_START, BEAM_END)
    source = tuple(a - 18.5 * (b - a) / start for a, b in zip(BEAM_START, BEAM_END, strict=True))
    for spread_deg, first, last in ((-1.7, 26.6, 41.7), (-0.6, 27.3, 48.2), (0.6, 26.9, 45.2), (1.7, 26.6, 38.7)):
        angle = math.radians(aim_deg + spread_deg)
        ray = ((source[0] + r * math.cos(angle), source[1] + r * math.sin(angle)) for r in (first, last))
        yield from cut(straight(*ray), keep_outs=keep_outs, pen_mm=FINE_MM)


def _town(openings: tuple[KeepOut, ...]) -> Iterator[DrawnObject]:
    yield Stroke(path=build_path(QUAY[:3]), pen_mm=BOLD_MM)
    for i, y in enumerate((31.65, 31.1)):
        for start, end in dash_ends(70 + i, left=34.4, right=57.2, dash=(0.9, 1.8), gap=(0.4, 0.6)):
            yield Stroke(path=build_path([rounded((start, y)), rounded((end, y))]), pen_mm=FINE_MM)
    for house in HOUSES:
        yield Stroke(path=build_path(house), pen_mm=LINE_MM)
    for name, (x, y) in HOUSE_WINDOWS.items():
        yield Stroke(path=build_path([(x - 1.45, y - 1.65), (x + 1.45, y - 1.65)]), pen_mm=BOLD_MM)
        # Bricks in courses left and right of the lit window
        left, right = {"house-left": (36.0, 41.4), "house-tall": (41.4, 46.4), "house-right": (51.5, 56.5)}[name]
        for i in range(7):
            level = y - 2.6 + 0.75 * i
            for start, end in dash_ends(
                200 + i + round(x), left=left + 0.5, right=right - 0.5, dash=(0.55, 0.75), gap=(0.5, 2.4)
            ):
                yield from cut(
                    straight((start, level), (end, level)),
                    keep_outs=(*openings, Disc(centre_mm=(x, y - 0.3), radius_mm=2.0)),
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
    for chimney in CHIMNEYS:
        yield Region(contour=polygon(*chimney))
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


def _blue_crest(openings: tuple[KeepOut, ...]) -> Iterator[Stroke]:
    """Ink crests beside the small blue window, which is the last one of their row."""
    crest = [wave_crest(i / 40) for i in range(41)]
    for shift, drop in ((-7.6, 0.3), (-3.8, 0.1)):
        x, y = WAVE_BLUE[0] + shift, WAVE_BLUE[1] - drop
        for lift in (0.0, 0.6):
            yield from cut([(x + 1.15 * px, y + lift + py) for px, py in crest], keep_outs=openings, pen_mm=LINE_MM)
    above = [(WAVE_BLUE[0] + 1.4 * px, WAVE_BLUE[1] + 1.15 + 1.2 * py) for px, py in crest]
    yield from cut(above, keep_outs=openings, pen_mm=LINE_MM)


def _buoy(openings: tuple[KeepOut, ...]) -> Iterator[DrawnObject]:
    yield Region(contour=polygon(*BUOY_FLOAT))
    yield Region(contour=polygon(*in_buoy((-2.9, 1.1), (2.9, 1.1), (2.6, 0.5), (-2.6, 0.5))), dark=False)
    low_left, low_right, high_right, high_left = BUOY_TOWER
    for start, end in ((low_left, high_left), (low_right, high_right), (low_left, high_right), (low_right, high_left)):
        yield from cut(straight(start, end), keep_outs=openings, pen_mm=LINE_MM)
    yield from cut(straight(*in_buoy((-1.7, 5.35), (1.7, 5.35))), keep_outs=openings, pen_mm=BOLD_MM)
    for side in (-1.45, 1.45):
        yield from cut(straight(*in_buoy((side, 5.4), (side, 8.4))), keep_outs=openings, pen_mm=FINE_MM)
    yield Region(contour=polygon(*BUOY_CAP))
    for level, half in ((12.9, 3.9), (12.3, 2.6)):
        line = straight((BUOY_FOOT[0] - half, level), (BUOY_FOOT[0] + half, level))
        yield from cut(line, keep_outs=openings, pen_mm=LINE_MM)
