"""Cost against quantity: the curve with every break in it, where two ways cross, where a price begins to pay."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cache, partial
from itertools import pairwise

from pydantic import Field

from paneglow.cost.records import Way
from paneglow.cost.run import plan_run
from paneglow.cost.statement import Costing, RunOf
from paneglow.units import Record

MOST_PIECES = 10_000
EVERY_BELOW = 40  # every quantity is costed up to here; beyond, steps of a share, and both sides of every break
STEP_SHARE = 0.06
COST_DIGITS = Decimal("0.000001")  # of a curve, for drawing; statements carry the exact charges


class Curve(Record):
    """Unit cost of one way against quantity; both costs stand beside the quantities."""

    way: Way = Field(description="Way to build.")
    good: tuple[int, ...] = Field(description="Good pieces of the run, rising.")
    unit: tuple[Decimal, ...] = Field(description="Cost of one good piece, leftovers charged to the run.")
    unit_carried: tuple[Decimal, ...] = Field(description="Cost of one good piece, leftovers carried to a later run.")


class Crossover(Record):
    """A quantity from which another way is the cheaper one, leftovers charged to the run."""

    good: int = Field(description="First quantity at which it is cheaper.")
    cheaper: Way = Field(description="The way that is cheaper from here on.")
    than: Way = Field(description="The way that was cheaper before.")


class BreakEven(Record):
    """A quantity from which the price covers all costs, or no longer does."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="First quantity of which that holds.")
    pays: bool = Field(description="Whether the run pays from here on.")


def sample_quantities(costing: Costing, *, ways: Iterable[Way], most: int = MOST_PIECES) -> tuple[int, ...]:
    """Quantities at which a curve is costed, rising.

    Every one up to 40, then steps of 6 %, and the last quantity before and the first at every price break of every
    item.
    """
    quantities, last = set(range(1, min(EVERY_BELOW, most) + 1)), EVERY_BELOW
    while last < most:
        last = min(most, int(last * (1 + STEP_SHARE)) + 1)
        quantities.add(last)
    for way in ways:
        for reached in _break_quantities(costing, way=way, most=most):
            quantities.update(q for q in (reached - 1, reached) if 1 <= q <= most)
    return tuple(sorted(quantities))


def _break_quantities(costing: Costing, *, way: Way, most: int) -> Iterable[int]:
    """First quantity whose need reaches each step of each ladder."""

    @cache
    def needs(good: int) -> Mapping[str, int]:
        return plan_run(costing.costs, bill=costing.bill, way=way, good=good).needs

    def reaches(good: int, *, item: str, pieces: int) -> bool:
        return needs(good).get(item, 0) >= pieces

    for ladder in costing.market.ladders:
        for at, _ in ladder.steps[1:]:
            reached = partial(reaches, item=ladder.item, pieces=at - ladder.leader)
            if reached(most):
                yield first_true(1, most, holds=reached)


def first_true(low: int, high: int, *, holds: Callable[[int], bool]) -> int:
    """Smallest number from low to high that a condition holds for, by halving; it holds for `high`."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def build_curve(run_of: RunOf, *, way: Way, quantities: Sequence[int]) -> Curve:
    """Unit cost of one way at the given quantities."""
    runs = [run_of(way, good) for good in quantities]
    return Curve(
        way=way,
        good=tuple(quantities),
        unit=tuple((run.total / run.plan.good).quantize(COST_DIGITS) for run in runs),
        unit_carried=tuple((run.carried / run.plan.good).quantize(COST_DIGITS) for run in runs),
    )


def find_crossovers(run_of: RunOf, *, curves: Sequence[Curve]) -> tuple[Crossover, ...]:
    """Where one of two ways becomes cheaper than the other, for every pair, by quantity.

    Two ways that cross and cross back between neighbouring quantities of the curve are not told.
    """
    found = []
    for index, one in enumerate(curves):
        for other in curves[index + 1 :]:
            found += _crossings(run_of, one=one, other=other)
    return tuple(sorted(found, key=lambda crossover: crossover.good))


def _crossings(run_of: RunOf, *, one: Curve, other: Curve) -> list[Crossover]:
    def compares(good: int, *, dearer: bool) -> bool:
        first, second = (run_of(curve.way, good).total for curve in (one, other))
        return (first > second) == dearer

    found = []
    compared = [(good, a > b) for good, a, b in zip(one.good, one.unit, other.unit, strict=True)]
    for (low, before), (high, after) in pairwise(compared):
        if before != after:
            good = first_true(low + 1, high, holds=partial(compares, dearer=after))
            cheaper, than = (other.way, one.way) if after else (one.way, other.way)
            found.append(Crossover(good=good, cheaper=cheaper, than=than))
    return found


def find_break_even(run_of: RunOf, *, curve: Curve, profit_of: Callable[[Decimal], Decimal]) -> tuple[BreakEven, ...]:
    """Where a run begins to pay, or stops to, by quantity; empty where it never does.

    Parameters
    ----------
    run_of : callable
        Cost of a run by way and quantity.
    curve : Curve
        Of one way.
    profit_of : callable
        Profit of one piece at its unit cost.
    """

    def judges(good: int, *, pays: bool) -> bool:
        return (profit_of(run_of(curve.way, good).total / good) >= 0) == pays

    found = []
    judged = [(good, profit_of(unit) >= 0) for good, unit in zip(curve.good, curve.unit, strict=True)]
    if judged[0][1]:
        found.append(BreakEven(way=curve.way, good=judged[0][0], pays=True))
    for (low, before), (high, after) in pairwise(judged):
        if before != after:
            good = first_true(low + 1, high, holds=partial(judges, pays=after))
            found.append(BreakEven(way=curve.way, good=good, pays=after))
    return tuple(found)
