"""Drill files against the board they belong to: formats left unsaid are found, wrong units are refused."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.errors import DrillError
from paneglow.fab.curves import Bounds
from paneglow.fab.drill import DrillFile, DrillHit, parse_drill
from paneglow.fab.drill_format import (
    MM_PER_INCH,
    USUAL_DIGITS,
    USUAL_DIGITS_COUNT,
    DrillFormat,
    Unit,
    Zeros,
    find_drill_format,
)

MARGIN_MM = 2.0  # assumed: half holes on an edge and tooling holes in a frame lie at most this far outside
PAD_MM = 0.1  # a hole this near the middle of a land is its hole; two decimals of an inch are 0.13 mm either way
INSIDE_SHARE = 0.5  # below this a drill file is of another unit, another origin or another board
ON_PAD_SHARE = 0.5  # of the holes in the middle of lands: only the right unit does that
OFF_PAD_SHARE = 0.2  # below this a reading is not upheld by the lands
MIN_DRILL_MM = 0.1  # common practice, no source: thinner mechanical drills are not used; a median below is a wrong unit

Points = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardPlace:
    """Where a board lies: bounds of all its outline draws, and the middles of lands and mask openings [mm]."""

    bounds_mm: Bounds
    pad_points: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """How well holes agree with the board: shares inside its bounds and in the middle of its lands, 0 to 1."""

    inside_frac: float
    on_pad_frac: float

    @property
    def score(self) -> float:
        return round(self.inside_frac + self.on_pad_frac, 2)


def fit_drill(text: str, *, name: str, place: BoardPlace) -> tuple[DrillFile, tuple[str, ...]]:
    """Read a drill file so that it fits the board, with notes on what had to be inferred.

    What the file states is never changed. What it needs and does not state (unit, digits, zeros) is taken from the
    usual formats as the one whose holes fit the board best, the likeliest first where several fit alike.

    Raises
    ------
    DrillError
        If the text cannot be read, or its holes do not fit the board: most lie outside, or they fit only when
        scaled by 25.4.
    """
    drill = parse_drill(text, name=name)
    if not drill.hits:
        return drill, (*drill.notes, f"{name}: drills no hole")
    if not drill.guessed:
        return drill, (*drill.notes, *check_fit(drill.hits, name=name, place=place))
    readings = list(_readings(text, name=name))
    fits = [_fit(_middles(reading.hits), place=place) for reading in readings]
    best = max(range(len(readings)), key=lambda index: (fits[index].score, -index))
    outside = check_fit(readings[best].hits, name=name, place=place)
    said = " and ".join(sorted(drill.guessed))
    note = (
        f"{name} does not state its {said}; read as {readings[best].written}, which puts {fits[best].inside_frac:.0%}"
        f" of {len(drill.hits)} holes inside the outline and {fits[best].on_pad_frac:.0%} in the middle of pads"
    )
    return readings[best], (*readings[best].notes, note, *outside)


def check_fit(hits: Sequence[DrillHit], *, name: str, place: BoardPlace) -> tuple[str, ...]:
    """Raise where holes do not fit the board as they stand; note those few that lie outside.

    Raises
    ------
    DrillError
        If most holes lie outside the outline's bounds, or if they fit the board only in the other unit.
    """
    middles = _middles(hits)
    fit = _fit(middles, place=place)
    larger, smaller = (_fit(middles * scale, place=place) for scale in (MM_PER_INCH, 1.0 / MM_PER_INCH))
    if fit.inside_frac < INSIDE_SHARE:
        needed = ON_PAD_SHARE if len(place.pad_points) else 0.0
        fits_scaled = any(
            other.inside_frac > 1.0 - OFF_PAD_SHARE and other.on_pad_frac >= needed for other in (smaller, larger)
        )
        raise DrillError(_outside_message(middles, fit=fit, fits_scaled=fits_scaled, bounds=place.bounds_mm), path=name)
    thin = float(np.median([hit.diameter_mm for hit in hits])) < MIN_DRILL_MM
    upheld = fit.on_pad_frac > OFF_PAD_SHARE
    if not upheld and larger.inside_frac >= fit.inside_frac and (thin or larger.on_pad_frac >= ON_PAD_SHARE):
        raise DrillError(
            "holes fit the board only when scaled by 25.4: the file says mm, its numbers are inches; correct its"
            " unit (METRIC or INCH) or export it again",
            path=name,
        )
    outside = round((1.0 - fit.inside_frac) * len(hits))
    return (f"{name}: {outside} of {len(hits)} holes lie outside the board",) if outside else ()


def _readings(text: str, *, name: str) -> Iterator[DrillFile]:
    """Readings by every usual format that agrees with what the file states, likeliest first.

    The first is the one `parse_drill` takes by itself; a format that makes nonsense of the file is passed over.
    """
    stated = find_drill_format(text)
    units: tuple[Unit, ...] = ("mm", "inch") if stated.unit is None else (stated.unit,)
    kept: tuple[Zeros, ...] = ("trailing", "leading")
    for place, unit, zeros in product(range(USUAL_DIGITS_COUNT), units, kept):
        assumed = DrillFormat(unit=unit, zeros=zeros, digits=USUAL_DIGITS[unit][place])
        with suppress(DrillError):
            yield parse_drill(text, name=name, assumed=assumed)


def _middles(hits: Sequence[DrillHit]) -> Points:
    return np.array([hit.start_mm for hit in hits]) / 2.0 + np.array([hit.end_mm for hit in hits]) / 2.0


def _fit(middles: Points, *, place: BoardPlace) -> _Fit:
    x_min, y_min, x_max, y_max = place.bounds_mm
    low, high = np.array([x_min, y_min]) - MARGIN_MM, np.array([x_max, y_max]) + MARGIN_MM
    inside = float(np.mean(np.all((middles >= low) & (middles <= high), axis=1)))
    if not len(place.pad_points):
        return _Fit(inside_frac=inside, on_pad_frac=0.0)
    distance, _ = scipy.spatial.cKDTree(place.pad_points).query(middles, distance_upper_bound=PAD_MM)
    return _Fit(inside_frac=inside, on_pad_frac=float(np.mean(np.isfinite(distance))))


def _outside_message(middles: Points, *, fit: _Fit, fits_scaled: bool, bounds: Bounds) -> str:
    count = round((1.0 - fit.inside_frac) * len(middles))
    (left, low), (right, high) = middles.min(axis=0), middles.max(axis=0)
    where = f"holes span x {left:.1f} to {right:.1f}, y {low:.1f} to {high:.1f} mm"
    board = f"the outline spans x {bounds[0]:.1f} to {bounds[2]:.1f}, y {bounds[1]:.1f} to {bounds[3]:.1f} mm"
    cure = "export both with one origin and state the unit"
    if fits_scaled:
        cure = "scaled by 25.4 they fit: the file's unit is wrong; correct METRIC or INCH or export it again"
    return f"{count} of {len(middles)} holes lie outside the board ({where}; {board}); {cure}"
