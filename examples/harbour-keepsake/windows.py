"""The outline and the windows: where the harbour lets light through."""

import math
from dataclasses import dataclass

from geometry import Disc, KeepOut, Patch, Point, arched, band, rounded, rounded_rectangle

from paneglow.fab import Arc, Contour, Line, build_circle, build_polygon

WIDTH_MM, HEIGHT_MM = 60.0, 80.0
ARCH_CENTRE: Point = (30.0, 52.0)
ARCH_RADIUS_MM = 28.0
SHOULDER_RADIUS_MM = 2.0
CORNER_RADIUS_MM = 3.0
HANGING_HOLE: Point = (30.0, 75.6)
HANGING_HOLE_MM = 3.0
MASK_GROWTH_MM = 0.12  # mask opens this much wider than the copper, so that copper draws the edge (trade: seen)


def edge(inset_mm: float = 0.0) -> Contour:
    """Edge of the plaque, or a line inside it: hollow corners and shoulders under a round arch, counter-clockwise."""
    left, right, low = inset_mm, WIDTH_MM - inset_mm, inset_mm
    corner, shoulder = CORNER_RADIUS_MM + inset_mm, SHOULDER_RADIUS_MM + inset_mm
    # Where a hollow's circle about the sharp corner meets the straight side
    corner_reach = math.sqrt(corner**2 - inset_mm**2)
    shoulder_reach = math.sqrt(shoulder**2 - inset_mm**2)
    spring = ARCH_CENTRE[1]
    arch_left, arch_right = (shoulder, spring), (WIDTH_MM - shoulder, spring)
    return _chain(
        [
            ((corner_reach, low), None),
            ((WIDTH_MM - corner_reach, low), None),
            ((right, corner_reach), ((WIDTH_MM, 0.0), True)),
            ((right, spring - shoulder_reach), None),
            (arch_right, ((WIDTH_MM, spring), True)),
            (arch_left, (ARCH_CENTRE, False)),
            ((left, spring - shoulder_reach), ((0.0, spring), True)),
            ((left, corner_reach), None),
            ((corner_reach, low), ((0.0, 0.0), True)),
        ]
    )


def _chain(stops: list[tuple[Point, tuple[Point, bool] | None]]) -> Contour:
    contour: list[Line | Arc] = []
    for (start, _), (end, turn) in zip(stops, stops[1:], strict=False):
        start, end = rounded(start), rounded(end)
        if turn is None:
            contour.append(Line(start_mm=start, end_mm=end))
        else:
            contour.append(Arc(start_mm=start, end_mm=end, centre_mm=turn[0], clockwise=turn[1]))
    return tuple(contour)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One window: its contour in the copper of both faces, a point inside, and what the picture keeps clear of it."""

    name: str
    contour: Contour
    inside_mm: Point
    keep_out: KeepOut
    back_masked: bool = False


MOON: Point = (28.5, 40.0)
MOON_RADIUS_MM = 2.5
MOON_INK_RADIUS_MM = 3.4
LANTERN: Point = (13.0, 57.0)
BEAM_START: Point = (16.6, 57.2)
BEAM_END: Point = (23.88, 58.52)
BUOY_LAMP: Point = (7.63, 20.33)
PORT: Point = (46.0, 15.6)
STARBOARD: Point = (49.0, 15.6)
MAST_LIGHT: Point = (47.5, 28.8)
WAVE_LONG_ENDS = (8.0, 36.0)
WAVE_BLUE: Point = (52.5, 10.2)
HOUSE_WINDOWS: dict[str, Point] = {"house-left": (38.7, 35.2), "house-tall": (43.9, 39.4), "house-right": (54.0, 37.0)}


def _disc(name: str, centre: Point, radius: float) -> Window:
    return Window(
        name=name,
        contour=build_circle(centre_mm=centre, radius_mm=radius),
        inside_mm=centre,
        keep_out=Disc(centre_mm=centre, radius_mm=radius + 0.45),
    )


def _patch(name: str, corners: tuple[Point, ...], inside: Point, *, back_masked: bool = False) -> Window:
    return Window(
        name=name,
        contour=build_polygon(corners),
        inside_mm=inside,
        keep_out=Patch(corners_mm=corners, margin_mm=0.45),
        back_masked=back_masked,
    )


def wave_long_middle(t: float) -> Point:
    """Middle of the long wave over 0 to 1."""
    x = WAVE_LONG_ENDS[0] + (WAVE_LONG_ENDS[1] - WAVE_LONG_ENDS[0]) * t
    return x, 10.6 + 0.65 * math.sin(2 * math.pi * 1.5 * t)


def wave_crest(t: float) -> Point:
    """Middle of a small breaking crest over 0 to 1, its top at the origin."""
    angle = math.radians(119 - 58 * t)
    return 2.3 * math.cos(angle), 2.3 * (math.sin(angle) - 1.0)


def _wave_blue_middle(t: float) -> Point:
    x, y = wave_crest(t)
    return WAVE_BLUE[0] + x, WAVE_BLUE[1] + y


def _beam() -> Window:
    length = math.dist(BEAM_START, BEAM_END)

    def middle(t: float) -> Point:
        return BEAM_START[0] + (BEAM_END[0] - BEAM_START[0]) * t, BEAM_START[1] + (BEAM_END[1] - BEAM_START[1]) * t

    corners = band(middle, half_width_mm=lambda t: 0.55 + 0.22 * t, length_mm=length)
    return _patch("beam", corners, rounded(middle(0.5)))


def build_windows() -> tuple[Window, ...]:
    """All windows, top to bottom."""
    lantern_corners = ((12.0, 55.9), (14.0, 55.9), (14.0, 58.1), (12.0, 58.1))
    houses = tuple(
        Window(
            name=name,
            contour=arched(left_mm=x - 0.86, right_mm=x + 0.86, low_mm=y - 0.85, spring_mm=y + 0.15),
            inside_mm=(x, y),
            keep_out=Patch(
                corners_mm=((x - 0.86, y - 0.85), (x + 0.86, y - 0.85), (x + 0.86, y + 1.05), (x - 0.86, y + 1.05)),
                margin_mm=0.3,
            ),
        )
        for name, (x, y) in HOUSE_WINDOWS.items()
    )
    return (
        Window(
            name="lantern",
            contour=rounded_rectangle(centre_mm=LANTERN, width_mm=2.0, height_mm=2.2, radius_mm=0.7),
            inside_mm=LANTERN,
            keep_out=Patch(corners_mm=lantern_corners, margin_mm=0.3),
        ),
        _beam(),
        _disc("moon", MOON, MOON_RADIUS_MM),
        *houses,
        _disc("mast-light", MAST_LIGHT, 0.95),
        _disc("port", PORT, 1.0),
        _disc("starboard", STARBOARD, 1.0),
        _disc("buoy", BUOY_LAMP, 1.0),
        _patch(
            "wave-long",
            band(wave_long_middle, half_width_mm=lambda t: 0.05 + 0.73 * math.sin(math.pi * t) ** 0.7, length_mm=29.0),
            rounded(wave_long_middle(0.5)),
        ),
        _patch(
            "wave-blue",
            band(_wave_blue_middle, half_width_mm=lambda t: 0.25 + 0.36 * math.sin(math.pi * t), length_mm=3.0),
            rounded(_wave_blue_middle(0.5)),
            back_masked=True,
        ),
    )
