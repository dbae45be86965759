"""How a part stands: whether it rocks on its lens, how far it reaches behind the board, what is too near to it."""

import math
from collections.abc import Callable, Iterator
from itertools import combinations
from typing import Literal

from shapely import affinity
from shapely.geometry import Polygon, box

from paneglow.assembly.goals import joint_goals
from paneglow.assembly.lands import body_tolerance_mm, build_land, lens_rise_mm
from paneglow.board import Board, PlacedLed, board_point
from paneglow.catalog import Part
from paneglow.design import Mounting
from paneglow.scene import ASSUMED_PLACES, ASSUMED_SURROUNDINGS
from paneglow.units import FiniteFloat, NonNegativeFloat, Quantity, Record

Stand = Literal["rests", "rocks", "hangs"]

GRAVITY_M_S2 = 9.80665  # standard gravity, exact: CGPM 1901
DENSITY_G_CM3 = Quantity(
    value=1.9, low=1.5, high=2.2, origin="assumed", source="resin with glass or filler; FR-4 itself 1.82 to 2.08 (docs)"
)
SOLDER_TENSION_N_M = Quantity(
    value=0.45,
    low=0.38,
    high=0.55,
    origin="assumed",
    source="tin-lead 0.53 N/m in air, less under flux: Miyazaki et al., Q. J. Japan Weld. Soc. 15, 1997, 681",
)
PULL_DOWN_FRAC = Quantity(
    value=0.7, low=0.4, high=1.0, origin="assumed", source="vertical share of the pull of a fillet at 24 to 66 deg"
)
UNEVEN_JOINT_FRAC = Quantity(
    value=0.25,
    low=0.15,
    high=0.4,
    origin="assumed",
    source="by how much two joints made by hand differ in wetted length; no source. It puts 0603 among the parts that"
    " rock and 1206 among those that rest: common practice, no source",
)
CARRIER_BOARD_MM = Quantity(
    value=1.0, low=0.6, high=1.6, origin="assumed", source="thickness of a carrier board; no source"
)
LEAST_ARM_MM = 1e-3  # keeps a lens as long as its body from dividing by nothing; such a part is held whatever pulls
RESTING_GAP_MM = 0.1  # a lens this near to the laminate touches it: the air film assumed in `scene`
TOOL_CLEARANCE_MM = 0.3  # chosen: nozzles and tweezers reach this far round a part; assumed 0.2 to 0.5


class Stability(Record):
    """How a lens-down part stands before and while it is soldered."""

    stand: Stand  # rests on its lens, rocks on it, or hangs in its solder
    lens_base_frac: NonNegativeFloat  # lens over body, along the terminals
    mass_mg: NonNegativeFloat  # from its volume and an assumed density
    topple_deg: NonNegativeFloat  # tilt of the board at which its centre of mass passes the lens edge
    tilt_most_deg: NonNegativeFloat  # until an end of the body, or the lens edge, touches the board
    unevenness_held_frac: Quantity  # difference between its two joints that its weight still holds level


class Height(Record):
    """How far a part reaches behind the back face."""

    ref: str  # Designator of the part
    height_mm: FiniteFloat  # at the greatest sizes its tolerance allows
    clearance_mm: FiniteFloat | None  # to the cover; None where there is no cover


class TightPair(Record):
    """Two LEDs nearer to each other than a tool or a courtyard allows."""

    first: str  # designator of one
    second: str  # designator of the other
    distance_mm: NonNegativeFloat  # between their bodies
    needed_mm: NonNegativeFloat  # least distance for courtyards and tools


def stability_of(part: Part, *, gap_mm: float | None = None) -> Stability | None:
    """How a chip LED stands lens down.

    Parameters
    ----------
    part : Part
        With a lens size; without one nothing can be said.
    gap_mm : float, optional
        Lens to laminate as the design states it [mm]; above `RESTING_GAP_MM` the part hangs in its solder.

    Returns
    -------
    Stability or None

    Notes
    -----
    The lens is taken as flat and centred. About its edge, half the lens away from the middle, the weight m g turns the
    part back with m g l/2. A joint of wetted width w turns it over with gamma w c (L - l)/2, c the vertical share of
    the pull. Two joints that differ by the share u therefore leave it level up to
    u = m g l / (gamma w c (L - l)). Weight goes with the cube of size and pull with its first power, so that small
    packages rock: the same balance that stands chip parts on end in an oven.
    """
    lens = part.lens_length_mm
    if lens is None:
        return None
    body = part.body
    overhang_mm = max((body.length_mm - lens.value) / 2, 0.0)
    rise_mm = lens_rise_mm(part)[1]
    held = _held_frac(part, lens_mm=lens, overhang_mm=overhang_mm)
    hangs = gap_mm is not None and gap_mm > RESTING_GAP_MM
    stand: Stand = "hangs" if hangs else "rests" if held.value >= UNEVEN_JOINT_FRAC.value else "rocks"
    # The centre of mass is taken at half the height; the part stands on its lens, so that is its height above the board
    topple = math.degrees(math.atan2(lens.value / 2, body.height_mm / 2))
    to_stop = (gap_mm or 0.0, lens.value / 2) if hangs else (rise_mm, overhang_mm)
    return Stability(
        stand=stand,
        lens_base_frac=lens.value / body.length_mm,
        mass_mg=_volume_mm3(part) * DENSITY_G_CM3.value,
        topple_deg=topple,
        tilt_most_deg=math.degrees(math.atan2(*to_stop)),
        unevenness_held_frac=held,
    )


def _volume_mm3(part: Part) -> float:
    """Volume of the part: its outer box, with the lens only as wide and long as it is."""
    body, (_, rise, _) = part.body, lens_rise_mm(part)
    length = body.length_mm if part.lens_length_mm is None else part.lens_length_mm.value
    width = body.width_mm if part.lens_width_mm is None else part.lens_width_mm.value
    return body.length_mm * body.width_mm * max(body.height_mm - rise, 0.0) + length * width * rise


def _held_frac(part: Part, *, lens_mm: Quantity, overhang_mm: float) -> Quantity:
    """Difference between two joints that the weight holds, with the range of what is assumed [1]."""
    if overhang_mm <= 0.0:
        held = 1.0  # the lens is as long as the body: nothing to turn about
        return Quantity(value=held, origin="assumed", low=held, high=held, source="lens as long as the body")

    def held_at(*, density: float, tension: float, down: float, lens: float) -> float:
        weight_n = 1e-6 * density * _volume_mm3(part) * GRAVITY_M_S2
        arm_mm = max((part.body.length_mm - lens) / 2, LEAST_ARM_MM)
        pull_n = 1e-3 * tension * part.body.width_mm * down
        return min(1.0, weight_n * lens / 2 / (pull_n * arm_mm))

    heavy, pull, down = DENSITY_G_CM3, SOLDER_TENSION_N_M, PULL_DOWN_FRAC
    low = held_at(density=heavy.lowest, tension=pull.highest, down=down.highest, lens=lens_mm.lowest)
    value = held_at(density=heavy.value, tension=pull.value, down=down.value, lens=lens_mm.value)
    high = held_at(density=heavy.highest, tension=pull.lowest, down=down.lowest, lens=lens_mm.highest)
    return Quantity(
        value=value, low=low, high=high, origin="assumed", source="weight against solder pull, all sizes as catalogued"
    )


def lift_of(led: PlacedLed) -> float:
    """How far the design holds a part that faces the board off the place where it would rest [mm]; 0 where it rests."""
    if led.gap_mm is None:
        return 0.0
    # The emitter of a reverse part lies in its body, so part of the gap is the part's own
    own_mm = RESTING_GAP_MM if led.mounting == "lens_down" else led.part.emitter_height_mm.highest
    return led.gap_mm if led.gap_mm > own_mm else 0.0


def height_of(led: PlacedLed, *, board: Board, cover_mm: float | None) -> Height:
    """How far a placed LED reaches behind the back face, and what it leaves to a cover.

    Parameters
    ----------
    led : PlacedLed
    board : Board
        For the thickness of the laminate.
    cover_mm : float or None
        Distance of a cover from the back face [mm].
    """
    tolerance = body_tolerance_mm(led.part)
    front = led.side == "front" and led.mounting not in ("through_hole", "cutout")
    height = 0.0 if front else max(_HEIGHTS[led.mounting](led, board.thickness_mm) + tolerance, _glue_height_mm(led))
    return Height(ref=led.ref, height_mm=height, clearance_mm=None if cover_mm is None else cover_mm - height)


def leg_needed_mm(led: PlacedLed, *, board: Board) -> float | None:
    """Free length that a leg needs to reach its land [mm]; None for a part without legs to bend.

    From where it leaves the body, behind the board, straight down to the back face and out to the end of its land.
    """
    terminals = led.part.terminals
    if led.mounting != "through_hole" or terminals is None or terminals.leg_mm is None:
        return None
    land = build_land(led.part, mounting=led.mounting, density="least")
    pairs = zip(land.pads, terminals.pads, strict=True)
    out = max(abs(pad.at_mm[0]) + pad.length_mm / 2 - abs(terminal.at_mm[0]) for pad, terminal in pairs)
    return _opening_height(led, board.thickness_mm) + out


def _glue_height_mm(led: PlacedLed) -> float:
    """How far a drop of hot glue over the emitter of a side-view part reaches [mm]; 0 without one."""
    if led.diffuser != "hot-glue" or led.mounting != "side_view":
        return 0.0
    upper_edge = led.part.emitter_height_mm.highest + led.part.emitter_width_mm.highest / 2
    return upper_edge + ASSUMED_SURROUNDINGS["hot glue dome"][1].highest


def _lens_down_height(led: PlacedLed, thickness_mm: float) -> float:  # noqa: ARG001 - one signature for every style
    return led.part.body.height_mm + (led.gap_mm or 0.0)


def _flat_height(led: PlacedLed, thickness_mm: float) -> float:  # noqa: ARG001
    return led.part.body.height_mm


def _reverse_height(led: PlacedLed, thickness_mm: float) -> float:  # noqa: ARG001
    # The emitter's place above the laminate is part of the body, unless the design lifts it
    lift = 0.0 if led.gap_mm is None else max(0.0, led.gap_mm - led.part.emitter_height_mm.value)
    return led.part.body.height_mm + lift


def _opening_height(led: PlacedLed, thickness_mm: float) -> float:
    """Body less what is sunk into the board: the lens of a cut-out part, else as deep as the emitter lies."""
    if led.mounting == "cutout" and led.part.lens_height_mm is not None:
        return led.part.body.height_mm - min(led.part.lens_height_mm.value, thickness_mm)
    return max(led.part.body.height_mm - thickness_mm, 0.0)


def _carrier_height(led: PlacedLed, thickness_mm: float) -> float:  # noqa: ARG001
    gap = ASSUMED_PLACES["carrier"][1].highest if led.gap_mm is None else led.gap_mm
    return gap + led.part.body.height_mm + CARRIER_BOARD_MM.highest


_HEIGHTS: dict[Mounting, Callable[[PlacedLed, float], float]] = {
    "lens_down": _lens_down_height,
    "reverse": _reverse_height,
    "through_hole": _opening_height,
    "cutout": _opening_height,
    "side_view": _flat_height,
    "carrier": _carrier_height,
    "top_view": _flat_height,
}


def body_on_board(led: PlacedLed) -> Polygon:
    """Outline of a placed body, seen from the front [mm]."""
    half_length, half_width = led.part.body.length_mm / 2, led.part.body.width_mm / 2
    origin, along, across = (board_point(led, point_mm=point) for point in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)))
    axes = (along[0] - origin[0], across[0] - origin[0], along[1] - origin[1], across[1] - origin[1])
    turned: Polygon = affinity.affine_transform(
        box(-half_length, -half_width, half_length, half_width), [*axes, *origin]
    )
    return turned


def tight_pairs(leds: tuple[PlacedLed, ...]) -> Iterator[TightPair]:
    """Pairs of LEDs on one face whose bodies leave less room than the least courtyards and a tool need.

    Bodies that overlap are not told here: they have a rule of their own.
    """
    for first, second in combinations(leds, 2):
        if first.side != second.side or "carrier" in (first.mounting, second.mounting):
            continue
        needed = max(TOOL_CLEARANCE_MM, *(_courtyard_mm(led) for led in (first, second)))
        distance = float(body_on_board(first).distance(body_on_board(second)))
        if 0.0 < distance < needed:
            yield TightPair(first=first.ref, second=second.ref, distance_mm=distance, needed_mm=needed)


def _courtyard_mm(led: PlacedLed) -> float:
    return 2 * joint_goals(body_length_mm=led.part.body.length_mm, density="least").courtyard_mm
