"""The cheapest way to buy: price breaks, whole packs, minimums, leaders lost, several offers and suppliers.

One item is bought in one line, or in two from different offers (two reels and a strip). Prices of an offer hold for all
pieces of a line and never rise with quantity, which is checked when the cost file is read. Within these rules the
result is the optimum, not an approximation. Many runs are bought at once: every array has one entry per run. What to
buy is chosen in floating point; what it costs is exact.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import combinations

import numpy as np
import numpy.typing as npt

from paneglow.assembly import Bill
from paneglow.cost.money import ONE, ZERO, Exact
from paneglow.cost.records import BoardOffer, CostFile, Offer
from paneglow.errors import DesignError, PriceError

Counts = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

BOARD = "board"  # the item that stands for the bare board
SAME_SIZE_MM = 0.01  # chosen: a board this little larger than the one quoted is the one quoted
MOST_SUPPLIERS = 10  # that ask postage: every subset is tried, 1024 at ten
CHEAPER = 1.0 - 1e-12  # a cost below this share of another is lower, whatever floating point adds


@dataclass(frozen=True, kw_only=True, eq=False)
class PriceBreaks:
    """An offer, its prices in the base currency."""

    item: str
    supplier: str
    form: str
    steps: tuple[tuple[int, Decimal], ...]  # pieces, rising, and the quoted price of one from there on, not rising
    factor: Decimal | Exact = ONE  # one quoted unit of money in the base currency: duty and price factor inside
    minimum: int = 1
    pack: int = 1
    leader: int = 0
    leader_on_every_pack: bool = False
    fee: Decimal | Exact = ZERO
    terms: Callable[[], str] = str  # what stands behind a quoted price, in words: " USD + 3.5 % duty"

    @cached_property
    def starts(self) -> Counts:
        """Pieces at which the steps start."""
        return np.array([at for at, _ in self.steps])

    @cached_property
    def _quoted(self) -> tuple[Exact, Floats]:
        exact = np.array([each for _, each in self.steps], dtype=object)
        return exact, exact.astype(np.float64)

    def _step(self, pieces: Counts) -> Counts:
        return np.maximum(np.searchsorted(self.starts, pieces, side="right") - 1, 0)

    def quoted(self, pieces: Counts) -> Exact:
        """Quoted price of one of so many pieces."""
        return self._quoted[0][self._step(pieces)]

    def prices(self) -> list[Floats]:
        """Price of one piece of every step, in floating point."""
        return [price * np.asarray(self.factor, dtype=np.float64) for price in self._quoted[1]]

    def price(self, pieces: Counts) -> Floats:
        """Price of one of so many pieces, in floating point."""
        return np.asarray(self._quoted[1][self._step(pieces)] * np.asarray(self.factor, dtype=np.float64))

    def cost(self, pieces: Counts) -> Floats:
        """Price of a line of so many pieces, in floating point."""
        return np.asarray(pieces * self.price(pieces) + np.asarray(self.fee, dtype=np.float64))

    @cached_property
    def least(self) -> int:
        """Fewest pieces that can be bought: the minimum and the first step, in whole packs."""
        return int(self.whole_packs(np.array(max(self.minimum, self.steps[0][0]))))

    def whole_packs(self, pieces: Counts) -> Counts:
        """So many pieces, rounded up to whole packs."""
        return -(-pieces // self.pack) * self.pack

    def usable(self, pieces: Counts) -> Counts:
        """Pieces that the leaders leave of so many bought."""
        return pieces - self.leader * (pieces // self.pack if self.leader_on_every_pack else np.minimum(pieces, 1))

    def fewest(self, need: Counts) -> Counts:
        """Fewest pieces that leave so many usable ones."""
        if self.leader_on_every_pack:
            pieces = -(-need // (self.pack - self.leader)) * self.pack
        else:
            pieces = self.whole_packs(need + self.leader)
        return np.maximum(self.least, pieces)

    def best_line(self, need: Counts) -> tuple[Counts, Floats]:
        """Pieces and cost of the cheapest single line that leaves `need` usable pieces.

        The fewest pieces, or those of a later step: its price times its own pieces is the least that step can cost, so
        no other quantity can be cheaper.
        """
        best = fewest = self.fewest(need)
        cost = self.cost(best)
        for at in self.whole_packs(self.starts[1:]):
            more = np.full_like(fewest, at)
            asked = self.cost(more)
            better = (at > fewest) & (asked < cost * CHEAPER)
            best, cost = np.where(better, more, best), np.where(better, asked, cost)
        return best, cost


@dataclass(frozen=True, kw_only=True, eq=False)
class Basket:
    """What to buy for every item, and whom to order from."""

    offers: Mapping[str, tuple[PriceBreaks, ...]]  # of every item
    pieces: Mapping[str, Counts]  # of every item, shape (offer, run)
    postage: Mapping[str, Exact]  # of every supplier, 0 where nothing is ordered there


class Offers:
    """Offers of all items and postage by supplier.

    Parameters
    ----------
    breaks : sequence of PriceBreaks
        Offers of all items.
    postage : mapping of str to Decimal
        By supplier, per order; 0 where a supplier is not named.
    """

    def __init__(self, *, breaks: Sequence[PriceBreaks], postage: Mapping[str, Decimal | Exact]) -> None:
        self.breaks = tuple(breaks)
        self.postage = dict(postage)
        self._of_item: dict[str, tuple[PriceBreaks, ...]] = {}
        for offer in self.breaks:
            self._of_item[offer.item] = (*self._of_item.get(offer.item, ()), offer)

    def best_basket(self, needs: Mapping[str, Counts]) -> Basket:
        """Cheapest basket of every run: every item at its best, orders at few suppliers where postage outweighs prices.

        Parameters
        ----------
        needs : mapping of str to ndarray, shape (run,)
            Usable pieces of every item.

        Raises
        ------
        PriceError
            Where nobody offers an item.
        DesignError
            Where too many suppliers ask postage to try every set of them.
        """
        wanted = {item: need for item, need in needs.items() if (need > 0).any()}
        missing = [item for item in wanted if item not in self._of_item]
        if missing:
            raise PriceError(
                f"there is no offer for {', '.join(missing)}; add an [[offer]] with item and price_breaks for each"
            )
        suppliers = {offer.supplier for item in wanted for offer in self._of_item[item]}
        postage = {name: np.asarray(self.postage.get(name, ZERO), dtype=np.float64) for name in suppliers}
        charging = sorted(name for name in suppliers if (postage[name] > 0).any())
        # Who alone offers what every run needs is ordered from in any case
        sellers = [
            {offer.supplier for offer in self._of_item[item]} for item, need in wanted.items() if (need > 0).all()
        ]
        needed = {name for names in sellers if len(names) == 1 for name in names}
        optional = [name for name in charging if name not in needed]
        if len(optional) > MOST_SUPPLIERS:
            raise DesignError(f"{len(optional)} suppliers ask postage; allowed are {MOST_SUPPLIERS}: leave some out")
        runs = max((need.size for need in needs.values()), default=1)
        known: dict[tuple[str, frozenset[str]], tuple[Counts, Floats]] = {}
        cost, taken = np.full(runs, np.inf), np.zeros(runs, dtype=np.int64)
        found: list[dict[str, tuple[Counts, Floats]]] = []
        for chosen in (names for count in range(len(optional) + 1) for names in combinations(optional, count)):
            open_at = suppliers.difference(optional).union(chosen)
            bought = {}
            for item, need in wanted.items():
                key = item, frozenset(offer.supplier for offer in self._of_item[item]) & open_at
                if key not in known:
                    known[key] = _best_lines(need, offers=self._of_item[item], open_at=open_at)
                bought[item] = known[key]
            goods = sum((each for _, each in bought.values()), np.zeros(runs))
            asked = goods + sum((postage[name] for name in chosen), np.zeros(runs))
            better = asked < cost * CHEAPER
            cost, taken = np.where(better, asked, cost), np.where(better, len(found), taken)
            found.append(bought)
        pieces = {item: np.zeros((len(self._of_item[item]), runs), dtype=np.int64) for item in wanted}
        for number in np.unique(taken):
            for item, (lines, _) in found[number].items():
                pieces[item] = np.where(taken == number, lines, pieces[item])
        bought_at = {name: np.zeros(runs, dtype=np.bool_) for name in charging}
        for item, lines in pieces.items():
            for offer, line in zip(self._of_item[item], lines, strict=True):
                bought_at[offer.supplier] = bought_at.get(offer.supplier, np.False_) | (line > 0)
        return Basket(
            offers={item: self._of_item[item] for item in wanted},
            pieces=pieces,
            postage={name: bought_at[name].astype(object) * self.postage[name] for name in charging},
        )


def _best_lines(need: Counts, *, offers: Sequence[PriceBreaks], open_at: set[str]) -> tuple[Counts, Floats]:
    """Pieces by offer, shape (offer, run), and cost of the cheapest one or two lines that leave `need` usable pieces.

    Infinite where something is needed and no open supplier has it; of equal costs one line is taken before two.
    """
    pieces = np.zeros((len(offers), need.size), dtype=np.int64)
    cost = np.where(need > 0, np.inf, 0.0)
    sold = [number for number, offer in enumerate(offers) if offer.supplier in open_at]

    def take(lines: Mapping[int, Counts], *, asked: Floats) -> None:
        better = asked < cost * CHEAPER
        pieces[:, better] = 0
        for number, line in lines.items():
            pieces[number, better] = line[better]
        cost[better] = np.broadcast_to(asked, cost.shape)[better]

    for number in sold:
        line, asked = offers[number].best_line(need)
        take({number: line}, asked=asked)
    for one in sold:
        for two in sold:
            if one != two and offers[one].pack > 1:
                for first, second, asked in _splits(need, packed=offers[one], filler=offers[two], beaten=cost):
                    take({one: first, two: second}, asked=asked)
    return pieces, cost


def _splits(
    need: Counts, *, packed: PriceBreaks, filler: PriceBreaks, beaten: Floats
) -> Iterator[tuple[Counts, Counts, Floats]]:
    """Two lines, of which the one in packs has the lower price of a piece and the other fills up.

    If the cheaper of two lines could be had by the piece, it alone would serve better; so it comes in packs, and the
    other one is too small to be worth whole packs instead: `most` pieces at the most. A run whose cost so far,
    `beaten`, is what the needed pieces cost at the lowest price of either has found its best.
    """
    together = math.gcd(packed.pack, filler.pack)
    lowest = np.minimum(packed.prices()[-1], filler.prices()[-1])
    fees = np.asarray(packed.fee, dtype=np.float64) + np.asarray(filler.fee, dtype=np.float64)
    least = -(-need // together) * together * lowest + fees
    alone = packed.fewest(need)
    most = _most_filling(need, alone=alone, packed=packed, filler=filler)
    first = packed.fewest(np.maximum(0, need - np.maximum(0, most - filler.leader)))
    while (left := (first < alone) & (least < beaten * CHEAPER)).any():
        usable = packed.usable(first)
        fits = left & (usable > 0) & (usable < need)
        second, asked = filler.best_line(np.where(fits, need - usable, 1))
        yield first, second, np.where(fits, packed.cost(first) + asked, np.inf)
        first = np.where(left, first + packed.pack, first)


def _most_filling(need: Counts, *, alone: Counts, packed: PriceBreaks, filler: PriceBreaks) -> Counts:
    """Most pieces that the more expensive line of a split can hold before whole packs of the other are cheaper.

    Packs that leave y more usable pieces hold fewer than y lost + pack pieces, where `lost` is what a usable piece
    takes off a pack with its leader, each at `low` or less. So a filler of y pieces at price b pays only while
    y b < (y lost + pack) low.
    """
    low = packed.price(alone)
    lost = packed.pack / (packed.pack - packed.leader) if packed.leader_on_every_pack else 1.0
    most = np.zeros_like(need)
    ends = [*filler.starts[1:], filler.fewest(need) + filler.pack]
    for price, end in zip(filler.prices(), ends, strict=True):
        gap = price - low * lost
        # One piece more than the bound, against rounding
        reach = np.where(gap > 0, packed.pack * low / np.where(gap > 0, gap, 1.0) + 2.0, np.inf)
        most = np.where(price >= low * CHEAPER, np.maximum(most, np.minimum(end, reach)).astype(np.int64), most)
    return most


def build_offers(costs: CostFile, *, bill: Bill) -> Offers:
    """Offers for the board in the chosen finish and for all items, in the base currency with duty; and postage.

    Parameters
    ----------
    costs : CostFile
        With the offers, duties and rates.
    bill : Bill
        Says how large the board is.

    Raises
    ------
    DesignError
        Where no board is offered, several finishes are and none is chosen, or none holds for a board of this size.
    """
    finishes = tuple(dict.fromkeys(board.finish for board in costs.board))
    if not finishes:
        raise PriceError("there is no offer for the bare board; add a [[board]] with size_mm, finish and price_breaks")
    if costs.build.finish is None and len(finishes) > 1:
        raise DesignError(f"[build] finish is missing; boards are offered in {', '.join(finishes)}: choose one")
    finish = costs.build.finish or finishes[0]
    if finish not in finishes:
        raise DesignError(f"[build] finish is {finish!r}; boards are offered in {', '.join(finishes)}")
    boards = [board for board in costs.board if board.finish == finish and _holds_board(board, bill=bill)]
    if not boards:
        size = " x ".join(f"{side:g}" for side in bill.size_mm)
        raise DesignError(
            f"the board is {size} mm and no [[board]] offer in {finish} holds for that size;"
            " ask for a price at this size and add it"
        )
    duties = {row.name: row.duty_percent.share for row in costs.supplier}
    offers: list[Offer] = [*boards, *costs.offer]
    return Offers(
        breaks=[_price_breaks(offer, costs=costs, duty=duties.get(offer.supplier, ZERO)) for offer in offers],
        postage={row.name: costs.in_base(row.postage, table=row) for row in costs.supplier},
    )


def _holds_board(offer: BoardOffer, *, bill: Bill) -> bool:
    """Whether the board of a bill is no larger than the one quoted, turned if need be."""
    sides = zip(sorted(bill.size_mm), sorted(offer.size_mm), strict=True)
    return all(own <= quoted + SAME_SIZE_MM for own, quoted in sides)


def _price_breaks(offer: Offer, *, costs: CostFile, duty: Decimal) -> PriceBreaks:
    landed = costs.rate_of(offer) * (1 + duty)
    return PriceBreaks(
        item=offer.item,
        supplier=offer.supplier,
        form=offer.form,
        steps=tuple((step.at, step.each) for step in offer.price_breaks),
        factor=landed * offer.price_factor.value,
        minimum=offer.minimum,
        pack=offer.pack,
        leader=offer.leader,
        leader_on_every_pack=offer.leader_on_every_pack,
        fee=landed * offer.order_fee.value,
        terms=lambda: costs.terms_of(offer, duty=duty, factor=offer.price_factor.value),
    )
