"""Whether placement rows lie on the board: the same origin, unit and sense of y as the fabrication files."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import shapely
from shapely.geometry import MultiPolygon

from paneglow.errors import PlacementError
from paneglow.fab import PlacementRow

FITTING_SHARE = 0.9  # chosen: connectors and test points may stand over the edge, hardly one part in ten
STRAY_SHARE = 0.1  # chosen: fewer rows than this on the board means another origin, unit or sense of y
EDGE_MM = 1.0  # chosen: centres of edge connectors lie up to about this far outside

# How else the numbers could have been meant: factor on both, and sign of y; factors are ratios of mm, inch and mil
UNIT_FACTORS = {
    "inch read as mm": 25.4,
    "mm read as inch": 1 / 25.4,
    "mil read as mm": 0.0254,
    "mm read as mil": 1 / 0.0254,
    "mil read as inch": 0.001,
    "inch read as mil": 1000.0,
}


class _Meaning(NamedTuple):
    words: str
    factor: float
    y_sign: int


def fit_placement(
    rows: Sequence[PlacementRow], *, outline: MultiPolygon, path: str
) -> tuple[tuple[PlacementRow, ...], tuple[str, ...]]:
    """Rows in the frame of the outline, and what was done to them.

    Parameters
    ----------
    rows : sequence of PlacementRow
        As read.
    outline : MultiPolygon
        Boards of the set, from the fabrication files [mm].
    path : str
        Name of the placement file, for messages.

    Returns
    -------
    rows : tuple of PlacementRow
        The same, or with y negated where nothing else puts the parts on the board.
    notes : tuple of str
        One sentence where y was negated.

    Raises
    ------
    PlacementError
        Where nearly all parts lie off the board: another unit, an ambiguous fit or another origin.
    """
    if _share_on(rows, outline=outline, meaning=_Meaning("as written", 1.0, 1)) > STRAY_SHARE:
        return tuple(rows), ()
    meanings = [_Meaning("y negated", 1.0, -1)]
    meanings += [_Meaning(words, factor, sign) for words, factor in UNIT_FACTORS.items() for sign in (1, -1)]
    fitting = [meaning for meaning in meanings if _share_on(rows, outline=outline, meaning=meaning) >= FITTING_SHARE]
    if [meaning.factor for meaning in fitting] == [1.0]:
        negated = tuple(replace(row, y_mm=-row.y_mm) for row in rows)
        return negated, (f"{path}: y is negated, since only so do the parts lie on the board",)
    if fitting and fitting[0].factor != 1.0 and len({meaning.factor for meaning in fitting}) == 1:
        raise PlacementError(
            f"its parts lie on the board only with {fitting[0].words}: set placement_unit in [board] of the design "
            "to the unit of the file, or write the unit into its header",
            path=path,
        )
    if fitting:
        words = ", ".join(meaning.words for meaning in fitting)
        raise PlacementError(f"its parts fit the board in several ways ({words}): export it again in mm", path=path)
    raise PlacementError(
        f"its parts lie at {_box_words(_bounds(rows))}, the board at {_box_words(outline.bounds)}: export both with "
        "one origin",
        path=path,
    )


def _share_on(rows: Sequence[PlacementRow], *, outline: MultiPolygon, meaning: _Meaning) -> float:
    """Share of the rows that lie on the filled boards, or just beside them."""
    filled = shapely.union_all([shapely.Polygon(piece.exterior) for piece in outline.geoms]).buffer(EDGE_MM)
    x = [row.x_mm * meaning.factor for row in rows]
    y = [row.y_mm * meaning.factor * meaning.y_sign for row in rows]
    return float(shapely.contains_xy(filled, x, y).mean())


def _bounds(rows: Sequence[PlacementRow]) -> tuple[float, float, float, float]:
    x, y = [row.x_mm for row in rows], [row.y_mm for row in rows]
    return min(x), min(y), max(x), max(y)


def _box_words(bounds: tuple[float, float, float, float]) -> str:
    left, low, right, high = bounds
    return f"x {left:.1f} to {right:.1f} mm, y {low:.1f} to {high:.1f} mm"
