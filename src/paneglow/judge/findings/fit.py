"""Rules about whether an LED can be put where it is and run as asked: style, holes, outline, bodies, current."""

import itertools
from collections.abc import Iterable

from paneglow.assembly import HOLE_STYLES, hole_room_mm
from paneglow.board import PlacedLed
from paneglow.design import Mounting
from paneglow.judge.findings.rule import (
    CLOSE_STYLES,
    COVER_MAX_FRAC,
    LIGHT,
    SHAPE,
    BoardContext,
    Fault,
    Threshold,
    led_fault,
    rule,
)
from paneglow.judge.geometry import body_outline, covered_frac, lens_outline
from paneglow.judge.wording import to_number, to_share

OVERLAP_MIN_MM2 = Threshold(
    what="overlap of two bodies, or overhang over the outline, from which it counts",
    value=0.01,
    unit="mm2",
    source="assumed: rounding of places to 0.01 mm on bodies of about 1 mm",
)

BOARD_STYLES: tuple[Mounting, ...] = (*CLOSE_STYLES, "side_view")  # need laminate where they sit

FITTING_KINDS: dict[Mounting, tuple[str, ...]] = {
    "lens_down": ("chip",),
    "reverse": ("reverse",),
    "through_hole": ("through_hole", "reverse", "cutout"),
    "cutout": ("cutout", "through_hole"),
    "side_view": ("side_view",),
    "carrier": ("chip", "reverse", "cutout", "through_hole"),
    "top_view": ("chip",),
}


@rule("warning")
def mounting_does_not_fit_part(context: BoardContext) -> Iterable[Fault]:
    """A part is mounted in a style that its kind is not made for.

    A top-view part does not shine along the board, and a side-view part does not shine into it.
    """
    for led in context.board.leds:
        fitting = FITTING_KINDS[led.mounting]
        if led.part.kind not in fitting:
            yield led_fault(
                led,
                reason=f"It is a {led.part.kind} part ({led.part.code}), mounted {led.mounting}.",
                remedy=f"Take a part of kind {' or '.join(fitting)}, or change the mounting.",
            )


@rule("error", bears_on=LIGHT)
def top_view_without_cover(context: BoardContext) -> Iterable[Fault]:
    """A top-view LED faces away from the board and no cover returns its light.

    Nothing of it reaches the windows.
    """
    if context.design.board.back_cover is not None:
        return
    for led in context.board.leds:
        if led.mounting == "top_view":
            yield led_fault(
                led,
                reason="It faces away from the board, and the design has no back cover that returns its light.",
                remedy="Describe the cover in [board.back_cover], or choose another mounting.",
            )


def _laminate_in_hole(led: PlacedLed, context: BoardContext, *, room_mm: float = 0.0) -> float:
    """Share of what a lens or body needs that laminate fills; 0 for a style without a hole."""
    if led.mounting not in HOLE_STYLES:
        return 0.0
    maps = context.board.maps
    return covered_frac(maps.inside, polygon=lens_outline(led, room_mm=room_mm), grid=maps.grid)


def _needs(led: PlacedLed) -> str:
    """Size of the lens or body in words."""
    x_min, y_min, x_max, y_max = lens_outline(led).bounds
    return f"the {to_number(x_max - x_min)} x {to_number(y_max - y_min)} mm its lens or body needs"


@rule("error", thresholds=(COVER_MAX_FRAC,), bears_on=LIGHT)
def hole_missing(context: BoardContext) -> Iterable[Fault]:
    """A part that shines through a hole or a cut-out has laminate in its way.

    Either the hole is missing at that place, or it is smaller than the lens or body that must go in.
    """
    for led in context.board.leds:
        laminate = _laminate_in_hole(led, context)
        if laminate > COVER_MAX_FRAC.value:
            yield led_fault(
                led,
                reason=f"It is mounted {led.mounting}, but laminate fills {to_share(laminate)} of {_needs(led)}.",
                remedy="Add or widen the hole there (drill file or outline), or choose another mounting.",
            )


@rule("warning", thresholds=(COVER_MAX_FRAC,))
def hole_too_tight(context: BoardContext) -> Iterable[Fault]:
    """A hole takes the lens of a part at its nominal size, but not at the greatest that its tolerance allows.

    Some parts of the reel will not go in.
    """
    for led in context.board.leds:
        room_mm = hole_room_mm(led.part)
        tight = _laminate_in_hole(led, context, room_mm=room_mm) > COVER_MAX_FRAC.value
        if tight and _laminate_in_hole(led, context) <= COVER_MAX_FRAC.value:
            yield led_fault(
                led,
                reason=f"The hole leaves no room beyond {_needs(led)}; the part may be {to_number(room_mm)} mm larger.",
                remedy=f"Widen the hole by {to_number(room_mm)} mm.",
            )


@rule("warning", thresholds=(COVER_MAX_FRAC,))
def opening_plated(context: BoardContext) -> Iterable[Fault]:
    """The hole that a lens or body goes into is plated.

    Plating makes it smaller than drilled, takes up solder, and joins copper of all layers round it.
    """
    maps = context.board.maps
    for led in context.board.leds:
        if led.mounting not in HOLE_STYLES:
            continue
        plated = covered_frac(maps.plated_holes, polygon=lens_outline(led), grid=maps.grid)
        if plated > COVER_MAX_FRAC.value:
            yield led_fault(
                led,
                reason=f"Plated holes take {to_share(plated)} of {_needs(led)}.",
                remedy="Move the hole to the drill file of unplated holes, and keep copper 0.15 mm away from it.",
            )


@rule("warning", thresholds=(COVER_MAX_FRAC,), bears_on=SHAPE)
def led_over_hole(context: BoardContext) -> Iterable[Fault]:
    """An LED that needs laminate sits over a hole or a cut-out.

    Its light leaves through the hole undiffused, or the part has nothing to stand on.
    """
    maps = context.board.maps
    for led in context.board.leds:
        if led.mounting not in BOARD_STYLES:
            continue
        # The share of the inside of the outline: an overhang over the rim has its own rule
        outline = covered_frac(maps.outline_inside, polygon=body_outline(led), grid=maps.grid)
        laminate = covered_frac(maps.inside, polygon=body_outline(led), grid=maps.grid)
        missing = outline - laminate
        if missing > COVER_MAX_FRAC.value:
            yield led_fault(
                led,
                reason=f"It is mounted {led.mounting}, but {to_share(missing)} of its body lies over a hole.",
                remedy="Move it off the hole, or mount it through_hole.",
            )


@rule("error", thresholds=(OVERLAP_MIN_MM2,))
def led_over_outline(context: BoardContext) -> Iterable[Fault]:
    """The body of an LED hangs over the outline of the board.

    It is cut off, knocked off or not placed at all when boards are separated from a panel.
    """
    outline = context.board.maps.outline
    for led in context.board.leds:
        if led.mounting in (*HOLE_STYLES, "carrier"):
            continue
        body = body_outline(led)
        overhang_mm2 = body.difference(outline).area
        if overhang_mm2 > OVERLAP_MIN_MM2.value:
            yield led_fault(
                led,
                reason=f"{to_number(overhang_mm2)} mm2 of its body ({to_share(overhang_mm2 / body.area)})"
                " hangs over the outline.",
                remedy="Move it inward.",
            )


@rule("error", thresholds=(OVERLAP_MIN_MM2,))
def leds_overlap(context: BoardContext) -> Iterable[Fault]:
    """The bodies of two LEDs take the same place on the same face.

    Only one of them can be placed; often one place was typed twice.
    """
    for first, second in itertools.combinations(context.board.leds, 2):
        apart = first.side != second.side or (first.mounting == "carrier") != (second.mounting == "carrier")
        overlap_mm2 = 0.0 if apart else body_outline(first).intersection(body_outline(second)).area
        if overlap_mm2 > OVERLAP_MIN_MM2.value:
            yield led_fault(
                first,
                reason=f"Its body and that of {second.ref} share {to_number(overlap_mm2)} mm2.",
                remedy="Move one of them.",
            )


@rule("error", "warning")
def current_above_limit(context: BoardContext) -> Iterable[Fault]:
    """An LED carries more than its greatest continuous current.

    It ages fast or dies; the light computed for it is not to be trusted either.
    """
    for led in context.lit:
        limit = led.part.current_max_ma
        if led.ref not in context.solved_refs and led.current_ma > limit.lowest:
            yield led_fault(
                led,
                severity="error" if led.current_ma > limit.highest else "warning",
                reason=f"{to_number(led.current_ma)} mA is {to_number(led.current_ma - limit.lowest)} mA above the"
                f" {to_number(limit.lowest)} mA that {led.part.code} allows ({limit.origin}: {limit.source}).",
                remedy="Lower current_ma, or share the light between two LEDs.",
            )
