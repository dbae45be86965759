"""How each mounting style holds its emitter: place, axis and whether it shines into a hole.

Heights the catalogue does not give are assumed, with their range (`ASSUMED_PLACES`); `gap_mm` in the design replaces
them.
Coordinates are those of the scene: the back face is z = 0, the front z = thickness.
"""

import math
from dataclasses import dataclass, replace

from paneglow.board import PlacedLed, board_point
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
UP: Vector = (0.0, 0.0, 1.0)
DOWN: Vector = (0.0, 0.0, -1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where the emitter of a placed part is, and how it lies."""

    centre_mm: Vector  # Centre (x, y, z)
    axis: Vector  # Unit vector that it shines along
    u: Vector  # Unit vector along its length
    v: Vector  # Unit vector along its width
    size_mm: tuple[float, float]  # Length and width
    in_opening: bool  # Whether it shines into a hole or cut-out
    covers_board: bool  # Whether the body lies on the board and returns light


def pose_of(led: PlacedLed, *, thickness_mm: float) -> Pose:
    """Where a placed LED's emitter is and which way it shines.

    Parameters
    ----------
    led : PlacedLed
    thickness_mm : float
        Laminate thickness [mm].

    Returns
    -------
    Pose
        In scene coordinates. A part on the front face is the mirror image of one on the back.
    """
    turn = math.radians(led.rotation_deg)
    along, across = (math.cos(turn), math.sin(turn), 0.0), (-math.sin(turn), math.cos(turn), 0.0)
    length, width = led.part.emitter_length_mm.value, led.part.emitter_width_mm.value
    x, y = board_point(led, point_mm=led.part.emitter_at_mm)
    axis, u, v = UP, along, across
    in_opening = led.mounting in ("through_hole", "cutout")
    # Of parts that lie on the back face: their emitter's height over the board
    height_mm = led.part.emitter_height_mm.value if led.gap_mm is None else led.gap_mm
    if in_opening:
        z = OPENING_DEPTH.value * thickness_mm if led.gap_mm is None else -led.gap_mm
    elif led.mounting == "side_view":
        reach = 0.5 * led.part.body.width_mm
        x, y, z = x + reach * along[0], y + reach * along[1], -max(height_mm, 0.5 * width + LEAST_CLEARANCE_MM)
        axis, u, v = along, across, UP
    elif led.mounting == "top_view":
        z, axis = -max(height_mm, LEAST_CLEARANCE_MM), DOWN
    else:
        recess = led.part.body.height_mm - led.part.emitter_height_mm.value
        assumed = {
            "lens_down": max(LENS_DOWN_GAP.value, recess),
            "reverse": REVERSE_GAP.value,
            "carrier": CARRIER_GAP.value,
        }[led.mounting]
        z = -(assumed if led.gap_mm is None else led.gap_mm) - LEAST_CLEARANCE_MM
    on_back = Pose(
        centre_mm=(x, y, z),
        axis=axis,
        u=u,
        v=v,
        size_mm=(length, width),
        in_opening=in_opening,
        covers_board=led.mounting in ("lens_down", "reverse", "side_view", "top_view"),
    )
    if led.side == "back":
        return on_back
    return replace(on_back, centre_mm=(x, y, thickness_mm - z), axis=(axis[0], axis[1], -axis[2]))
