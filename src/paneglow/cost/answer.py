"""Everything the cost of one version of a piece answers: statements, curves, prices, risk, and how many to make."""

from collections.abc import Sequence
from decimal import Decimal
from functools import partial

from pydantic import Field

from paneglow.cost.curve import (
    BreakEven,
    Crossover,
    Curve,
    build_curve,
    find_break_even,
    find_crossovers,
    sample_quantities,
)
from paneglow.cost.demand import DemandResult, best_run
from paneglow.cost.money import to_paid, to_share
from paneglow.cost.prices import in_base
from paneglow.cost.records import Way
from paneglow.cost.risk import Risk, Sensitivity, build_risks, build_sensitivity
from paneglow.cost.sale import SaleResult, SaleTerms, build_sale, build_terms, contribution, price_for_margin, profit
from paneglow.cost.statement import Costing, RunCost, Statement, build_statement, cost_run
from paneglow.errors import RangeError
from paneglow.units import Record

MOST_INPUTS = 10  # of every way that are kept: those that move the unit cost most


class WantedPrice(Record):
    """The price that leaves the wanted margin."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    margin_percent: Decimal = Field(description="Wanted profit as a share of the takings without tax [%].")
    price: Decimal | None = Field(description="Lowest price for it, tax inside; absent where no price would do.")
    reason: str = Field(default="", description="Why no price would do.")


class VariableCost(Record):
    """What one more piece costs, against what a sale leaves for it."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    unit: Decimal = Field(description="Charges that grow with the run, of one good piece.")
    contribution: Decimal | None = Field(
        description="What a sale at the asked price leaves before the cost of the piece."
    )


class Answer(Record):
    """What one version of a piece costs and brings, built in every way."""

    statements: tuple[Statement, ...] = Field(description="Each way at each quantity asked for.")
    curves: tuple[Curve, ...] = Field(description="Unit cost against quantity, of each way.")
    crossovers: tuple[Crossover, ...] = Field(description="Quantities from which another way is cheaper.")
    sensitivity: tuple[Sensitivity, ...] = Field(description="Inputs that move the unit cost most, of each way.")
    risks: tuple[Risk, ...] = Field(description="Best, likely and worst unit cost, of each way.")
    variable: tuple[VariableCost, ...] = Field(description="What one more piece costs, of each way.")
    sales: tuple[SaleResult, ...] = Field(description="What is left of the asked price; none where none is asked.")
    wanted: tuple[WantedPrice, ...] = Field(description="Price for the wanted margin; none where none is wanted.")
    break_even: tuple[BreakEven, ...] = Field(description="From which quantity the asked price pays.")
    demand: tuple[DemandResult, ...] = Field(description="How many to make; none where no demand is stated.")


def build_answer(costing: Costing, *, quantities: Sequence[int], seed: int) -> Answer:
    """Answer every question of money about one version of a piece.

    Parameters
    ----------
    costing : Costing
    quantities : sequence of int
        Good pieces of the runs to show, at least one; risk, prices and sensitivity are those of the first.
    seed : int
        Of the draws over the stated ranges.

    Raises
    ------
    DesignError
        Where something needed has no price.
    """
    ways = costing.costs.build.ways
    runs = {(way, good): cost_run(costing, way=way, good=good) for good in quantities for way in ways}
    first = [runs[way, quantities[0]] for way in ways]
    sampled = sample_quantities(costing, ways=ways)
    curves = tuple(build_curve(costing, way=way, quantities=sampled) for way in ways)
    terms = build_terms(costing.costs)
    return Answer(
        statements=tuple(build_statement(run, currency=costing.costs.currency) for run in runs.values()),
        curves=curves,
        crossovers=find_crossovers(costing, curves=curves),
        sensitivity=tuple(
            row
            for way in ways
            for row in build_sensitivity(costing, way=way, good=quantities[0])[:MOST_INPUTS]
        ),
        risks=build_risks(costing, ways=ways, good=quantities[0], seed=seed),
        variable=tuple(_variable(run, costing=costing, terms=terms) for run in first),
        sales=_sales(first, costing=costing, terms=terms),
        wanted=_wanted(first, costing=costing, terms=terms),
        break_even=_break_even(curves, costing=costing, terms=terms),
        demand=_demand(first, costing=costing, terms=terms, sampled=sampled),
    )  # fmt: skip


def asked_price(costing: Costing) -> Decimal | None:
    """The price that the cost file asks, in the base currency."""
    sale = costing.costs.sale
    return None if sale is None or sale.price is None else in_base(sale.price, table=sale, costs=costing.costs)


def _unit(run: RunCost) -> Decimal:
    return run.total / run.plan.good


def _variable(run: RunCost, *, costing: Costing, terms: SaleTerms) -> VariableCost:
    price, currency = asked_price(costing), costing.costs.currency
    left = None if price is None else to_paid(contribution(price, terms=terms), currency=currency)
    unit = to_paid(run.variable / run.plan.good, currency=currency)
    return VariableCost(way=run.plan.way, good=run.plan.good, unit=unit, contribution=left)


def _sales(runs: Sequence[RunCost], *, costing: Costing, terms: SaleTerms) -> tuple[SaleResult, ...]:
    price = asked_price(costing)
    if price is None:
        return ()
    return tuple(
        build_sale(
            price, unit=_unit(run), terms=terms, way=run.plan.way, good=run.plan.good, currency=costing.costs.currency
        )
        for run in runs
    )


def _wanted(runs: Sequence[RunCost], *, costing: Costing, terms: SaleTerms) -> tuple[WantedPrice, ...]:
    sale = costing.costs.sale
    if sale is None or sale.margin_percent is None:
        return ()
    margin = sale.margin_percent.value
    rows = []
    for run in runs:
        price, reason = None, ""
        try:
            price = price_for_margin(
                to_share(margin), unit=_unit(run), terms=terms, currency=costing.costs.currency
            )  # fmt: skip
        except RangeError as problem:
            reason = str(problem)
        rows.append(
            WantedPrice(way=run.plan.way, good=run.plan.good, margin_percent=margin, price=price, reason=reason)
        )
    return tuple(rows)


def _break_even(curves: Sequence[Curve], *, costing: Costing, terms: SaleTerms) -> tuple[BreakEven, ...]:
    price = asked_price(costing)
    if price is None:
        return ()

    def profit_of(unit: Decimal) -> Decimal:
        return profit(price, unit=unit, terms=terms)

    found = [row for curve in curves for row in find_break_even(costing, curve=curve, profit_of=profit_of)]
    return tuple(found)


def _demand(
    runs: Sequence[RunCost], *, costing: Costing, terms: SaleTerms, sampled: Sequence[int]
) -> tuple[DemandResult, ...]:
    demand, price = costing.costs.demand, asked_price(costing)
    if demand is None or price is None:
        return ()

    def total_of(good: int, *, way: Way) -> Decimal:
        return cost_run(costing, way=way, good=good).total

    left, salvage = contribution(price, terms=terms), in_base(demand.salvage, table=demand, costs=costing.costs)
    return tuple(
        best_run(
            demand,
            way=run.plan.way,
            quantities=sampled,
            total_of=partial(total_of, way=run.plan.way),
            contribution=left,
            salvage=salvage,
            variable=run.variable / run.plan.good,
        )
        for run in runs
    )
