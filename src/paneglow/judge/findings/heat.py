"""Rules about the heat and the damp that a part survives while it is soldered, as its data sheet states them."""

from collections.abc import Iterable, Iterator

from paneglow.assembly import BuildWay
from paneglow.board import PlacedLed
from paneglow.catalog import SolderingLimits
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.wording import to_list, to_number

OVEN_PEAK_C = Threshold(
    what="body temperature of small parts at the peak of a lead-free oven",
    value=245.0,
    unit="deg C",
    source="common practice, no source: profiles peak at 235 to 250 deg C",
)
IRON_TIP_C = Threshold(
    what="tip of an iron as most people set it",
    value=350.0,
    unit="deg C",
    source="common practice, no source; public data sheets of chip LEDs allow 300 to 350 deg C",
)
IRON_CONTACT_S = Threshold(
    what="contact that a joint made by hand takes", value=3.0, unit="s", source="common practice, no source"
)
# Hours that a part of a level may lie in the open, at 30 deg C and 60 % humidity, before it is soldered in an oven:
# IPC/JEDEC J-STD-033, read in secondary copies that agree
FLOOR_LIFE_H = {"1": None, "2": 8760, "2a": 672, "3": 168, "4": 72, "5": 48, "5a": 24, "6": 0}
SHORT_LIFE_H = 48  # chosen: a bag opened on Friday is too old on Monday


def _limited(context: BoardContext, *, way: str) -> Iterator[tuple[PlacedLed, BuildWay, SolderingLimits]]:
    """Order codes built one way whose record states soldering limits."""
    placed = {led.ref: led for led in context.board.leds}
    for row in context.building.ways:
        led = placed[row.refs[0]]
        if row.way == way and led.part.soldering is not None:
            yield led, row, led.part.soldering


def _sheet(row: BuildWay) -> str:
    return f"The data sheet of {row.part} ({to_list(row.refs)})"


@rule("warning", thresholds=(OVEN_PEAK_C,))
def oven_too_hot(context: BoardContext) -> Iterable[Fault]:
    """A part that goes through the oven bears less than the peak of a usual lead-free profile.

    Its lens clouds or lifts, or its bond wires break, at once or after some evenings.
    """
    for led, row, limits in _limited(context, way="machine"):
        peak = limits.reflow_peak_c
        if peak is not None and peak.highest < OVEN_PEAK_C.value:
            yield led_fault(
                led,
                reason=f"{_sheet(row)} allows {to_number(peak.highest)} deg C,"
                f" {to_number(OVEN_PEAK_C.value - peak.highest)} deg C less than a usual lead-free oven.",
                remedy="Ask the service for a profile below that or for low-temperature solder, or solder it by hand"
                " afterwards.",
            )


@rule("warning")
def oven_passes_exceeded(context: BoardContext) -> Iterable[Fault]:
    """A part goes through the oven more often than it bears.

    Parts on both faces are soldered in two passes, and those of the first face are heated again in the second.
    """
    by_machine = {ref for row in context.building.ways if row.way == "machine" for ref in row.refs}
    faces = {led.side for led in context.board.leds if led.ref in by_machine}
    if context.board.placement is not None:
        leds = {led.ref for led in context.board.leds}
        faces |= {row.side for row in context.board.placement.rows if row.ref not in leds and row.side is not None}
    for led, row, limits in _limited(context, way="machine"):
        if limits.reflow_passes is not None and limits.reflow_passes < len(faces):
            yield led_fault(
                led,
                reason=f"{_sheet(row)} allows {limits.reflow_passes} pass through the oven, and parts on both faces"
                f" take {len(faces)}.",
                remedy="Put all machine-placed parts on one face, or have its face soldered last and alone.",
            )


@rule("warning", thresholds=(IRON_TIP_C, IRON_CONTACT_S))
def iron_too_hot(context: BoardContext) -> Iterable[Fault]:
    """A part that is soldered by hand bears a cooler iron, or a shorter touch, than most people use."""
    for led, row, limits in _limited(context, way="hand"):
        tip, contact = limits.iron_tip_c, limits.iron_contact_s
        cool = tip is not None and tip.highest < IRON_TIP_C.value
        short = contact is not None and contact.highest < IRON_CONTACT_S.value
        if cool or short:
            words = [f"a tip of at most {to_number(tip.highest)} deg C"] if tip is not None else []
            words += [f"at most {to_number(contact.highest)} s a joint"] if contact is not None else []
            yield led_fault(
                led,
                reason=f"{_sheet(row)} allows {' and '.join(words)}; usual are {IRON_TIP_C.value:g} deg C and"
                f" {IRON_CONTACT_S.value:g} s.",
                remedy="Set the iron to that, use a tip that is not too fine, and let the part cool between its two"
                " joints.",
            )


@rule("warning", "note")
def moisture_sensitive(context: BoardContext) -> Iterable[Fault]:
    """A part for the oven takes up damp once its bag is open.

    The damp turns to steam in the oven and splits the part, often unseen. A warning where the bag must be used up
    within two days; a note where there is more time, or where the level is not one of the standard's.
    """
    for led, row, limits in _limited(context, way="machine"):
        level = limits.moisture_level
        if level is None:
            continue
        hours = FLOOR_LIFE_H.get(level.lower().removeprefix("msl").strip(), -1)
        if hours is None or hours == FLOOR_LIFE_H["2"]:
            continue
        if hours < 0:
            yield led_fault(
                led,
                severity="note",
                reason=f"{_sheet(row)} states moisture level {level!r}, which is not one of the standard's.",
                remedy=f"Write it as printed on the bag: {', '.join(FLOOR_LIFE_H)}.",
            )
            continue
        life = f"within {hours} hours of opening its bag" if hours else "right after baking"
        yield led_fault(
            led,
            severity="warning" if hours <= SHORT_LIFE_H else "note",
            reason=f"{_sheet(row)} states moisture level {level}: it must be soldered {life}.",
            remedy="Open the bag just before; what has lain longer is baked dry first, as the label on the bag says.",
        )
