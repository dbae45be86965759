"""Land pattern of a part as mounted: pads, hole or slot, courtyard, generated from its body and style.

Everything lies in the part's own frame (see `paneglow.catalog`): x along the terminals, origin at the body's centre.
A part turned over about its long axis keeps that x, so lens-down lands use the same frame.
"""

import math
from collections.abc import Callable, Iterable
from typing import Literal

from paneglow.assembly.goals import (
    BODY_TOLERANCE_MM,
    COPPER_FREE_MARGIN_MM,
    CORNER_RADIUS_LEAST_MM,
    CUTTER_LEAST_MM,
    CUTTER_MOST_MM,
    FABRICATION_TOLERANCE_MM,
    FILLET_REACH,
    GAP_LANDING_MM,
    HOLE_TOLERANCE_MM,
    LEG_LANDING_MM,
    LENS_RISE_FRAC,
    PLACING_TOLERANCE_MM,
    ROUT_TOLERANCE_MM,
    Density,
    JointGoals,
    joint_goals,
)
from paneglow.catalog import Part, Terminal, Terminals
from paneglow.design import Mounting
from paneglow.errors import CatalogError
from paneglow.units import NonNegativeFloat, PointMm, PositiveFloat, Record

ROUND_ENOUGH_MM = 0.01  # sides of a lens this alike ask for a drilled hole
HOLE_STYLES: tuple[Mounting, ...] = ("through_hole", "cutout")


class LandPad(Record):
    """One pad of a footprint."""

    terminal: str  # name of the terminal it takes
    at_mm: PointMm  # Centre (x, y), from the middle of the part
    length_mm: PositiveFloat  # along the part
    width_mm: PositiveFloat  # across the part


class LandOpening(Record):
    """Hole or slot, without plating, that the lens or body goes into."""

    shape: Literal["drilled hole", "routed slot"]  # how it is made
    length_mm: PositiveFloat  # Length along the part
    width_mm: PositiveFloat  # Width across the part
    corner_radius_mm: NonNegativeFloat  # inside corner left by the cutter; half the diameter of a drilled hole
    cutter_mm: PositiveFloat  # drill, or largest cutter that leaves this corner
    copper_free_mm: PositiveFloat  # least copper-free margin round it
    tolerance_mm: PositiveFloat  # each of its sizes may differ by this much


class LandPattern(Record):
    """Footprint of one part in one mounting style."""

    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    density: Density  # joint goals taken
    pads: tuple[LandPad, ...]  # one per terminal, in the order of the part
    opening: LandOpening | None  # hole or slot the style needs
    standoff_mm: NonNegativeFloat  # height of the terminals above their pads
    courtyard_mm: tuple[PositiveFloat, PositiveFloat]  # length and width of the room it takes
    goals: JointGoals  # Solder that should show, and the room round the part
    notes: tuple[str, ...]  # What else to know before it is drawn


def build_land(
    part: Part, *, mounting: Mounting, gap_mm: float | None = None, density: Density = "nominal"
) -> LandPattern:
    """Land pattern of a part in a style.

    Parameters
    ----------
    part : Part
        With its terminals.
    mounting : Mounting
        The style; a carrier's part lies on the carrier board like a top-view part.
    gap_mm : float, optional
        Lens to laminate where the design states it, at least 0 [mm]: it lifts a lens-down part further.
    density : {"most", "nominal", "least"}
        Joint goals taken.

    Returns
    -------
    LandPattern
        In the part's frame.

    Raises
    ------
    CatalogError
        Where the part states no terminals, or its opening cannot be made with any cutter.

    Notes
    -----
    Outer edges: Z = Lmin + 2 JT + sqrt(CL^2 + F^2 + P^2); inner edges G = Smax - 2 JH - sqrt(CS^2 + F^2 + P^2) with
    S = L - 2 T and its tolerance taken as root of squares; widths X = Wmin + 2 JS + sqrt(CW^2 + F^2 + P^2). C are
    tolerance spans of the part, F and P those of board and placing.

    References
    ----------
    IPC-7351B, section 3.1, formulas from memory; goals in `assembly.goals`.
    """
    terminals = _terminals_of(part)
    goals = joint_goals(body_length_mm=part.body.length_mm, density=density)
    plain = _Pads(pads=tuple(_plain_pad(part, pad, terminals=terminals, goals=goals) for pad in terminals.pads))
    drawn = _BY_MOUNTING[mounting](part, plain, gap_mm)
    return LandPattern(
        part=part.code,
        mounting=mounting,
        density=density,
        pads=drawn.pads,
        opening=drawn.opening,
        standoff_mm=drawn.standoff_mm,
        courtyard_mm=_courtyard(part, drawn.pads, goals=goals),
        goals=goals,
        notes=drawn.notes,
    )


def lens_rise_mm(part: Part) -> tuple[float, float, float]:
    """Least, nominal and greatest height of the lens above the terminals of a chip LED [mm]."""
    told = part.lens_height_mm
    if told is not None:
        return told.lowest, told.value, told.highest
    height = part.body.height_mm
    return LENS_RISE_FRAC.lowest * height, LENS_RISE_FRAC.value * height, LENS_RISE_FRAC.highest * height


def body_tolerance_mm(part: Part) -> float:
    """Tolerance of the body's sizes: the stated one, or the usual one [mm]."""
    return BODY_TOLERANCE_MM if part.body.tolerance_mm is None else part.body.tolerance_mm


def hole_room_mm(part: Part) -> float:
    """By how much the lens or body that goes into a hole may be larger than its nominal size [mm].

    The range of an assumed lens says how little is known of it, not how its maker makes it: the usual tolerance then.
    """
    lens = part.lens_length_mm
    if lens is None:
        return body_tolerance_mm(part)
    known = lens.origin != "assumed" and lens.highest > lens.value
    return lens.highest - lens.value if known else BODY_TOLERANCE_MM


class _Pads(Record):
    """Pads on their way through the styles."""

    pads: tuple[LandPad, ...]
    opening: LandOpening | None = None
    standoff_mm: NonNegativeFloat = 0.0
    notes: tuple[str, ...] = ()


def _terminals_of(part: Part) -> Terminals:
    if part.terminals is None:
        raise CatalogError(
            f"part {part.code}: states no terminals, so that no pad can be drawn; add [part.terminals] from its data"
            " sheet (paneglow parts new asks for them)"
        )
    return part.terminals


def _root(*spans_mm: float) -> float:
    return math.sqrt(sum(span * span for span in spans_mm))


def _plain_pad(part: Part, pad: Terminal, *, terminals: Terminals, goals: JointGoals) -> LandPad:
    """Pad of a terminal that lies flat on its land, by the formulas of `build_land`."""
    body_span = 2.0 * body_tolerance_mm(part)
    metal_span = 2.0 * (terminals.tolerance_mm or 0.0)
    board = (FABRICATION_TOLERANCE_MM, PLACING_TOLERANCE_MM)
    width = pad.width_mm - body_span / 2 + 2 * goals.side_mm + _root(body_span, *board)
    if abs(pad.at_mm[0]) <= pad.length_mm / 2:  # on the middle line: it has no outer end
        length = pad.length_mm + 2 * goals.side_mm
        return LandPad(terminal=pad.name, at_mm=pad.at_mm, length_mm=length, width_mm=width)
    reach, inner = abs(pad.at_mm[0]) + pad.length_mm / 2, abs(pad.at_mm[0]) - pad.length_mm / 2
    outer_edge = reach - body_span / 4 + goals.toe_mm + _root(body_span, *board) / 2
    gap_span, gap_span_root = body_span + 2 * metal_span, _root(body_span, metal_span, metal_span)
    widest_inner = inner + gap_span / 4 - (gap_span - gap_span_root) / 4
    inner_edge = max(0.0, widest_inner - goals.heel_mm - _root(gap_span_root, *board) / 2)
    return _between(pad.name, inner_edge, outer_edge, like=(pad.at_mm, width))


def _between(terminal: str, inner_edge: float, outer_edge: float, *, like: tuple[PointMm, float]) -> LandPad:
    """Pad from an inner to an outer edge, on the side of the middle where the terminal is."""
    (x, y), width = like
    middle = math.copysign((inner_edge + outer_edge) / 2, x)
    return LandPad(terminal=terminal, at_mm=(middle, y), length_mm=outer_edge - inner_edge, width_mm=width)


def _edges(pad: LandPad) -> tuple[float, float]:
    """Distance of the inner and outer edge of a pad from the middle [mm]."""
    return abs(pad.at_mm[0]) - pad.length_mm / 2, abs(pad.at_mm[0]) + pad.length_mm / 2


def _flat(part: Part, plain: _Pads, gap_mm: float | None) -> _Pads:  # noqa: ARG001 - one signature for every style
    return plain


def _lens_down(part: Part, plain: _Pads, gap_mm: float | None) -> _Pads:
    """Pads reach out as far as the fillet of the lifted terminal runs, and leave the lens its place on the laminate."""
    _, rise_mm, _ = lens_rise_mm(part)
    standoff_mm = rise_mm + (gap_mm or 0.0)
    run_mm = FILLET_REACH.value * standoff_mm
    lens_half_mm = _lens_half_mm(part)
    notes = [f"terminals stand {standoff_mm:.2f} mm above their pads; {run_mm:.2f} mm of pad is for the fillet"]
    if part.terminals is not None and not part.terminals.wrap:
        notes.append("the terminals are not told to run up the ends: lens down, there may be no metal to solder to")
    pads = []
    for pad in plain.pads:
        inner, outer = _edges(pad)
        inner = max(inner, lens_half_mm + PLACING_TOLERANCE_MM)
        pads.append(_between(pad.terminal, inner, outer + run_mm, like=(pad.at_mm, pad.width_mm)))
    return plain.model_copy(update={"pads": tuple(pads), "standoff_mm": standoff_mm, "notes": tuple(notes)})


def _lens_half_mm(part: Part) -> float:
    return 0.0 if part.lens_length_mm is None else part.lens_length_mm.highest / 2


def _cutout(part: Part, plain: _Pads, gap_mm: float | None) -> _Pads:  # noqa: ARG001
    """Pads keep the copper-free margin of the opening; where the terminal ends before them, they grow longer."""
    opening = _opening(part)
    notes, pads = [], []
    for pad, terminal in zip(plain.pads, _terminals_of(part).pads, strict=True):
        inner, outer = _edges(pad)
        least = opening.length_mm / 2 + opening.copper_free_mm + opening.tolerance_mm
        gap = least - (abs(terminal.at_mm[0]) + terminal.length_mm / 2)
        if gap > 0.0:
            outer = max(outer, least + GAP_LANDING_MM.value)
            notes.append(f"terminal {terminal.name} ends {gap:.2f} mm before its pad: a leg or solder crosses that gap")
        pads.append(_between(pad.terminal, max(inner, least), outer, like=(pad.at_mm, pad.width_mm)))
    return _Pads(pads=tuple(pads), opening=opening, notes=tuple(notes))


def _through_hole(part: Part, plain: _Pads, gap_mm: float | None) -> _Pads:
    """Legs are bent flat and outward onto pads beyond the hole's margin; a part without legs bridges the margin."""
    if _terminals_of(part).leg_mm is None:
        return _cutout(part, plain, gap_mm)
    opening = _opening(part)
    pads = []
    for pad, terminal in zip(plain.pads, _terminals_of(part).pads, strict=True):
        # The leg leaves the body at its own place and needs a bend of about its thickness
        bend = abs(terminal.at_mm[0]) + terminal.length_mm
        inner = max(opening.length_mm / 2 + opening.copper_free_mm + opening.tolerance_mm, bend)
        pads.append(_between(pad.terminal, inner, inner + LEG_LANDING_MM.value, like=(pad.at_mm, pad.width_mm)))
    return _Pads(pads=tuple(pads), opening=opening, notes=("legs are bent outward by hand and soldered flat",))


def _opening(part: Part) -> LandOpening:
    """Hole or slot for the lens, or for the body where the part states no lens."""
    length = part.body.length_mm if part.lens_length_mm is None else part.lens_length_mm.value
    width = part.body.width_mm if part.lens_width_mm is None else part.lens_width_mm.value
    if abs(length - width) <= ROUND_ENOUGH_MM:
        drill_mm = length + hole_room_mm(part)  # the largest lens of the reel still goes in
        return LandOpening(
            shape="drilled hole",
            length_mm=drill_mm,
            width_mm=drill_mm,
            corner_radius_mm=drill_mm / 2,
            cutter_mm=drill_mm,
            copper_free_mm=COPPER_FREE_MARGIN_MM,
            tolerance_mm=HOLE_TOLERANCE_MM,
        )
    cutter = min(CUTTER_MOST_MM, max(CUTTER_LEAST_MM, 2 * CORNER_RADIUS_LEAST_MM))
    # A square corner only enters a round one when the slot is larger by r (1 - 1/sqrt 2) on each side
    relief = cutter / 2 * (1.0 - math.sqrt(0.5))
    if min(length, width) + 2 * relief < cutter:
        raise CatalogError(
            f"part {part.code}: a slot of {length:g} x {width:g} mm is narrower than the smallest cutter,"
            f" {CUTTER_LEAST_MM:g} mm; take another mounting"
        )
    return LandOpening(
        shape="routed slot",
        length_mm=length + 2 * relief,
        width_mm=width + 2 * relief,
        corner_radius_mm=cutter / 2,
        cutter_mm=cutter,
        copper_free_mm=COPPER_FREE_MARGIN_MM,
        tolerance_mm=ROUT_TOLERANCE_MM,
    )


def _courtyard(part: Part, pads: Iterable[LandPad], *, goals: JointGoals) -> tuple[float, float]:
    half_length = max([part.body.length_mm / 2, *(_edges(pad)[1] for pad in pads)])
    half_width = max([part.body.width_mm / 2, *(abs(pad.at_mm[1]) + pad.width_mm / 2 for pad in pads)])
    return 2 * (half_length + goals.courtyard_mm), 2 * (half_width + goals.courtyard_mm)


_BY_MOUNTING: dict[Mounting, Callable[[Part, _Pads, float | None], _Pads]] = {
    "lens_down": _lens_down,
    "reverse": _flat,
    "through_hole": _through_hole,
    "cutout": _cutout,
    "side_view": _flat,
    "carrier": _flat,
    "top_view": _flat,
}
