"""Everything the cost of one version of a piece answers: statements, curves, prices, risk, and how many to make."""

from collections.abc import Sequence
from decimal import Decimal

import numpy as np
from pydantic import Field

from paneglow.cost.curve import (
    MOST_PIECES,
    BreakEven,
    Crossover,
    Curve,
    RunTotals,
    build_curve,
    find_break_even,
    find_crossovers,
    sample_quantities,
)
from paneglow.cost.demand import DemandResult, best_run, demand_reach
from paneglow.cost.money import to_paid, to_share
from paneglow.cost.records import Way, figures_of
from paneglow.cost.risk import Risk, Sensitivity, build_risks, build_sensitivity, with_inputs
from paneglow.cost.run import plan_runs
from paneglow.cost.sale import SaleResult, SaleTerms, build_sale, build_terms, contribution, price_for_margin, profit
from paneglow.cost.statement import Costing, Statement, build_statement, cost_runs
from paneglow.errors import RangeError
from paneglow.units import Record

MOST_INPUTS = 10  # of every way that are kept: those that move the unit cost most
SIZES = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000)  # runs of the table of prices, beside those asked for


class WantedPrice(Record):
    """The price that leaves the wanted margin."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    margin_percent: Decimal = Field(description="Wanted profit as a share of the takings without tax [%].")
    price: Decimal | None = Field(
        description="Lowest price for it, tax inside, leftovers charged to the run; absent where no price would do."
    )
    price_carried: Decimal | None = Field(description="The same with leftovers carried to a later run.")
    reason: str = Field(default="", description="Why no price would do.")


class VariableCost(Record):
    """What one more piece costs, against what a sale leaves for it."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    unit: Decimal = Field(description="Charges that grow with the run, of the pieces that one sale uses up.")
    contribution: Decimal | None = Field(
        description="What a sale at the asked price leaves before the cost of the piece."
    )


class VersionCost(Record):
    """What one version of a piece costs and brings, built in every way.

    A way that needs fees nobody quoted has its statements, curve and risk; nothing is decided on it, so that it has no
    price, break-even, run to make or crossover.
    """

    statements: tuple[Statement, ...] = Field(description="Each way at each quantity asked for.")
    cheapest: Way | None = Field(
        description="The way of least unit cost at the first quantity; absent where nobody quoted a fee that one needs."
    )
    curves: tuple[Curve, ...] = Field(description="Unit cost against quantity, of each way.")
    crossovers: tuple[Crossover, ...] = Field(description="Quantities from which another way is cheaper.")
    sensitivity: tuple[Sensitivity, ...] = Field(description="Inputs that move the unit cost most, of each way.")
    risks: tuple[Risk, ...] = Field(description="Best, likely and worst unit cost, of each way.")
    variable: tuple[VariableCost, ...] = Field(description="What one more piece costs, of each way.")
    sales: tuple[SaleResult, ...] = Field(description="What is left of the asked price; none where none is asked.")
    wanted: tuple[WantedPrice, ...] = Field(
        description="Price for the wanted margin by size of run; none where none is wanted."
    )
    break_even: tuple[BreakEven, ...] = Field(description="From which quantity the asked price pays.")
    demand: tuple[DemandResult, ...] = Field(description="How many to make; none where no demand is stated.")

    @property
    def shown(self) -> Statement:
        """The statement of the first quantity to read first: of the cheapest way, else of the cheapest quoted one."""
        first = [row for row in self.statements if row.good == self.statements[0].good]
        return min(first, key=lambda row: (row.way != self.cheapest, not row.quoted, row.total))


def build_answer(costing: Costing, *, quantities: Sequence[int], seed: int) -> VersionCost:
    """Answer every question of money about one version of a piece.

    Parameters
    ----------
    costing : Costing
        A cost file and what one board needs.
    quantities : sequence of int
        Good pieces of the runs to show, at least one; risk, prices and sensitivity are those of the first.
    seed : int
        Of the draws over the stated ranges.

    Raises
    ------
    DesignError
        Where something needed has no price.
    """
    ways, first = costing.costs.build.ways, quantities[0]
    quoted = [way for way in ways if not rests_on_assumed_fees(costing, way=way)]
    totals = RunTotals(costing)
    sampled = sample_quantities(costing, ways=ways)
    for way in ways:
        totals.of(way, [*sampled, *SIZES, *quantities])  # all at once, which is far quicker than one after the other
    statements = _statements(costing, quantities=quantities, quoted=quoted)
    of_first = [row for row in statements if row.good == first]
    terms, price = build_terms(costing.costs), _asked_price(costing)
    return VersionCost(
        statements=statements,
        cheapest=min(of_first, key=lambda row: row.total).way if len(quoted) == len(ways) else None,
        curves=tuple(build_curve(totals, way=way, quantities=sampled) for way in ways),
        crossovers=find_crossovers(totals, ways=quoted, quantities=sampled),
        sensitivity=tuple(
            row for way in ways for row in build_sensitivity(costing, way=way, good=first)[:MOST_INPUTS]
        ),
        risks=build_risks(costing, ways=ways, compared=quoted, good=first, seed=seed),
        variable=tuple(_variable(costing, way=way, good=first, terms=terms) for way in quoted),
        sales=()
        if price is None
        else tuple(
            build_sale(
                price, unit=_unit(totals, way, first), unit_carried=_unit(totals, way, first, carried=True),
                terms=terms, way=way, good=first, currency=costing.costs.currency,
            )
            for way in quoted
        ),
        wanted=_wanted(totals, ways=quoted, quantities=quantities, terms=terms),
        break_even=()
        if price is None
        else tuple(
            find_break_even(
                totals, way=way, quantities=sampled, profit_of=lambda unit: profit(price, unit=unit, terms=terms)
            )
            for way in quoted
        ),
        demand=_demand(totals, ways=quoted, good=first, terms=terms, sampled=sampled),
    )  # fmt: skip


def rests_on_assumed_fees(costing: Costing, *, way: Way) -> bool:
    """Whether a way needs an assembly service whose fees nobody quoted: it is shown as a range, and decides nothing."""
    scheme = costing.costs.assembly
    return (
        plan_runs(costing.costs, bill=costing.bill, way=way, good=[1]).served
        and scheme is not None
        and scheme.origin == "assumed"
    )


def _statements(costing: Costing, *, quantities: Sequence[int], quoted: Sequence[Way]) -> tuple[Statement, ...]:
    costs, rows = costing.costs, {}
    fees = [] if costs.assembly is None else figures_of(costs.assembly)
    ends = with_inputs(
        costing,
        values={
            ("assembly", None, field): np.repeat(
                np.array([figure.lowest, figure.highest], dtype=object), len(quantities)
            )
            for field, figure in fees
        },
    )
    for way in costs.build.ways:
        runs = cost_runs(costing, way=way, good=quantities)
        spans = None if way in quoted else cost_runs(ends, way=way, good=[*quantities, *quantities]).total
        for place, good in enumerate(quantities):
            row = build_statement(runs, run=place, currency=costs.currency)
            if spans is not None:
                low, high = (
                    to_paid(total / good, currency=costs.currency) for total in spans[[place, len(quantities) + place]]
                )
                row = row.model_copy(update={"quoted": False, "unit_low": low, "unit_high": high})
            rows[good, way] = row
    return tuple(rows[good, way] for good in quantities for way in costs.build.ways)


def _unit(totals: RunTotals, way: Way, good: int, *, carried: bool = False) -> Decimal:
    exact: Decimal = totals.of(way, [good], carried=carried)[0] / good
    return exact


def _asked_price(costing: Costing) -> Decimal | None:
    """The price that the cost file asks, in the base currency."""
    sale = costing.costs.sale
    return None if sale is None or sale.price is None else costing.costs.in_base(sale.price, table=sale)


def _variable(costing: Costing, *, way: Way, good: int, terms: SaleTerms) -> VariableCost:
    price, currency = _asked_price(costing), costing.costs.currency
    unit = cost_runs(costing, way=way, good=[good]).variable[0] / good * terms.pieces_per_sale
    return VariableCost(
        way=way,
        good=good,
        unit=to_paid(unit, currency=currency),
        contribution=None if price is None else to_paid(contribution(price, terms=terms), currency=currency),
    )


def _wanted(
    totals: RunTotals, *, ways: Sequence[Way], quantities: Sequence[int], terms: SaleTerms
) -> tuple[WantedPrice, ...]:
    costs = totals.costing.costs
    if costs.sale is None or costs.sale.margin_percent is None:
        return ()
    margin, rows = costs.sale.margin_percent.value, []
    for way in ways:
        for good in sorted({*SIZES, *quantities}):
            reason: str = ""
            prices: list[Decimal | None] = [None, None]
            try:
                prices = [
                    price_for_margin(
                        to_share(margin), unit=_unit(totals, way, good, carried=carried), terms=terms,
                        currency=costs.currency,
                    )
                    for carried in (False, True)
                ]  # fmt: skip
            except RangeError as problem:
                reason = str(problem)
            rows.append(
                WantedPrice(
                    way=way, good=good, margin_percent=margin, price=prices[0], price_carried=prices[1], reason=reason
                )
            )
    return tuple(rows)


def _demand(
    totals: RunTotals, *, ways: Sequence[Way], good: int, terms: SaleTerms, sampled: Sequence[int]
) -> tuple[DemandResult, ...]:
    costing = totals.costing
    demand, price = costing.costs.demand, _asked_price(costing)
    if demand is None or price is None:
        return ()
    # Every run up to what the demand practically never exceeds; beyond it a run only pays where leftovers bring more
    reach = demand_reach(demand, most=MOST_PIECES)
    tried = sorted({*range(1, reach + 1), *sampled})
    rows = []
    for way in ways:
        variable = cost_runs(costing, way=way, good=[good]).variable[0] / good
        rows.append(
            best_run(
                demand,
                way=way,
                quantities=tried,
                totals=totals.of(way, tried),
                contribution=contribution(price, terms=terms),
                salvage=costing.costs.in_base(demand.salvage, table=demand),
                variable=variable,
                pieces_per_sale=terms.pieces_per_sale,
            )
        )
    return tuple(rows)
