"""Charges for own work: minutes per operation, learning, rework, and the overhead on them."""

from collections.abc import Callable, Iterator
from decimal import Decimal

from paneglow.cost.charges import Charge, Kind, to_plain, to_price
from paneglow.cost.learning import pieces_equivalent
from paneglow.cost.money import MINUTES_PER_HOUR, ZERO, to_share
from paneglow.cost.prices import in_base, in_words
from paneglow.cost.records import CostFile, Operation, Per
from paneglow.cost.run import RunPlan
from paneglow.errors import DesignError

FACTOR_DIGITS = 4  # a learning curve is no better known; what is printed is what is charged


def labour_charges(plan: RunPlan, *, costs: CostFile) -> tuple[Charge, ...]:
    """What own work costs in one run.

    Raises
    ------
    DesignError
        Where there is own work and no [labour] rate.
    """
    minutes = [*_operations(plan, costs=costs), *_rework(plan)]
    if not minutes:
        return ()
    if costs.labour is None:
        raise DesignError("own work has no rate; add [labour] with rate_per_hour, its origin, date and source")
    rate = in_base(costs.labour.rate_per_hour, table=costs.labour, costs=costs)
    per_hour = in_words(costs.labour.rate_per_hour, table=costs.labour, costs=costs)
    charges = [
        Charge(
            group="labour",
            what=what,
            working=f"{working} at {per_hour}/h",
            kind=kind,
            amount=spent / MINUTES_PER_HOUR * rate,
            minutes=spent,
        )
        for what, working, kind, spent in minutes
    ]
    percent = costs.labour.overhead_percent
    if percent.value:
        labour = sum((charge.amount for charge in charges), ZERO)
        working = f"{to_plain(percent.value)} % of {to_price(labour)}"
        amount = labour * percent.share
        charges.append(Charge(group="labour", what="overhead", working=working, kind="variable", amount=amount))
    return tuple(charges)


def _operations(plan: RunPlan, *, costs: CostFile) -> Iterator[tuple[str, str, Kind, Decimal]]:
    for operation in costs.operation:
        count = _COUNTS[operation.per](operation, plan)
        if plan.way not in operation.ways or not count:
            continue
        each = operation.minutes.value
        if operation.per == "run":
            yield operation.name, f"{to_plain(each)} min", "fixed", each
            continue
        boards, words = _boards(operation, started=plan.started)
        per_board = "" if operation.per == "board" else f" x {count} a board"
        spent = each * count * boards
        yield operation.name, f"{to_plain(each)} min{per_board} x {words} = {to_price(spent)} min", "variable", spent


def _boards(operation: Operation, *, started: int) -> tuple[Decimal, str]:
    """Boards of the run, counted in times of the first one where hands learn."""
    if operation.learning_percent is None:
        return Decimal(started), f"{started} boards"
    times = pieces_equivalent(
        started,
        rate=to_share(operation.learning_percent.value),
        model=operation.learning_model,
        learned=operation.learned,
    )
    exact = Decimal(f"{times:.{FACTOR_DIGITS}f}")
    percent = to_plain(operation.learning_percent.value)
    return exact, f"{to_plain(exact)} ({started} boards, {percent} % {operation.learning_model} curve)"


def _rework(plan: RunPlan) -> Iterator[tuple[str, str, Kind, Decimal]]:
    quality = plan.quality
    share = (1 - plan.first_pass) * quality.rework_percent.share
    spent = plan.started * share * quality.rework_minutes.value
    if spent:
        each = to_plain(quality.rework_minutes.value)
        working = f"{plan.started} boards x {to_plain(100 * share)} % x {each} min = {to_price(spent)} min"
        yield "rework", working, "variable", spent


def _leds(operation: Operation, plan: RunPlan) -> int:
    return sum(
        row.count
        for row in plan.own
        if row.mounting is not None and operation.mounting in (None, row.mounting)
    )  # fmt: skip


def _parts(_: Operation, plan: RunPlan) -> int:
    return sum(row.count for row in plan.own if row.mounting is None)


def _joints(_: Operation, plan: RunPlan) -> int:
    """Joints of items; the service solders them where it does everything."""
    return 0 if plan.way == "service" else sum(row.joints * row.per_piece for row in plan.items)


def _one(_: Operation, __: RunPlan) -> int:
    return 1


_COUNTS: dict[Per, Callable[[Operation, RunPlan], int]] = {
    "run": _one, "board": _one, "led": _leds, "part": _parts, "joint": _joints,
}  # fmt: skip
