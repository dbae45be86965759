"""Data of LEDs with logic inside, followed on the copper from the output of each to the input of the next."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from paneglow.assembly.circuit import Levels, series_links
from paneglow.assembly.seating import Seat
from paneglow.assembly.wiring import WiringFault
from paneglow.board import Board, PlacedLed
from paneglow.design import Design

SIGNALS = ("data", "clock")


def follow_data(
    design: Design, *, board: Board, seats: Mapping[str, Sequence[Seat]], levels: Levels
) -> Iterator[WiringFault]:
    """Where data cannot pass from LED to LED, or passes in another order than the design declares.

    Parameters
    ----------
    design : Design
        Its circuits of driver "data".
    board : Board
        With nets; one LED per body.
    seats : mapping
        Lands under the terminals of each LED.
    levels : Levels
        Whose rails carry no signal.
    """
    leds = {led.ref: led for led in board.leds if led.part.terminals is not None and led.part.terminals.has_logic}
    if not leds or board.nets is None:
        return
    rows = () if board.placement is None else board.placement.rows
    joined = _joined_by_resistors(
        [(link.first, link.second) for link in series_links(rows, nets=board.nets, leds=leds)], levels=levels
    )
    lands = Counter(joined.get(land.net, land.net) for land in board.nets.lands)
    for signal in SIGNALS:
        into, out = (_nets(f"{signal}-{way}", leds=leds, seats=seats, joined=joined) for way in ("in", "out"))
        yield from _unconnected(signal, into=into, out=out, leds=leds, lands=lands)
        if signal == "data":
            yield from _other_order(design, into=into, out=out, leds=leds)


def _joined_by_resistors(pairs: Sequence[tuple[int, int]], *, levels: Levels) -> dict[int, int]:
    """One number for nets of a signal that series resistors join."""
    joined: dict[int, int] = {}
    for first, second in pairs:
        if first in levels.rails or second in levels.rails:
            continue
        one, other = joined.get(first, first), joined.get(second, second)
        for net in [first, second, *(net for net, number in joined.items() if number == other)]:
            joined[net] = one
    return joined


def _nets(
    role: str, *, leds: Mapping[str, PlacedLed], seats: Mapping[str, Sequence[Seat]], joined: Mapping[int, int]
) -> dict[str, int]:
    """Net under the terminal of that role, by LED."""
    return {
        ref: joined.get(seat.land.net, seat.land.net)
        for ref in leds
        for seat in seats[ref]
        if seat.terminal.role == role and seat.land is not None
    }


def _unconnected(
    signal: str,
    *,
    into: Mapping[str, int],
    out: Mapping[str, int],
    leds: Mapping[str, PlacedLed],
    lands: Mapping[int, int],
) -> Iterator[WiringFault]:
    """Inputs that nothing drives, and outputs that drive against each other."""
    driven_by: dict[int, list[str]] = defaultdict(list)
    for ref, net in out.items():
        driven_by[net].append(ref)
    listening = Counter(into.values())
    ends = [ref for ref, net in out.items() if not listening[net]]
    for ref, net in into.items():
        from_others = [other for other in driven_by.get(net, []) if other != ref]
        if not from_others and lands[net] <= listening[net]:
            loose = f" The {signal}-out of {', '.join(ends[:3])} reaches no input." if ends else ""
            yield _fault(
                "data-input-open", leds[ref], reason=f"Nothing drives the {signal}-in of {ref}: its copper reaches"
                f" neither a {signal}-out nor another pad.{loose}"
            )  # fmt: skip
    for refs in driven_by.values():
        if len(refs) > 1:
            words = f"Copper joins the {signal}-out of {' and '.join(refs[:4])}."
            yield _fault("data-outputs-joined", leds[refs[0]], reason=words)


def _other_order(
    design: Design, *, into: Mapping[str, int], out: Mapping[str, int], leds: Mapping[str, PlacedLed]
) -> Iterator[WiringFault]:
    """LEDs whose data goes elsewhere than to the next one that the design declares."""
    for string in (string for group in design.circuit if group.driver == "data" for string in group.strings):
        for ref, following in zip(string, string[1:], strict=False):
            if ref in out and following in into and out[ref] != into[following]:
                found = [other for other, net in into.items() if net == out[ref]]
                says = f"copper leads it to {', '.join(found)}" if found else "its copper reaches no data-in"
                reason = f"The design declares the data-out of {ref} to feed {following}, but {says}."
                yield _fault("data-order-differs", leds[ref], reason=reason)


def _fault(code: str, led: PlacedLed, *, reason: str) -> WiringFault:
    x, y = led.at_mm
    return WiringFault.model_validate(
        {"code": code, "subject": led.ref, "at_mm": (round(x, 4), round(y, 4)), "reason": reason}
    )
