"""Everything about how a board is built, in one record: ways and minutes, lands, standing, heights, room."""

from shapely.geometry import MultiPolygon

from paneglow.assembly.fitting import LandFit, fit_land
from paneglow.assembly.labour import BuildWay, build_ways
from paneglow.assembly.lands import LandPattern, build_land
from paneglow.assembly.mechanics import Height, Stability, TightPair, height_of, lift_of, stability_of, tight_pairs
from paneglow.board import Board, PlacedLed
from paneglow.catalog import Catalog
from paneglow.design import Design, Mounting
from paneglow.errors import CatalogError
from paneglow.units import Quantity, Record


class Standing(Record):
    """How the LEDs of one order code stand lens down."""

    part: str  # Exact order code
    refs: tuple[str, ...]  # the LEDs
    stability: Stability  # what decides it


class NeededLand(Record):
    """Footprint to draw for one order code in one style, or why none can be drawn."""

    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    land: LandPattern | None  # in the part's frame, nominal goals; None where `reason` says why
    reason: str  # empty where there is a pad


class Building(Record):
    """How a board is built."""

    ways: tuple[BuildWay, ...]  # per order code and style, in the order of the design
    minutes_by_hand: Quantity | None  # all LEDs built by hand, one board [min]; None where a machine places all
    lands: tuple[NeededLand, ...]  # per order code and style
    fits: tuple[LandFit, ...]  # the board's own pads, per LED that is soldered to this board
    standings: tuple[Standing, ...]  # lens-down parts, per order code and lift
    heights: tuple[Height, ...]  # behind the board, per LED
    tight_pairs: tuple[TightPair, ...]  # LEDs too near to each other


NO_BUILDING = Building(
    ways=(), minutes_by_hand=None, lands=(), fits=(), standings=(), heights=(), tight_pairs=()
)  # of a board without LEDs


def size_of(outline: MultiPolygon) -> tuple[float, float]:
    """Size of an outline along x and y [mm]."""
    x_min, y_min, x_max, y_max = outline.bounds
    return x_max - x_min, y_max - y_min


def survey_building(design: Design, *, board: Board, catalog: Catalog) -> Building:
    """How a board is built, measured against what its parts and styles need; no light is traced.

    Parameters
    ----------
    design : Design
        For the cover behind the board.
    board : Board
    catalog : Catalog
        For the boards the user has timed.
    """
    cover = design.board.back_cover
    ways = build_ways(board.leds, size_mm=size_of(board.maps.outline), timings=catalog.timings)
    return Building(
        ways=ways,
        minutes_by_hand=_minutes(ways),
        lands=tuple(_needed(way, board=board) for way in ways),
        fits=tuple(fit for led in board.leds if (fit := fit_land(led, board=board)) is not None),
        standings=tuple(_standings(board.leds)),
        heights=tuple(
            height_of(led, board=board, cover_mm=None if cover is None else cover.distance_mm) for led in board.leds
        ),
        tight_pairs=tuple(tight_pairs(board.leds)),
    )


def _minutes(ways: tuple[BuildWay, ...]) -> Quantity | None:
    """Minutes of one board by hand; ends of ranges add up, as for one slow or one quick pair of hands."""
    by_hand = [way for way in ways if way.way == "hand"]
    if not by_hand:
        return None
    assumed = any(way.minutes_each.origin == "assumed" for way in by_hand)
    return Quantity(
        value=sum(len(way.refs) * way.minutes_each.value for way in by_hand),
        low=sum(len(way.refs) * way.minutes_each.lowest for way in by_hand),
        high=sum(len(way.refs) * way.minutes_each.highest for way in by_hand),
        origin="assumed" if assumed else "measured",
        source="; ".join(dict.fromkeys(way.minutes_each.source for way in by_hand)),
    )


def _needed(way: BuildWay, *, board: Board) -> NeededLand:
    led = next(led for led in board.leds if led.ref == way.refs[0])
    try:
        land = build_land(led.part, mounting=led.mounting, gap_mm=led.gap_mm)
    except CatalogError as problem:
        return NeededLand(part=way.part, mounting=way.mounting, land=None, reason=str(problem))
    return NeededLand(part=way.part, mounting=way.mounting, land=land, reason="")


def _standings(leds: tuple[PlacedLed, ...]) -> list[Standing]:
    groups: dict[tuple[str, float], list[PlacedLed]] = {}
    for led in leds:
        if led.mounting == "lens_down":
            groups.setdefault((led.part.code, lift_of(led)), []).append(led)
    found = []
    for (code, lift_mm), alike in groups.items():
        stability = stability_of(alike[0].part, gap_mm=lift_mm or None)
        if stability is not None:
            found.append(Standing(part=code, refs=tuple(led.ref for led in alike), stability=stability))
    return found
