"""What single fields of a cost file cannot tell: ladders out of order, currencies without a rate, names used twice."""

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise

from paneglow.cost.records import CostFile, Demand, Offer
from paneglow.cost.yields import PPM
from paneglow.units import Record

MONEY_TABLES = ("board", "offer", "supplier", "stock", "one_off", "fee")
MONEY_RECORDS = ("assembly", "labour", "sale", "demand")


def consistency_problems(costs: CostFile) -> list[str]:
    """Contradictions in one cost file, one line each."""
    return [problem for check in CHECKS for problem in check(costs)]


def offers_of(costs: CostFile) -> list[tuple[str, Offer]]:
    """Every offer with its place in words."""
    boards = [(f"[[board]] {number}", offer) for number, offer in enumerate(costs.board, start=1)]
    return [*boards, *((f"[[offer]] {number}", offer) for number, offer in enumerate(costs.offer, start=1))]


def money_tables(costs: CostFile) -> Iterator[tuple[str, Record]]:
    """Every table that states amounts, with its place in words."""
    for name in MONEY_TABLES:
        for number, table in enumerate(getattr(costs, name), start=1):
            yield f"[[{name}]] {number}", table
    for name in MONEY_RECORDS:
        if getattr(costs, name) is not None:
            yield f"[{name}]", getattr(costs, name)


def _ladders(costs: CostFile) -> Iterator[str]:
    for place, offer in offers_of(costs):
        for number, (low, high) in enumerate(pairwise(offer.ladder), start=2):
            if high.at <= low.at:
                yield (
                    f"{place}, ladder item {number}: is at {high.at} pieces after {low.at};"
                    " list the steps with rising quantities, each once"
                )
            elif high.each > low.each:
                yield (
                    f"{place}, ladder item {number}: a piece costs {high.each} from {high.at} pieces and {low.each}"
                    f" from {low.at}; a price may not rise with quantity: correct it, or leave the dearer step out"
                )


def _currencies(costs: CostFile) -> Iterator[str]:
    worth = {} if costs.rates is None else costs.rates.worth
    missing: dict[str, list[str]] = {}
    for place, table in money_tables(costs):
        currency = getattr(table, "currency", None)
        if currency not in (None, costs.currency) and currency not in worth:
            missing.setdefault(currency, []).append(place)
    for currency, places in missing.items():
        more = f" and {len(places) - 1} more tables" if len(places) > 1 else ""
        yield (
            f"{places[0]}{more}, currency: is {currency} while the base is {costs.currency}, and [rates] has no"
            f" {currency}; add to its worth {currency} = <what 1 {currency} is worth in {costs.currency}>"
        )


def _names(costs: CostFile) -> Iterator[str]:
    named: tuple[tuple[str, Iterable[str]], ...] = (
        ("supplier", (row.name for row in costs.supplier)),
        ("stock", (row.item for row in costs.stock)),
        ("item", (row.name for row in costs.item)),
        ("operation", (row.name for row in costs.operation)),
        ("quality", (row.way for row in costs.quality)),
        ("option", (row.name for row in costs.option)),
    )
    for table, names in named:
        seen: set[str] = set()
        for number, name in enumerate(names, start=1):
            if name in seen:
                yield f"[[{table}]] {number}: {name!r} already stands above; each may stand once"
            seen.add(name)


def _demand(costs: CostFile) -> Iterator[str]:
    if costs.demand is not None and sum(kind(costs.demand) for kind in DEMAND_KINDS.values()) != 1:
        yield f"[demand]: must hold exactly one of {', '.join(DEMAND_KINDS)}"


def _sale(costs: CostFile) -> Iterator[str]:
    if costs.fee and costs.sale is None:
        yield "[[fee]]: fees need a [sale] they are taken from"
    percents = sum((fee.percent.value for fee in costs.fee), start=0)
    if percents >= 100:
        yield f"[[fee]]: all fees together take {percents} percent of what the buyer pays; allowed is below 100"


def _quality(costs: CostFile) -> Iterator[str]:
    for number, row in enumerate(costs.quality, start=1):
        place, good, bad = f"[[quality]] {number}", row.good_percent, row.joint_defects_ppm
        if (good is None) == (bad is None):
            yield f"{place}: must hold either good_percent or joint_defects_ppm"
        if (good is not None and good.lowest == 0) or row.attrition_percent.highest >= 100:
            yield f"{place}: no board or no part would ever be good; good_percent must be above 0, attrition below 100"
        if bad is not None and bad.highest >= PPM:
            yield f"{place}, joint_defects_ppm: is {bad.highest}; allowed is below 1000000"


def _learning(costs: CostFile) -> Iterator[str]:
    for number, row in enumerate(costs.operation, start=1):
        if row.learning_percent is not None and row.learning_percent.lowest == 0:
            yield f"[[operation]] {number}, learning_percent: is 0; allowed is above 0 to 100 (100 learns nothing)"


DEMAND_KINDS: dict[str, Callable[[Demand], bool]] = {
    "mean and sd": lambda demand: demand.mean is not None and demand.sd is not None,
    "least and most": lambda demand: (
        demand.least is not None and demand.most is not None and demand.least < demand.most
    ),
    "[[demand.step]]": lambda demand: bool(demand.step),
}
CHECKS: tuple[Callable[[CostFile], Iterator[str]], ...] = (
    _ladders,
    _currencies,
    _names,
    _demand,
    _sale,
    _quality,
    _learning,
)
