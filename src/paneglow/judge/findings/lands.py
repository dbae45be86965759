"""Rules about the board's own pads under an LED: missing, joined, too short, hanging over, in the lens's way."""

from collections.abc import Iterable, Iterator

from paneglow.assembly import JointFit, LandFit
from paneglow.board import PlacedLed
from paneglow.judge.findings.parts import by_order_code, refs_of
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.records import Severity
from paneglow.judge.wording import to_number, to_share

SIDE_OVERHANG_MOST_FRAC = Threshold(
    what="side overhang of a terminal over its land, as a share of the narrower of the two, classes 1 and 2",
    value=0.5,
    unit="1",
    source="IPC-A-610 F (ballot 2014) and H (2020), quoted in docs/sources.md; end overhang is not permitted",
)
END_JOINT_LEAST_FRAC = Threshold(
    what="width of the joint over the narrower of terminal and land, classes 1 and 2",
    value=0.5,
    unit="1",
    source="IPC-A-610 F (ballot 2014) and H (2020), quoted in docs/sources.md",
)
LENS_ON_LAND_MM = Threshold(
    what="length of a lens that may lie over its land",
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


def _joints(context: BoardContext) -> Iterator[tuple[PlacedLed, LandFit, JointFit]]:
    for led, fit in _fits(context):
        for joint in fit.joints:
            yield led, fit, joint


def _terminal(led: PlacedLed, name: str) -> str:
    """Terminal in words: its name and what it connects to."""
    found = None if led.part.terminals is None else led.part.terminals.named(name)
    return f"terminal {name}" if found is None or found.role == "none" else f"terminal {name} ({found.role})"


def _severity(context: BoardContext, led: PlacedLed) -> Severity:
    """Grave for an LED of the placement file; one that the design only puts somewhere may have no lands drawn yet."""
    return "error" if any(led.ref in group.refs for group in context.design.led) else "warning"


@rule("error", "warning")
def land_missing(context: BoardContext) -> Iterable[Fault]:
    """No exposed copper lies where a terminal is to be soldered.

    The land was forgotten, lies under solder mask, or the part is not where its land is. Only a warning for an LED that
    the design puts somewhere by itself: its lands may not be drawn yet.
    """
    for led, _, joint in _joints(context):
        if joint.pad is None:
            yield led_fault(
                led,
                severity=_severity(context, led),
                reason=f"There is no bare copper under or beside {_terminal(led, joint.terminal)} of {led.part.code}.",
                remedy="Draw a land there and open the mask over it, or correct the place or rotation of the LED.",
            )


@rule("error", "warning")
def land_joined(context: BoardContext) -> Iterable[Fault]:
    """Anode and cathode of an LED stand on one piece of bare copper.

    The LED is short-circuited on the board, or both terminals swim on one sheet of solder.
    """
    for led, fit in _fits(context):
        shared = [joint for joint in fit.joints if joint.pad is not None and joint.pad.shared]
        if {_role(led, joint.terminal) for joint in shared} >= {"anode", "cathode"}:
            yield led_fault(
                led,
                severity=_severity(context, led),
                reason="Its anode and its cathode stand on one piece of bare copper.",
                remedy="Part the copper between the lands, or close the mask over it.",
            )


def _role(led: PlacedLed, name: str) -> str:
    found = None if led.part.terminals is None else led.part.terminals.named(name)
    return "none" if found is None else found.role


@rule("error", "warning", thresholds=(SIDE_OVERHANG_MOST_FRAC, END_JOINT_LEAST_FRAC))
def land_overhung(context: BoardContext) -> Iterable[Fault]:
    """A terminal hangs over its land further than workmanship standards allow.

    At its end no overhang is permitted at all; at its sides up to half of the narrower width for ordinary products.
    """
    for led, _, joint in _joints(context):
        if joint.pad is None or joint.workmanship is not None or joint.toe_mm is None:
            continue
        ends = joint.toe_mm < 0.0
        beyond = f"{to_number(-joint.toe_mm)} mm beyond its outer end" if ends else _sideways(joint)
        yield led_fault(
            led,
            severity=_severity(context, led),
            reason=f"Its {_terminal(led, joint.terminal)} hangs over its land: {beyond}.",
            remedy="Move or widen the land; the one that fits body and style is drawn by the land pattern of the part.",
        )


def _sideways(joint: JointFit) -> str:
    return (
        f"{to_share(joint.side_overhang_frac or 0.0)} of the narrower width to the side, and they meet on"
        f" {to_share(joint.end_joint_frac or 0.0)} of it"
    )


@rule("warning")
def land_short(context: BoardContext) -> Iterable[Fault]:
    """A land ends too soon for a joint that reaches the least goals of its style.

    Lens-down terminals stand off the board and need land for their fillet; legs that cross a gap need land beyond it.
    Lands drawn for another style are the usual reason.
    """
    for led, fit in _fits(context):
        reached = {joint.terminal: joint.pad.outer_mm for joint in fit.joints if joint.pad is not None}
        short = [joint for joint in fit.joints if joint.terminal in reached and joint.density is None]
        if not short or fit.needed_mm is None or any((joint.toe_mm or 0.0) < 0.0 for joint in short):
            continue
        least = min(reached[joint.terminal] for joint in short)
        yield led_fault(
            led,
            reason=f"Its lands end {to_number(least)} mm from the middle of the part; mounted {led.mounting},"
            f" {led.part.code} needs at least {to_number(fit.needed_mm)} mm.",
            remedy="Draw the lands longer, outward.",
        )


@rule("warning", thresholds=(LENS_ON_LAND_MM,))
def lens_on_land(context: BoardContext) -> Iterable[Fault]:
    """The lens of a lens-down part lies on its lands instead of on the laminate.

    It stands crooked on them, and solder creeps under it.
    """
    for led, fit in _fits(context):
        if fit.lens_on_land_mm > LENS_ON_LAND_MM.value:
            yield led_fault(
                led,
                reason=f"{to_number(fit.lens_on_land_mm)} mm of its lens lie over a land.",
                remedy="Draw the lands further apart, so that the lens rests on laminate.",
            )


@rule("warning", thresholds=(OPENING_MARGIN_MM,))
def copper_at_opening(context: BoardContext) -> Iterable[Fault]:
    """Bare copper stands nearer to a hole or slot of an LED than a board maker keeps free.

    It is cut back before the board is made, or tears when the hole is drilled.
    """
    for led, fit in _fits(context):
        if fit.hole_margin_mm is not None and fit.hole_margin_mm < OPENING_MARGIN_MM.value:
            yield led_fault(
                led,
                reason=f"Bare copper stands {to_number(max(fit.hole_margin_mm, 0.0))} mm from the opening that"
                f" {led.part.code} needs.",
                remedy="Keep copper 0.15 mm or more away from holes and slots without plating.",
            )


@rule("warning", thresholds=(FOREIGN_ROOM_MM,))
def bare_copper_near(context: BoardContext) -> Iterable[Fault]:
    """Bare copper that is not its own lies under or right beside the body of an LED.

    Solder on it lifts the part or joins what must stay apart: a neighbour's land, a test point, a wide opened mask.
    """
    for led, fit in _fits(context):
        if fit.foreign_mm is not None and fit.foreign_mm < FOREIGN_ROOM_MM.value:
            where = "under its body" if fit.foreign_mm == 0.0 else f"{to_number(fit.foreign_mm)} mm from its body"
            yield led_fault(
                led,
                reason=f"Bare copper that takes none of its terminals lies {where}.",
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
