"""Machine or hand: who puts an LED in its style, why, and how many minutes it takes."""

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Literal

from paneglow.assembly.mechanics import lift_of, stability_of
from paneglow.board import PlacedLed
from paneglow.catalog import Part, Timing
from paneglow.design import Mounting, Side
from paneglow.units import Quantity, Record

Builder = Literal["machine", "hand"]

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
        source="30 to 90 s from memory; half an hour for a board of 12 once practised (common practice, no source)",
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

    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    refs: tuple[str, ...]  # the LEDs
    way: Builder  # who places it
    reasons: tuple[str, ...]  # one clause each; never empty
    open_questions: tuple[str, ...]  # what an assembly service must be asked first
    heat: str  # soldering limits of the part that apply, as the data sheet tells them; empty where it does not
    minutes_each: Quantity  # by hand, one LED [min]
    boards_timed: int  # own boards behind the minutes; 0 where the range is assumed


def build_ways(
    leds: Sequence[PlacedLed], *, size_mm: tuple[float, float], timings: Sequence[Timing]
) -> tuple[BuildWay, ...]:
    """Machine or hand, per order code and mounting style, in the order of the design.

    Parameters
    ----------
    leds : sequence of PlacedLed
        All of a board.
    size_mm : tuple of float
        Of its outline, along x and y [mm].
    timings : sequence of Timing
        Boards the user has timed.

    Returns
    -------
    tuple of BuildWay
        LEDs of one order code and style stand in two rows where not all of them are built alike.
    """
    on_sides = Counter(led.side for led in leds)
    groups: dict[tuple[str, Mounting, tuple[str, ...]], list[PlacedLed]] = {}
    for led in leds:
        refusals = [refuse(led) for refuse in REFUSALS]
        refusals += [_second_side(led, on_sides=on_sides), _small_panel(size_mm)]
        groups.setdefault((led.part.code, led.mounting, tuple(filter(None, refusals))), []).append(led)
    return tuple(_way_of(alike, refusals=refusals, timings=timings) for (*_, refusals), alike in groups.items())


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


def _way_of(leds: list[PlacedLed], *, refusals: tuple[str, ...], timings: Sequence[Timing]) -> BuildWay:
    first = leds[0]
    questions = () if refusals else tuple(_open_questions(first.part))
    minutes, boards = minutes_by_hand(first.mounting, timings=timings)
    return BuildWay(
        part=first.part.code,
        mounting=first.mounting,
        refs=tuple(led.ref for led in leds),
        way="hand" if refusals else "machine",
        reasons=refusals or (MACHINE_REASONS[first.mounting],),
        open_questions=questions,
        heat=_heat(first.part, way="hand" if refusals else "machine"),
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


def _hand_lens_down(led: PlacedLed) -> str:
    if led.mounting != "lens_down":
        return ""
    tape = led.part.tape
    if tape is None:
        return "how it is taped is not known; tapes usually hold it lens up, and no machine turns it over"
    if tape.face == "solder-down":
        return "taped lens up, and no machine turns it over"
    return ""


def _hand_unsteady(led: PlacedLed) -> str:
    if led.mounting not in ("lens_down", "reverse"):
        return ""
    lift_mm = lift_of(led)
    if lift_mm > 0.0:
        return f"hangs {lift_mm:.2g} mm off the board in its solder, which paste does not hold"
    stability = stability_of(led.part) if led.mounting == "lens_down" else None
    return "rocks on its lens, which paste does not hold" if stability and stability.stand == "rocks" else ""


def _hand_legs(led: PlacedLed) -> str:
    legs = led.part.terminals is not None and led.part.terminals.leg_mm is not None
    return "legs are bent and soldered flat by hand" if led.mounting == "through_hole" and legs else ""


def _hand_no_oven(led: PlacedLed) -> str:
    limits = led.part.soldering
    return "bears no pass through the oven" if limits is not None and limits.reflow_passes == 0 else ""


def _hand_taped_over(led: PlacedLed) -> str:
    tape = led.part.tape
    turned = led.mounting != "lens_down" and tape is not None and tape.face == "solder-up"
    return "taped with its solder face up, and no machine turns it over" if turned else ""


def _hand_no_flat(led: PlacedLed) -> str:
    flat_mm = _flat_mm(led)
    if flat_mm >= NOZZLE_LEAST_MM:
        return ""
    return f"nothing flat to pick as it lies: {flat_mm:g} mm, and a nozzle needs {NOZZLE_LEAST_MM:g} mm"


def _hand_carrier(led: PlacedLed) -> str:
    return "the carrier board is set at its distance by hand" if led.mounting == "carrier" else ""


def _second_side(led: PlacedLed, *, on_sides: Mapping[Side, int]) -> str:
    other_side: Side = "front" if led.side == "back" else "back"
    if on_sides.get(other_side, 0) <= on_sides[led.side]:
        return ""
    return f"on the {led.side}, and most parts are on the {other_side}: a second pass for few parts"


def _small_panel(size_mm: tuple[float, float]) -> str:
    short = min(size_mm)
    if short >= PANEL_LEAST_MM:
        return ""
    return f"the panel is {short:.1f} mm wide, and services take about {PANEL_LEAST_MM:g} mm; put several in one panel"


REFUSALS: tuple[Callable[[PlacedLed], str], ...] = (
    _hand_lens_down,
    _hand_unsteady,
    _hand_legs,
    _hand_no_oven,
    _hand_taped_over,
    _hand_no_flat,
    _hand_carrier,
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


def _heat(part: Part, *, way: Builder) -> str:
    """Limits of the iron for a part built by hand, of the oven for one placed by a machine."""
    limits = part.soldering
    if limits is None:
        return ""
    by_way: dict[Builder, tuple[str, Quantity | None, Quantity | None]] = {
        "hand": ("iron", limits.iron_tip_c, limits.iron_contact_s),
        "machine": ("oven", limits.reflow_peak_c, limits.reflow_peak_s),
    }
    word, hottest, longest = by_way[way]
    if hottest is None:
        return ""
    seconds = "" if longest is None else f" for {longest.highest:g} s"
    return f"{word} at most {hottest.highest:g} degree Celsius{seconds}"


def _open_questions(part: Part) -> list[str]:
    if part.tape is None:
        return [f"how {part.code} lies in its tape is not known"]
    if not part.tape.evidence.verified:
        return [f"how {part.code} lies in its tape has no evidence"]
    return []
