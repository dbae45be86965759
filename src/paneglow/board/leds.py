"""LEDs in place: from the placement file or from the design, each with its part and its window."""

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from paneglow.board.records import FaceMaps, PlacedLed, Window, WindowSurvey
from paneglow.catalog import Catalog, find_part
from paneglow.design import Design, LedGroup, Mounting, Side
from paneglow.errors import DesignError
from paneglow.fab import PlacementRow

IN_OPENINGS: frozenset[Mounting] = frozenset({"through_hole", "cutout"})  # these sit in a hole on purpose
PROBE_MM = 1.0  # chosen: vias and tooling holes of 0.3 to 0.6 mm under a body do not hinder it
# Copper-free slivers under mask lie between an LED and the window it is for: a bare window this much farther is meant
BARE_PREFERENCE_MM = 3.0
RIM_MM = 3.0  # chosen: half the hole of a 5 mm lens and a little rim; a window this near surrounds the hole
OVER_OPENINGS: frozenset[Mounting] = frozenset({"carrier", "top_view"})  # these stand clear of the laminate


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """Where one LED of a group sits."""

    ref: str
    at_mm: tuple[float, float]
    rotation_deg: float
    side: Side


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What LEDs are placed on."""

    maps: FaceMaps
    survey: WindowSurvey
    rows: Mapping[str, PlacementRow] | None  # by designator; None where the design names no placement file


def place_leds(design: Design, *, ground: Ground, catalog: Catalog) -> tuple[tuple[PlacedLed, ...], tuple[str, ...]]:
    """All LEDs of a design where they will sit, and what was decided on the way.

    Parameters
    ----------
    design : Design
        Its LED groups name refs of the placement file, or a place.
    ground : Ground
        The board's maps, windows and placement rows.
    catalog : Catalog
        Parts by order code.

    Returns
    -------
    leds : tuple of PlacedLed
        In the order of the design. An LED without a window gets the nearest one.
    notes : tuple of str
        One sentence per decision.

    Raises
    ------
    DesignError
        A ref that the placement file lacks, a place off the board or over a hole, a window that is none.
    CatalogError
        A part that is not in the catalogue.
    """
    notes: list[str] = []
    leds: list[PlacedLed] = []
    for number, group in enumerate(design.led, start=1):
        part = find_part(catalog, group.part)
        if group.window is not None:
            _check_window(group, survey=ground.survey)
        for spot in _spots(group, number=number, ground=ground):
            _check_spot(spot, group=group, maps=ground.maps)
            leds.append(
                PlacedLed(
                    ref=spot.ref,
                    part=part,
                    mounting=group.mounting,
                    at_mm=spot.at_mm,
                    rotation_deg=spot.rotation_deg,
                    side=spot.side,
                    window=group.window if group.window is not None else _own_window(group, spot, ground.survey, notes),
                    current_ma=group.current_ma,
                    diffuser=group.diffuser,
                    gap_mm=group.gap_mm,
                    light_wall=group.light_wall,
                )
            )
    return tuple(leds), (*notes, *_rotation_notes(design, ground=ground))


def _spots(group: LedGroup, *, number: int, ground: Ground) -> Iterator[_Spot]:
    if group.at_mm is not None:
        ref = f"led-{number}"
        yield _Spot(ref=ref, at_mm=group.at_mm, rotation_deg=group.rotation_deg, side=group.side)
        return
    if ground.rows is None:
        raise DesignError(
            f"led {', '.join(group.refs)}: refs need a placement file; set placement in [board], or use at_mm"
        )
    for ref in group.refs:
        row = ground.rows.get(ref)
        if row is None:
            raise DesignError(f"led {ref} is not in the placement file; {_close_words(ref, list(ground.rows))}")
        yield _Spot(
            ref=ref,
            at_mm=(row.x_mm, row.y_mm),
            rotation_deg=row.rotation_deg + group.rotation_deg,
            side=_side_of(row, group=group),
        )


def _side_of(row: PlacementRow, *, group: LedGroup) -> Side:
    """The file's side; the design's where the file is silent. Two different words are an error."""
    if row.side is None:
        return group.side
    if "side" in group.model_fields_set and group.side != row.side:
        raise DesignError(
            f"led {row.ref}: the design says side {group.side!r}, line {row.line} of the placement file {row.side!r}; "
            "correct one of them"
        )
    return row.side


def _check_window(group: LedGroup, *, survey: WindowSurvey) -> None:
    names = [window.name for window in survey.windows]
    if group.window not in names:
        raise DesignError(
            f"led {_group_words(group)}: window {group.window!r} does not exist; "
            f"{_close_words(str(group.window), names)}; name it by a [[window]] with at_mm inside it"
        )


def _check_spot(spot: _Spot, *, group: LedGroup, maps: FaceMaps) -> None:
    place = f"led {spot.ref} at ({spot.at_mm[0]:.2f}, {spot.at_mm[1]:.2f})"
    point = Point(spot.at_mm)
    boards = [Polygon(piece.exterior) for piece in maps.outline.geoms]
    if not any(board.covers(point) for board in boards):
        away = min(board.distance(point) for board in boards)
        left, low, right, high = maps.outline.bounds
        raise DesignError(
            f"{place} is {away:.2f} mm off the board, which spans x {left:.1f} to {right:.1f} mm and "
            f"y {low:.1f} to {high:.1f} mm"
        )
    if group.mounting in IN_OPENINGS | OVER_OPENINGS:
        return
    if _open_share(spot, maps=maps) > 0.5:
        raise DesignError(
            f"{place} sits on a hole or cut-out, where a {group.mounting} part cannot be soldered; move it, or mount "
            "it as through_hole or cutout"
        )


def _open_share(spot: _Spot, *, maps: FaceMaps) -> float:
    """Share of a small disc about the place that is drilled or routed away: most of it, unless it is a mere via."""
    grid = maps.grid
    x = grid.x_centres_mm() - spot.at_mm[0]
    y = grid.y_centres_mm() - spot.at_mm[1]
    rows, columns = (np.flatnonzero(np.abs(axis) <= PROBE_MM / 2) for axis in (y, x))
    if rows.size == 0 or columns.size == 0:
        return 0.0
    cut = np.ix_(rows, columns)
    near = x[columns][None, :] ** 2 + y[rows][:, None] ** 2 <= PROBE_MM**2 / 4
    return float(1.0 - maps.inside[cut][near].mean()) if near.any() else 0.0


def _own_window(group: LedGroup, spot: _Spot, survey: WindowSurvey, notes: list[str]) -> str | None:
    """Window of an LED that names none; a part in a hole shines through that hole, unless a window surrounds it."""
    beside = min((_distance_mm(window, spot) for window in survey.windows), default=np.inf)
    if group.mounting in IN_OPENINGS and beside > RIM_MM:
        notes.append(f"led {spot.ref} names no window and shines through its own hole")
        return None
    return _nearest_window(spot, survey, notes)


def _nearest_window(spot: _Spot, survey: WindowSurvey, notes: list[str]) -> str | None:
    if not survey.windows:
        notes.append(f"led {spot.ref} has no window: the board has none")
        return None
    nearest_of_all = min(survey.windows, key=lambda one: _distance_mm(one, spot))
    bare = [window for window in survey.windows if window.exposure == "bare both faces"]
    nearest_bare = min(bare, key=lambda one: _distance_mm(one, spot), default=nearest_of_all)
    further_mm = _distance_mm(nearest_bare, spot) - _distance_mm(nearest_of_all, spot)
    window = nearest_bare if further_mm <= BARE_PREFERENCE_MM else nearest_of_all
    away_mm = _distance_mm(window, spot)
    notes.append(f"led {spot.ref} names no window; the nearest, {window.name}, is taken ({away_mm:.2f} mm away)")
    return window.name


def _distance_mm(window: Window, spot: _Spot) -> float:
    return float(shapely.distance(window.polygon, Point(spot.at_mm)))


def _rotation_notes(design: Design, *, ground: Ground) -> Iterator[str]:
    from_file = [ref for group in design.led for ref in group.refs]
    rows = ground.rows or {}
    backs = [ref for ref in from_file if ref in rows and rows[ref].side == "back"]
    if backs:
        yield (
            f"rotations of {_few(backs)} on the back are taken from the placement file as counter-clockwise seen from "
            "the front; services differ in this, so check one part"
        )
    turned = [group for group in design.led if group.refs and group.rotation_deg != 0]
    for group in turned:
        yield f"led {_group_words(group)}: rotation_deg {group.rotation_deg:g} is added to that of the placement file"


def _group_words(group: LedGroup) -> str:
    if group.at_mm is not None:
        return f"at ({group.at_mm[0]:g}, {group.at_mm[1]:g})"
    return _few(group.refs)


def _few(refs: Sequence[str]) -> str:
    return ", ".join(refs[:3]) + (f" and {len(refs) - 3} more" if len(refs) > 3 else "")


def _close_words(word: str, known: Sequence[str]) -> str:
    """Up to three names near to a misspelt one, whatever the case; else the first ones there are."""
    folded = {name.casefold(): name for name in known}
    close = [folded[name] for name in difflib.get_close_matches(word.casefold(), folded, n=3, cutoff=0.5)]
    if close:
        return f"near to it are {', '.join(close)}" if len(close) > 1 else f"the nearest name is {close[0]}"
    return f"there are {_few(known)}" if known else "there is none"
