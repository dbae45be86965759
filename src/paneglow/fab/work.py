"""One budget of work for what a file may ask to be drawn, so that no small file costs minutes or gigabytes.

Work is counted in corners (points of outlines once arcs are chords), segments (objects held in memory), crossings of
lines, and sample rows that edges pass. Measured on 16 published boards, the most any of their files asks for is 0.9
million corners, 0.1 million segments and, at 0.05 mm, 7 million rows.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from paneglow.errors import GerberError
from paneglow.fab.curves import arc_chords
from paneglow.fab.records import Line, Segment

SAGITTA_MM = 0.0002  # drawn arcs become chords this close: below 0.1 % of the area of a 0.5 mm disc
MAX_CORNERS = 10_000_000
MAX_SEGMENTS = 1_000_000
MAX_ROWS = 400_000_000  # sample rows that edges pass
SAMPLES_PER_ROW_COST = 256  # samples filled at the cost of one row
MAX_CROSSINGS = 200_000  # pairs of segments that meet, beyond a few for every segment
CROSSINGS_PER_SEGMENT = 20  # neighbours meet, and an edge may be drawn several times
CUT_COST = 3  # corners that cost as much as one corner of a shape that another one is cut from
_QUERY_SHAPES = 500


@dataclass(slots=True, kw_only=True)
class Budget:
    """What one file has asked for so far; counts up while it is read, so not a record."""

    corners: int = 0
    segments: int = 0

    def spend(self, *, corners: int, segments: int = 0) -> None:
        """Count work that is about to be done.

        Raises
        ------
        GerberError
            Beyond the budget; without file and line, which the caller knows.
        """
        self.corners += corners
        self.segments += segments
        for asked, allowed, what in (
            (self.corners, MAX_CORNERS, "corners"),
            (self.segments, MAX_SEGMENTS, "segments"),
        ):
            if asked > allowed:
                raise GerberError(
                    f"the file draws more than {allowed} {what}, macros, step-repeat and blocks included; boards need "
                    "a tenth of it at most: export it again, or leave it out of the set"
                )


def corner_count(segments: Iterable[Segment]) -> int:
    """Corners of joined segments once arcs are drawn as chords."""
    return sum(1 if isinstance(one, Line) else arc_chords(one, sagitta_mm=SAGITTA_MM) for one in segments)


def meeting_pairs(
    tree: shapely.STRtree, shapes: npt.NDArray[np.object_], *, allowed: int, what: str, exactly: bool = False
) -> npt.NDArray[np.int64]:
    """Pairs (index into shapes, index into the tree) whose boxes meet, or which meet themselves, shape (2, n).

    Raises
    ------
    GerberError
        As soon as there are more than allowed, before they fill the memory; `what` starts the message.
    """
    found: list[npt.NDArray[np.int64]] = [np.empty((2, 0), dtype=np.int64)]
    count = 0
    for start in range(0, len(shapes), _QUERY_SHAPES):
        pairs = tree.query(shapes[start : start + _QUERY_SHAPES], predicate="intersects" if exactly else None)
        count += pairs.shape[1]
        if count > allowed:
            raise GerberError(f"{what} meet each other more than {allowed} times; no board does: export it again")
        found.append(pairs + np.array([[start], [0]]))
    return np.concatenate(found, axis=1)


def check_crossings(lines: Iterable[shapely.Geometry], *, what: str) -> None:
    """Raise before lines that cross each other too often are cut at their crossings.

    Raises
    ------
    GerberError
        Where more straight pieces meet than any outline or fill has; `what` starts the message.
    """
    pieces: list[npt.NDArray[np.object_]] = [
        np.asarray(shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1)))
        for line in lines
        if len(points := shapely.get_coordinates(line)) > 1
    ]
    segments = np.concatenate([np.empty(0, dtype=object), *pieces])
    allowed = MAX_CROSSINGS + CROSSINGS_PER_SEGMENT * len(segments)
    meeting_pairs(shapely.STRtree(segments), segments, allowed=allowed, what=what, exactly=True)
