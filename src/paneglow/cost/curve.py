"""Cost against quantity: the curve with every break in it, where two ways cross, where a price begins to pay."""

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from itertools import combinations, pairwise

import numpy as np
from pydantic import Field

from paneglow.cost.money import Exact
from paneglow.cost.offers import Counts
from paneglow.cost.records import Way
from paneglow.cost.run import plan_runs
from paneglow.cost.statement import Costing, cost_runs
from paneglow.units import Record

MOST_PIECES = 10_000
EVERY_BELOW = 40  # every quantity is costed up to here; beyond, steps of a share, and both sides of every break
STEP_SHARE = 0.06
COST_DIGITS = Decimal("0.000001")  # of a curve, for drawing; statements carry the exact charges
# Between two neighbours of the curve no run costs less per piece than this share of the cheaper one (chosen, wide: they
# lie 6 % apart, and a run never costs less in all than a smaller one but for what rounding to packs moves)
LEAST_BETWEEN_SHARE = Decimal("0.8")


class Curve(Record):
    """Unit cost of one way against quantity; both costs stand beside the quantities."""

    way: Way = Field(description="Way to build.")
    good: tuple[int, ...] = Field(description="Good pieces of the run, rising.")
    unit: tuple[Decimal, ...] = Field(description="Cost of one good piece, leftovers charged to the run.")
    unit_carried: tuple[Decimal, ...] = Field(description="Cost of one good piece, leftovers carried to a later run.")


class Crossover(Record):
    """A quantity from which another way is the cheaper one."""

    good: int = Field(description="First quantity from which on it is cheaper.")
    cheaper: Way = Field(description="The way that is cheaper from here on.")
    than: Way = Field(description="The way that was cheaper before.")
    carried: bool = Field(description="Whether leftovers are carried to a later run, instead of charged to this one.")


class BreakEven(Record):
    """The smallest run of one way at which the price covers all costs."""

    way: Way = Field(description="Way to build.")
    good: int | None = Field(description="Leftovers charged to the run; absent where no run up to 10000 pays.")
    good_carried: int | None = Field(description="Leftovers carried to a later run; absent where no run pays.")


class RunTotals:
    """Totals of runs by way and size, each worked out once: the curve and all that is read off it ask here."""

    def __init__(self, costing: Costing) -> None:
        self.costing = costing
        self._known: dict[Way, dict[int, tuple[Decimal, Decimal]]] = {}

    def of(self, way: Way, sizes: Iterable[int], *, carried: bool = False) -> Exact:
        """Exact totals of runs.

        Parameters
        ----------
        way : {"hand", "mixed", "service"}
            Way to build.
        sizes : iterable of int
            Good pieces of the runs.
        carried : bool
            Whether leftovers are carried to a later run instead of charged to this one.
        """
        known, wanted = self._known.setdefault(way, {}), [int(size) for size in sizes]
        missing = sorted({size for size in wanted if size not in known})
        if missing:
            runs = cost_runs(self.costing, way=way, good=missing)
            known.update(zip(missing, zip(runs.total, runs.carried, strict=True), strict=True))
        return np.array([known[size][carried] for size in wanted], dtype=object)


def sample_quantities(costing: Costing, *, ways: Iterable[Way], most: int = MOST_PIECES) -> tuple[int, ...]:
    """Quantities at which a curve is costed, rising.

    Every one up to 40, then steps of 6 %, and the last quantity before and the first at every price break of every
    item.

    Parameters
    ----------
    costing : Costing
        Whose price breaks they are.
    ways : iterable of {"hand", "mixed", "service"}
        Ways to build that reach the breaks, each at its own quantity.
    most : int
        Last quantity.
    """
    quantities, last = set(range(1, min(EVERY_BELOW, most) + 1)), EVERY_BELOW
    while last < most:
        last = min(most, int(last * (1 + STEP_SHARE)) + 1)
        quantities.add(last)
    for way in ways:
        for reached in _break_quantities(costing, way=way, most=most):
            quantities.update(q for q in (reached - 1, reached) if 1 <= q <= most)
    return tuple(sorted(quantities))


def _break_quantities(costing: Costing, *, way: Way, most: int) -> list[int]:
    """First quantity whose need reaches each price break of each offer, by halving all of them at once."""
    breaks = [(offer.item, int(offer.usable(at))) for offer in costing.offers.breaks for at in offer.starts[1:]]
    if not breaks:
        return []

    def reaches(good: Counts) -> np.ndarray:
        needs = plan_runs(costing.costs, bill=costing.bill, way=way, good=good).needs
        none = np.zeros_like(good)
        return np.array([needs.get(item, none)[n] >= pieces for n, (item, pieces) in enumerate(breaks)])

    low, high = np.ones(len(breaks), dtype=np.int64), np.full(len(breaks), most)
    while (low < high).any():
        middle = (low + high) // 2
        reached = reaches(middle)
        low, high = np.where(reached, low, np.minimum(middle + 1, high)), np.where(reached, middle, high)
    return [int(good) for good, reached in zip(low, reaches(low), strict=True) if reached]


def build_curve(totals: RunTotals, *, way: Way, quantities: Sequence[int]) -> Curve:
    """Unit cost of one way.

    Parameters
    ----------
    totals : RunTotals
        Of the costing.
    way : {"hand", "mixed", "service"}
        Way to build.
    quantities : sequence of int
        Good pieces of the runs, rising.
    """
    charged, carried = (totals.of(way, quantities, carried=carried) for carried in (False, True))
    return Curve(
        way=way,
        good=tuple(quantities),
        unit=tuple((total / good).quantize(COST_DIGITS) for total, good in zip(charged, quantities, strict=True)),
        unit_carried=tuple(
            (total / good).quantize(COST_DIGITS) for total, good in zip(carried, quantities, strict=True)
        ),
    )


def find_crossovers(totals: RunTotals, *, ways: Sequence[Way], quantities: Sequence[int]) -> tuple[Crossover, ...]:
    """Where one of two ways becomes cheaper than the other, for every pair, by quantity.

    Parameters
    ----------
    totals : RunTotals
        Of the costing.
    ways : sequence of {"hand", "mixed", "service"}
        Ways to compare.
    quantities : sequence of int
        Rising, as `sample_quantities` gives them. Two ways that cross and cross back between neighbours are not
        reported.
    """
    found = []
    for carried in (False, True):
        for one, other in combinations(ways, 2):

            def other_is_cheaper(
                sizes: Sequence[int], *, one: Way = one, other: Way = other, carried: bool = carried
            ) -> list[bool]:
                pair = zip(*(totals.of(way, sizes, carried=carried) for way in (one, other)), strict=True)
                return [first > second for first, second in pair]

            for (low, before), (high, after) in pairwise(zip(quantities, other_is_cheaper(quantities), strict=True)):
                if before != after:
                    between = range(low, high + 1)
                    judged = zip(between, other_is_cheaper(between), strict=True)
                    last = max(good for good, now in judged if now == before)
                    cheaper, than = (other, one) if after else (one, other)
                    found.append(Crossover(good=last + 1, cheaper=cheaper, than=than, carried=carried))
    return tuple(sorted(found, key=lambda crossover: (crossover.carried, crossover.good)))


def find_break_even(
    totals: RunTotals, *, way: Way, quantities: Sequence[int], profit_of: Callable[[Decimal], Decimal]
) -> BreakEven:
    """The smallest run that pays.

    Parameters
    ----------
    totals : RunTotals
        Of the costing.
    way : {"hand", "mixed", "service"}
        Way to build.
    quantities : sequence of int
        Rising, as `sample_quantities` gives them; those between them are looked at where they might pay.
    profit_of : callable
        Profit of one piece at its unit cost, falling as that rises.
    """

    def least(*, carried: bool) -> int | None:
        units = [
            total / good for total, good in zip(totals.of(way, quantities, carried=carried), quantities, strict=True)
        ]
        if profit_of(units[0]) >= 0:
            return quantities[0]
        for (low, before), (high, after) in pairwise(zip(quantities, units, strict=True)):
            if profit_of(LEAST_BETWEEN_SHARE * min(before, after)) >= 0:
                between = range(low + 1, high + 1)
                of_run = zip(between, totals.of(way, between, carried=carried), strict=True)
                pays = next((good for good, total in of_run if profit_of(total / good) >= 0), None)
                if pays is not None:
                    return pays
        return None

    return BreakEven(way=way, good=least(carried=False), good_carried=least(carried=True))
