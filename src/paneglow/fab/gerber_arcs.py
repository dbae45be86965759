"""Arc centres from I and J in both quadrant modes."""

import math
from itertools import product
from typing import Literal

from paneglow.errors import GerberError
from paneglow.fab.curves import arc_radius_mm, arc_sweep_rad
from paneglow.fab.records import Arc, Line, Point, Segment

QuadrantMode = Literal["single", "multi"]
QUARTER_SLACK_RAD = 0.02  # rounded ends of a quarter arc may reach this far past 90 degrees (assumed, 0.005 to 0.05)
MISFIT_FRAC, MISFIT_MM = 0.25, 0.05  # radii of one arc that differ by more are an error, not rounding (assumed)


def arc_segment(*, start: Point, end: Point, offset: Point, clockwise: bool, mode: QuadrantMode) -> Segment:
    """Arc of one G02 or G03 operation; all lengths in mm.

    With quadrant mode "single" (G74) the signs of I and J are not given: the centre is the one of four that makes an
    arc of at most a quarter turn with the best agreeing radii. An arc without radius is the straight line to its end.

    Raises
    ------
    GerberError
        Where the points do not lie on a common circle about the centre, or no quarter arc fits.
    """
    if offset == (0.0, 0.0) or (mode == "single" and start == end):
        return Line(start_mm=start, end_mm=end)  # G74 has no full circles: an arc to its own start goes nowhere
    if mode == "multi":
        arc = _arc(start, end=end, offset=offset, clockwise=clockwise)
        if not _fits(arc):
            raise GerberError(
                "start and end of an arc lie on different circles about its centre; check I and J, G74, G75"
            )
        return arc
    across, up = abs(offset[0]), abs(offset[1])
    signed = [(sign_x * across, sign_y * up) for sign_x, sign_y in product((1, -1), repeat=2)]
    arcs = [_arc(start, end=end, offset=candidate, clockwise=clockwise) for candidate in signed]
    quarters = [arc for arc in arcs if _fits(arc) and abs(arc_sweep_rad(arc)) <= math.pi / 2 + QUARTER_SLACK_RAD]
    if not quarters:
        raise GerberError("no arc of a quarter turn or less joins these points in G74 mode; check I and J, or use G75")
    return min(quarters, key=radius_mismatch_mm)


def _fits(arc: Arc) -> bool:
    """Whether the radii at both ends agree well enough for an arc to be meant."""
    return radius_mismatch_mm(arc) <= MISFIT_MM + MISFIT_FRAC * arc_radius_mm(arc)


def _arc(start: Point, *, end: Point, offset: Point, clockwise: bool) -> Arc:
    centre = (start[0] + offset[0], start[1] + offset[1])
    return Arc(start_mm=start, end_mm=end, centre_mm=centre, clockwise=clockwise)


def radius_mismatch_mm(arc: Arc) -> float:
    """Difference of the distances of start and end from the centre [mm]."""
    return abs(math.dist(arc.start_mm, arc.centre_mm) - math.dist(arc.end_mm, arc.centre_mm))
