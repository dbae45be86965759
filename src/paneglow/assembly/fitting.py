"""How well the board's own pads take a part: joints against their goals, overhangs, lens room, margins of holes."""

from collections.abc import Iterable
from typing import Literal

from shapely.geometry import Polygon, box

from paneglow.assembly.goals import COPPER_FREE_MARGIN_MM, FILLET_REACH, Density
from paneglow.assembly.lands import HOLE_STYLES, LandPattern, build_land
from paneglow.assembly.pads import FoundPad, exposed_copper, find_copper
from paneglow.board import Board, PlacedLed
from paneglow.catalog import Part, Terminal
from paneglow.design import Mounting
from paneglow.units import FiniteFloat, NonNegativeFloat, Record

WorkmanshipClass = Literal[1, 2, 3]

# IPC-A-610 chip parts (revision F ballot of 2014, H of 2020, as quoted in docs/sources.md): side overhang as a share of
# the terminal's or the land's width, whichever is less; end overhang is not permitted in any class
SIDE_OVERHANG_MOST: dict[WorkmanshipClass, float] = {1: 0.50, 2: 0.50, 3: 0.25}
# A terminal must lie on its land at all (end overlap, IPC-A-610, from memory); the share is ours
OVERLAP_LEAST_FRAC = 0.25
END_JOINT_LEAST: dict[WorkmanshipClass, float] = {1: 0.50, 2: 0.50, 3: 0.75}
DENSITIES: tuple[Density, ...] = ("most", "nominal", "least")
# Of an edge with a trace or a rounded corner at it, on a raster up to this fine; the pitch of a coarser one
MEASURE_ERROR_MM = 0.05
OFF_BOARD_STYLES: tuple[Mounting, ...] = ("carrier",)  # soldered to another board, whose pads are not among these files


class JointFit(Record):
    """One terminal on the board's own pad."""

    terminal: str  # name of the terminal
    pad: FoundPad | None  # None where no exposed copper takes it
    toe_mm: FiniteFloat | None  # pad beyond the terminal's outer end
    overlap_mm: FiniteFloat | None  # length on which pad and terminal meet along the part; below 0 the gap between them
    side_overhang_frac: NonNegativeFloat | None  # of the lesser of the two widths
    end_joint_frac: NonNegativeFloat | None  # width on which pad and terminal meet, over the lesser of the two widths
    workmanship: WorkmanshipClass | None  # strictest class whose overhang limits hold; None where none does
    density: Density | None  # densest goals the outer edge reaches; None below the least


class LandFit(Record):
    """The board's own pads under one placed LED, against its footprint."""

    ref: str  # Designator of the LED
    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    joints: tuple[JointFit, ...]  # one per terminal, in the order of the part
    needed_mm: FiniteFloat | None  # least outer edge, at the favourable end of what is assumed
    lens_on_land_mm: NonNegativeFloat  # how far a lens that should rest on laminate lies over a pad
    hole_margin_mm: FiniteFloat | None  # least copper-free margin found round its opening
    foreign_mm: NonNegativeFloat | None  # from its body to the nearest bare copper that is not its own; None beyond it


def fit_land(led: PlacedLed, *, board: Board) -> LandFit | None:
    """Measure the board's pads under a placed LED against the land pattern of its part and style.

    Returns
    -------
    LandFit or None
        None where nothing can be compared: the part states no terminals, or is soldered to another board.
    """
    terminals = led.part.terminals
    if terminals is None or led.mounting in OFF_BOARD_STYLES:
        return None
    found, strangers = find_copper(led, board=board)
    lands = {density: _land(led, density=density) for density in DENSITIES}
    legs = led.mounting in HOLE_STYLES  # a leg, or solder, crosses from the terminal to a land farther out
    error_mm = MEASURE_ERROR_MM if board.nets is not None else max(MEASURE_ERROR_MM, board.maps.grid.pitch_mm)
    return LandFit(
        ref=led.ref,
        part=led.part.code,
        mounting=led.mounting,
        joints=tuple(
            _joint(terminal, pad, edges=_outer_edges(lands, terminal=terminal.name), error_mm=error_mm, legs=legs)
            for terminal, pad in zip(terminals.pads, found, strict=True)
        ),
        needed_mm=min(_outer_edges(lands, terminal=pad.name)["least"] for pad in terminals.pads),
        lens_on_land_mm=_lens_on_land_mm(led, found),
        hole_margin_mm=_hole_margin_mm(led, lands["nominal"], board=board),
        foreign_mm=_foreign_mm(led, strangers=strangers),
    )


def sizes_that_fit(fit: LandFit, *, parts: Iterable[Part]) -> tuple[str, ...]:
    """Case sizes of parts that would reach their least goals on lands that were measured, by their usual names.

    Parameters
    ----------
    fit : LandFit
        Lands under a part that does not belong there.
    parts : iterable of Part
        Those that may be taken instead.
    """
    pads = [joint.pad for joint in fit.joints if joint.pad is not None]
    found: dict[str, None] = {}
    for part in parts:
        size = case_size(part)
        if size is None or part.terminals is None or len(part.terminals.pads) != len(pads) or not pads:
            continue
        least = build_land(part, mounting=fit.mounting, density="least")
        joints = [
            _joint(terminal, pad, edges=_outer_edges({"least": least}, terminal=terminal.name),
                   error_mm=MEASURE_ERROR_MM, legs=False)
            for terminal, pad in zip(part.terminals.pads, pads, strict=True)
        ]  # fmt: skip
        if all(joint.workmanship is not None and joint.density is not None for joint in joints):
            found[size] = None
    return tuple(found)


def case_size(part: Part) -> str | None:
    """Name of the case that a body has, such as 0805; None for another.

    Examples
    --------
    >>> from paneglow.catalog import read_catalog
    >>> case_size(read_catalog().parts["tv-0805-green"])
    '0805'
    """
    sizes = (part.body.length_mm, part.body.width_mm)
    return next(
        (name for name, case in CASE_MM.items() if max(abs(a - b) for a, b in zip(sizes, case, strict=True)) < 0.11),
        None,
    )


# Length and width of chip cases, named in hundredths of an inch
CASE_MM = {
    "0201": (0.6, 0.3),
    "0402": (1.0, 0.5),
    "0603": (1.6, 0.8),
    "0805": (2.0, 1.25),
    "1206": (3.2, 1.6),
    "1210": (3.2, 2.5),
}


def _land(led: PlacedLed, *, density: Density) -> LandPattern:
    return build_land(led.part, mounting=led.mounting, gap_mm=led.gap_mm, density=density)


def _outer_edges(lands: dict[Density, LandPattern], *, terminal: str) -> dict[Density, float]:
    """Outer edge each density asks for [mm]; the least at the favourable end of the assumed fillet."""
    edges: dict[Density, float] = {}
    for density, land in lands.items():
        pad = next(pad for pad in land.pads if pad.terminal == terminal)
        edges[density] = abs(pad.at_mm[0]) + pad.length_mm / 2
    spare = (FILLET_REACH.value - FILLET_REACH.lowest) * lands["least"].standoff_mm
    edges["least"] -= spare
    return edges


def _joint(
    terminal: Terminal, pad: FoundPad | None, *, edges: dict[Density, float], error_mm: float, legs: bool
) -> JointFit:
    if pad is None:
        return JointFit(
            terminal=terminal.name,
            pad=None,
            toe_mm=None,
            overlap_mm=None,
            side_overhang_frac=None,
            end_joint_frac=None,
            workmanship=None,
            density=None,
        )
    half = terminal.length_mm / 2
    toe = pad.outer_mm - (abs(terminal.at_mm[0]) + half)
    low, high = terminal.at_mm[1] - terminal.width_mm / 2, terminal.at_mm[1] + terminal.width_mm / 2
    lesser = min(terminal.width_mm, pad.width_mm)
    overhang = max(0.0, pad.low_mm - low, high - pad.high_mm) / lesser
    met = max(0.0, min(high, pad.high_mm) - max(low, pad.low_mm)) / lesser
    begin, end = abs(terminal.at_mm[0]) - half, abs(terminal.at_mm[0]) + half
    overlap_mm = min(end, pad.outer_mm) - max(begin, pad.inner_mm)
    lies = legs or overlap_mm >= OVERLAP_LEAST_FRAC * terminal.length_mm - error_mm
    return JointFit(
        terminal=terminal.name,
        pad=pad,
        toe_mm=toe,
        overlap_mm=overlap_mm,
        side_overhang_frac=overhang,
        end_joint_frac=met,
        workmanship=_class_of(overhang, met, toe_mm=toe + error_mm) if lies else None,
        density=next((density for density, edge in edges.items() if lies and pad.outer_mm >= edge - error_mm), None),
    )


def _class_of(overhang: float, met: float, *, toe_mm: float) -> WorkmanshipClass | None:
    """Strictest workmanship class whose overhang and joint width limits hold."""
    if toe_mm < 0.0:  # end overhang is not permitted
        return None
    classes: tuple[WorkmanshipClass, ...] = (3, 2)
    return next(
        (one for one in classes if overhang <= SIDE_OVERHANG_MOST[one] and met >= END_JOINT_LEAST[one]),
        None,
    )


def _lens_on_land_mm(led: PlacedLed, found: tuple[FoundPad | None, ...]) -> float:
    """Length of the lens, on its worse side, that lies over a pad it should stand beside."""
    lens = led.part.lens_length_mm
    if led.mounting != "lens_down" or lens is None or led.gap_mm:
        return 0.0  # a lens that stands off on purpose touches neither laminate nor pad
    inner = min((pad.inner_mm for pad in found if pad is not None), default=lens.value)
    return max(0.0, lens.value / 2 - inner)


def _hole_margin_mm(led: PlacedLed, land: LandPattern, *, board: Board) -> float | None:
    """Least distance from the opening's rim to copper left bare about it [mm]; None where none is near."""
    opening = land.opening
    if opening is None:
        return None
    shape = opening_outline(land)
    reach = max(opening.length_mm, opening.width_mm) + 2 * COPPER_FREE_MARGIN_MM
    # Copper the drill itself cuts away stands on the drawing all the same: distance 0
    pieces = exposed_copper(led, board=board, reach_mm=reach)
    return min((float(shape.distance(piece)) for piece in pieces), default=None)


def _foreign_mm(led: PlacedLed, *, strangers: tuple[Polygon, ...]) -> float | None:
    """Distance from the body to the nearest bare copper that takes none of its terminals [mm]; None where none is near.

    Solder of a neighbour's land, a bare fiducial or a test point that comes under a body lifts or shorts it.
    """
    half_length, half_width = led.part.body.length_mm / 2, led.part.body.width_mm / 2
    body = box(-half_length, -half_width, half_length, half_width)
    return min((float(body.distance(piece)) for piece in strangers), default=None)


def opening_outline(land: LandPattern) -> Polygon:
    """Outline of the opening in the part's frame, its inside corners rounded [mm]."""
    opening = land.opening
    if opening is None:
        return Polygon()
    half_length, half_width, radius = opening.length_mm / 2, opening.width_mm / 2, opening.corner_radius_mm
    core = box(radius - half_length, radius - half_width, half_length - radius, half_width - radius)
    # A drilled hole has no straight side left: its core is a point
    rounded: Polygon = (core if core.area > 0.0 else core.centroid).buffer(radius, quad_segs=32)
    return rounded
