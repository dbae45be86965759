"""What one run costs, line by line; printed lines always add up to the printed total."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from itertools import groupby

from pydantic import Field

from paneglow.assembly import Bill
from paneglow.cost.buying import Market
from paneglow.cost.charges import GROUPS, Charge, Group, Kind
from paneglow.cost.goods import Goods, buy_goods
from paneglow.cost.labour import labour_charges
from paneglow.cost.money import ZERO, apportion, to_paid
from paneglow.cost.prices import build_market, in_base
from paneglow.cost.records import CostFile, Way
from paneglow.cost.run import RunPlan, plan_run
from paneglow.cost.service import service_charges
from paneglow.units import Record


class CostLine(Record):
    """One line of a statement."""

    group: Group = Field(description="What it belongs to.")
    what: str = Field(description="What is paid for.")
    working: str = Field(description="How the amount comes about.")
    kind: Kind = Field(description="Whether it grows with the run, does not, or buys what stays over.")
    amount: Decimal = Field(description="For the run, as printed; all lines add up to the total.")
    per_piece: Decimal = Field(description="For one good piece, as printed; all lines add up to the unit cost.")


class Statement(Record):
    """What one run of one way costs; amounts are in the base currency, rounded once."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces wanted.")
    started: int = Field(description="Boards begun, so that enough are good.")
    lines: tuple[CostLine, ...] = Field(description="Every charge; leftovers last.")
    total: Decimal = Field(description="Of the run, leftovers charged to it.")
    unit: Decimal = Field(description="Of one good piece, leftovers charged to the run.")
    total_carried: Decimal = Field(description="Of the run, leftovers carried to a later one.")
    unit_carried: Decimal = Field(description="Of one good piece, leftovers carried to a later run.")
    minutes: Decimal = Field(description="Own work for the run [min].")


@dataclass(frozen=True, kw_only=True)
class Costing:
    """A cost file and a bill, with prices in the base currency: ready to cost runs of any size."""

    costs: CostFile  # as read
    bill: Bill  # what one board needs
    market: Market  # every offer and postage in the base currency


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCost:
    """Exact charges of one run."""

    plan: RunPlan  # boards and parts to start with
    goods: Goods  # what is bought, taken from stock and left over
    charges: tuple[Charge, ...]  # each exact, with its working

    @property
    def total(self) -> Decimal:
        """All charges."""
        return total_of(self.charges)

    @property
    def carried(self) -> Decimal:
        """All charges but leftovers."""
        return total_of([charge for charge in self.charges if charge.kind != "leftover"])

    @property
    def variable(self) -> Decimal:
        """Charges that grow with the run."""
        return total_of([charge for charge in self.charges if charge.kind == "variable"])

    @property
    def minutes(self) -> Decimal:
        """Own work [min]."""
        return sum((charge.minutes for charge in self.charges), ZERO)


RunOf = Callable[[Way, int], RunCost]


def total_of(charges: Sequence[Charge]) -> Decimal:
    """Sum of charges, exact."""
    return sum((charge.amount for charge in charges), ZERO)


def build_costing(costs: CostFile, *, bill: Bill) -> Costing:
    """Bring a cost file and a bill together; raises DesignError where no board is offered for it."""
    return Costing(costs=costs, bill=bill, market=build_market(costs, bill=bill))


def cost_run(costing: Costing, *, way: Way, good: int) -> RunCost:
    """Exact charges of a run of so many good pieces.

    Raises
    ------
    DesignError
        Where something needed has no price.
    """
    costs = costing.costs
    plan = plan_run(costs, bill=costing.bill, way=way, good=good)
    goods = buy_goods(plan, costs=costs, market=costing.market)
    charges = (
        *goods.charges,
        *service_charges(plan, costs=costs, value=goods.value),
        *labour_charges(plan, costs=costs),
        *_once(costs),
    )
    return RunCost(plan=plan, goods=goods, charges=charges)


def _once(costs: CostFile) -> list[Charge]:
    return [
        Charge(
            group="once",
            what=row.name,
            working="once",
            kind="fixed",
            amount=in_base(row.amount, table=row, costs=costs),
        )
        for row in costs.one_off
        if row.amount.value
    ]


def remember_runs(costing: Costing) -> RunOf:
    """The cost of runs by way and quantity, each worked out once: curves and what is read off them ask again."""

    @cache
    def run_of(way: Way, good: int) -> RunCost:
        return cost_run(costing, way=way, good=good)

    return run_of


def build_statement(run: RunCost, *, currency: str) -> Statement:
    """Print the charges of a run, rounded once.

    Notes
    -----
    Totals are the exact sums, rounded. Lines are shown in the smallest unit of money by largest remainders, so that
    those of what the run uses add up to the carried total and all of them to the charged one, each time exactly.
    """
    ordered = sorted(run.charges, key=lambda charge: (charge.kind == "leftover", GROUPS.index(charge.group)))
    pieces = run.plan.good
    total, carried = to_paid(run.total, currency=currency), to_paid(run.carried, currency=currency)
    unit, unit_carried = (to_paid(amount / pieces, currency=currency) for amount in (run.total, run.carried))
    exact = [charge.amount for charge in ordered]
    used = sum(charge.kind != "leftover" for charge in ordered)
    amounts = _printed(exact, used=used, carried=carried, total=total, currency=currency)
    each = _printed(
        [amount / pieces for amount in exact], used=used, carried=unit_carried, total=unit, currency=currency
    )
    lines = tuple(
        CostLine(
            group=charge.group,
            what=charge.what,
            working=charge.working,
            kind=charge.kind,
            amount=amount,
            per_piece=per_piece,
        )
        for charge, amount, per_piece in zip(ordered, amounts, each, strict=True)
    )
    return Statement(
        way=run.plan.way,
        good=pieces,
        started=run.plan.started,
        lines=lines,
        total=total,
        unit=unit,
        total_carried=carried,
        unit_carried=unit_carried,
        minutes=run.minutes,
    )


def _printed(
    amounts: Sequence[Decimal], *, used: int, carried: Decimal, total: Decimal, currency: str
) -> list[Decimal]:
    """Printed amounts: the first `used` ones add up to the carried total, the rest to what is left of the total."""
    first = apportion(amounts[:used], currency=currency, total=carried)
    return [*first, *apportion(amounts[used:], currency=currency, total=total - carried)]


def sum_groups(lines: Sequence[CostLine]) -> dict[Group, tuple[Decimal, Decimal]]:
    """Printed amounts by group: for the run and for one piece, in the order the lines stand."""
    grouped = groupby(lines, key=lambda line: line.group)
    return {
        group: (sum((line.amount for line in rows), ZERO), sum((line.per_piece for line in rows), ZERO))
        for group, rows in ((group, list(rows)) for group, rows in grouped)
    }
