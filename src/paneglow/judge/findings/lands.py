"""Rules about the board's own pads under an LED: missing, joined, too short, hanging over, in the lens's way."""

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

from paneglow.assembly import HOLE_STYLES, OVERLAP_LEAST_FRAC, JointFit, LandFit, find_pads, sizes_that_fit
from paneglow.board import PlacedLed
from paneglow.design import Side
from paneglow.judge.findings.parts import by_order_code, refs_of
from paneglow.judge.findings.polarity import misread_refs
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.records import Severity
from paneglow.judge.wording import to_number, to_share

SIDE_OVERHANG_MOST_FRAC = Threshold(
    what="side overhang of a terminal over its pad, as a share of the narrower of the two, classes 1 and 2",
    value=0.5,
    unit="1",
    source="IPC-A-610 F (ballot 2014) and H (2020), quoted in docs/sources.md; end overhang is not permitted",
)
END_JOINT_LEAST_FRAC = Threshold(
    what="width of the joint over the narrower of terminal and pad, classes 1 and 2",
    value=0.5,
    unit="1",
    source="IPC-A-610 F (ballot 2014) and H (2020), quoted in docs/sources.md",
)
OVERLAP_LEAST = Threshold(
    what="length on which a terminal lies on its pad, over the terminal's own",
    value=OVERLAP_LEAST_FRAC,
    unit="1",
    source="chosen; IPC-A-610 asks for overlap at all in every class, from memory",
)
LENS_ON_LAND_MM = Threshold(
    what="length of a lens that may lie over its pad",
    value=0.05,
    unit="mm",
    source="assumed: what a raster of 0.05 mm can tell",
)
OPENING_MARGIN_MM = Threshold(
    what="copper-free margin round an opening without plating, less what the raster cannot tell",
    value=0.13,
    unit="mm",
    source="board makers ask for 0.15 mm (docs/sources.md); 0.02 mm is measuring error",
)

FOREIGN_ROOM_MM = Threshold(
    what="least room between a body and bare copper that is not its own",
    value=0.1,
    unit="mm",
    source="least courtyard of small chip parts, IPC-7351B, from memory",
)


def _fits(context: BoardContext) -> Iterator[tuple[PlacedLed, LandFit]]:
    fit_of = {fit.ref: fit for fit in context.building.fits}
    return ((led, fit_of[led.ref]) for led in context.board.leds if led.ref in fit_of)


T = TypeVar("T")


def _joints(context: BoardContext) -> Iterator[tuple[PlacedLed, LandFit, JointFit]]:
    for led, fit in _fits(context):
        for joint in fit.joints:
            yield led, fit, joint


def _alike(
    found: Iterable[tuple[PlacedLed, T]], *, apart: Callable[[T], Hashable] = lambda _: None
) -> list[list[tuple[PlacedLed, T]]]:
    """What was found at LEDs of one order code and style together, and not once for each of them."""
    groups: dict[Hashable, list[tuple[PlacedLed, T]]] = {}
    for led, one in found:
        groups.setdefault((led.part.code, led.mounting, apart(one)), []).append((led, one))
    return list(groups.values())


def _part(group: Sequence[tuple[PlacedLed, object]]) -> str:
    """Order code and designators in words."""
    return f"{group[0][0].part.code} ({refs_of(dict.fromkeys(led for led, _ in group))})"


def _role(led: PlacedLed, name: str) -> str:
    found = None if led.part.terminals is None else led.part.terminals.named(name)
    return "none" if found is None else found.role


def _terminal(led: PlacedLed, name: str) -> str:
    """Terminal in words: its name and what it connects to."""
    role = _role(led, name)
    return f"terminal {name}" if role == "none" else f"terminal {name} ({role})"


def _severity(context: BoardContext, group: Sequence[tuple[PlacedLed, object]]) -> Severity:
    """Grave for an LED of the placement file; one that the design only puts somewhere may have no pads drawn yet."""
    placed = {ref for one in context.design.led for ref in one.refs}
    return "error" if any(led.ref in placed for led, _ in group) else "warning"


@rule("error", "warning")
def land_missing(context: BoardContext) -> Iterable[Fault]:
    """No exposed copper lies where a terminal is to be soldered.

    The pad was forgotten, lies under solder mask, or the part is not where its pad is. Only a warning for an LED that
    the design puts somewhere by itself: its pads may not be drawn yet.
    """
    misread = misread_refs(context)
    bare = ((led, joint) for led, _, joint in _joints(context) if joint.pad is None and led.ref not in misread)
    for group in _alike(bare, apart=lambda joint: joint.terminal):
        led, joint = group[0]
        other: Side = "front" if led.side == "back" else "back"
        behind = any(pad is not None for pad in find_pads(replace(led, side=other), board=context.board))
        yield led_fault(
            led,
            severity=_severity(context, group),
            reason=f"There is no bare copper under or beside {_terminal(led, joint.terminal)} of {_part(group)}"
            + (f"; there is on the {other}, while this LED is put on the {led.side}." if behind else "."),
            remedy=f"Correct its side in the placement file or the design: its pads are on the {other}."
            if behind
            else "Draw a pad there and open the mask over it, or correct the place or rotation of the LED.",
        )


@rule("error", "warning")
def land_joined(context: BoardContext) -> Iterable[Fault]:
    """Anode and cathode of an LED stand on one piece of bare copper.

    The LED is short-circuited on the board, or both terminals swim on one sheet of solder.
    """
    joined = (
        (led, fit)
        for led, fit in _fits(context)
        if {_role(led, one.terminal) for one in fit.joints if one.pad is not None and one.pad.shared}
        >= {"anode", "cathode"}
    )
    for group in _alike(joined):
        yield led_fault(
            group[0][0],
            severity=_severity(context, group),
            reason=f"Anode and cathode of {_part(group)} stand on one piece of bare copper.",
            remedy="Part the copper between the pads, or close the mask over it.",
        )


@rule("error", "warning", thresholds=(OVERLAP_LEAST,))
def part_misses_lands(context: BoardContext) -> Iterable[Fault]:
    """The terminals of an LED do not lie on the pads that are there for them.

    The pads were drawn for another size of part. Solder may bridge the gap once, and will not on the next board.
    """
    missing = ((led, fit) for led, fit in _fits(context) if any(_misses(led, joint) for joint in fit.joints))
    for group in _alike(missing):
        led, fit = group[0]
        gap_mm = -min(joint.overlap_mm for joint in fit.joints if joint.overlap_mm is not None)
        by = f"lie {to_number(gap_mm)} mm beside" if gap_mm > 0.0 else f"lie on only {to_number(-gap_mm)} mm of"
        yield led_fault(
            led,
            severity=_severity(context, group),
            reason=f"These pads are not for {_part(group)}: its terminals {by} them.",
            remedy=f"Take a part of the size that the pads were drawn for{_would_fit(fit, context)}, or draw pads for"
            " this one.",
        )


def _misses(led: PlacedLed, joint: JointFit) -> bool:
    """Whether a terminal lies on less of its pad than it must; legs and cut-out parts may bridge a gap."""
    if joint.overlap_mm is None or led.mounting in HOLE_STYLES or led.part.terminals is None:
        return False
    terminal = led.part.terminals.named(joint.terminal)
    return (
        terminal is not None
        and joint.workmanship is None
        and joint.overlap_mm < OVERLAP_LEAST.value * terminal.length_mm
        and (joint.toe_mm or 0.0) > 0.0
    )


def _would_fit(fit: LandFit, context: BoardContext) -> str:
    kind = next(led.part.kind for led in context.board.leds if led.ref == fit.ref)
    parts = (part for part in context.catalog.parts.values() if part.kind == kind)
    sizes = sizes_that_fit(fit, parts=parts)
    return f" ({' or '.join(sizes)} would fit)" if sizes else ""


@rule("error", "warning", thresholds=(SIDE_OVERHANG_MOST_FRAC, END_JOINT_LEAST_FRAC))
def land_overhung(context: BoardContext) -> Iterable[Fault]:
    """A terminal hangs over its pad further than workmanship standards allow.

    At its end no overhang is permitted at all; at its sides up to half of the narrower width for ordinary products.
    """
    over = (
        (led, (fit, joint))
        for led, fit, joint in _joints(context)
        if joint.pad is not None and joint.workmanship is None and not _misses(led, joint)
    )
    for group in _alike(over, apart=lambda one: (one[1].terminal, (one[1].toe_mm or 0.0) < 0.0)):
        led, (fit, joint) = group[0]
        worst = min(group, key=lambda one: one[1][1].toe_mm or 0.0)[1][1]
        ends = worst.toe_mm is not None and worst.toe_mm < 0.0
        beyond = f"{to_number(-(worst.toe_mm or 0.0))} mm beyond its outer end" if ends else _sideways(joint)
        terminal = _terminal(led, joint.terminal)
        yield led_fault(
            led,
            severity=_severity(context, group),
            reason=f"{terminal[0].upper()}{terminal[1:]} of {_part(group)} hangs over its pad: {beyond}.",
            remedy=f"Move or widen the pad, or take a part that the pads were drawn for{_would_fit(fit, context)}.",
        )


def _sideways(joint: JointFit) -> str:
    return (
        f"{to_share(joint.side_overhang_frac or 0.0)} of the narrower width to the side, and they meet on"
        f" {to_share(joint.end_joint_frac or 0.0)} of it"
    )


@rule("warning")
def land_short(context: BoardContext) -> Iterable[Fault]:
    """A pad ends too soon for a joint that reaches the least goals of its style.

    Lens-down terminals stand off the board and need a longer pad for their fillet; legs that cross a gap need one that
    reaches beyond it.
    Pads drawn for another style are the usual reason.
    """
    short = (
        (led, fit)
        for led, fit in _fits(context)
        if any(_ends_early(joint) for joint in fit.joints)
        and not any(_ends_early(joint) and (joint.workmanship is None) for joint in fit.joints)
    )
    for group in _alike(short):
        led, fit = group[0]
        least = min(joint.pad.outer_mm for _, one in group for joint in one.joints if joint.pad and _ends_early(joint))
        yield led_fault(
            led,
            reason=f"The pads of {_part(group)} end {to_number(least)} mm from its middle; mounted {led.mounting}, it"
            f" needs at least {to_number(fit.needed_mm or 0.0)} mm.",
            remedy="Draw the pads longer, outward.",
        )


def _ends_early(joint: JointFit) -> bool:
    return joint.pad is not None and joint.density is None


@rule("warning", thresholds=(LENS_ON_LAND_MM,))
def lens_on_land(context: BoardContext) -> Iterable[Fault]:
    """The lens of a lens-down part lies on its pads instead of on the laminate.

    It stands crooked on them, and solder creeps under it.
    """
    for group in _alike(pair for pair in _fits(context) if pair[1].lens_on_land_mm > LENS_ON_LAND_MM.value):
        most = max(fit.lens_on_land_mm for _, fit in group)
        yield led_fault(
            group[0][0],
            reason=f"{to_number(most)} mm of the lens of {_part(group)} lie over a pad.",
            remedy="Draw the pads further apart, so that the lens rests on laminate.",
        )


@rule("warning", thresholds=(OPENING_MARGIN_MM,))
def copper_at_opening(context: BoardContext) -> Iterable[Fault]:
    """Bare copper stands nearer to a hole or slot of an LED than a board maker keeps free.

    It is cut back before the board is made, or tears when the hole is drilled.
    """
    near = [(led, fit.hole_margin_mm) for led, fit in _fits(context) if fit.hole_margin_mm is not None]
    for group in _alike(pair for pair in near if pair[1] < OPENING_MARGIN_MM.value):
        least = max(0.0, min(margin for _, margin in group))
        yield led_fault(
            group[0][0],
            reason=f"Bare copper stands {to_number(least)} mm from the opening that {_part(group)} needs.",
            remedy="Keep copper 0.15 mm or more away from holes and slots without plating.",
        )


@rule("warning", thresholds=(FOREIGN_ROOM_MM,))
def bare_copper_near(context: BoardContext) -> Iterable[Fault]:
    """Bare copper that is not its own lies under or right beside the body of an LED.

    Solder on it lifts the part or joins what must stay apart: a neighbour's pad, a test point, a wide opened mask.
    """
    near = [(led, fit.foreign_mm) for led, fit in _fits(context) if fit.foreign_mm is not None]
    for group in _alike(pair for pair in near if pair[1] < FOREIGN_ROOM_MM.value):
        least = min(room for _, room in group)
        where = "under its body" if least == 0.0 else f"{to_number(least)} mm from its body"
        yield led_fault(
            group[0][0],
            reason=f"Bare copper that takes none of the terminals of {_part(group)} lies {where}.",
            remedy="Move the LED or the copper, or close the mask there.",
        )


@rule("warning")
def ends_without_metal(context: BoardContext) -> Iterable[Fault]:
    """A part is mounted lens down, and its terminals are not told to run up its ends.

    Turned over, its solder face looks away from the board: only metal on the ends can be soldered.
    """
    for leds in by_order_code(led for led in context.board.leds if led.mounting == "lens_down"):
        terminals = leds[0].part.terminals
        if terminals is not None and not terminals.wrap:
            yield led_fault(
                leds[0],
                reason=f"The terminals of {leds[0].part.code} ({refs_of(leds)}), mounted lens down, are not told to run"
                " up its ends.",
                remedy="Look at the part or its drawing: where they do, write wrap = true in its terminals; else take"
                " another part.",
            )
