"""Which side of each LED is the positive one, from the nets of the board and what is soldered between them.

Rails are told by the design, else by the names that nets bear. Between them every LED and every series part is taken
as some conductance: the sign of the voltage across an LED then tells its anode, as long as it does not depend on the
values. It is found for several sets of random conductances; where they disagree nothing is told.
"""

import math
from collections import defaultdict, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from paneglow.board import CopperNets, Land
from paneglow.design import Rail, Side
from paneglow.errors import DesignError
from paneglow.fab import PlacementRow

DRAWS = 8  # sets of conductances; a sign that depends on them stays hidden in all of them at most once in 100
DECADES = 2.0  # conductances spread over 10^-2 to 10^2
LEVEL_STEP = 1e-6  # share of the supply below which two nets are at one level
HANGING_STEP = 1e-3  # level per link that a branch hangs off its rail, far below any divided voltage that matters
RAIL_REACH_MM = 0.05  # a point of the design this near to copper is on it
MIDDLE_MM = 0.4  # chosen: centre of a row against the middle of its two lands; rounding and uneven lands
SERIES_REACH_MM = 8.0  # chosen: half the distance of the lands of the largest switches and holders placed by machine

# Designators of two-terminal parts that carry direct current (common practice, no source)
SERIES_PREFIXES = ("R", "L", "FB", "F", "SW", "S", "JP", "J", "K")
CHIP_PREFIXES = ("R", "C", "L", "FB", "F")  # those, and others, that are chips with a land at each end
FAR_LANDS = 2.0  # chosen: own lands are never this many times as far from the centre as the nearest of all
# Names of rails (common practice, no source)
POSITIVE_NAMES = frozenset({"VCC", "VDD", "VBAT", "VBUS", "VIN", "VLED", "VSUPPLY", "SUPPLY", "PWR", "BAT", "V"})
NEGATIVE_NAMES = frozenset({"GND", "GROUND", "VSS", "VEE", "0V", "BATNEG", "AGND", "DGND", "RETURN"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Something soldered between two nets that carries current."""

    ref: str
    first: int
    second: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Voltage of nets as a share of the supply, once per set of conductances.

    `of_net` holds one row of `DRAWS` values per net that hangs on a rail, `rails` the level of every net that is one;
    `basis` says where the rails come from.
    """

    of_net: Mapping[int, npt.NDArray[np.float64]]
    rails: Mapping[int, float]
    basis: str

    def higher(self, first: int, second: int) -> int:
        """1 where the first net is the more positive one in every set, -1 where the second is, 0 where it is open."""
        if first not in self.of_net or second not in self.of_net:
            return 0
        apart = self.of_net[first] - self.of_net[second]
        if (apart > LEVEL_STEP).all():
            return 1
        return -1 if (apart < -LEVEL_STEP).all() else 0


def find_rails(rails: Sequence[Rail], *, nets: CopperNets) -> tuple[Mapping[int, float], str]:
    """Level by net of the rails, and where they come from.

    Parameters
    ----------
    rails : sequence of Rail
        Of the design.
    nets : CopperNets

    Returns
    -------
    levels : mapping of int to float
        1 for positive, 0 for negative nets.
    basis : str
        In words; empty where nothing tells a rail.

    Raises
    ------
    DesignError
        Where a rail lies on no copper, names no net, or is both positive and negative.
    """
    levels: dict[int, float] = {}
    for rail in rails:
        level = 1.0 if rail.polarity == "positive" else 0.0
        for net in nets_of_rail(rail, nets=nets):
            if levels.setdefault(net, level) != level:
                raise DesignError(
                    f"rail {_rail_words(rail)}: its copper ({nets.name_of(net)}) is already the other side of the"
                    " supply; correct one of the [[rail]] tables, or look for a short"
                )
    if levels:
        return levels, "rails of the design"
    by_name = {net: _level_of_name(name) for net, name in nets.names.items()}
    named = {net: level for net, level in by_name.items() if level is not None}
    return named, "names of the nets" if named else ""


def nets_of_rail(rail: Rail, *, nets: CopperNets) -> set[int]:
    """Nets of the copper that a rail names.

    Raises
    ------
    DesignError
        Where it lies on no copper, or names no net.
    """
    if rail.net is not None:
        found = {net for net, name in nets.names.items() if name == rail.net}
        if not found:
            known = sorted(set(nets.names.values()))[:5]
            words = f"the files name {', '.join(known)}" if known else "the files name no nets; use at_mm"
            raise DesignError(f"rail net {rail.net!r} is not among the nets of the board; {words}")
        return found
    assert rail.at_mm is not None  # a rail has one of the two
    layer = f"copper_{rail.side}"
    near = nets.tree.query(shapely.Point(rail.at_mm), predicate="dwithin", distance=RAIL_REACH_MM)
    met = [nets.pieces[place] for place in near if nets.pieces[place].layer == layer]
    if not met:
        raise DesignError(
            f"rail {_rail_words(rail)}: there is no copper on the {rail.side}; give a point on its copper"
        )
    return {met[0].net}


def _rail_words(rail: Rail) -> str:
    return f"{rail.net!r}" if rail.at_mm is None else f"at ({rail.at_mm[0]:g}, {rail.at_mm[1]:g})"


def _level_of_name(name: str) -> float | None:
    word = "".join(letter for letter in name.upper() if letter.isalnum())
    if word in NEGATIVE_NAMES:
        return 0.0
    volts = word.replace("V", "", 1).isdecimal() and "V" in word  # 5V, +3V3
    return 1.0 if word in POSITIVE_NAMES or volts else None


def prefix_of(ref: str) -> str:
    """Letters of a designator, which say what kind of part it is."""
    return ref.rstrip("0123456789").upper()


def series_links(rows: Iterable[PlacementRow], *, nets: CopperNets, leds: Iterable[str]) -> tuple[Link, ...]:
    """Links through parts of the placement file that carry direct current: the two lands each stands between."""
    taken = set(leds)
    links = []
    for row in rows:
        if row.ref in taken or prefix_of(row.ref) not in SERIES_PREFIXES:
            continue
        pair = lands_of_row(row, nets=nets)
        if pair is not None and pair[0].net != pair[1].net:
            links.append(Link(ref=row.ref, first=pair[0].net, second=pair[1].net))
    return tuple(links)


def lands_of_row(row: PlacementRow, *, nets: CopperNets) -> tuple[Land, Land] | None:
    """The two lands whose middle is the part's centre; the nearest such pair.

    A chip part stands on the lands next to its centre. Where one of its own lies under mask, lands far out that happen
    to lie alike are not taken for it.
    """
    side: Side = row.side or "back"
    near = []
    for land in nets.lands:
        x, y = land.polygon.centroid.x, land.polygon.centroid.y
        if land.side == side and math.hypot(x - row.x_mm, y - row.y_mm) <= SERIES_REACH_MM:
            near.append((land, x, y))
    pairs = []
    for number, (first, x1, y1) in enumerate(near):
        for second, x2, y2 in near[number + 1 :]:
            off = math.hypot((x1 + x2) / 2 - row.x_mm, (y1 + y2) / 2 - row.y_mm)
            if off <= MIDDLE_MM:
                pairs.append((math.hypot(x1 - x2, y1 - y2), first, second))
    if not pairs:
        return None
    apart, first, second = min(pairs, key=lambda pair: pair[0])
    nearest = min(math.hypot(x - row.x_mm, y - row.y_mm) for _, x, y in near)
    is_chip = prefix_of(row.ref) in CHIP_PREFIXES
    return None if is_chip and apart / 2 > FAR_LANDS * nearest + MIDDLE_MM else (first, second)


def solve_levels(links: Sequence[Link], *, rails: Mapping[int, float], basis: str) -> Levels:
    """Levels of all nets that hang on a rail through links.

    Parameters
    ----------
    links : sequence of Link
        LEDs and series parts, in either sense.
    rails : mapping of int to float
        Level of the rails' nets.
    basis : str
        Where the rails come from.

    Notes
    -----
    A branch that carries no current, since its far end hangs free, is at the level of the rail it hangs on. If it is
    ever to shine, current must flow through it between that rail and its far end, so its nets are put a step away from
    the rail for every link between.
    """
    nodes = sorted({net for link in links for net in (link.first, link.second)} | set(rails))
    distance = _distances(links, rails=rails)
    free = [net for net in nodes if net in distance and net not in rails]
    draws = np.random.default_rng(1).uniform(-DECADES, DECADES, (DRAWS, len(links)))  # any fixed seed does
    of_net = {net: np.full(DRAWS, level) for net, level in rails.items()}
    solved = np.array([_solved(links, conductance=10.0**draw, free=free, rails=rails) for draw in draws])
    for column, net in enumerate(free):
        levels = solved[:, column]
        hanging = HANGING_STEP * min(distance[net], 400)
        if (levels < LEVEL_STEP).all():
            levels = levels + hanging
        elif (levels > 1.0 - LEVEL_STEP).all():
            levels = levels - hanging
        of_net[net] = levels
    return Levels(of_net=of_net, rails=dict(rails), basis=basis)


def _distances(links: Sequence[Link], *, rails: Mapping[int, float]) -> dict[int, int]:
    """Links between a net and the nearest rail."""
    neighbours: dict[int, set[int]] = defaultdict(set)
    for link in links:
        neighbours[link.first].add(link.second)
        neighbours[link.second].add(link.first)
    found = dict.fromkeys(rails, 0)
    waiting = deque(found)
    while waiting:
        net = waiting.popleft()
        for other in neighbours[net] - found.keys():
            found[other] = found[net] + 1
            waiting.append(other)
    return found


def _solved(
    links: Sequence[Link], *, conductance: npt.NDArray[np.float64], free: Sequence[int], rails: Mapping[int, float]
) -> npt.NDArray[np.float64]:
    """Node voltages by Kirchhoff's current law."""
    place = {net: index for index, net in enumerate(free)}
    matrix, feed = np.zeros((len(free), len(free))), np.zeros(len(free))
    for link, value in zip(links, conductance, strict=True):
        for net, other in ((link.first, link.second), (link.second, link.first)):
            if net not in place:
                continue
            matrix[place[net], place[net]] += value
            if other in place:
                matrix[place[net], place[other]] -= value
            else:
                feed[place[net]] += value * rails[other]
    return np.asarray(np.linalg.solve(matrix, feed), dtype=np.float64)
