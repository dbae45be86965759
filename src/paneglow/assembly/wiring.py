"""The circuits that a design declares, followed on the copper: rail, resistor, LED after LED, and back.

Solver and report take a circuit as it is declared. Here it is compared with what will be made: the lands of LEDs and
resistors, the nets that copper makes of them, and the rows of the placement file.
"""

import math
import re
from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from itertools import pairwise, permutations
from typing import Literal

from pydantic import Field

from paneglow.assembly.circuit import CHIP_PREFIXES, SERIES_PREFIXES, Levels, lands_of_row, nets_of_rail, prefix_of
from paneglow.board import Board, CopperNets, Land
from paneglow.design import CircuitGroup, Design, Rail
from paneglow.fab import PlacementRow
from paneglow.units import PointMm, Record

WiringCode = Literal[
    "part-without-lands",
    "resistor-bypassed",
    "resistor-missing",
    "resistor-differs",
    "resistor-shared-by-copper",
    "circuit-wired-otherwise",
    "rail-reaches-no-led",
    "circuit-not-checked",
    "data-input-open",
    "data-outputs-joined",
    "data-order-differs",
]
Ends = Mapping[str, tuple[int, int]]  # nets of the anode and the cathode of an LED, by its ref

JOINING_PREFIXES = ("FB", "L", "F", "SW", "S", "JP")  # parts that join two nets for direct current when closed
VALUE_FRAC = 0.01  # values alike within this are one; resistors are sold to 1 % and 5 %
FREE_LANDS_MM = 5.0  # chosen: lands of one resistor are no farther apart than those of a 2010 chip
CASE_CODES = {"0201", "0402", "0603", "0805", "1206", "1210", "2010", "2512"}  # sizes, no values
MULTIPLES = {"R": 1.0, "": 1.0, "K": 1e3, "M": 1e6}


class WiringFault(Record):
    """Where declared circuit and copper differ."""

    code: WiringCode = Field(description="Rule of the judge that tells it.")
    subject: str = Field(description="Designator of the LED or resistor, or board.")
    at_mm: PointMm | None = Field(description="Where, seen from the front [mm]; None where it has no place.")
    reason: str = Field(description="What differs, in one sentence.")


class FollowedString(Record):
    """LEDs of one declared string, and the resistors that copper puts in series with them."""

    leds: tuple[str, ...] = Field(description="Designators, the first at the positive side.")
    resistors: tuple[str, ...] = Field(description="Designators, from the positive side on.")


class WiringCheck(Record):
    """Declared circuits against the copper."""

    strings: tuple[FollowedString, ...] = Field(default=(), description="Strings that could be followed to both ends.")
    faults: tuple[WiringFault, ...] = Field(default=(), description="Where declared circuits and copper differ.")


NO_WIRING = WiringCheck()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Resistor:
    """A resistor soldered between two nets; `ohm` is None where its row states no value."""

    ref: str
    at_mm: tuple[float, float]
    nets: tuple[int, int]
    ohm: float | None


@dataclass(slots=True, kw_only=True)
class _Follower:
    """The copper, and what was found on it so far."""

    board: Board
    nets: CopperNets
    ends: Ends
    rails: Mapping[int, float]
    joined: Mapping[int, int]  # nets that closed switches, inductors and fuses make one
    resistors: Sequence[_Resistor]
    unsoldered: Set[str]  # refs without a land at both ends
    unfollowed: list[str] = field(default_factory=list)  # what ends where a resistor may be that no row tells of
    strings: list[FollowedString] = field(default_factory=list)
    faults: list[WiringFault] = field(default_factory=list)

    def net(self, net: int) -> int:
        """One number for all nets that are joined."""
        return self.joined.get(net, net)

    def anode(self, ref: str) -> int:
        """Net of an LED's anode."""
        return self.net(self.ends[ref][0])

    def cathode(self, ref: str) -> int:
        """Net of its cathode."""
        return self.net(self.ends[ref][1])

    def at_level(self, level: float) -> set[int]:
        """Nets of the rails of one side of the supply."""
        return {self.net(net) for net, one in self.rails.items() if one == level}

    @property
    def rails_unknown(self) -> tuple[str, ...]:
        """Sides of the supply of which no copper is known."""
        return tuple(side for side, level in (("positive", 1.0), ("negative", 0.0)) if not self.at_level(level))

    def path(self, start: int, ends: Set[int]) -> tuple[str, ...] | None:
        """Resistors from a net to the nearest of others, passing no rail; None where no way leads there."""
        reached: dict[int, tuple[str, ...]] = {start: ()}
        waiting = deque([start])
        walls = {self.net(net) for net in self.rails}
        while waiting:
            net = waiting.popleft()
            if net in ends:
                return reached[net]
            if net in walls:
                continue
            for resistor in self.resistors:
                if net in resistor.nets:
                    other = resistor.nets[resistor.nets[0] == net]
                    if other not in reached:
                        reached[other] = (*reached[net], resistor.ref)
                        waiting.append(other)
        return None

    def place(self, ref: str) -> tuple[float, float] | None:
        """Where an LED or a resistor stands."""
        placed = {led.ref: led.at_mm for led in self.board.leds} | {one.ref: one.at_mm for one in self.resistors}
        return placed.get(ref) or placed.get(ref.rpartition(".")[0])

    def blame(self, code: WiringCode, subject: str, *, reason: str, at_mm: tuple[float, float] | None = None) -> None:
        """Keep a fault; it stands where its subject does unless a place is given."""
        place = self.place(subject) if at_mm is None else at_mm
        rounded = None if place is None else (round(place[0], 4), round(place[1], 4))
        self.faults.append(WiringFault(code=code, subject=subject, at_mm=rounded, reason=reason))


def follow_circuits(
    design: Design,
    *,
    board: Board,
    nets: CopperNets,
    levels: Levels,
    ends: Ends,
    more: tuple[WiringFault, ...] = (),
) -> WiringCheck:
    """Compare the circuits of a design with its copper.

    Parameters
    ----------
    design : Design
        Its circuits and rails.
    board : Board
        With its placement, whose rows say where resistors stand.
    nets : CopperNets
        Of that board.
    levels : Levels
        Whose rails end the strings.
    ends : mapping of str to (int, int)
        Nets of the lands that must take anode and cathode, by LED; LEDs that lie off their lands are left out.
    more : tuple of WiringFault
        Faults of data chains, which are followed by their own rules.

    Returns
    -------
    WiringCheck
        What cannot be followed is a fault too, of code circuit-not-checked.
    """
    rows = [] if board.placement is None else [row for row in board.placement.rows if row.ref not in ends]
    pairs = {
        row.ref: lands_of_row(row, nets=nets)
        for row in rows
        if prefix_of(row.ref) in {*SERIES_PREFIXES, *CHIP_PREFIXES}
    }
    rails = levels.rails
    joined = _joined(rows, pairs=pairs, rails=rails)
    follower = _Follower(
        board=board,
        nets=nets,
        ends=ends,
        rails=rails,
        joined=joined,
        resistors=[
            _Resistor(
                ref=row.ref,
                at_mm=(row.x_mm, row.y_mm),
                nets=(joined.get(pair[0].net, pair[0].net), joined.get(pair[1].net, pair[1].net)),
                ohm=parse_ohm(row.value),
            )
            for row in rows
            if prefix_of(row.ref) == "R" and (pair := pairs[row.ref]) is not None
        ],
        unsoldered={row.ref for row in rows if prefix_of(row.ref) in CHIP_PREFIXES and pairs[row.ref] is None},
    )
    for row in rows:
        if row.ref in follower.unsoldered:
            what = f"Around the middle of {row.ref} there are no two bare pads, one for each of its ends."
            follower.blame("part-without-lands", row.ref, reason=what, at_mm=(row.x_mm, row.y_mm))
    for rail in design.rail:
        _check_rail(rail, follower=follower)
    for group in design.circuit:
        if group.driver != "data" and all(ref in ends for ref in group.wired):
            _CHECKS[group.driver](group, follower)
    _check_sharing(design, follower=follower)
    _check_known(design, follower=follower)
    return WiringCheck(strings=tuple(follower.strings), faults=(*follower.faults, *more))


def parse_ohm(value: str) -> float | None:
    """Resistance that a value of a parts row states [ohm]; None where it states none.

    Examples
    --------
    >>> parse_ohm("4k7"), parse_ohm("330R 1%"), parse_ohm("2.2 kOhm"), parse_ohm("11000"), parse_ohm("resistor-0603")
    (4700.0, 330.0, 2200.0, 11000.0, None)
    """
    words = value.replace(",", ".").upper().replace("\N{OHM SIGN}", "R").replace("\N{GREEK CAPITAL LETTER OMEGA}", "R")
    for word in re.split(r"[\s/_;]+", re.sub(r"(\d)\s+(?=[KM]?(?:OHM|R)\b)", r"\1", words.replace("OHM", "R"))):
        if word in CASE_CODES:
            continue
        if found := re.fullmatch(r"(\d+)([RKM])(\d+)R?", word):
            return float(f"{found[1]}.{found[3]}") * MULTIPLES[found[2]]
        if found := re.fullmatch(r"(\d+(?:\.\d+)?)([KM]?)R?", word):
            return float(found[1]) * MULTIPLES[found[2]]
    return None


def _joined(
    rows: Iterable[PlacementRow], *, pairs: Mapping[str, tuple[Land, Land] | None], rails: Mapping[int, float]
) -> dict[int, int]:
    """One number for nets that parts without resistance join; never for two sides of the supply."""
    joined: dict[int, int] = {}
    for row in rows:
        pair = pairs.get(row.ref)
        if prefix_of(row.ref) not in JOINING_PREFIXES or pair is None:
            continue
        first, second = (joined.get(land.net, land.net) for land in pair)
        sides = {level for net, level in rails.items() if joined.get(net, net) in (first, second)}
        if len(sides) < 2 and first != second:
            joined |= {net: first for net in (*joined, pair[1].net) if joined.get(net, net) == second}
            joined[second] = first
    return joined


def _check_rail(rail: Rail, *, follower: _Follower) -> None:
    """Whether any LED hangs on a declared rail, straight or through resistors."""
    lit = {follower.net(net) for pair in follower.ends.values() for net in pair}
    starts = {follower.net(net) for net in nets_of_rail(rail, nets=follower.nets)}
    others = {resistor.nets[number] for resistor in follower.resistors for number in (0, 1)} & lit
    touched = {net for resistor in follower.resistors if set(resistor.nets) & starts for net in resistor.nets}
    if not lit or starts & lit or touched & others:
        return
    if not follower.resistors:
        follower.unfollowed.append(f"the {rail.polarity} rail")
    else:
        where = rail.net if rail.at_mm is None else f"({rail.at_mm[0]:g}, {rail.at_mm[1]:g}) mm"
        what = f"The {rail.polarity} rail at {where} reaches no LED, neither by copper nor through a resistor."
        follower.blame("rail-reaches-no-led", "board", reason=what, at_mm=rail.at_mm)


def _check_strings(group: CircuitGroup, follower: _Follower) -> None:
    """Strings between rails, pins and sinks."""
    names = group.resistor_names or (None,) * len(group.strings)
    ohms = group.ohms or (0.0,) * len(group.strings)
    for leds, name, ohm in zip(group.strings, names, ohms, strict=True):
        found = _followed(leds, group=group, name=name, ohm=ohm, follower=follower)
        if found is not None:
            follower.strings.append(FollowedString(leds=leds, resistors=found))
            _compare_resistor(leds, found=found, name=name, ohm=ohm, follower=follower)


def _followed(
    leds: tuple[str, ...], *, group: CircuitGroup, name: str | None, ohm: float, follower: _Follower
) -> tuple[str, ...] | None:
    """Resistors of a string by copper; None where a link of it is missing, which is then told."""
    found: list[str] = []
    for first, second in pairwise(leds):
        between = follower.path(follower.cathode(first), {follower.anode(second)})
        if between is None:
            what = f"The string {_in_words(leds)} is not joined: copper leads from {first} to no anode of {second}."
            follower.blame("circuit-wired-otherwise", second, reason=what)
            return None
        found += between
    ends = (
        (leds[0], "anode", follower.anode(leds[0]), "positive", group.driver != "pin" or group.sinking),
        (leds[-1], "cathode", follower.cathode(leds[-1]), "negative", group.driver == "rail" or not group.sinking),
    )
    for led, electrode, net, side, to_rail in ends:
        if to_rail and not (group.driver == "sink" and electrode == "cathode"):
            way = follower.path(net, follower.at_level(1.0 if side == "positive" else 0.0))
        else:
            way = _to_pin(net, follower=follower)
        if way is None and to_rail and side in follower.rails_unknown:
            return None  # said once, of the whole board
        if way is None:
            _blame_open_end(led, electrode=electrode, net=net, side=side, name=name, ohm=ohm, follower=follower)
            return None
        found = [*way[::-1], *found] if electrode == "anode" else [*found, *way]
    return tuple(found)


def _to_pin(net: int, *, follower: _Follower) -> tuple[str, ...] | None:
    """Resistor between an LED and the pin or sink that switches it; None where it hangs on a rail instead."""
    rails = {follower.net(one) for one in follower.rails}
    if net in rails:
        return None
    behind = [one for one in follower.resistors if net in one.nets and one.nets[0] != one.nets[1]]
    toward = [one for one in behind if one.nets[one.nets[0] == net] not in rails]
    return (toward[0].ref,) if toward else ()


def _blame_open_end(
    led: str, *, electrode: str, net: int, side: str, name: str | None, ohm: float, follower: _Follower
) -> None:
    """Say why no way leads from an end of a string to its rail."""
    if name in follower.unsoldered or (name is None and _unsoldered_near(led, follower=follower)):
        return  # told of the resistor itself
    if not follower.resistors and name is None:
        follower.unfollowed.append(led)
        return
    target = follower.at_level(1.0 if side == "positive" else 0.0)
    free = _free_lands(net, target, follower=follower) if ohm > 0.0 else None
    called = f"{name}, " if name else ""
    if free is not None:
        what = (
            f"No row of the placement file puts the resistor of {led} ({called}{ohm:g} ohm) on its pads at"
            f" ({free[0]:.2f}, {free[1]:.2f}) mm, so the {electrode} of {led} is open."
        )
        follower.blame("resistor-missing", name or led, reason=what, at_mm=free)
        return
    what = (
        f"The {electrode} of {led} is on {follower.nets.name_of(net)}, from which neither copper nor a resistor leads"
        f" to the {side} rail, as the design says."
    )
    follower.blame("circuit-wired-otherwise", led, reason=what)


def _unsoldered_near(led: str, *, follower: _Follower) -> bool:
    rows = [] if follower.board.placement is None else follower.board.placement.rows
    place = follower.place(led)
    assert place is not None
    near = (row for row in rows if row.ref in follower.unsoldered and prefix_of(row.ref) == "R")
    return any(math.hypot(row.x_mm - place[0], row.y_mm - place[1]) < 2 * FREE_LANDS_MM for row in near)


def _free_lands(net: int, target: Set[int], *, follower: _Follower) -> tuple[float, float] | None:
    """Middle of two lands that nothing stands on, one on a net and one on a rail; None where there are none so near."""
    rows = () if follower.board.placement is None else follower.board.placement.rows
    taken = [*((row.x_mm, row.y_mm) for row in rows), *(led.at_mm for led in follower.board.leds)]
    lands = [(land, follower.net(land.net), land.polygon.centroid) for land in follower.nets.lands]
    found = []
    for one, _, here in ((land, at, point) for land, at, point in lands if at == net):
        for other, _, there in ((land, at, point) for land, at, point in lands if at in target):
            apart, middle = here.distance(there), ((here.x + there.x) / 2, (here.y + there.y) / 2)
            is_free = all(math.dist(middle, place) > 0.4 * apart for place in taken)
            if one.side == other.side and apart <= FREE_LANDS_MM and is_free:
                found.append((apart, middle))
    return min(found)[1] if found else None


def _compare_resistor(
    leds: tuple[str, ...], *, found: tuple[str, ...], name: str | None, ohm: float, follower: _Follower
) -> None:
    """Name and value of the resistor of a followed string against what is declared."""
    known = {one.ref: one for one in follower.resistors}
    declared = f"{name} of {ohm:g} ohm" if name else f"{ohm:g} ohm"
    if not found and ohm > 0.0:
        nets = {follower.net(net) for ref in leds for net in follower.ends[ref]}
        shorted = [one.ref for one in follower.resistors if one.nets[0] == one.nets[1] and one.nets[0] in nets]
        ref = name if name in shorted else min(shorted, key=lambda one: _apart(one, leds[0], follower), default=None)
        by = f"; copper joins both pads of {ref}" if ref else ""
        what = f"{_in_words(leds)} hang on the rails without a resistor{by}, while the design says {declared}."
        follower.blame("resistor-bypassed", ref or leds[0], reason=what.replace(" hang ", " hangs ", len(leds) == 1))
        return
    values = [known[ref].ohm for ref in found]
    total = sum(value for value in values if value is not None) if None not in values else None
    if name is not None and name not in found and found:
        what = f"Copper puts {_in_words(found)} in series with {_in_words(leds)}, while the design says {declared}."
        follower.blame("resistor-differs", found[0], reason=what)
    elif total is not None and abs(total - ohm) > VALUE_FRAC * max(ohm, total):
        of = f"{_in_words(found)} in series with {_in_words(leds)}"
        what = f"The placement file says {total:g} ohm of {of}, while the design says {declared}."
        follower.blame("resistor-differs", found[0], reason=what)


def _apart(ref: str, led: str, follower: _Follower) -> float:
    first, second = follower.place(ref), follower.place(led)
    assert first is not None
    assert second is not None
    return math.dist(first, second)


def _check_matrix(group: CircuitGroup, follower: _Follower) -> None:
    """Rows share a net at the anodes, columns one at the cathodes; resistors stand in the columns."""
    wanted = [
        (ref, row, column)
        for row, line in zip(group.rows, group.grid, strict=True)
        for ref, column in zip(line, group.columns, strict=True)
        if ref
    ]
    pins = _pins_on_nets(
        [(ref, f"row {row}", f"column {column}") for ref, row, column in wanted], group=group, follower=follower
    )
    names = group.resistor_names or (None,) * len(group.columns)
    for column, name, ohm in zip(group.columns, names, group.ohms, strict=True):
        net = pins.get(f"column {column}")
        if net is None:
            continue
        leds = tuple(ref for ref, _, at in wanted if at == column)
        behind = _to_pin(net, follower=follower)
        if behind is not None:
            _compare_resistor(leds, found=behind, name=name, ohm=ohm, follower=follower)


def _check_charlieplex(group: CircuitGroup, follower: _Follower) -> None:
    """Every LED from the net of one pin to that of another; a resistor stands at each pin."""
    wanted = [
        (ref, f"pin {first}", f"pin {second}")
        for ref, (first, second) in zip(group.refs, permutations(group.pins, 2), strict=False)
        if ref
    ]
    pins = _pins_on_nets(wanted, group=group, follower=follower)
    names = group.resistor_names or (None,) * len(group.pins)
    for pin, name, ohm in zip(group.pins, names, group.ohms, strict=True):
        net = pins.get(f"pin {pin}")
        behind = None if net is None else _to_pin(net, follower=follower)
        if behind is not None:
            leds = tuple(ref for ref, first, second in wanted if f"pin {pin}" in (first, second))
            _compare_resistor(leds, found=behind, name=name, ohm=ohm, follower=follower)


def _pins_on_nets(
    wanted: Sequence[tuple[str, str, str]], *, group: CircuitGroup, follower: _Follower
) -> dict[str, int]:
    """Net of every pin: the one that most of its LEDs hang on; none at all where some LEDs do not, which is told."""
    met: dict[str, Counter[int]] = defaultdict(Counter)
    for ref, first, second in wanted:
        met[first][follower.anode(ref)] += 1
        met[second][follower.cathode(ref)] += 1
    # A net goes to the pin that it speaks for most clearly, so that one LED at two wrong pins does not move both
    pins: dict[str, int] = {}
    claims = sorted(((count, pin, net) for pin, nets in met.items() for net, count in nets.items()), reverse=True)
    for _, pin, net in claims:
        if pin not in pins and net not in pins.values():
            pins[pin] = net
    wrong = [
        (ref, first, second)
        for ref, first, second in wanted
        if (follower.anode(ref), follower.cathode(ref)) != (pins.get(first), pins.get(second))
    ]
    if wrong:
        ref, first, second = wrong[0]
        others = f", as {_in_words(tuple(one for one, *_ in wrong[1:]))}" if wrong[1:] else ""
        what = (
            f"{ref} is declared from {first} to {second} of the {group.driver}, but copper puts it from"
            f" {follower.nets.name_of(follower.anode(ref))} to {follower.nets.name_of(follower.cathode(ref))}, where"
            f" the other LEDs of these pins do not hang{others}."
        )
        follower.blame("circuit-wired-otherwise", ref, reason=what)
    return {} if wrong else pins


def _check_sharing(design: Design, *, follower: _Follower) -> None:
    """One resistor in several strings, although each was given its own."""
    declared = {leds: name for group in design.circuit for leds, name in _named_strings(group)}
    users: dict[str, list[FollowedString]] = defaultdict(list)
    for string in follower.strings:
        for ref in string.resistors:
            users[ref].append(string)
    for ref, strings in users.items():
        names = {declared.get(string.leds) for string in strings}
        if len(strings) > 1 and (len(names) > 1 or names == {None}):
            of = _in_words(tuple(string.leds[0] for string in strings))
            what = f"{ref} carries the current of {of} together, while the design gives each of them its own resistor."
            follower.blame("resistor-shared-by-copper", ref, reason=what)


def _named_strings(group: CircuitGroup) -> Iterator[tuple[tuple[str, ...], str | None]]:
    return zip(group.strings, group.resistor_names or (None,) * len(group.strings), strict=True)


def _check_known(design: Design, *, follower: _Follower) -> None:
    """Say what could not be compared: nothing is passed in silence."""
    wired = tuple(ref for group in design.circuit if group.driver != "data" for ref in group.wired)
    lost = tuple(ref for ref in wired if ref not in follower.ends)
    values = {one.ref: one.ohm for one in follower.resistors}
    unread = [ref for string in follower.strings for ref in string.resistors if values.get(ref) is None]
    named = {name for group in design.circuit for name in group.resistors}
    reasons = []
    if lost:
        reasons.append(f"no two pads on two nets are found under {_in_words(lost)}")
    if not follower.rails and design.circuit:
        reasons.append("nothing tells the rails")
    elif design.circuit and follower.rails_unknown:
        reasons.append(f"no [[rail]] and no name of a net tells the {' or the '.join(follower.rails_unknown)} rail")
    if follower.unfollowed:
        ends = _in_words(tuple(dict.fromkeys(follower.unfollowed)))
        reasons.append(f"no row of a placement file stands for a resistor, so that {ends} could not be followed on")
    if unread and not named >= set(unread):
        reasons.append(f"the placement file states no value of {_in_words(tuple(dict.fromkeys(unread)))}")
    if reasons:
        what = f"Not all that the design declares could be compared with the copper: {'; '.join(reasons)}."
        follower.blame("circuit-not-checked", "board", reason=what)


def _in_words(refs: Sequence[str]) -> str:
    shown = ", ".join(refs[:4])
    return shown if len(refs) <= 4 else f"{shown} and {len(refs) - 4} more"


_CHECKS = {
    "rail": _check_strings,
    "pin": _check_strings,
    "sink": _check_strings,
    "matrix": _check_matrix,
    "charlieplex": _check_charlieplex,
}
