"""Which way a part points: rotations of the design against those that a placement file counts by its convention.

Points of the plane are complex numbers, mirrored by conjugation. A rotation of the design is counter-clockwise seen
from the front: a side-view part shines along it, every other part points along it from cathode to anode (a part
without terminals, with several chips or with logic inside, by its own x).
"""

import cmath
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from paneglow.board.records import PlacedLed
from paneglow.catalog import Part, TapeOrientation, Terminals
from paneglow.design import Mounting, Side
from paneglow.errors import DesignError
from paneglow.fab import PlacementRule, ZeroRule

ANGLE_DIGITS = 9  # rotations are rounded so far beyond any file, to give back the numbers that went in
QUADRANTS = {1: (-1, 1), 2: (1, 1), 3: (-1, -1), 4: (1, -1)}  # signs of x and y in the pocket, EIA-481-E
ON_LINE_MM = 0.01  # a terminal this near to a middle line of the pocket lies on it


def is_turned_over(part: Part, *, mounting: Mounting) -> bool:
    """Whether a part lies with its lens toward the board although its own frame has the lens up.

    Reverse and cut-out parts are made to face the board: their frame is that of the mounted part.
    """
    return mounting == "lens_down" or (part.kind == "through_hole" and mounting in ("through_hole", "cutout"))


def _middle(terminals: Terminals, role: str) -> complex:
    places = [complex(*pad.at_mm) for pad in terminals.pads if pad.role == role]
    return sum(places) / len(places)


def polar_axis(part: Part) -> complex:
    """Direction from cathode to anode in the part's frame; its x where it has several chips or states no terminals."""
    terminals = part.terminals
    if terminals is None or terminals.chips or terminals.has_logic:
        return 1 + 0j
    axis = _middle(terminals, "anode") - _middle(terminals, "cathode")
    return axis / abs(axis)


def design_axis(part: Part, *, mounting: Mounting) -> complex:
    """Direction in the part's frame that a rotation of the design states."""
    return 1j if mounting == "side_view" else polar_axis(part)


def board_point(led: PlacedLed, *, point_mm: tuple[float, float]) -> tuple[float, float]:
    """Place on the board, seen from the front, of a point in the frame of a placed part [mm]."""
    mirrored = (led.side == "back") != is_turned_over(led.part, mounting=led.mounting)

    def laid(point: complex) -> complex:
        return point.conjugate() if mirrored else point

    turn = cmath.rect(1.0, math.radians(led.rotation_deg)) / laid(design_axis(led.part, mounting=led.mounting))
    place = complex(*led.at_mm) + turn * laid(complex(*point_mm))
    return place.real, place.imag


@dataclass(frozen=True, slots=True, kw_only=True)
class RotationConvention:
    """One part in one style on one face, under one rule."""

    part: Part  # The part
    mounting: Mounting  # Mounting style
    side: Side  # Face the part is soldered to
    rule: PlacementRule  # How the file counts rotations

    def to_design_deg(self, file_deg: float) -> float:
        """Rotation of the design for one of the file, 0 to below 360 [deg].

        Raises
        ------
        DesignError
            Where the rule rests on terminals or a tape orientation that the part does not state.
        """
        return _wrapped(self._at_zero_deg() + self._sense() * file_deg)

    def to_file_deg(self, design_deg: float) -> float:
        """Rotation of the file for one of the design, 0 to below 360 [deg].

        Raises
        ------
        DesignError
            As `to_design_deg`.
        """
        return _wrapped(self._sense() * (design_deg - self._at_zero_deg()))

    def _sense(self) -> int:
        return _sense(self.rule, side=self.side)

    def _at_zero_deg(self) -> float:
        """Where the design's axis points at the file's zero, seen from the front."""
        seen = _ZERO_TURNS[self.rule.zero](self.part, self.mounting) * self._laid(
            design_axis(self.part, mounting=self.mounting)
        )
        return math.degrees(cmath.phase(_from_front(seen, rule=self.rule, side=self.side)))

    def _laid(self, point: complex) -> complex:
        """A point of the part as it is looked at, before it is turned in the plane."""
        if not is_turned_over(self.part, mounting=self.mounting):
            return point
        tape = self.part.tape
        as_it_lies = self.rule.zero == "as-taped" and tape is not None and tape.face == "solder-up"
        swaps = self.rule.turn == "short-axis" and not as_it_lies
        return -point.conjugate() if swaps else point.conjugate()


def turn_between(file_deg: float, *, side: Side, given: PlacementRule, wanted: PlacementRule) -> float:
    """Rotation under another rule of a part that lies the same, whatever its zero means [deg].

    Only how back parts are counted is carried over; a part without a record keeps its own zero.
    """
    front_deg = math.degrees(cmath.phase(_from_front(1 + 0j, rule=given, side=side)))
    front_deg += _sense(given, side=side) * file_deg
    wanted_zero_deg = math.degrees(cmath.phase(_from_front(1 + 0j, rule=wanted, side=side)))
    return _wrapped(_sense(wanted, side=side) * (front_deg - wanted_zero_deg))


def _sense(rule: PlacementRule, *, side: Side) -> int:
    """Whether rotations of a face count counter-clockwise or clockwise as seen from the front."""
    return -1 if side == "back" and rule.bottom.startswith("turned-") else 1


def _from_front(seen: complex, *, rule: PlacementRule, side: Side) -> complex:
    """A direction that a viewer of the part sees, as seen from the front of the board."""
    if side == "front":
        return seen
    left_right = rule.bottom in ("turned-left-right", "through-front-mirrored")
    return -seen.conjugate() if left_right else seen.conjugate()


def _axis_right(part: Part, mounting: Mounting) -> complex:
    return 1 / design_axis(part, mounting=mounting)


def _cathode_left(part: Part, mounting: Mounting) -> complex:  # noqa: ARG001 - one signature for every rule
    _needs_terminals(part, zero="cathode-left")
    return 1 / polar_axis(part)


def _anode_left(part: Part, mounting: Mounting) -> complex:  # noqa: ARG001
    _needs_terminals(part, zero="anode-left")
    return -1 / polar_axis(part)


def _as_taped(part: Part, mounting: Mounting) -> complex:  # noqa: ARG001
    if part.tape is None or part.terminals is None:
        raise DesignError(
            f"part {part.code}: rotations are counted as-taped, but the part does not say how it lies in its tape; add"
            " its tape orientation from the data sheet, or state another zero"
        )
    terminal = part.terminals.named(part.tape.terminal)
    assert terminal is not None  # the record was checked when it was read
    place = complex(*terminal.at_mm)
    seen = place.conjugate() if part.tape.face == "solder-up" else place
    fitting = [turn for turn in (1, 1j, -1, -1j) if _in_quadrants(turn * seen, tape=part.tape)]
    if len(fitting) != 1:
        words = " and ".join(map(str, part.tape.quadrants))
        raise DesignError(
            f"part {part.code}: terminal {terminal.name} cannot lie in quadrant {words} alone; state the quadrants of"
            " its tape as EIA-481 counts them, two where it lies on the line between them"
        )
    return complex(fitting[0])


def _in_quadrants(place: complex, *, tape: TapeOrientation) -> bool:
    signs = tuple(0 if abs(part) <= ON_LINE_MM else round(math.copysign(1, part)) for part in (place.real, place.imag))
    wanted = [QUADRANTS[quadrant] for quadrant in tape.quadrants]
    middle = tuple(round(sum(axis) / len(wanted)) if len({*axis}) == 1 else 0 for axis in zip(*wanted, strict=True))
    return signs == middle


def _needs_terminals(part: Part, *, zero: ZeroRule) -> None:
    if part.terminals is None:
        raise DesignError(
            f"part {part.code}: rotations are counted {zero}, but the part does not say where its terminals are; add"
            " its terminals from the data sheet"
        )


_ZERO_TURNS: Mapping[ZeroRule, Callable[[Part, Mounting], complex]] = {
    "axis": _axis_right,
    "cathode-left": _cathode_left,
    "anode-left": _anode_left,
    "as-taped": _as_taped,
}


def _wrapped(angle_deg: float) -> float:
    return round(angle_deg % 360.0, ANGLE_DIGITS) % 360.0
