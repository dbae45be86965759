"""Which land each terminal of a placed LED stands on, by shapes of copper."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Polygon

from paneglow.board import Land, PlacedLed, board_point
from paneglow.catalog import Terminal

LEAST_SHARE = 0.1  # chosen: a terminal is on a land from this share of its metal on
BESIDE_MM = 1.2  # chosen: legs and lifted ends reach a land that begins this far out; parts do not stand closer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seat:
    """One terminal with the land under it; `land` is None where there is none."""

    terminal: Terminal
    at_mm: tuple[float, float]  # of the terminal, on the board
    land: Land | None


def find_seats(led: PlacedLed, *, lands: Sequence[Land]) -> tuple[Seat, ...]:
    """Land of every terminal; none where the part states no terminals or stands on a board of its own."""
    terminals = led.part.terminals
    if terminals is None or led.mounting == "carrier":
        return ()
    near = [land for land in lands if land.side == led.side and _near(land, led)]
    return tuple(
        Seat(terminal=pad, at_mm=board_point(led, point_mm=pad.at_mm), land=_land_of(pad, led=led, lands=near))
        for pad in terminals.pads
        if pad.role != "none"
    )


def terminal_on_board(led: PlacedLed, pad: Terminal) -> Polygon:
    """Metal of a terminal on the board, seen from the front."""
    (x, y), length, width = pad.at_mm, pad.length_mm / 2, pad.width_mm / 2
    corners = ((x - length, y - width), (x + length, y - width), (x + length, y + width), (x - length, y + width))
    return Polygon([board_point(led, point_mm=corner) for corner in corners])


def _near(land: Land, led: PlacedLed) -> bool:
    reach = math.hypot(led.part.body.length_mm, led.part.body.width_mm) / 2 + 2 * BESIDE_MM
    return bool(shapely.dwithin(land.polygon, shapely.Point(led.at_mm), reach))


def _land_of(pad: Terminal, *, led: PlacedLed, lands: Sequence[Land]) -> Land | None:
    metal = terminal_on_board(led, pad)
    shares = [land.polygon.intersection(metal).area / metal.area for land in lands]
    best = max(range(len(lands)), key=shares.__getitem__, default=None)
    if best is not None and shares[best] >= LEAST_SHARE:
        return lands[best]
    return _land_beyond(pad, led=led, lands=lands, metal=metal)


def _land_beyond(pad: Terminal, *, led: PlacedLed, lands: Sequence[Land], metal: Polygon) -> Land | None:
    """The land that begins just outward of a terminal."""
    place = board_point(led, point_mm=pad.at_mm)
    outward = (place[0] - led.at_mm[0], place[1] - led.at_mm[1])
    size = math.hypot(*outward)
    if size == 0.0:
        return None
    end = (place[0] + outward[0] / size * BESIDE_MM * 2, place[1] + outward[1] / size * BESIDE_MM * 2)
    ray = LineString([place, end])
    met = [land for land in lands if land.polygon.distance(metal) <= BESIDE_MM and land.polygon.intersects(ray)]
    return min(met, key=lambda land: float(land.polygon.distance(metal)), default=None)
