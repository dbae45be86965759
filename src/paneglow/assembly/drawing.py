"""Bench drawings: every distinct part in its style as the person who solders it sees it, as SVG.

The view is onto the face of the board that the part is on: for the back, the board turned over left to right. The
picture is turned so that the land of the anode is at the right; where it points on the board stands beside it.
"""

import cmath
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from shapely.geometry import Polygon

from paneglow.assembly.legend import marked_ends
from paneglow.assembly.polarity_records import LedPolarity, Polarity
from paneglow.assembly.seating import Seat, find_seats, terminal_on_board
from paneglow.board import Board, PlacedLed, board_point, is_turned_over
from paneglow.units import Record

PX_PER_MM = 46.0
WIDTH_PX, HEIGHT_PX = 380.0, 250.0  # of a drawing; parts to 5 mm fit at the scale above, larger ones are drawn smaller
ROOM_PX = 62.0  # for labels, on each side
MARK_PX = 9.0  # half size of a mark's sign
SIZE_PX = 13  # of the letters

# Lens faces the board and is out of sight in these, the part itself made so or turned over
FACES_BOARD = frozenset({"lens_down", "reverse", "through_hole", "cutout"})


class BenchDrawing(Record):
    """One drawing: an order code in one style, and where its LEDs point."""

    part: str  # Exact order code
    mounting: str  # Mounting style
    side: str  # Face the LEDs are soldered to
    refs: tuple[str, ...]  # The LEDs drawn so
    title: str  # Part, style and face in words
    notes: tuple[str, ...]  # one sentence each
    svg: str  # The drawing, as SVG text without a style sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """From places on the board, seen from the front, to the paper: pixels, y downward."""

    led: PlacedLed
    turn: complex
    px_per_mm: float

    def place(self, point_mm: tuple[float, float]) -> tuple[float, float]:
        """Paper place of a place on the board."""
        x, y = point_mm[0] - self.led.at_mm[0], point_mm[1] - self.led.at_mm[1]
        seen = complex(-x if self.led.side == "back" else x, y) * self.turn * self.px_per_mm
        return WIDTH_PX / 2 + seen.real, HEIGHT_PX / 2 - 8.0 - seen.imag

    def of_part(self, point_mm: tuple[float, float]) -> tuple[float, float]:
        """Paper place of a point in the part's frame."""
        return self.place(board_point(self.led, point_mm=point_mm))


def build_bench_drawings(board: Board, *, polarity: Polarity) -> tuple[BenchDrawing, ...]:
    """One drawing per order code, style and face, in the order of the design.

    Parameters
    ----------
    board : Board
        With its nets.
    polarity : Polarity
        Of the same board.

    Returns
    -------
    tuple of BenchDrawing
        None for LEDs on a carrier board and for parts that state no terminals.
    """
    if board.nets is None:
        return ()
    told = {one.ref: one for one in polarity.leds}
    groups: dict[tuple[str, str, str], list[PlacedLed]] = {}
    for led in board.soldered.leds:
        if led.ref in told and led.part.terminals is not None and led.mounting != "carrier":
            groups.setdefault((led.part.code, led.mounting, led.side), []).append(led)
    lands = board.nets.lands
    return tuple(
        _drawing(leds, told=[told[led.ref] for led in leds], board=board, seats=find_seats(leds[0], lands=lands))
        for leds in groups.values()
    )


def _drawing(
    leds: Sequence[PlacedLed], *, told: Sequence[LedPolarity], board: Board, seats: Sequence[Seat]
) -> BenchDrawing:
    first = leds[0]
    style = first.mounting.replace("_", " ")
    return BenchDrawing(
        part=first.part.code,
        mounting=first.mounting,
        side=first.side,
        refs=tuple(led.ref for led in leds),
        title=f"{first.part.code}, {style}, seen from the {first.side}",
        notes=tuple(_notes(first, told=told)),
        svg=_svg(first, told=told[0], seats=seats, legend=marked_ends(first, maps=board.maps)),
    )


def _notes(led: PlacedLed, *, told: Sequence[LedPolarity]) -> Iterator[str]:
    directions: dict[str, list[str]] = {}
    for one in told:
        if one.anode_direction:
            directions.setdefault(one.anode_direction, []).append(one.ref)
    for direction, refs in directions.items():
        yield f"Anode at the {direction} on the board: {', '.join(refs)}."
    if not directions:
        yield "Which pad takes the anode is not known: see the findings."
    mark = told[0].mark
    if mark is not None and mark.visible:
        yield f"Its {mark.shape} means the {mark.means}."
    elif mark is not None:
        yield f"Its {mark.shape}, which means the {mark.means}, is underneath once mounted."
        yield told[0].how_to_test
    else:
        yield told[0].how_to_test
    if led.mounting in FACES_BOARD:
        yield "Its lens faces the board."


def _svg(led: PlacedLed, *, told: LedPolarity, seats: Sequence[Seat], legend: Sequence[str]) -> str:
    view = _view_of(led, seats=seats)
    alt = f"{led.part.code} as mounted {led.mounting.replace('_', ' ')}, seen from the {led.side}"
    parts = [
        *_lands(seats, view=view, told=told),
        _outline(_body_corners(led), view=view, kind="body"),
        *_lens(led, view=view),
        *_terminals(led, seats=seats, view=view),
        *_mark(led, view=view, told=told),
        *_legend(seats, view=view, legend=legend),
    ]
    return (
        f'<svg class="bench" viewBox="0 0 {WIDTH_PX:g} {HEIGHT_PX:g}" role="img" aria-label="{escape(alt)}"'
        f' xmlns="http://www.w3.org/2000/svg" font-size="{SIZE_PX}">{"".join(parts)}</svg>'
    )


def _view_of(led: PlacedLed, *, seats: Sequence[Seat]) -> _View:
    """The picture turned so that the part's anode, as it will lie, is at the right."""
    flat = _View(led=led, turn=1 + 0j, px_per_mm=1.0)
    ends = {seat.terminal.role: complex(*flat.place(seat.at_mm)).conjugate() for seat in seats}
    along = ends.get("anode", 1 + 0j) - ends.get("cathode", 0j)
    reach = [complex(*flat.place(corner)) for seat in seats if seat.land for corner in _corners(seat.land.polygon)]
    middle = complex(WIDTH_PX / 2, HEIGHT_PX / 2 - 8.0)
    # Lands that belong to a pour reach far; a drawing shows them as far as it goes
    half_mm = min(max((abs(point - middle) for point in reach), default=0.0), 1.2 * led.part.body.length_mm)
    half_mm = max(half_mm, 0.6 * led.part.body.length_mm, 0.6 * led.part.body.width_mm)
    return _View(
        led=led,
        turn=cmath.rect(1.0, -cmath.phase(along)),
        px_per_mm=min(PX_PER_MM, (WIDTH_PX / 2 - ROOM_PX) / half_mm, (HEIGHT_PX / 2 - 44.0) / (0.5 * half_mm)),
    )


def _corners(polygon: object) -> list[tuple[float, float]]:
    return [(x, y) for x, y in polygon.exterior.coords] if isinstance(polygon, Polygon) else []


def _lands(seats: Sequence[Seat], *, view: _View, told: LedPolarity) -> Iterator[str]:
    for seat in seats:
        if seat.land is None:
            continue
        near = seat.land.polygon.intersection(terminal_on_board(view.led, seat.terminal).buffer(1.6))
        for piece in getattr(near, "geoms", [near]):
            yield _outline(_corners(piece), view=view, kind="land", on_board=True)
        must = _must_be(seat, told=told)
        if must:
            x, y = view.of_part(seat.terminal.at_mm)
            side = 1 if x > WIDTH_PX / 2 else -1
            sign = "+" if must == "anode" else "\N{MINUS SIGN}"
            yield _text(x + side * 74.0, y + 9.0, sign, kind="sign", size=30)


def _must_be(seat: Seat, *, told: LedPolarity) -> str:
    """Electrode that the land under a seat must take; empty where that is not told."""
    if told.anode_mm is None or told.cathode_mm is None or seat.land is None:
        return ""
    centre = (seat.land.polygon.centroid.x, seat.land.polygon.centroid.y)
    return "anode" if math.dist(centre, told.anode_mm) < math.dist(centre, told.cathode_mm) else "cathode"


def _body_corners(led: PlacedLed) -> list[tuple[float, float]]:
    x, y = led.part.body.length_mm / 2, led.part.body.width_mm / 2
    return [(-x, -y), (x, -y), (x, y), (-x, y)]


def _lens(led: PlacedLed, *, view: _View) -> Iterator[str]:
    """Where the light leaves: an ellipse, dashed where it is underneath; an arrow for a side-view part."""
    if led.mounting == "side_view":
        edge = led.part.body.width_mm / 2
        x1, y1 = view.of_part((0.0, edge * 0.3))
        x2, y2 = view.of_part((0.0, edge + 0.75))
        yield f'<path class="light" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>'
        yield f'<circle class="tip" cx="{x2:.1f}" cy="{y2:.1f}" r="4"/>'
        yield _text(x2 + 9.0, y2 + 4.0, "light", kind="label", anchor="start")
        return
    length = led.part.lens_length_mm or led.part.emitter_length_mm
    width = led.part.lens_width_mm or led.part.emitter_width_mm
    across, along = width.value / 2, length.value / 2
    points = [(along * math.cos(step / 24 * math.tau), across * math.sin(step / 24 * math.tau)) for step in range(24)]
    hidden = led.mounting in FACES_BOARD
    yield _outline(points, view=view, kind="lens hidden" if hidden else "lens")
    if not hidden:
        yield _text(WIDTH_PX / 2, HEIGHT_PX / 2 - 4.0, "lens", kind="label")


def _terminals(led: PlacedLed, *, seats: Sequence[Seat], view: _View) -> Iterator[str]:
    lifted = is_turned_over(led.part, mounting=led.mounting)
    for seat in seats:
        yield _outline(
            _corners(terminal_on_board(led, seat.terminal))[:-1],
            view=view,
            kind="terminal" if lifted else "terminal hidden",
            on_board=True,
        )
        x, y = view.place(seat.at_mm)
        below = view.of_part((0.0, 0.0))[1] + led.part.body.width_mm / 2 * view.px_per_mm + 34.0
        yield _text(x, below, f"{seat.terminal.role} {seat.terminal.name}", kind="label")
        yield f'<path class="leader" d="M{x:.1f} {y:.1f}L{x:.1f} {below - 13:.1f}"/>'


def _mark(led: PlacedLed, *, view: _View, told: LedPolarity) -> Iterator[str]:
    mark = led.part.mark
    if mark is None or told.mark is None:
        yield _text(WIDTH_PX / 2, 20.0, "its record states no mark", kind="label")
        return
    x, y = view.of_part(mark.at_mm)
    kind = "mark" if told.mark.visible else "mark hidden"
    yield f'<path class="{kind}" d="{_SIGNS.get(mark.shape, _SQUARE)}" transform="{_turn_of_mark(led, view=view)}"/>'
    above = view.of_part((0.0, 0.0))[1] - led.part.body.width_mm / 2 * view.px_per_mm - 34.0
    yield f'<path class="leader" d="M{x:.1f} {y - 9:.1f}L{x:.1f} {above + 5:.1f}"/>'
    where = "" if told.mark.visible else ", underneath"
    proof = "" if told.mark.verified else ", not verified"
    words = f"{mark.shape} = {told.mark.means}{where}{proof}"
    aside = 0.0 if led.mounting != "side_view" else math.copysign(36.0, x - WIDTH_PX / 2)  # clear of the light's arrow
    yield _text(min(max(x + aside, 90.0), WIDTH_PX - 90.0), above, words, kind="label")


def _turn_of_mark(led: PlacedLed, *, view: _View) -> str:
    """Where a mark's sign goes and how it is turned, as the part will lie; seen from the other face it is mirrored.

    A record says where a mark is and what it means, not how its shape is turned: signs point at the terminal they mean.
    """
    mark, terminals = led.part.mark, led.part.terminals
    assert mark is not None
    terminal = None if terminals is None else terminals.named(mark.terminal)
    toward = -1.0 if terminal is not None and terminal.at_mm[0] < 0.0 else 1.0
    (x0, y0), (x1, y1), (x2, y2) = (view.of_part(point) for point in ((0.0, 0.0), (toward, 0.0), (0.0, -1.0)))
    scale = math.hypot(x1 - x0, y1 - y0)
    turn = " ".join(f"{value / scale:.3f}" for value in (x1 - x0, y1 - y0, x2 - x0, y2 - y0))
    x, y = view.of_part(mark.at_mm)
    return f"matrix({turn} {x:.1f} {y:.1f})"


def _legend(seats: Sequence[Seat], *, view: _View, legend: Sequence[str]) -> Iterator[str]:
    """The bar of the legend, beyond the land it marks."""
    for seat in seats:
        if seat.terminal.name in legend:
            x, _ = view.place(seat.at_mm)
            beyond = x + math.copysign(58.0, x - WIDTH_PX / 2)
            y = view.of_part((0.0, 0.0))[1]
            yield f'<path class="ink" d="M{beyond:.1f} {y - 22:.1f}V{y + 22:.1f}"/>'


def _outline(points: Sequence[tuple[float, float]], *, view: _View, kind: str, on_board: bool = False) -> str:
    to_paper = view.place if on_board else view.of_part
    path = "L".join("{:.1f} {:.1f}".format(*to_paper(point)) for point in points)
    return f'<path class="{kind}" d="M{path}Z"/>' if path else ""


def _text(x: float, y: float, words: str, *, kind: str, size: int | None = None, anchor: str = "middle") -> str:
    sized = "" if size is None else f' font-size="{size}"'
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{sized}>{escape(words)}</text>'


_SQUARE = f"M{-MARK_PX} {-MARK_PX}H{MARK_PX}V{MARK_PX}H{-MARK_PX}Z"
_SIGNS: Mapping[str, str] = {
    "dot": f"M{-MARK_PX * 0.7:.1f} 0a{MARK_PX * 0.7:.1f} {MARK_PX * 0.7:.1f} 0 1 0 {MARK_PX * 1.4:.1f} 0"
    f"a{MARK_PX * 0.7:.1f} {MARK_PX * 0.7:.1f} 0 1 0 {-MARK_PX * 1.4:.1f} 0Z",
    "stripe": f"M-3 {-2 * MARK_PX}H3V{2 * MARK_PX}H-3Z",
    "triangle": f"M{-MARK_PX} {-MARK_PX}L{MARK_PX} 0L{-MARK_PX} {MARK_PX}Z",
    "tee": f"M{-MARK_PX} {-MARK_PX}H{MARK_PX}V-4H3V{MARK_PX}H-3V-4H{-MARK_PX}Z",
    "chamfer": f"M{-MARK_PX} {MARK_PX}V{-MARK_PX}H{MARK_PX}Z",
}
