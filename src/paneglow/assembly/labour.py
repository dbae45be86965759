"""Machine or hand: who puts an LED in its style, why, and how many minutes it takes."""

import math
from collections.abc import Callable, Sequence
from typing import Literal

from paneglow.assembly.mechanics import lift_of, wobble_of
from paneglow.board import Board, PlacedLed
from paneglow.catalog import Catalog, Part, Timing
from paneglow.design import Mounting, Side
from paneglow.units import Quantity, Record

Way = Literal["machine", "hand"]

BOARDS_TIMED_LEAST = 10  # from so many boards on, the user's own clock replaces the assumed range
PANEL_LEAST_MM = 20.0  # smallest panel assembly services take, about 20 x 20 mm (docs/sources.md)
NOZZLE_LEAST_MM = 0.4  # narrowest flat that a usual nozzle picks, from memory

CHIP_SOURCE = "about 45 s per chip part placed on paste by hand, all in (docs/sources.md); range assumed"
# Minutes of one LED built by hand, all in: pick, turn, place, both joints, a look
ASSUMED_MINUTES: dict[Mounting, Quantity] = {
    "top_view": Quantity(value=0.75, low=0.4, high=1.5, origin="assumed", source=CHIP_SOURCE),
    "side_view": Quantity(value=0.75, low=0.4, high=1.5, origin="assumed", source=CHIP_SOURCE),
    "reverse": Quantity(value=0.75, low=0.4, high=1.5, origin="assumed", source=CHIP_SOURCE),
    "lens_down": Quantity(
        value=1.2,
        low=0.5,
        high=2.5,
        origin="assumed",
        source="30 to 90 s from memory; half an hour for a board of 12 in a good rhythm (common practice, no source)",
    ),
    "cutout": Quantity(
        value=1.0, low=0.5, high=2.0, origin="assumed", source="a chip part that must find its hole; no source"
    ),
    "through_hole": Quantity(
        value=1.5, low=0.7, high=3.0, origin="assumed", source="two legs bent, soldered flat and cut; no source"
    ),
    "carrier": Quantity(
        value=2.0, low=0.8, high=5.0, origin="assumed", source="a chip part and its carrier board fixed; no source"
    ),
}


class BuildWay(Record):
    """Who puts the LEDs of one order code in one style, and why."""

    part: str
    mounting: Mounting
    refs: tuple[str, ...]  # the LEDs
    way: Way  # who places it
    reasons: tuple[str, ...]  # one clause each; never empty
    open_questions: tuple[str, ...]  # what an assembly service must be asked first
    minutes_each: Quantity  # by hand, one LED [min]
    boards_timed: int  # own boards behind the minutes; 0 where the range is assumed


def build_ways(board: Board, *, catalog: Catalog) -> tuple[BuildWay, ...]:
    """Machine or hand, per order code and mounting style, in the order of the design.

    Parameters
    ----------
    board : Board
        Its LEDs and its size.
    catalog : Catalog
        For the boards the user has timed.
    """
    groups: dict[tuple[str, Mounting], list[PlacedLed]] = {}
    for led in board.leds:
        groups.setdefault((led.part.code, led.mounting), []).append(led)
    return tuple(_way_of(leds, board=board, timings=catalog.timings) for leds in groups.values())


def minutes_by_hand(mounting: Mounting, *, timings: Sequence[Timing]) -> tuple[Quantity, int]:
    """Minutes for one LED of a style by hand, and on how many boards of one's own they rest.

    Returns
    -------
    minutes : Quantity
        Measured from ten timed boards on: the mean per LED, with a range that holds nine of ten boards of that spread
        (1.645 standard deviations to either side, if they scatter like a normal law); assumed before.
    boards : int
        Boards timed; 0 while the assumed range stands.
    """
    own = [timing for timing in timings if timing.mounting == mounting]
    if len(own) < BOARDS_TIMED_LEAST:
        return ASSUMED_MINUTES[mounting], 0
    each = [timing.minutes / timing.leds for timing in own]
    mean = sum(each) / len(each)
    spread = math.sqrt(sum((value - mean) ** 2 for value in each) / (len(each) - 1))
    first, last = min(timing.date for timing in own), max(timing.date for timing in own)
    quantity = Quantity(
        value=mean,
        low=max(0.0, mean - NINE_OF_TEN * spread),
        high=mean + NINE_OF_TEN * spread,
        origin="measured",
        source=f"{len(own)} boards timed from {first} to {last} by {', '.join(sorted({one.who for one in own}))}",
    )
    return quantity, len(own)


NINE_OF_TEN = 1.645  # standard deviations to either side that hold 90 % of a normal law (exact to its digits)


def _way_of(leds: list[PlacedLed], *, board: Board, timings: Sequence[Timing]) -> BuildWay:
    first = leds[0]
    refusals = [reason for refuse in REFUSALS if (reason := refuse(first, board))]
    questions = () if refusals else tuple(_open_questions(first.part))
    minutes, boards = minutes_by_hand(first.mounting, timings=timings)
    return BuildWay(
        part=first.part.code,
        mounting=first.mounting,
        refs=tuple(led.ref for led in leds),
        way="hand" if refusals else "machine",
        reasons=tuple(refusals) or (MACHINE_REASONS[first.mounting],),
        open_questions=questions,
        minutes_each=minutes,
        boards_timed=boards,
    )


MACHINE_REASONS: dict[Mounting, str] = {
    "lens_down": "taped with its solder face up, so that it comes lens down",
    "reverse": "made to face the board, with a flat back to pick",
    "side_view": "a flat top to pick, and it stands on its solder face",
    "top_view": "an ordinary chip part on its solder face",
    "cutout": "a flat back to pick, and its lens finds the hole",
    "through_hole": "no legs to bend",
    "carrier": "the carrier board is built like any other",
}


def _hand_lens_down(led: PlacedLed, board: Board) -> str:  # noqa: ARG001 - one signature for every refusal
    if led.mounting != "lens_down":
        return ""
    tape = led.part.tape
    if tape is None:
        return (
            "it must come out of the tape lens down, and how it is taped is not told; the usual tape holds it lens up"
        )
    if tape.face == "solder-down":
        return "taped lens up, and no machine turns it over"
    return ""


def _hand_unsteady(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    if led.mounting not in ("lens_down", "reverse"):
        return ""
    lift_mm = lift_of(led)
    if lift_mm > 0.0:
        return f"to hang {lift_mm:.2g} mm off the board in its solder, which paste does not hold"
    wobble = wobble_of(led.part) if led.mounting == "lens_down" else None
    return "rocks on its lens, which paste does not hold" if wobble and wobble.stand == "rocks" else ""


def _hand_legs(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    legs = led.part.terminals is not None and led.part.terminals.leg_mm is not None
    return "legs are bent and soldered flat by hand" if led.mounting == "through_hole" and legs else ""


def _hand_taped_over(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    tape = led.part.tape
    turned = led.mounting != "lens_down" and tape is not None and tape.face == "solder-up"
    return "taped with its solder face up, and no machine turns it over" if turned else ""


def _hand_no_flat(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    flat_mm = _flat_mm(led)
    if flat_mm >= NOZZLE_LEAST_MM:
        return ""
    return f"nothing flat to pick in that attitude: {flat_mm:g} mm, and a nozzle needs {NOZZLE_LEAST_MM:g} mm"


def _hand_carrier(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    return "the carrier board is set at its distance by hand" if led.mounting == "carrier" else ""


def _hand_second_side(led: PlacedLed, board: Board) -> str:
    sides: dict[Side, int] = {"front": 0, "back": 0}
    for other in board.leds:
        sides[other.side] += 1
    other_side: Side = "front" if led.side == "back" else "back"
    if sides[other_side] <= sides[led.side]:
        return ""
    return f"on the {led.side}, and most parts are on the {other_side}: a second pass for few parts"


def _hand_small_panel(led: PlacedLed, board: Board) -> str:  # noqa: ARG001
    x_min, y_min, x_max, y_max = board.maps.outline.bounds
    short = min(x_max - x_min, y_max - y_min)
    if short >= PANEL_LEAST_MM:
        return ""
    return f"the panel is {short:.1f} mm wide, and services take about {PANEL_LEAST_MM:g} mm; put several in one panel"


REFUSALS: tuple[Callable[[PlacedLed, Board], str], ...] = (
    _hand_lens_down,
    _hand_unsteady,
    _hand_legs,
    _hand_taped_over,
    _hand_no_flat,
    _hand_carrier,
    _hand_second_side,
    _hand_small_panel,
)


def _flat_mm(led: PlacedLed) -> float:
    """Narrower side of the flat that looks up while the part is placed [mm]."""
    part = led.part
    if led.mounting in ("top_view", "carrier"):
        lens = (part.lens_length_mm, part.lens_width_mm)
        return min(side.value for side in lens if side is not None) if any(lens) else _body_flat_mm(part)
    return _body_flat_mm(part)


def _body_flat_mm(part: Part) -> float:
    return min(part.body.length_mm, part.body.width_mm)


def _open_questions(part: Part) -> list[str]:
    if part.tape is None:
        return [f"how {part.code} lies in its tape is not told"]
    if not part.tape.evidence.verified:
        return [f"how {part.code} lies in its tape has no evidence"]
    return []
