"""The board as a line drawing: outline, windows, LEDs, and a number where each finding lies."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import simplify
from shapely.geometry import MultiPolygon, Polygon

from paneglow.board import Board, PlacedLed
from paneglow.judge import Finding

SIMPLIFY_MM = 0.03  # invisible at page size, and keeps the page small
MARGIN_MM = 2.0
MARKER_RADIUS_FRAC = 0.024  # of the longer side of the board
FIRST_TURN_RAD = -np.pi / 4  # up and to the right on the page
CALL_OUT_RADII = 1.9  # the disc stands beside its place, so that it hides nothing there
GOLDEN_ANGLE_RAD = np.pi * (3 - np.sqrt(5))  # spreads the tries of a crowded marker evenly around its place


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A numbered disc beside the place of a finding; page coordinates, y downward [mm]."""

    number: int
    severity: str
    x_mm: float
    y_mm: float
    place_x_mm: float
    place_y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LedMark:
    """An LED's body as a rectangle turned about its centre; page coordinates, y downward."""

    ref: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowShape:
    """A window's rim as an SVG path."""

    name: str
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardMap:
    """Everything the template draws; page coordinates, y downward [mm]."""

    width_mm: float
    height_mm: float
    picture_box: tuple[tuple[float, float], tuple[float, float]]  # upper left corner and size of the pictures
    board_width_mm: float
    outline_path: str
    windows: tuple[WindowShape, ...]
    leds: tuple[LedMark, ...]
    markers: tuple[Marker, ...]
    marker_radius_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    """Moves board coordinates onto the page: origin at the upper left, y downward."""

    left_mm: float
    top_mm: float

    def place(self, point: tuple[float, float]) -> tuple[float, float]:
        return point[0] - self.left_mm, self.top_mm - point[1]


def _ring_path(coordinates: Sequence[tuple[float, float]], paper: _Paper) -> str:
    corners = (paper.place((float(x), float(y))) for x, y, *_ in coordinates)
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in corners) + "Z"


def _shape_path(shape: Polygon | MultiPolygon, paper: _Paper) -> str:
    thinned = simplify(shape, SIMPLIFY_MM, preserve_topology=True)
    polygons = thinned.geoms if isinstance(thinned, MultiPolygon) else (thinned,)
    rings = (ring for polygon in polygons for ring in (polygon.exterior, *polygon.interiors))
    return "".join(_ring_path(list(ring.coords), paper) for ring in rings)


def _mark_led(led: PlacedLed, paper: _Paper) -> LedMark:
    x_mm, y_mm = paper.place(led.at_mm)
    body = led.part.body
    # Terminals of a side-view part lie across the direction it shines in
    turn_deg = led.rotation_deg + (90.0 if led.mounting == "side_view" else 0.0)
    return LedMark(
        ref=led.ref,
        x_mm=x_mm,
        y_mm=y_mm,
        length_mm=body.length_mm,
        width_mm=body.width_mm,
        turn_deg=-turn_deg,  # the page's y runs downward
    )


def _free_place(
    wanted: tuple[float, float], taken: Sequence[tuple[float, float]], *, radius: float
) -> tuple[float, float]:
    """Return the nearest place on a spiral beside the wanted one that touches no disc already set."""
    for step in range(400):
        reach = radius * (CALL_OUT_RADII + 0.5 * np.sqrt(step))
        turn = FIRST_TURN_RAD + step * GOLDEN_ANGLE_RAD
        place = (wanted[0] + reach * float(np.cos(turn)), wanted[1] + reach * float(np.sin(turn)))
        if all(np.hypot(place[0] - x, place[1] - y) >= 2.1 * radius for x, y in taken):
            return place
    return wanted


def _set_markers(findings: Sequence[tuple[int, Finding]], paper: _Paper, *, radius: float) -> tuple[Marker, ...]:
    markers: list[Marker] = []
    for number, finding in findings:
        if finding.at_mm is None:
            continue
        place = paper.place(finding.at_mm)
        x_mm, y_mm = _free_place(place, [(m.x_mm, m.y_mm) for m in markers], radius=radius)
        markers.append(
            Marker(
                number=number,
                severity=finding.severity,
                x_mm=x_mm,
                y_mm=y_mm,
                place_x_mm=place[0],
                place_y_mm=place[1],
            )
        )
    return tuple(markers)


def build_board_map(
    board: Board, *, findings: Sequence[tuple[int, Finding]], picture_mm: tuple[float, float, float, float]
) -> BoardMap:
    """Lay out the line drawing of the board seen from the front.

    Parameters
    ----------
    board : Board
    findings : sequence of (int, Finding)
        With the numbers they carry; those without a place get no marker.
    picture_mm : tuple of float
        x_min, y_min, x_max, y_max that the pictures of the board cover, so that its rim can be drawn over them [mm].

    Returns
    -------
    BoardMap
    """
    x_min, y_min, x_max, y_max = board.maps.outline.bounds
    paper = _Paper(left_mm=x_min - MARGIN_MM, top_mm=y_max + MARGIN_MM)
    radius = MARKER_RADIUS_FRAC * max(x_max - x_min, y_max - y_min)
    return BoardMap(
        width_mm=x_max - x_min + 2 * MARGIN_MM,
        height_mm=y_max - y_min + 2 * MARGIN_MM,
        picture_box=(
            paper.place((picture_mm[0], picture_mm[3])),
            (picture_mm[2] - picture_mm[0], picture_mm[3] - picture_mm[1]),
        ),
        board_width_mm=x_max - x_min,
        outline_path=_shape_path(board.maps.outline, paper),
        windows=tuple(WindowShape(name=w.name, path=_shape_path(w.polygon, paper)) for w in board.survey.windows),
        leds=tuple(_mark_led(led, paper) for led in board.soldered.leds),
        markers=_set_markers(findings, paper, radius=radius),
        marker_radius_mm=radius,
    )
