"""LEDs of a board that nobody has described: found by the words, pads and places of the placement file."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
import shapely
from shapely.geometry import Point

from paneglow.board import Board, Window
from paneglow.catalog import Catalog, Colour, Part
from paneglow.design import Mounting, Side
from paneglow.fab import PlacementRow

COLOURS: tuple[Colour, ...] = get_args(Colour)
# Names of chip cases in hundredths of an inch, and of the same in tenths of a millimetre; common practice, no source
CASE_OF_WORD = {
    "0402": "0402", "0603": "0603", "0805": "0805", "1206": "1206",
    "1005": "0402", "1608": "0603", "2012": "0805", "3216": "1206",
}  # fmt: skip
# Between the middles of two pads for which a case is drawn [mm]: body less one terminal; common practice, no source
PAD_PITCH_MM = {"0402": 1.0, "0603": 1.6, "0805": 1.9, "1206": 3.1}
# How a part is mounted that is made for one style; a chip may lie either way
KIND_MOUNTED: dict[str, Mounting] = {
    "side_view": "side_view", "reverse": "reverse", "cutout": "cutout", "through_hole": "through_hole",
}  # fmt: skip
LED_WORDS = frozenset({"LED", "LEDS", "RGB", "RGBW"})
SIDE_WORDS = frozenset({"SIDE", "SIDEVIEW", "SIDELED", "RIGHTANGLE"})
LED_PREFIXES = frozenset({"LED", "RGB"})
# Displays, infrared senders and chips have LEDs in their names, and light no window; common practice, no source
NO_LIGHT_WORDS = frozenset({"OLED", "IR", "INFRARED", "PHOTO", "DISPLAY", "DRIVER"})
OTHER_PREFIXES = frozenset({"U", "IC", "J", "R", "C", "SW", "Q", "BT"})
UNDER_MM = 0.5  # chosen: an LED whose middle is this near to a window stands over it
BESIDE_MM = 8.0  # chosen: light along the back is a tenth of its start by then on assumed laminate
PADS_WITHIN_MM = 5.0  # chosen: pads of one LED end within it
HOLE_SHARE = 0.8  # chosen: of a disc of `UNDER_MM` about an LED's middle; a via covers less
MIRRORED_MM = 0.3  # chosen: how far a pad may lie from the mirror image of another about the middle of their part
LEAST_PROPOSED_MM2 = 2.0  # chosen: a window smaller than this gets no LED of its own proposed


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLed:
    """One LED, and what made it one."""

    ref: str | None  # designator in the placement file; None where none is there and it is proposed
    at_mm: tuple[float, float]  # place (x, y) on the board, seen from the front
    side: Side  # face it is soldered to
    words: str  # value and package as the placement file words them
    part: Part | None  # where its value is an order code of the catalogue
    colour: Colour | None  # where its words say it
    size: str  # case, such as 0805
    pads: int  # copper pads about it; 0 where it is proposed
    mounting: Mounting  # mounting style, as its place suggests
    window: str | None  # window that it can light; None where no window is near
    why_led: str  # what makes it an LED
    why_mounted: str  # what its mounting style was read from
    why_size: str  # what its size was read from

    @property
    def lights(self) -> bool:
        """Whether its light can cross the board: by a window, or by the hole it sits in."""
        return self.window is not None or self.mounting in ("cutout", "through_hole")


def find_leds(board: Board, *, catalog: Catalog) -> tuple[FoundLed, ...]:
    """LEDs among the rows of the placement file.

    Parameters
    ----------
    board : Board
        With its windows, nets and placement; no LED placed.
    catalog : Catalog
        A value that is an order code names the part.

    Returns
    -------
    tuple of FoundLed
        In the order of the file. A row is an LED where its reference, value or package says so.
    """
    rows = () if board.placement is None else board.placement.rows
    pads = _pads_of(rows, board=board)
    found: list[FoundLed] = []
    for row in rows:
        part = catalog.parts.get(row.value)
        why = _why_led(row) if part is None else f"its value is the order code {part.code}"
        if why is not None:
            found.append(_found(row, part=part, why=why, pads=pads.get(row.ref, []), board=board))
    return tuple(found)


def is_led(row: PlacementRow) -> bool:
    """Whether the reference, value or package of a row says LED."""
    return _why_led(row) is not None


def count_seated(board: Board) -> tuple[int, int]:
    """Rows of the placement file in whose middle a part could sit, and rows that could be looked at.

    The land nearest to the middle of nearly every part has another across, as far away on the other side. Of six
    published boards, at least nine in ten rows have it with their own placement file, and none to one in seven with
    that of another board.
    """
    rows = () if board.placement is None else board.placement.rows
    lands = () if board.nets is None else board.nets.lands
    seated = counted = 0
    for side in ("front", "back"):
        own = [Point(row.x_mm, row.y_mm) for row in rows if (row.side or "back") == side]
        middles = [land.polygon.centroid for land in lands if land.side == side]
        if not own or not middles:
            continue
        tree = shapely.STRtree(middles)
        nearest = [middles[index] for index in tree.nearest(own)]
        across = [Point(2 * at.x - land.x, 2 * at.y - land.y) for at, land in zip(own, nearest, strict=True)]
        counted += len(own)
        seated += len(np.unique(tree.query(across, predicate="dwithin", distance=MIRRORED_MM)[0]))
    return seated, counted


def propose_leds(board: Board) -> tuple[FoundLed, ...]:
    """One LED behind the middle of every window that is large enough, where no file says where LEDs are.

    Artwork, bare on one face, gets them only where the board has no window that is open on both.
    """
    large = [window for window in board.survey.windows if window.area_mm2 >= LEAST_PROPOSED_MM2]
    of_use = {use: [window for window in large if window.use == use] for use in ("window", "artwork")}
    return tuple(
        FoundLed(
            ref=None,
            at_mm=(round(window.centre_mm[0], 2), round(window.centre_mm[1], 2)),
            side="back",
            words="",
            part=None,
            colour=None,
            size="0805",
            pads=0,
            mounting="lens_down",
            window=window.name,
            why_led=f"proposed behind the middle of {window.name}; no file says where LEDs are",
            why_mounted="proposed",
            why_size="proposed",
        )
        for window in of_use["window"] or of_use["artwork"]
    )


def _words(row: PlacementRow) -> list[str]:
    return re.findall(r"[A-Z]+", f"{row.value} {row.package}".upper())


def _why_led(row: PlacementRow) -> str | None:
    """What of a row says that it is an LED; None where nothing does."""
    words, prefix = set(_words(row)), re.match(r"[A-Za-z]*", row.ref)
    letters = prefix[0].upper() if prefix else ""
    if words & NO_LIGHT_WORDS or letters in OTHER_PREFIXES:
        return None
    if letters in LED_PREFIXES:
        return f"its reference begins with {letters}"
    if words & LED_WORDS or any(word.endswith("SIDELED") for word in words):
        return f"its value or package says LED ({_told(row)})"
    if letters == "D" and any(word.lower() in COLOURS for word in words):
        return f"a D whose value is a colour ({_told(row)})"
    if letters == "D" and words & SIDE_WORDS:
        return f"a D whose value says that it shines sideways ({_told(row)})"
    return None


def _told(row: PlacementRow) -> str:
    return " ".join(word for word in (row.value, row.package) if word)


def _pads_of(rows: Sequence[PlacementRow], *, board: Board) -> dict[str, list[Point]]:
    """Middles of the pads that belong to each row: those nearer to it than to any other part of its face."""
    found: dict[str, list[Point]] = {}
    if board.nets is None:
        return found
    for side in ("front", "back"):
        own = [row for row in rows if (row.side or "back") == side]
        if not own:
            continue
        tree = shapely.STRtree([Point(row.x_mm, row.y_mm) for row in own])
        for land in board.nets.lands:
            if land.side != side or not land.is_pad:
                continue
            middle = land.polygon.centroid
            row = own[int(tree.nearest(middle))]
            if middle.distance(Point(row.x_mm, row.y_mm)) <= PADS_WITHIN_MM:
                found.setdefault(row.ref, []).append(middle)
    return found


def _found(row: PlacementRow, *, part: Part | None, why: str, pads: Sequence[Point], board: Board) -> FoundLed:
    at_mm = (round(row.x_mm, 4), round(row.y_mm, 4))
    side: Side = row.side or "back"
    window, away_mm = _nearest(board.survey.windows, at_mm=at_mm)
    mounting, why_mounted = _mounting(row, side=side, window=window, away_mm=away_mm, board=board)
    if part is not None and part.kind in KIND_MOUNTED:
        mounting, why_mounted = KIND_MOUNTED[part.kind], f"{part.code} is made for it"
    size, why_size = _size(row, pads=pads)
    colours = [word.lower() for word in _words(row) if word.lower() in COLOURS]
    return FoundLed(
        ref=row.ref,
        at_mm=at_mm,
        side=side,
        words=_told(row),
        part=part,
        colour=part.colour if part is not None else colours[0] if len(set(colours)) == 1 else None,  # type: ignore[arg-type]  # is one of COLOURS
        size=size,
        pads=len(pads),
        mounting=mounting,
        window=None if window is None or away_mm > BESIDE_MM else window.name,
        why_led=why,
        why_mounted=why_mounted,
        why_size=why_size,
    )


def _nearest(windows: Iterable[Window], *, at_mm: tuple[float, float]) -> tuple[Window | None, float]:
    """The window an LED can light, and how far it is: one that was meant before rings and gaps that lie nearer."""
    point = Point(at_mm)
    meant = [window for window in windows if window.use != "clearance"] or list(windows)
    away = [(float(window.polygon.distance(point)), index, window) for index, window in enumerate(meant)]
    if not away:
        return None, np.inf
    away_mm, _, window = min(away)
    return window, away_mm


def _mounting(
    row: PlacementRow, *, side: Side, window: Window | None, away_mm: float, board: Board
) -> tuple[Mounting, str]:
    """Mounting style that the place of an LED suggests, and why."""
    name = "" if window is None else window.name
    if set(_words(row)) & SIDE_WORDS and away_mm <= BESIDE_MM:
        return "side_view", f"its words say that it shines sideways, and {name} begins {away_mm:.1f} mm from its middle"
    if _is_over_hole((row.x_mm, row.y_mm), board=board):
        if any(_case_words(row)):
            return "lens_down", "a chip over a hole or cut-out, its pads beside it; a reverse part would fit as well"
        return "cutout", "a hole or cut-out lies under its middle"
    if away_mm <= UNDER_MM:
        return "lens_down", f"it stands over {name}; a reverse part would stand there as well"
    if away_mm <= BESIDE_MM and side == "back":
        return "side_view", f"{name} begins {away_mm:.1f} mm from its middle, so only light along the back reaches it"
    return "top_view", "no window is near: its light does not cross the board"


def _is_over_hole(at_mm: tuple[float, float], *, board: Board) -> bool:
    grid = board.maps.grid
    x, y = grid.x_centres_mm() - at_mm[0], grid.y_centres_mm() - at_mm[1]
    columns, rows = np.flatnonzero(np.abs(x) <= UNDER_MM), np.flatnonzero(np.abs(y) <= UNDER_MM)
    if rows.size == 0 or columns.size == 0:
        return False
    near = x[columns][None, :] ** 2 + y[rows][:, None] ** 2 <= UNDER_MM**2
    return bool(near.any() and 1.0 - board.maps.inside[np.ix_(rows, columns)][near].mean() > HOLE_SHARE)


def _size(row: PlacementRow, *, pads: Sequence[Point]) -> tuple[str, str]:
    """Case of an LED: from its words, else from the distance of its two pads."""
    words = list(_case_words(row))
    if words:
        return CASE_OF_WORD[words[0]], f"{words[0]} stands in its package"
    if len(pads) == 2:  # noqa: PLR2004 - the two terminals of a chip LED
        pitch_mm = float(pads[0].distance(pads[1]))
        size = min(PAD_PITCH_MM, key=lambda case: abs(PAD_PITCH_MM[case] - pitch_mm))
        return size, f"its two pads are {pitch_mm:.2f} mm apart"
    return "0805", "nothing says its size: assumed"


def _case_words(row: PlacementRow) -> Iterator[str]:
    text = f"{row.package} {row.value}"
    found = re.findall(r"(?<!\d)(\d{4})(?!\d)", text)
    # Both names often stand side by side: 0603 of the inch system comes first, 1608 says that it is meant so
    yield from (word for word in found if word in CASE_OF_WORD)
