"""Rows of a placement file that are no LEDs: whether each two-terminal part lies along its lands."""

import math
from collections import Counter
from collections.abc import Iterable, Sequence

from paneglow.assembly.circuit import CHIP_PREFIXES, lands_of_row, prefix_of
from paneglow.assembly.polarity_records import AcrossLands
from paneglow.board import CopperNets, turn_between
from paneglow.fab import PlacementRow, PlacementRule

ASKEW_DEG = 20.0  # chosen: parts are placed within a few degrees; a slip is a quarter turn
STEP_DEG = 5.0  # rotations against lands are alike within this; rounding of uneven lands
AS_SEEN = PlacementRule()  # counts what lies on the back as seen through the board


def find_across_lands(
    rows: Iterable[PlacementRow], *, rule: PlacementRule, nets: CopperNets, leds: Iterable[str]
) -> tuple[AcrossLands, ...]:
    """Parts that lie across the two lands they stand between.

    Parameters
    ----------
    rows : iterable of PlacementRow
    rule : PlacementRule
        What their rotations mean.
    nets : CopperNets
    leds : iterable of str
        Designators that are judged otherwise.

    Returns
    -------
    tuple of AcrossLands

    Notes
    -----
    Whether such a part lies along x or along y at zero is not known. Parts whose designators start alike come from one
    drawing, so what most of them do is taken for it; where two ways are met equally often, along x.
    """
    taken = set(leds)
    found: dict[str, list[tuple[PlacementRow, float]]] = {}
    for row in rows:
        kind = prefix_of(row.ref)
        pair = lands_of_row(row, nets=nets) if kind in CHIP_PREFIXES and row.ref not in taken else None
        if pair is None:
            continue
        (x1, y1), (x2, y2) = ((land.polygon.centroid.x, land.polygon.centroid.y) for land in pair)
        lies_deg = turn_between(row.rotation_deg, side=row.side or "back", given=rule, wanted=AS_SEEN)
        off = (lies_deg - math.degrees(math.atan2(y2 - y1, x2 - x1))) % 180.0
        found.setdefault(kind, []).append((row, off))
    return tuple(
        AcrossLands(ref=row.ref, at_mm=(row.x_mm, row.y_mm), off_deg=round(_apart(off, usual), 2))
        for alike in found.values()
        for usual in [_usual([off for _, off in alike])]
        for row, off in alike
        if _apart(off, usual) > ASKEW_DEG
    )


def _usual(offs: Sequence[float]) -> float:
    """The rotation against the lands that most have; along them where that is met as often as any."""
    counts = Counter(round(off / STEP_DEG) * STEP_DEG % 180.0 for off in offs)
    return max(counts, key=lambda off: (counts[off], off == 0.0))


def _apart(first: float, second: float) -> float:
    """Angle between two directions without a head, 0 to 90 [deg]."""
    return abs((first - second + 90.0) % 180.0 - 90.0)
