"""What a run costs, line by line; printed lines always add up to the printed total."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

import numpy as np
from pydantic import Field

from paneglow.assembly import Bill
from paneglow.cost.charges import GROUPS, Charge, Group, Kind, buy, one_off_charges, service_charges
from paneglow.cost.money import ZERO, Exact, apportion, to_paid
from paneglow.cost.offers import Counts, Offers, build_offers
from paneglow.cost.records import CostFile, Way
from paneglow.cost.run import RunPlan, plan_runs
from paneglow.cost.work import labour_charges
from paneglow.units import Record


class CostLine(Record):
    """One line of a statement."""

    group: Group = Field(description="What it belongs to.")
    what: str = Field(description="What is paid for.")
    working: str = Field(description="How the amount comes about.")
    kind: Kind = Field(description="Whether it grows with the run, does not, or buys what is left over.")
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
    quoted: bool = Field(default=True, description="Whether every assembly fee in it was quoted by somebody.")
    unit_low: Decimal | None = Field(
        default=None, description="Unit cost with every assumed assembly fee at its lower end; absent where quoted."
    )
    unit_high: Decimal | None = Field(
        default=None, description="Unit cost with every assumed assembly fee at its upper end; absent where quoted."
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Costing:
    """A cost file and a bill, with prices in the base currency: ready to cost runs of any size."""

    costs: CostFile  # as read
    bill: Bill  # what one board needs
    offers: Offers  # every offer and postage in the base currency


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Exact charges of runs, every array with one entry per run."""

    plan: RunPlan  # boards and parts to start with
    charges: tuple[Charge, ...]  # each exact, with its working

    def _sum(self, kinds: Sequence[Kind]) -> Exact:
        start = np.full(self.plan.started.shape, ZERO, dtype=object)
        return np.asarray(sum((charge.amount for charge in self.charges if charge.kind in kinds), start))

    @property
    def total(self) -> Exact:
        """All charges."""
        return self._sum(("variable", "fixed", "leftover"))

    @property
    def carried(self) -> Exact:
        """All charges but leftovers."""
        return self._sum(("variable", "fixed"))

    @property
    def variable(self) -> Exact:
        """Charges that grow with the run."""
        return self._sum(("variable",))

    @property
    def minutes(self) -> Exact:
        """Own work [min]."""
        start = np.full(self.plan.started.shape, ZERO, dtype=object)
        return np.asarray(sum((charge.minutes for charge in self.charges), start))


def build_costing(costs: CostFile, *, bill: Bill) -> Costing:
    """Bring a cost file and a bill together; raises DesignError where no board is offered for it."""
    return Costing(costs=costs, bill=bill, offers=build_offers(costs, bill=bill))


def cost_runs(costing: Costing, *, way: Way, good: Sequence[int] | Counts) -> Runs:
    """Exact charges of runs of so many good pieces.

    Parameters
    ----------
    costing : Costing
        Its figures may hold one value per run.
    way : {"hand", "mixed", "service"}
        Way to build.
    good : sequence of int, shape (run,)
        Good pieces of every run, at least 1; one for all where the figures hold a value per run.

    Raises
    ------
    DesignError
        Where something needed has no price.
    """
    costs = costing.costs
    plan = plan_runs(costs, bill=costing.bill, way=way, good=good)
    purchase = buy(plan, costs=costs, offers=costing.offers)
    charges = (
        *purchase.charges,
        *service_charges(plan, costs=costs, value=purchase.value),
        *labour_charges(plan, costs=costs),
        *one_off_charges(costs),
    )
    return Runs(plan=plan, charges=charges)


def build_statement(runs: Runs, *, run: int = 0, currency: str) -> Statement:
    """Print the charges of one of the runs, rounded once.

    Parameters
    ----------
    runs : Runs
        As `cost_runs` gives them.
    run : int
        Its place among them.
    currency : str
        The base currency.

    Notes
    -----
    Totals are the exact sums, rounded. Lines are shown in the smallest unit of money by largest remainders, so that
    those of what the run uses add up to the carried total and all of them to the charged one, each time exactly.
    """
    plan, pieces = runs.plan, int(runs.plan.good[run])
    shown: list[tuple[Charge, Decimal]] = []
    for charge in runs.charges:
        amount = np.broadcast_to(np.asarray(charge.amount, dtype=object), plan.started.shape)[run]
        if amount or (charge.stands is not None and charge.stands[run]):
            shown.append((charge, amount))
    shown.sort(key=lambda pair: (pair[0].kind == "leftover", GROUPS.index(pair[0].group)))
    exact_total, exact_carried = runs.total[run], runs.carried[run]
    total, carried = to_paid(exact_total, currency=currency), to_paid(exact_carried, currency=currency)
    unit, unit_carried = (to_paid(amount / pieces, currency=currency) for amount in (exact_total, exact_carried))
    exact = [amount for _, amount in shown]
    used = sum(charge.kind != "leftover" for charge, _ in shown)

    def printed(amounts: Sequence[Decimal], *, carried: Decimal, total: Decimal) -> list[Decimal]:
        """The first `used` ones add up to the carried total, the rest to what remains of the total."""
        first = apportion(amounts[:used], currency=currency, total=carried)
        return [*first, *apportion(amounts[used:], currency=currency, total=total - carried)]

    amounts = printed(exact, carried=carried, total=total)
    each = printed([amount / pieces for amount in exact], carried=unit_carried, total=unit)
    return Statement(
        way=plan.way,
        good=pieces,
        started=int(plan.started[run]),
        lines=tuple(
            CostLine(
                group=charge.group,
                what=charge.what,
                working=charge.working(run),
                kind=charge.kind,
                amount=amount,
                per_piece=per_piece,
            )
            for (charge, _), amount, per_piece in zip(shown, amounts, each, strict=True)
        ),
        total=total,
        unit=unit,
        total_carried=carried,
        unit_carried=unit_carried,
        minutes=runs.minutes[run],
    )


def sum_groups(lines: Sequence[CostLine]) -> dict[Group, tuple[Decimal, Decimal]]:
    """Printed amounts by group: for the run and for one piece, in the order the lines stand."""
    grouped = groupby(lines, key=lambda line: line.group)
    return {
        group: (sum((line.amount for line in rows), ZERO), sum((line.per_piece for line in rows), ZERO))
        for group, rows in ((group, list(rows)) for group, rows in grouped)
    }
