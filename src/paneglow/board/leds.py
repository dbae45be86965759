"""LEDs in place: from the placement file or from the design, each with its part and its window."""

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from paneglow.board.records import FaceMaps, PlacedLed, PlacementRead, Window, WindowSurvey
from paneglow.board.rotation import RotationConvention, board_point
from paneglow.catalog import Catalog, Part, find_part
from paneglow.design import Design, LedGroup, Mounting, Side
from paneglow.errors import DesignError
from paneglow.fab import PlacementRow

IN_OPENINGS: frozenset[Mounting] = frozenset({"through_hole", "cutout"})  # these sit in a hole on purpose
PROBE_MM = 1.0  # chosen: vias and tooling holes of 0.3 to 0.6 mm under a body do not hinder it
# Copper-free slivers under mask lie between an LED and the window it is for: a bare window this much farther is meant
BARE_PREFERENCE_MM = 3.0
RIM_MM = 3.0  # chosen: half the hole of a 5 mm lens and a little rim; a window this near surrounds the hole
OVER_OPENINGS: frozenset[Mounting] = frozenset({"carrier", "top_view"})  # these stand clear of the laminate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What LEDs are placed on."""

    maps: FaceMaps
    survey: WindowSurvey
    placement: PlacementRead | None = None  # None where the design names no placement file


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
    for group in design.led:
        if group.window is not None:
            _check_window(group, survey=ground.survey)
    for led in seat_leds(design, placement=ground.placement, catalog=catalog):
        _check_place(led, maps=ground.maps, notes=notes)
        leds.append(led if led.window is not None else replace(led, window=_own_window(led, ground.survey, notes)))
    return tuple(leds), (*notes, *_rotation_notes(design, placement=ground.placement))


def seat_leds(design: Design, *, placement: PlacementRead | None, catalog: Catalog) -> tuple[PlacedLed, ...]:
    """All LEDs of a design where they will sit, in the order of the design; where light can go is not looked at.

    Parameters
    ----------
    design : Design
        Its LED groups name refs of the placement file, or a place.
    placement : PlacementRead or None
        The placement file, where the design names one.
    catalog : Catalog
        Parts by order code.

    Returns
    -------
    tuple of PlacedLed
        `window` is the one that the design states; None where it states none.

    Raises
    ------
    DesignError
        A ref that the placement file lacks, or two different sides.
    CatalogError
        A part that is not in the catalogue.
    """
    rows = _rows_by_ref(placement)
    leds: list[PlacedLed] = []
    for number, group in enumerate(design.led, start=1):
        part = find_part(catalog, group.part)
        for ref, at_mm, rotation_deg, side in _seats(group, part=part, number=number, placement=placement, rows=rows):
            leds.append(
                PlacedLed(
                    ref=ref,
                    part=part,
                    mounting=group.mounting,
                    at_mm=at_mm,
                    rotation_deg=rotation_deg,
                    side=side,
                    window=group.window,
                    current_ma=group.current_ma or 0.0,  # those without one are driven by a circuit, which sets it
                    diffuser=group.diffuser,
                    gap_mm=group.gap_mm,
                    light_wall=group.light_wall,
                )
            )
    return tuple(leds)


def split_dice(bodies: Sequence[PlacedLed], *, design: Design) -> tuple[PlacedLed, ...]:
    """LEDs with one die each, for light and circuit: a body of several dice becomes D1.red, D1.green and so on.

    Parameters
    ----------
    bodies : sequence of PlacedLed
        As they are soldered, in the order of the design.
    design : Design
        Current or duty of each die.

    Raises
    ------
    DesignError
        Where the design names a die that the part has not, or leaves one out.
    """
    groups = {
        ref: group for number, group in enumerate(design.led, start=1) for ref in group.refs or (f"led-{number}",)
    }
    return tuple(
        replace(
            body,
            ref=f"{body.ref}.{die.name}",
            body_ref=body.ref,
            part=body.part.of_die(die),
            current_ma=currents_ma[die.name],
        )
        if die is not None
        else body
        for body in bodies
        for currents_ma in (_die_currents_ma(body, group=groups[body.ref]),)
        for die in body.part.dice or (None,)
    )


def _die_currents_ma(body: PlacedLed, *, group: LedGroup) -> Mapping[str, float]:
    """Mean current of each die as the design states it [mA]; 0 where a circuit is to give it."""
    names = [die.name for die in body.part.dice]
    for field, stated in (("die_current_ma", group.die_current_ma), ("die_duty_frac", group.die_duty_frac)):
        if stated and set(stated) != set(names):
            has = f"dice {', '.join(names)}" if names else "one die"
            raise DesignError(
                f"led {body.ref}, {field}: names {', '.join(stated)}; {body.part.code} has {has}, name each"
            )
    if not body.part.dice:
        return {}
    if body.part.logic is not None:
        if group.die_current_ma or group.current_ma is not None:
            raise DesignError(
                f"led {body.ref}: the logic inside {body.part.code} sets the current of its dice; give die_duty_frac"
            )
        full_ma = {die.name: die.drive_ma.value for die in body.part.dice if die.drive_ma is not None}
        return {name: full_ma[name] * group.die_duty_frac.get(name, 1.0) for name in names}
    if group.die_duty_frac:
        raise DesignError(
            f"led {body.ref}: {body.part.code} has no logic inside; give die_current_ma, or duty_frac of a [[circuit]]"
        )
    return {name: group.die_current_ma.get(name, group.current_ma or 0.0) for name in names}


def _rows_by_ref(placement: PlacementRead | None) -> Mapping[str, PlacementRow]:
    return {} if placement is None else {row.ref: row for row in placement.rows}


def _seats(
    group: LedGroup, *, part: Part, number: int, placement: PlacementRead | None, rows: Mapping[str, PlacementRow]
) -> Iterator[tuple[str, tuple[float, float], float, Side]]:
    """Designator, place [mm], rotation [deg] and side of every LED of a group."""
    if group.at_mm is not None:
        yield f"led-{number}", group.at_mm, group.rotation_deg % 360.0, group.side
        return
    if placement is None:
        raise DesignError(
            f"led {', '.join(group.refs)}: refs need a placement file; set placement in [board], or use at_mm"
        )
    for ref in group.refs:
        row = rows.get(ref)
        if row is None:
            raise DesignError(f"led {ref} is not in the placement file; {_close_words(ref, list(rows))}")
        side = _side_of(row, group=group)
        convention = RotationConvention(part=part, mounting=group.mounting, side=side, rule=placement.rule)
        yield ref, (row.x_mm, row.y_mm), (convention.to_design_deg(row.rotation_deg) + group.rotation_deg) % 360.0, side


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


def _check_place(led: PlacedLed, *, maps: FaceMaps, notes: list[str]) -> None:
    place = f"led {led.ref} at ({led.at_mm[0]:.2f}, {led.at_mm[1]:.2f})"
    point = Point(led.at_mm)
    boards = [Polygon(piece.exterior) for piece in maps.outline.geoms]
    if not any(board.covers(point) for board in boards):
        away = min(board.distance(point) for board in boards)
        left, low, right, high = maps.outline.bounds
        raise DesignError(
            f"{place} is {away:.2f} mm off the board, which spans x {left:.1f} to {right:.1f} mm and "
            f"y {low:.1f} to {high:.1f} mm; correct its place, or where others lie wrong too, the unit, the origin or "
            "the direction of the axes that the placement file was exported with"
        )
    if led.mounting in IN_OPENINGS | OVER_OPENINGS or _open_share(led.at_mm, maps=maps) <= 0.5:
        return
    if all(_open_share(point_mm, maps=maps) > 0.5 for point_mm in _soldered_points(led)):
        raise DesignError(
            f"{place} sits on a hole or cut-out, where a {led.mounting} part cannot be soldered; move it, or mount "
            "it as through_hole or cutout"
        )
    notes.append(f"led {led.ref} lies across a hole or cut-out; its ends stand on the board beside it")


def _soldered_points(led: PlacedLed) -> list[tuple[float, float]]:
    """Where a part's terminals stand on the board [mm]; the ends of its body where it states none."""
    half = led.part.body.length_mm / 2
    own: tuple[tuple[float, float], ...] = ((-half, 0.0), (half, 0.0))
    if led.part.terminals is not None:
        own = tuple(pad.at_mm for pad in led.part.terminals.pads)
    return [board_point(led, point_mm=point_mm) for point_mm in own]


def _open_share(at_mm: tuple[float, float], *, maps: FaceMaps) -> float:
    """Share of a small disc about a place that is drilled or routed away: most of it, unless it is a mere via."""
    grid = maps.grid
    x = grid.x_centres_mm() - at_mm[0]
    y = grid.y_centres_mm() - at_mm[1]
    rows, columns = (np.flatnonzero(np.abs(axis) <= PROBE_MM / 2) for axis in (y, x))
    if rows.size == 0 or columns.size == 0:
        return 0.0
    cut = np.ix_(rows, columns)
    near = x[columns][None, :] ** 2 + y[rows][:, None] ** 2 <= PROBE_MM**2 / 4
    return float(1.0 - maps.inside[cut][near].mean()) if near.any() else 0.0


def _own_window(led: PlacedLed, survey: WindowSurvey, notes: list[str]) -> str | None:
    """Window of an LED that names none; a part in a hole shines through that hole, unless a window surrounds it."""
    beside = min((_distance_mm(window, led) for window in survey.windows), default=np.inf)
    if led.mounting in IN_OPENINGS and beside > RIM_MM:
        notes.append(f"led {led.ref} names no window and shines through its own hole")
        return None
    return _nearest_window(led, survey, notes)


def _nearest_window(led: PlacedLed, survey: WindowSurvey, notes: list[str]) -> str | None:
    if not survey.windows:
        notes.append(f"led {led.ref} has no window: the board has none")
        return None
    nearest_of_all = min(survey.windows, key=lambda one: _distance_mm(one, led))
    bare = [window for window in survey.windows if window.exposure == "bare both faces"]
    nearest_bare = min(bare, key=lambda one: _distance_mm(one, led), default=nearest_of_all)
    further_mm = _distance_mm(nearest_bare, led) - _distance_mm(nearest_of_all, led)
    window = nearest_bare if further_mm <= BARE_PREFERENCE_MM else nearest_of_all
    away_mm = _distance_mm(window, led)
    notes.append(f"led {led.ref} names no window; the nearest, {window.name}, is taken ({away_mm:.2f} mm away)")
    return window.name


def _distance_mm(window: Window, led: PlacedLed) -> float:
    return float(shapely.distance(window.polygon, Point(led.at_mm)))


def _rotation_notes(design: Design, *, placement: PlacementRead | None) -> Iterator[str]:
    from_file = [ref for group in design.led for ref in group.refs]
    rows = _rows_by_ref(placement)
    backs = [ref for ref in from_file if ref in rows and rows[ref].side == "back"]
    if backs and placement is not None:
        bottom, zero, *_ = placement.rule.words()
        yield f"rotations of {_few(backs)} are read so: {bottom}; {zero}"
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
