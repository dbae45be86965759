"""Whether a placement file and the copper share one origin: parts that miss their pads all alike."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.assembly.circuit import CHIP_PREFIXES, lands_of_row, prefix_of
from paneglow.board import Board, CopperNets
from paneglow.design import Side
from paneglow.errors import PlacementError
from paneglow.fab import PlacementRow

LEAST_PARTS = 4  # chosen: fewer parts may fit another way by chance
HOME_SHARE = 0.5  # chosen: where half the parts stand on pads of their own, the rest is a matter of those parts
FITTING_SHARE = 0.8  # chosen: nearly all must fit the other way before it is told
REACH_MM = 12.0  # chosen: origins differ by less than that, or by the board, which is told elsewhere
PADS_APART_MM = 8.0  # as far as two pads of one part are looked for
BIN_MM = 0.2  # shifts this near are one; half of what the middle of a part may lie off its pads

Floats = npt.NDArray[np.float64]


class _Meaning(NamedTuple):
    words: str
    x_sign: int = 1
    y_sign: int = 1
    exchanged: bool = False
    other_face: bool = False


MEANINGS = (
    _Meaning("put on the other face", other_face=True),
    _Meaning("read with x and y exchanged", exchanged=True),
    _Meaning(""),
    _Meaning("mirrored left to right", x_sign=-1),
    _Meaning("mirrored top to bottom", y_sign=-1),
    _Meaning("turned by half", x_sign=-1, y_sign=-1),
)
OTHER_FACE: dict[Side, Side] = {"front": "back", "back": "front"}


def check_registration(board: Board, *, name: str) -> None:
    """Refuse a placement file whose parts miss their pads all alike.

    Parameters
    ----------
    board : Board
        With its nets and placement.
    name : str
        Of the placement file, for the message.

    Raises
    ------
    PlacementError
        Where most two-pad parts stand on no pads as written, and nearly all do once all are moved, mirrored or turned
        together. One line: dozens of findings would say the same of each part.
    """
    if board.placement is None or board.nets is None:
        return
    leds = {led.ref for led in board.leds}
    rows = [row for row in board.placement.rows if row.ref in leds or prefix_of(row.ref) in CHIP_PREFIXES]
    at_home = _share_at_home(rows, nets=board.nets)
    if len(rows) < LEAST_PARTS or at_home >= HOME_SHARE:
        return
    for meaning in MEANINGS:
        turned = [_turned(row, meaning=meaning, bounds_mm=board.maps.outline.bounds) for row in rows]
        shift = _common_shift(turned, nets=board.nets)
        if shift is None:
            continue
        dx, dy = shift
        moved = [replace(row, x_mm=row.x_mm + dx, y_mm=row.y_mm + dy) for row in turned]
        fitting = _share_at_home(moved, nets=board.nets)
        if fitting >= FITTING_SHARE:
            by = f"moved by ({dx:.2f}, {dy:.2f}) mm" if max(abs(dx), abs(dy)) >= BIN_MM / 2 else ""
            raise PlacementError(
                f"{fitting:.0%} of its two-pad parts stand on their pads if all are"
                f" {' and '.join(words for words in (meaning.words, by) if words)}, {at_home:.0%} as written: export it"
                " and the fabrication files with one origin",
                path=name,
            )


def _turned(row: PlacementRow, *, meaning: _Meaning, bounds_mm: tuple[float, float, float, float]) -> PlacementRow:
    """The row as another export of the file would have it."""
    left, low, right, high = bounds_mm
    x_mm, y_mm = (row.y_mm, row.x_mm) if meaning.exchanged else (row.x_mm, row.y_mm)
    side = row.side or "back"
    return replace(
        row,
        x_mm=x_mm if meaning.x_sign > 0 else left + right - x_mm,
        y_mm=y_mm if meaning.y_sign > 0 else low + high - y_mm,
        side=OTHER_FACE[side] if meaning.other_face else side,
    )


def _share_at_home(rows: Sequence[PlacementRow], *, nets: CopperNets) -> float:
    """Share of parts between two pads of their own."""
    return sum(lands_of_row(row, nets=nets) is not None for row in rows) / max(len(rows), 1)


def _common_shift(rows: Sequence[PlacementRow], *, nets: CopperNets) -> tuple[float, float] | None:
    """Shift that brings most parts to the middle between two pads; None where no pads are near."""
    offsets: list[Floats] = []
    sides: tuple[Side, ...] = ("front", "back")
    for side in sides:
        places = np.array([(row.x_mm, row.y_mm) for row in rows if (row.side or "back") == side])
        pads = np.array(
            [(land.polygon.centroid.x, land.polygon.centroid.y) for land in nets.lands if land.side == side]
        )
        if len(places) == 0 or len(pads) < 2:  # noqa: PLR2004 - a pair
            continue
        pairs = scipy.spatial.cKDTree(pads).query_pairs(PADS_APART_MM, output_type="ndarray")
        if len(pairs) == 0:
            continue
        middles = (pads[pairs[:, 0]] + pads[pairs[:, 1]]) / 2
        near = scipy.spatial.cKDTree(middles).query_ball_point(places, REACH_MM)
        for place, indices in zip(places, near, strict=True):
            if indices:
                offsets.append(middles[indices] - place)
    if not offsets:
        return None
    bins, votes = np.unique(
        np.concatenate([np.unique(np.round(off / BIN_MM), axis=0) for off in offsets]), axis=0, return_counts=True
    )
    # Each part votes once for a bin, however many pads lie about it; the smallest of the shifts that most agree on
    best = bins[votes == votes.max()]
    coarse = best[np.argmin(np.hypot(best[:, 0], best[:, 1]))] * BIN_MM
    # Within the bin, as most parts have it
    rest = np.concatenate([off[np.abs(off - coarse).max(axis=1) <= BIN_MM] for off in offsets])
    dx, dy = np.median(rest, axis=0)
    return float(dx), float(dy)
