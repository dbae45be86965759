"""Cheapest way to buy a number of pieces: next breaks, packs, minimums, leader loss, several offers and suppliers.

One item is bought in one line, or in two from different offers (two reels and a strip). Prices of a ladder hold for
all pieces of a line and never rise with quantity, which is checked when the cost file is read. Within these rules the
result is the optimum, not an approximation.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import combinations

from paneglow.cost.charges import to_price
from paneglow.cost.money import ZERO
from paneglow.errors import DesignError

MOST_SUPPLIERS = 10  # that ask postage: every subset is tried, 1024 at ten


@dataclass(frozen=True, kw_only=True)
class Ladder:
    """An offer with its prices in the base currency, duty and price factor inside.

    `steps` holds (pieces, price of one), pieces rising and prices not.
    """

    item: str
    supplier: str
    form: str
    steps: tuple[tuple[int, Decimal], ...]
    minimum: int = 1
    pack: int = 1
    leader: int = 0
    fee: Decimal = ZERO
    quoted: tuple[Decimal, ...] = ()  # prices of the steps as they were quoted
    terms: str = ""  # what stands behind a quoted price: " USD + 3.5 % duty"

    def each(self, pieces: int) -> Decimal:
        """Price of one of so many pieces."""
        return self.steps[self.step(pieces)][1]

    def step(self, pieces: int) -> int:
        """Index of the step that so many pieces reach."""
        return bisect_right(self._starts, pieces) - 1

    @cached_property
    def _starts(self) -> tuple[int, ...]:
        """Pieces at which the steps start."""
        return tuple(at for at, _ in self.steps)

    @cached_property
    def least(self) -> int:
        """Fewest pieces that can be bought: the minimum and the first step, in whole packs."""
        return self.whole_packs(max(self.minimum, self.steps[0][0]))

    def whole_packs(self, pieces: int) -> int:
        """So many pieces, rounded up to whole packs."""
        return -(-pieces // self.pack) * self.pack

    def cost(self, pieces: int) -> Decimal:
        """Price of a line of so many pieces."""
        return pieces * self.each(pieces) + self.fee


@dataclass(frozen=True, kw_only=True)
class Line:
    """So many pieces bought from one offer."""

    ladder: Ladder
    pieces: int

    @cached_property
    def cost(self) -> Decimal:
        """What the line costs."""
        return self.ladder.cost(self.pieces)

    @cached_property
    def each(self) -> Decimal:
        """Price of one piece."""
        return self.ladder.each(self.pieces)

    @cached_property
    def price_words(self) -> str:
        """Price of one piece as it was quoted, with its terms."""
        ladder = self.ladder
        quoted = ladder.quoted[ladder.step(self.pieces)] if ladder.quoted else self.each
        return f"{to_price(quoted)}{ladder.terms}"

    @property
    def usable(self) -> int:
        """Pieces that the leader leaves."""
        return self.pieces - self.ladder.leader


@dataclass(frozen=True, kw_only=True)
class Basket:
    """What to buy for every item, and whom to order from."""

    lines: Mapping[str, tuple[Line, ...]]
    postage: Mapping[str, Decimal]  # of every supplier that is ordered from

    @cached_property
    def cost(self) -> Decimal:
        """Goods and postage."""
        goods = (line.cost for lines in self.lines.values() for line in lines)
        return sum(goods, ZERO) + sum(self.postage.values(), ZERO)


def best_line(need: int, *, ladder: Ladder) -> Line:
    """Cheapest single line that leaves `need` usable pieces: the fewest pieces, or those of a later step.

    A step's price times its own pieces is the least that step can cost, so no other quantity can be cheaper.
    """
    fewest = max(ladder.least, ladder.whole_packs(need + ladder.leader))
    pieces = [fewest, *(ladder.whole_packs(at) for at, _ in ladder.steps if at > fewest)]
    return Line(ladder=ladder, pieces=min(pieces, key=lambda count: (ladder.cost(count), count)))


def best_lines(need: int, *, ladders: Sequence[Ladder]) -> tuple[Line, ...]:
    """Cheapest one or two lines that leave `need` usable pieces.

    Parameters
    ----------
    need : int
        Usable pieces, at least 0; nothing is bought for 0.
    ladders : sequence of Ladder
        At least one; of equal costs the first found is taken, one line before two.
    """
    if need <= 0:
        return ()
    choices: list[tuple[Line, ...]] = [(best_line(need, ladder=ladder),) for ladder in ladders]
    best = min(choices, key=lines_cost)
    for packed in ladders:
        for filler in ladders:
            if filler is not packed and packed.pack > 1:
                best = min((best, *_splits(need, packed=packed, filler=filler)), key=lines_cost)
    return best


def lines_cost(lines: Iterable[Line]) -> Decimal:
    """Cost of several lines."""
    return sum((line.cost for line in lines), ZERO)


def _splits(need: int, *, packed: Ladder, filler: Ladder) -> Iterator[tuple[Line, ...]]:
    """Two lines, of which the one in packs has the lower price of a piece and the other fills up.

    If the cheaper of two lines could be had by the piece, it alone would serve better; so it comes in packs, and the
    other one is too small to be worth whole packs instead: `most` pieces at the most.
    """
    alone = max(packed.least, packed.whole_packs(need + packed.leader))
    most = _most_filling(need, alone=alone, packed=packed, filler=filler)
    start = max(packed.least, packed.whole_packs(max(0, need + packed.leader + filler.leader - most)))
    for pieces in range(start, alone, packed.pack):
        first = Line(ladder=packed, pieces=pieces)
        if 0 < first.usable < need:
            yield first, best_line(need - first.usable, ladder=filler)


def _most_filling(need: int, *, alone: int, packed: Ladder, filler: Ladder) -> int:
    """Most pieces that the dearer line of a split can hold before whole packs of the other are cheaper.

    The other line alone takes `alone` pieces, fewer than those of the split plus one pack, each at `low` or less. So
    a filler of y pieces at price b pays only while y b < (y + pack) low.
    """
    low = packed.each(alone)
    most = 0
    ends = [at for at, _ in filler.steps[1:]]
    for (_, price), end in zip(filler.steps, [*ends, need + filler.leader + filler.least + filler.pack], strict=True):
        reach = int(packed.pack * low / (price - low)) + 1 if price > low else end
        most = max(most, min(end, reach)) if price >= low else most
    return most


class Market:
    """Offers of all items and postage by supplier; what was once worked out for an item is kept for later runs.

    Parameters
    ----------
    ladders : sequence of Ladder
        Offers of all items.
    postage : mapping of str to Decimal
        By supplier, per order; 0 where a supplier is not named.
    """

    def __init__(self, *, ladders: Sequence[Ladder], postage: Mapping[str, Decimal]) -> None:
        self.ladders = tuple(ladders)
        self.postage = dict(postage)
        self._known: dict[tuple[str, int, frozenset[str]], tuple[Line, ...]] = {}
        self._offers: dict[str, list[Ladder]] = {}
        for ladder in self.ladders:
            self._offers.setdefault(ladder.item, []).append(ladder)

    def best_basket(self, needs: Mapping[str, int]) -> Basket:
        """Cheapest basket: every item at its best, and orders at few suppliers where postage outweighs prices.

        Parameters
        ----------
        needs : mapping of str to int
            Usable pieces by item.

        Raises
        ------
        DesignError
            Where an item has no offer, or more than ten suppliers ask postage.
        """
        wanted = {item: need for item, need in needs.items() if need > 0}
        missing = [item for item in wanted if item not in self._offers]
        if missing:
            raise DesignError(f"there is no offer for {', '.join(missing)}; add an [[offer]] with item and ladder")
        suppliers = {item: frozenset(ladder.supplier for ladder in self._offers[item]) for item in wanted}
        concerned = frozenset().union(*suppliers.values())
        charging = sorted(name for name in concerned if self.postage.get(name, ZERO) > 0)
        if len(charging) > MOST_SUPPLIERS:
            raise DesignError(f"{len(charging)} suppliers ask postage; allowed are {MOST_SUPPLIERS}: leave some out")
        free = concerned.difference(charging)
        best: Basket | None = None
        for count in range(len(charging) + 1):
            for chosen in combinations(charging, count):
                open_at = free.union(chosen)
                if all(open_at & own for own in suppliers.values()):
                    basket = self._basket(wanted, open_at=open_at)
                    best = basket if best is None or basket.cost < best.cost else best
        return best if best is not None else Basket(lines={}, postage={})

    def _basket(self, wanted: Mapping[str, int], *, open_at: frozenset[str]) -> Basket:
        """Best lines of every item among the suppliers that are ordered from."""
        lines = {item: self._lines(item, need=need, open_at=open_at) for item, need in wanted.items()}
        used = sorted({line.ladder.supplier for chosen in lines.values() for line in chosen})
        return Basket(lines=lines, postage={name: self.postage.get(name, ZERO) for name in used})

    def _lines(self, item: str, *, need: int, open_at: frozenset[str]) -> tuple[Line, ...]:
        within = [ladder for ladder in self._offers[item] if ladder.supplier in open_at]
        key = item, need, frozenset(ladder.supplier for ladder in within)
        if key not in self._known:
            self._known[key] = best_lines(need, ladders=within)
        return self._known[key]
