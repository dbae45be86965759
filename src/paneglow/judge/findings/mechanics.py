"""Rules about how parts stand and what they meet: rocking, covers, neighbours, and who builds them."""

from collections.abc import Iterable

from paneglow.assembly import BuildWay, height_of, leg_needed_mm, lift_of, stability_of, tight_pairs
from paneglow.board import PlacedLed
from paneglow.judge.findings.parts import refs_of
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.wording import to_number, to_share
from paneglow.units import Quantity

UNEVEN_FRAC = Threshold(
    what="difference in wetted length of two hand-made joints that a part must stand level against",
    value=0.25,
    unit="1",
    source="assumed 0.15 to 0.4, no source; it agrees with practice: 0603 rocks, 1206 rests (common practice)",
)
COVER_ROOM_MM = Threshold(
    what="least room between a part at its greatest sizes and the cover",
    value=0.5,
    unit="mm",
    source="assumed: a cover gives way and a board warps",
)
TOOL_ROOM_MM = Threshold(
    what="least room between two bodies, or the sum of their least courtyards where that is more",
    value=0.3,
    unit="mm",
    source="assumed 0.2 to 0.5 for tweezers and nozzles; courtyards: IPC-7351B, from memory",
)


@rule("warning", thresholds=(UNEVEN_FRAC,))
def lens_down_unsteady(context: BoardContext) -> Iterable[Fault]:
    """A lens-down part rocks on its lens, or hangs in its solder with nothing under it.

    It ends up tilted, and its light with it. Small packages rock: solder pulls with their width, weight holds with
    their volume.
    """
    groups: dict[tuple[str, float], list[PlacedLed]] = {}
    for led in context.board.leds:
        if led.mounting == "lens_down":
            groups.setdefault((led.part.body.model_dump_json(), lift_of(led)), []).append(led)
    for leds in groups.values():
        stability = stability_of(leds[0].part, gap_mm=lift_of(leds[0]) or None)
        if stability is None or stability.stand == "rests":
            continue
        held = stability.unevenness_held_frac
        reasons = {
            "rocks": f"{refs_of(leds)} rock on their lens: the weight holds them level only while their two joints"
            f" differ by less than {_share_range(held)}; they may tilt by up to"
            f" {to_number(stability.tilt_most_deg)} degrees.",
            "hangs": f"{len(leds)} LEDs ({refs_of(leds)}) hang {to_number(lift_of(leds[0]))} mm above the board, held"
            f" by solder alone; they may tilt by up to {to_number(stability.tilt_most_deg)} degrees.",
        }
        yield led_fault(
            leds[0],
            reason=reasons[stability.stand],
            remedy="Hold each part until both joints are solid, or give it a spacer or a dot of clear glue; larger"
            " packages rest on their lens by themselves.",
        )


def _share_range(share: Quantity) -> str:
    return f"{to_share(share.value)} ({to_share(share.lowest)} to {to_share(share.highest)})"


@rule("error", "warning", thresholds=(COVER_ROOM_MM,))
def part_meets_cover(context: BoardContext) -> Iterable[Fault]:
    """An LED reaches as far back as the cover, or nearly.

    The cover does not close, or it presses on the part and breaks its joints.
    """
    cover = context.design.board.back_cover
    if cover is None:
        return
    for led in context.board.leds:
        found = height_of(led, board=context.board, cover_mm=cover.distance_mm)
        room = cover.distance_mm - found.height_mm
        if room >= COVER_ROOM_MM.value:
            continue
        words = f"{to_number(-room)} mm too far" if room < 0.0 else f"which leaves {to_number(room)} mm"
        yield led_fault(
            led,
            severity="error" if room < 0.0 else "warning",
            reason=f"Mounted {led.mounting} it reaches {to_number(found.height_mm)} mm behind the board at its greatest"
            f" sizes, and the cover stands at {to_number(cover.distance_mm)} mm: {words}.",
            remedy="Set the cover further back, or take a flatter part or style.",
        )


@rule("warning")
def leg_too_short(context: BoardContext) -> Iterable[Fault]:
    """The legs of an LED in a hole end before they reach the end of their pads.

    Bent flat they leave too little to solder.
    """
    for led in context.board.leds:
        terminals = led.part.terminals
        needed = leg_needed_mm(led, board=context.board)
        if needed is None or terminals is None or terminals.leg_mm is None or terminals.leg_mm >= needed:
            continue
        yield led_fault(
            led,
            reason=f"Its legs are {to_number(terminals.leg_mm)} mm long; from the body down to the board and out to the"
            f" end of their pads they need {to_number(needed)} mm.",
            remedy="Do not cut the legs before they are soldered, or take a part with longer ones or a lower body.",
        )


@rule("warning", thresholds=(TOOL_ROOM_MM,))
def parts_too_near(context: BoardContext) -> Iterable[Fault]:
    """Two LEDs stand nearer to each other than their courtyards or a tool allow.

    The second one cannot be placed, or not be taken off again, without moving the first.
    """
    by_ref = {led.ref: led for led in context.board.leds}
    for pair in tight_pairs(context.board.leds):
        yield led_fault(
            by_ref[pair.first],
            reason=f"Its body stands {to_number(pair.distance_mm)} mm from that of {pair.second}; courtyards and tools"
            f" need {to_number(pair.needed_mm)} mm.",
            remedy="Move them apart, or place the inner one first and by hand.",
        )


@rule("note")
def built_by_hand(context: BoardContext) -> Iterable[Fault]:
    """LEDs that no machine places as they are mounted.

    It tells why and how many minutes a board takes: by your own clock once ten boards are timed, by an assumed range
    before.
    """
    ways = [way for way in context.building.ways if way.way == "hand"]
    for style in dict.fromkeys(way.mounting for way in ways):
        alike = [way for way in ways if way.mounting == style]
        refs = [ref for way in alike for ref in way.refs]
        first = next(led for led in context.board.leds if led.ref == refs[0])
        clauses = dict.fromkeys(reason for way in alike for reason in way.reasons)
        yield led_fault(
            first,
            reason=f"{'1 LED' if len(refs) == 1 else f'{len(refs)} LEDs'} mounted {style.replace('_', ' ')}"
            f" {'is' if len(refs) == 1 else 'are'} built by hand: {'; '.join(clauses)}. {_minutes(alike)}.",
            remedy="Time ten boards and write each as [[timing]] in parts/*.toml to replace an assumed range; or choose"
            " a style and a part that a machine places.",
        )


def _minutes(ways: list[BuildWay]) -> str:
    """Minutes per board for LEDs of one style."""
    count, each = sum(len(way.refs) for way in ways), ways[0].minutes_each
    low, high = to_number(count * each.lowest), to_number(count * each.highest)
    origin = f"timed on {ways[0].boards_timed} boards" if ways[0].boards_timed else f"assumed: {each.source}"
    return f"That is {to_number(count * each.value)} minutes a board ({low} to {high}, {origin})"


@rule("note")
def tape_unknown(context: BoardContext) -> Iterable[Fault]:
    """How a part for a machine lies in its tape is not known, or has no evidence.

    Its rotation in the placement file follows from it; makers of one package differ.
    """
    open_ways = [way for way in context.building.ways if way.open_questions]
    for way in open_ways:
        first = next(led for led in context.board.leds if led.ref == way.refs[0])
        yield led_fault(
            first,
            reason=f"{way.open_questions[0][0].upper()}{way.open_questions[0][1:]}.",
            remedy="Read the quadrant of a terminal off the data sheet (EIA-481) and write it as tape in parts/*.toml.",
        )
