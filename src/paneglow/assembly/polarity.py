"""The polarity chain: copper to nets, nets to the pad that must be the anode, and the part's mark as mounted."""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from paneglow.assembly.circuit import Levels, Link, find_rails, series_links, solve_levels
from paneglow.assembly.data_chain import follow_data
from paneglow.assembly.legend import marked_ends
from paneglow.assembly.other_rows import find_across_lands
from paneglow.assembly.polarity_records import (
    NO_POLARITY,
    AcrossLands,
    Electrode,
    LedPolarity,
    LegendMark,
    MarkOnBoard,
    Polarity,
    PolarityState,
)
from paneglow.assembly.reconstruct import check_file, is_proven
from paneglow.assembly.seating import Seat, find_seats
from paneglow.assembly.wiring import follow_circuits
from paneglow.board import Board, CopperNets, FaceMaps, PlacedLed, board_point, is_turned_over
from paneglow.design import Design

Junction = tuple[Seat, Seat]  # anode, cathode

WORST_FIRST: tuple[PolarityState, ...] = ("reversed", "both on one net", "not told", "correct")
COMPASS = ("right", "upper right", "top", "upper left", "left", "lower left", "bottom", "lower right")
CENTRED_MM = 0.05  # a mark this near to the middle of its part lies in no direction
METER = "Put a meter's diode range across it: it glows with the red probe on its anode"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chain:
    """What the polarity of every LED is told from."""

    design: Design
    board: Board
    nets: CopperNets
    levels: Levels
    lands_of_net: Mapping[int, int]

    def name_under(self, seat: Seat | None) -> str:
        """Name of the net under a terminal; empty where there is none."""
        return "" if seat is None or seat.land is None else self.nets.name_of(seat.land.net)


def build_polarity(design: Design, *, board: Board) -> Polarity:
    """The polarity chain of every LED.

    Parameters
    ----------
    design : Design
        Its rails, and what legend marks mean.
    board : Board
        With its nets and placement.

    Returns
    -------
    Polarity
        What cannot be told says so, with its reason.

    Raises
    ------
    DesignError
        Where a rail of the design cannot be.
    """
    nets = board.nets
    if nets is None:
        return NO_POLARITY
    seats = {led.ref: find_seats(led, lands=nets.lands) for led in board.leds}
    levels = _levels(design, board=board, nets=nets, seats=seats)
    # Where files mark pads as pads, rims of mask openings are no lands
    pads = [land for land in nets.lands if land.is_pad] or nets.lands
    counts = Counter(land.net for land in pads)
    chain = _Chain(design=design, board=board, nets=nets, levels=levels, lands_of_net=counts)
    rows, misread = check_file(design, board=board, levels=levels)
    return Polarity(
        basis=levels.basis,
        leds=tuple(_led_polarity(led, seats=seats[led.ref], chain=chain) for led in board.leds),
        rows=rows,
        misread=misread,
        across=_across(board, nets=nets),
        wiring=follow_circuits(
            design,
            board=board,
            nets=nets,
            levels=levels,
            ends=_ends(seats, levels=levels),
            more=tuple(follow_data(design, board=board, seats=seats, levels=levels)),
        ),
        rule=() if board.placement is None else board.placement.rule.words(),
        conflicts=nets.conflicts,
    )


def _across(board: Board, *, nets: CopperNets) -> tuple[AcrossLands, ...]:
    if board.placement is None:
        return ()
    refs = [led.ref for led in board.leds]
    return find_across_lands(board.placement.rows, rule=board.placement.rule, nets=nets, leds=refs)


def find_levels(design: Design, *, board: Board) -> Levels:
    """Voltage order of the nets of a board, whichever way round its LEDs are.

    Raises
    ------
    DesignError
        Where a rail of the design cannot be.
    """
    if board.nets is None:
        return Levels(of_net={}, rails={}, basis="")
    seats = {led.ref: find_seats(led, lands=board.nets.lands) for led in board.leds}
    return _levels(design, board=board, nets=board.nets, seats=seats)


def _levels(design: Design, *, board: Board, nets: CopperNets, seats: dict[str, tuple[Seat, ...]]) -> Levels:
    rails, basis = find_rails(design.rail, nets=nets)
    links = [
        Link(ref=ref, first=anode.land.net, second=cathode.land.net)
        for ref, seated in seats.items()
        for anode, cathode in _junctions(seated)
        if anode.land is not None and cathode.land is not None and anode.land.net != cathode.land.net
    ]
    rows = () if board.placement is None else board.placement.rows
    return solve_levels([*links, *series_links(rows, nets=nets, leds=seats)], rails=rails, basis=basis)


def _junctions(seats: Sequence[Seat]) -> Iterator[Junction]:
    """Anode and cathode of every chip; of a part with logic inside, its supply and its ground."""
    anodes = [seat for seat in seats if seat.terminal.role in ("anode", "supply")]
    cathodes = [seat for seat in seats if seat.terminal.role in ("cathode", "ground")]
    for anode, cathode in product(anodes, cathodes):
        shared = set(anode.terminal.chips) & set(cathode.terminal.chips)
        if shared or not (anode.terminal.chips or cathode.terminal.chips):
            yield anode, cathode


def _led_polarity(led: PlacedLed, *, seats: Sequence[Seat], chain: _Chain) -> LedPolarity:
    state, reason = _state(led, seats=seats, chain=chain)
    anode, cathode = _must_be(seats, levels=chain.levels)
    legend = _legend(led, seats=seats, anode=anode, maps=chain.board.maps)
    meant = chain.design.board.legend_mark
    mark = _mark(led)
    one_end = meant != "none" and legend in ("anode", "cathode")
    shows = mark is not None and mark.visible and mark.means is not None
    return LedPolarity(
        ref=led.ref,
        part=led.part.code,
        mounting=led.mounting,
        side=led.side,
        state=state,
        proven=is_proven(led.part),
        reason=reason,
        anode_mm=_middle(anode),
        cathode_mm=_middle(cathode),
        anode_direction="" if anode is None else direction_at_bench(led, at_mm=anode.at_mm),
        anode_net=chain.name_under(anode),
        cathode_net=chain.name_under(cathode),
        dead_end=_dead_end(seats, chain=chain),
        mark=mark,
        legend=legend,
        legend_agrees=legend == meant if one_end else None,
        mark_agrees=legend == mark.means if one_end and shows and mark is not None else None,
        how_to_test=_how_to_test(led, mark=mark),
    )


def _dead_end(seats: Sequence[Seat], *, chain: _Chain) -> Electrode | None:
    """The electrode whose copper holds no other pad and is no rail: it leads nowhere."""
    for seat in seats:
        role = seat.terminal.role
        if seat.land is None or role not in ("anode", "cathode"):
            continue
        if chain.lands_of_net.get(seat.land.net, 0) <= 1 and seat.land.net not in chain.levels.rails:
            return role
    return None


def _state(led: PlacedLed, *, seats: Sequence[Seat], chain: _Chain) -> tuple[PolarityState, str]:
    if led.mounting == "carrier":
        return "not on this board", "It is soldered to a carrier board of its own, whose copper is not in these files."
    if led.part.terminals is None:
        return "not told", f"The record of {led.part.code} does not say where its terminals are."
    off = [seat for seat in seats if seat.land is None]
    if off:
        x, y = off[0].at_mm
        reason = f"Its {off[0].terminal.role} comes to lie at ({x:.2f}, {y:.2f}) mm, where no bare copper is."
        return "off its pads", reason
    if led.part.terminals.has_logic:
        return _logic_state(led, seats=seats, chain=chain)
    found = [_judged(anode, cathode, chain=chain) for anode, cathode in _junctions(seats)]
    return min(found, key=lambda one: WORST_FIRST.index(one[0]))


def _logic_state(led: PlacedLed, *, seats: Sequence[Seat], chain: _Chain) -> tuple[PolarityState, str]:
    """A part with logic inside: supply and ground on their rails and no signal on one, or the turn that would do it."""
    levels, names = chain.levels, {seat.terminal.role: chain.name_under(seat) for seat in seats}
    if not levels.rails:
        return "not told", "Nothing tells the rails, so that its supply and its ground cannot be compared with them."
    wrong = _off_rails(seats, rails=levels.rails)
    if wrong is None:
        return "correct", f"Its supply lies on {names['supply']}, its ground on {names['ground']}; by {levels.basis}."
    (x, y), role = wrong.at_mm, wrong.terminal.role
    lies = f"Its {role} comes to lie at ({x:.2f}, {y:.2f}) mm on {chain.name_under(wrong)}"
    for turn_deg in (180.0, 90.0, 270.0):
        turned = find_seats(replace(led, rotation_deg=led.rotation_deg + turn_deg), lands=chain.nets.lands)
        if all(seat.land is not None for seat in turned) and _off_rails(turned, rails=levels.rails) is None:
            return "reversed", f"{lies}; turned by {turn_deg:g} deg all its terminals lie right; by {levels.basis}."
    if role in ("supply", "ground"):
        side = "positive" if role == "supply" else "negative"
        return "not told", f"{lies}, which is no {side} rail; by {levels.basis}."
    return "both on one net", f"{lies}, which is a rail; a signal cannot pass there."


def _off_rails(seats: Sequence[Seat], *, rails: Mapping[int, float]) -> Seat | None:
    """The first terminal of a part with logic inside that lies on the wrong kind of net."""
    wanted = {"supply": 1.0, "ground": 0.0}
    return next(
        (seat for seat in seats if seat.land is None or rails.get(seat.land.net) != wanted.get(seat.terminal.role)),
        None,
    )


def _judged(anode: Seat, cathode: Seat, *, chain: _Chain) -> tuple[PolarityState, str]:
    assert anode.land is not None
    assert cathode.land is not None
    names, levels = (chain.name_under(anode), chain.name_under(cathode)), chain.levels
    x, y = anode.at_mm
    if anode.land.net == cathode.land.net:
        return "both on one net", f"Copper joins the pads of its anode and its cathode ({names[0]})."
    higher = levels.higher(anode.land.net, cathode.land.net)
    if higher == 0:
        why = "they lie between the rails in a way that leaves it open" if levels.basis else "nothing tells the rails"
        return "not told", f"Which of {names[0]} and {names[1]} is the positive side cannot be told: {why}."
    if higher < 0:
        where = f"Its anode comes to lie at ({x:.2f}, {y:.2f}) mm on {names[0]}"
        return "reversed", f"{where}, yet {names[1]} under its cathode is the positive side; by {levels.basis}."
    return "correct", f"Its anode lies at ({x:.2f}, {y:.2f}) mm on {names[0]}, the positive side; by {levels.basis}."


def _must_be(seats: Sequence[Seat], *, levels: Levels) -> tuple[Seat | None, Seat | None]:
    """Seats on whose lands anode and cathode must lie; of several chips the first that is told."""
    for anode, cathode in _junctions(seats):
        if anode.land is None or cathode.land is None:
            continue
        higher = levels.higher(anode.land.net, cathode.land.net)
        if higher:
            return (anode, cathode) if higher > 0 else (cathode, anode)
    return None, None


def _ends(seats: Mapping[str, Sequence[Seat]], *, levels: Levels) -> dict[str, tuple[int, int]]:
    """Nets of the lands of anode and cathode by LED, or by chip of several: as they must be, else as they will lie."""
    found = {}
    for ref, seated in seats.items():
        junctions = list(_junctions(seated))
        for junction in junctions:
            # Of several chips each has its own circuit, by its name
            shared = [chip for chip in junction[0].terminal.chips if chip in junction[1].terminal.chips]
            name = f"{ref}.{shared[0]}" if shared else ref
            told = _must_be(junction, levels=levels)
            anode, cathode = junction if None in told else told
            lands = [seat.land for seat in (anode, cathode) if seat is not None and seat.land is not None]
            # An LED with both sides on one net tells nothing of its circuit; that is a fault of its own
            if len(lands) == 2 and lands[0].net != lands[1].net:
                found[name] = (lands[0].net, lands[1].net)
    return found


def _middle(seat: Seat | None) -> tuple[float, float] | None:
    if seat is None or seat.land is None:
        return None
    centre = seat.land.polygon.centroid
    return round(centre.x, 4), round(centre.y, 4)


def _legend(led: PlacedLed, *, seats: Sequence[Seat], anode: Seat | None, maps: FaceMaps) -> LegendMark | None:
    """Electrode that must lie, or where that is open will lie, on the land that the legend marks."""
    marked = marked_ends(led, maps=maps)
    if len(marked) > 1:
        return "both ends"
    seat = next((seat for seat in seats if seat.terminal.name in marked), None)
    if seat is None:
        return None
    is_anode = seat.terminal.role == "anode" if anode is None else seat is anode
    return "anode" if is_anode else "cathode"


def _mark(led: PlacedLed) -> MarkOnBoard | None:
    mark, terminals = led.part.mark, led.part.terminals
    if mark is None or terminals is None:
        return None
    terminal = terminals.named(mark.terminal)
    assert terminal is not None  # the record was checked when it was read
    at = board_point(led, point_mm=mark.at_mm)
    hidden_face = "top" if is_turned_over(led.part, mounting=led.mounting) else "bottom"
    return MarkOnBoard(
        shape=mark.shape,
        means=terminal.role if terminal.role in ("anode", "cathode") else None,
        verified=mark.evidence.verified,
        visible=mark.face != hidden_face,
        at_mm=(round(at[0], 4), round(at[1], 4)),
        direction=direction_at_bench(led, at_mm=at),
    )


def direction_at_bench(led: PlacedLed, *, at_mm: tuple[float, float]) -> str:
    """Direction of a place from the middle of a part, as seen on its face with the board turned over left to right."""
    x, y = at_mm[0] - led.at_mm[0], at_mm[1] - led.at_mm[1]
    if math.hypot(x, y) < CENTRED_MM:
        return "middle"
    seen = math.degrees(math.atan2(y, -x if led.side == "back" else x))
    return COMPASS[round(seen / 45.0) % 8]


def _how_to_test(led: PlacedLed, *, mark: MarkOnBoard | None) -> str:
    if mark is None:
        return f"{METER}. Do this before it is soldered: its record states no mark."
    if not mark.visible and led.mounting == "lens_down":
        return f"Turn the part about its long axis: ends stay. About its short axis: ends swap. {METER}."
    if not mark.visible:
        return f"{METER}."
    return f"Its {mark.shape} ({mark.means}) shows at the {mark.direction} as seen from the {led.side}. {METER}."
