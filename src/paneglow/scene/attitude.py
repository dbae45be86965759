"""How each mounting style holds its emitter: place, axis and opening, as one function per style.

Heights the catalogue does not give are assumed, with their range (`ASSUMED_PLACES`); `gap_mm` in the design replaces
them.
Coordinates are those of the scene: the back face is z = 0, the front z = thickness.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from paneglow.board import PlacedLed
from paneglow.catalog import Part
from paneglow.design import Mounting
from paneglow.units import Quantity

Vector = tuple[float, float, float]

LENS_DOWN_GAP = Quantity(
    value=0.02, low=0.005, high=0.1, origin="assumed", source="a film of air stays between lens and laminate; no source"
)
REVERSE_GAP = Quantity(
    value=0.15, low=0.05, high=0.4, origin="assumed", source="lens of a reverse part to the laminate; no source"
)
CARRIER_GAP = Quantity(
    value=3.0, low=1.0, high=10.0, origin="assumed", source="emitter on a second board to the back face; no source"
)
OPENING_DEPTH = Quantity(
    value=0.5,
    low=0.2,
    high=0.8,
    origin="assumed",
    source="emitter plane in a hole as a share of the thickness; no source",
)
# What the design's gap_mm replaces, by mounting style and with its unit in the name
ASSUMED_PLACES: dict[Mounting, tuple[str, Quantity]] = {
    "lens_down": ("least_gap_to_the_laminate_mm", LENS_DOWN_GAP),
    "reverse": ("gap_to_the_laminate_mm", REVERSE_GAP),
    "carrier": ("gap_to_the_laminate_mm", CARRIER_GAP),
    "through_hole": ("depth_in_the_hole_over_thickness", OPENING_DEPTH),
    "cutout": ("depth_in_the_hole_over_thickness", OPENING_DEPTH),
}
LEAST_CLEARANCE_MM = 0.01  # keeps an emitter's edge off the face it shines along


@dataclass(frozen=True, slots=True, kw_only=True)
class Attitude:
    """Emitter of one placed part: centre, axis, directions along its two sides, and their lengths."""

    centre_mm: Vector
    axis: Vector
    u: Vector
    v: Vector
    size_mm: tuple[float, float]
    in_opening: bool
    covers_board: bool  # the body lies on the board and returns light


def attitude_of(led: PlacedLed, *, thickness_mm: float) -> Attitude:
    """Where a placed LED's emitter is and which way it shines.

    Parameters
    ----------
    led : PlacedLed
    thickness_mm : float
        Laminate thickness [mm].

    Returns
    -------
    Attitude
        In scene coordinates. A part on the front face is the mirror image of one on the back.
    """
    on_back = _BY_MOUNTING[led.mounting](led, thickness_mm)
    return on_back if led.side == "back" else _mirrored(on_back, thickness_mm=thickness_mm)


def _turned(led: PlacedLed) -> tuple[Vector, Vector]:
    """Directions along and across the part in the plane of the board."""
    turn = math.radians(led.rotation_deg)
    return (math.cos(turn), math.sin(turn), 0.0), (-math.sin(turn), math.cos(turn), 0.0)


def _sides(part: Part) -> tuple[float, float]:
    return part.emitter_length_mm.value, part.emitter_width_mm.value


def _facing_board(led: PlacedLed, *, gap_mm: float, covers_board: bool) -> Attitude:
    along, across = _turned(led)
    return Attitude(
        centre_mm=(*led.at_mm, -(gap_mm if led.gap_mm is None else led.gap_mm) - LEAST_CLEARANCE_MM),
        axis=(0.0, 0.0, 1.0),
        u=along,
        v=across,
        size_mm=_sides(led.part),
        in_opening=False,
        covers_board=covers_board,
    )


def _lens_down(led: PlacedLed, thickness_mm: float) -> Attitude:  # noqa: ARG001 - one signature for every style
    recess = led.part.body.height_mm - led.part.emitter_height_mm.value
    return _facing_board(led, gap_mm=max(LENS_DOWN_GAP.value, recess), covers_board=True)


def _reverse(led: PlacedLed, thickness_mm: float) -> Attitude:  # noqa: ARG001
    return _facing_board(led, gap_mm=REVERSE_GAP.value, covers_board=True)


def _carrier(led: PlacedLed, thickness_mm: float) -> Attitude:  # noqa: ARG001
    return _facing_board(led, gap_mm=CARRIER_GAP.value, covers_board=False)


def _in_opening(led: PlacedLed, thickness_mm: float) -> Attitude:
    along, across = _turned(led)
    depth = OPENING_DEPTH.value * thickness_mm if led.gap_mm is None else -led.gap_mm
    return Attitude(
        centre_mm=(*led.at_mm, depth),
        axis=(0.0, 0.0, 1.0),
        u=along,
        v=across,
        size_mm=_sides(led.part),
        in_opening=True,
        covers_board=False,
    )


def _side_view(led: PlacedLed, thickness_mm: float) -> Attitude:  # noqa: ARG001
    along, across = _turned(led)
    length, height = _sides(led.part)
    reach = 0.5 * led.part.body.width_mm
    above = led.part.emitter_height_mm.value if led.gap_mm is None else led.gap_mm
    return Attitude(
        centre_mm=(
            led.at_mm[0] + reach * along[0],
            led.at_mm[1] + reach * along[1],
            -max(above, 0.5 * height + LEAST_CLEARANCE_MM),
        ),
        axis=along,
        u=across,
        v=(0.0, 0.0, 1.0),
        size_mm=(length, height),
        in_opening=False,
        covers_board=True,
    )


def _top_view(led: PlacedLed, thickness_mm: float) -> Attitude:  # noqa: ARG001
    along, across = _turned(led)
    above = led.part.emitter_height_mm.value if led.gap_mm is None else led.gap_mm
    return Attitude(
        centre_mm=(*led.at_mm, -max(above, LEAST_CLEARANCE_MM)),
        axis=(0.0, 0.0, -1.0),
        u=along,
        v=across,
        size_mm=_sides(led.part),
        in_opening=False,
        covers_board=True,
    )


_BY_MOUNTING: dict[Mounting, Callable[[PlacedLed, float], Attitude]] = {
    "lens_down": _lens_down,
    "reverse": _reverse,
    "carrier": _carrier,
    "through_hole": _in_opening,
    "cutout": _in_opening,
    "side_view": _side_view,
    "top_view": _top_view,
}


def _mirrored(attitude: Attitude, *, thickness_mm: float) -> Attitude:
    """The same part on the front face."""
    x, y, z = attitude.centre_mm
    ax, ay, az = attitude.axis
    return Attitude(
        centre_mm=(x, y, thickness_mm - z),
        axis=(ax, ay, -az),
        u=attitude.u,
        v=attitude.v,
        size_mm=attitude.size_mm,
        in_opening=attitude.in_opening,
        covers_board=attitude.covers_board,
    )
