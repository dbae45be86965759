"""The bench sheet: a page of its own that one can solder from, printed or on a screen beside the board.

The board is drawn as the person at the bench sees the face that is soldered: the back turned over left to right.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.ops import nearest_points

from paneglow.assembly import Building, BuildWay, LedPolarity, Polarity, body_on_board
from paneglow.board import Board, PlacedLed
from paneglow.design import Mounting, Side
from paneglow.report.numbers import to_refs_text

MARGIN_MM = 2.0  # of paper round the board
POLE_MM, LABEL_MM = 1.4, 1.5  # height of a sign and of a designator, at the scale of the board
# Colours of parts as a printer or a screen can show them; a part of another word is drawn grey
PART_COLOURS = {
    "red": "#d93a32",
    "orange": "#ee7d2b",
    "amber": "#f2b134",
    "yellow": "#f0d43a",
    "green": "#3fa45b",
    "blue": "#3d6fd9",
    "white": "#f4f2ea",
    "warm-white": "#f6e3b4",
    "pink": "#e58ab5",
    "purple": "#8d5bc9",
}
OTHER_COLOUR = "#b5b8bf"
# What lies flat first, what stands up last: an iron then reaches every joint
ORDER: tuple[Mounting, ...] = ("side_view", "top_view", "reverse", "lens_down", "cutout", "through_hole", "carrier")
CAUTIONS = (
    "Solder fume is a leading cause of occupational asthma: use fume extraction, and wash your hands before you eat.",
    "The iron and fresh joints burn; hot glue leaves its gun at 120 to 190 deg C.",
    "Green, blue and white LEDs are damaged by static charge: earth yourself.",
    "Test with little current and do not look into a bright LED close up.",
    "Put no cell in before everything is checked. Keep button cells away from children: a swallowed one can burn"
    " through the gullet within two hours; seek emergency help at once.",
    "Local rules and qualified advice come first.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchGroup:
    """LEDs of one reel that are put on in one way, ready to print."""

    number: int
    part: str
    colour: str
    swatch: str
    style: str
    side: Side
    built: str
    heat: str
    refs: tuple[str, ...]
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSheet:
    """Everything on the sheet."""

    name: str
    groups: tuple[BenchGroup, ...]
    faces: tuple[tuple[str, Markup], ...]  # title and drawing of every face with LEDs
    leds: int
    open_refs: str  # LEDs of which nothing tells which land takes the anode
    cautions: tuple[str, ...]


def build_bench_sheet(board: Board, *, polarity: Polarity, building: Building) -> BenchSheet:
    """The sheet of a board.

    Parameters
    ----------
    board : Board
    polarity : Polarity
        Which land takes the anode of every LED, and where its mark shows.
    building : Building
        Who builds what.
    """
    board = board.soldered  # a body of several dice is one part to solder
    told = {one.ref: one for one in polarity.leds}
    placed = {led.ref: led for led in board.leds}
    rows = sorted(building.ways, key=lambda row: (row.way != "machine", ORDER.index(row.mounting)))
    sides: list[Side] = [side for side in ("back", "front") if any(led.side == side for led in board.leds)]
    return BenchSheet(
        name=board.name,
        groups=tuple(
            _group(number, row, leds=[placed[ref] for ref in row.refs], told=told)
            for number, row in enumerate(rows, start=1)
        ),
        faces=tuple((_FACE_TITLES[side], _face(board, side=side, told=told, rows=rows)) for side in sides),
        leds=len(board.leds),
        open_refs=to_refs_text([one.ref for one in polarity.leds if one.anode_mm is None]),
        cautions=CAUTIONS,
    )


_FACE_TITLES: dict[Side, str] = {
    "back": "The back, as you see it: the board turned over left to right",
    "front": "The front",
}


def _group(number: int, row: BuildWay, *, leds: Sequence[PlacedLed], told: dict[str, LedPolarity]) -> BenchGroup:
    part = leds[0].part
    one = told.get(row.refs[0])
    directions: dict[str, list[str]] = {}
    for led in leds:
        shown = told[led.ref].mark if led.ref in told else None
        if shown is not None and shown.visible:
            directions.setdefault(shown.direction, []).append(led.ref)
    mark = "no mark is known"
    if one is not None and one.mark is not None:
        where = "; ".join(f"{word}: {to_refs_text(refs)}" for word, refs in directions.items())
        mark = f"{one.mark.shape} = {one.mark.means}" + (f", shows {where}" if where else ", underneath once mounted")
        mark += "" if one.mark.verified else " (not verified)"
    return BenchGroup(
        number=number,
        part=row.part,
        colour=part.colour,
        swatch=PART_COLOURS.get(part.colour, OTHER_COLOUR),
        style=row.mounting.replace("_", " "),
        side=leds[0].side,
        built=f"by {row.way}",
        heat=row.heat,
        refs=row.refs,
        mark=mark,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    """From the board to the paper [mm], y downward, seen on one face."""

    left_mm: float
    top_mm: float
    mirrored: bool

    def place(self, point: tuple[float, float]) -> tuple[float, float]:
        """Place on the paper."""
        x = self.left_mm - point[0] if self.mirrored else point[0] - self.left_mm
        return x + MARGIN_MM, self.top_mm - point[1] + MARGIN_MM

    def path(self, ring: Sequence[tuple[float, float]]) -> str:
        """Closed path through places of the board."""
        return "M" + "L".join("{:.2f} {:.2f}".format(*self.place(point)) for point in ring) + "Z"


def _face(board: Board, *, side: Side, told: dict[str, LedPolarity], rows: Sequence[BuildWay]) -> Markup:
    x_min, y_min, x_max, y_max = board.maps.outline.bounds
    paper = _Paper(left_mm=x_max if side == "back" else x_min, top_mm=y_max, mirrored=side == "back")
    width, height = x_max - x_min + 2 * MARGIN_MM, y_max - y_min + 2 * MARGIN_MM
    number_of = {ref: number for number, row in enumerate(rows, start=1) for ref in row.refs}
    leds = [led for led in board.leds if led.side == side]
    drawn = [f'<path class="board" fill-rule="evenodd" d="{"".join(_rings(board.maps.outline, paper=paper))}"/>']
    taken = [_body(led, paper=paper).buffer(1.3 * POLE_MM) for led in leds]
    for led in leds:
        drawn.extend(_led(led, told=told.get(led.ref), paper=paper))
    for led in leds:
        words = f"{led.ref} ({number_of.get(led.ref, 0)})"
        room = _free_room(_body(led, paper=paper), words=words, taken=taken)
        taken.append(room)
        (x1, y1), (x2, y2) = (point.coords[0] for point in nearest_points(room, _body(led, paper=paper).centroid))
        drawn.append(f'<path class="leader" d="M{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}"/>')
        x, y = room.centroid.x, room.bounds[3] - 0.25 * LABEL_MM
        drawn.append(f'<text class="ref" x="{x:.2f}" y="{y:.2f}" font-size="{LABEL_MM:g}">{escape(words)}</text>')
    label = f"{board.name}, seen from the {side}: {len(leds)} LEDs with the pads of anode and cathode"
    return Markup(
        f'<svg viewBox="0 0 {width:.2f} {height:.2f}" style="max-width:{2.6 * width:.0f}mm" role="img"'
        f' aria-label="{escape(label)}" xmlns="http://www.w3.org/2000/svg">{"".join(drawn)}</svg>'
    )


def _rings(outline: MultiPolygon, *, paper: _Paper) -> Iterator[str]:
    for piece in outline.geoms:
        for ring in (piece.exterior, *piece.interiors):
            yield paper.path([(x, y) for x, y in ring.coords])


def _body(led: PlacedLed, *, paper: _Paper) -> Polygon:
    """Outline of a body on the paper."""
    return Polygon([paper.place((x, y)) for x, y in body_on_board(led).exterior.coords])


def _led(led: PlacedLed, *, told: LedPolarity | None, paper: _Paper) -> Iterator[str]:
    """Body in the part's colour, a sign on each land, and the mark where it shows."""
    swatch = PART_COLOURS.get(led.part.colour, OTHER_COLOUR)
    ring = "L".join(f"{x:.2f} {y:.2f}" for x, y in _body(led, paper=paper).exterior.coords)
    yield f'<path class="part" fill="{swatch}" d="M{ring}Z"/>'
    signs = {"?": led.at_mm}
    if told is not None and told.anode_mm is not None and told.cathode_mm is not None:
        signs = {"+": _beyond(told.anode_mm, led=led), "\N{MINUS SIGN}": _beyond(told.cathode_mm, led=led)}
    for sign, point in signs.items():
        x, y = paper.place(point)
        yield f'<circle class="pole" cx="{x:.2f}" cy="{y:.2f}" r="{POLE_MM / 2:g}"/>'
        yield f'<text class="sign" x="{x:.2f}" y="{y + 0.36 * POLE_MM:.2f}" font-size="{POLE_MM:g}">{sign}</text>'
    if told is not None and told.mark is not None and told.mark.visible:
        x, y = paper.place(told.mark.at_mm)
        yield f'<circle class="mark" cx="{x:.2f}" cy="{y:.2f}" r="{0.26 * POLE_MM:.2f}"/>'


def _beyond(land: tuple[float, float], *, led: PlacedLed) -> tuple[float, float]:
    """A place on a land, clear of the body, for its sign."""
    x, y = land[0] - led.at_mm[0], land[1] - led.at_mm[1]
    reach = math.hypot(x, y) or 1.0
    out = max(reach, led.part.body.length_mm / 2 + 0.6 * POLE_MM)
    return led.at_mm[0] + x / reach * out, led.at_mm[1] + y / reach * out


def _free_room(body: Polygon, *, words: str, taken: Sequence[Polygon]) -> Polygon:
    """Room for a designator about its body: the nearest that covers least of what is drawn already."""
    width, height = 0.62 * LABEL_MM * len(words), LABEL_MM
    x_min, y_min, x_max, y_max = body.bounds
    x, y, gap = body.centroid.x, body.centroid.y, 0.3
    rooms = []
    for out in (0.0, 1.2, 2.4, 3.6):
        for dx, dy in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)):
            at_x = x + dx * ((x_max - x_min + width) / 2 + gap + out)
            at_y = y + dy * ((y_max - y_min + height) / 2 + gap + out)
            rooms.append(box(at_x - width / 2, at_y - height / 2, at_x + width / 2, at_y + height / 2))

    def covered(room: Polygon) -> tuple[float, float]:
        # Its way to the middle of the body counts too: a leader is drawn along it
        way = LineString([room.centroid, body.centroid]).difference(body.buffer(POLE_MM))
        return round(sum(room.intersection(one).area + way.intersection(one).length for one in taken), 2), way.length

    return min(rooms, key=covered)
