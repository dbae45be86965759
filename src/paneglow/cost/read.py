"""cost.toml to a CostFile: gaps filled from the assumed ranges of the catalogue, contradictions refused."""

import tomllib
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

from paneglow.cost.records import PER_BOARD, SOLDERING, CostFile, Demand, Offer
from paneglow.cost.run import PPM
from paneglow.design import parse_record, parse_toml
from paneglow.errors import DesignError
from paneglow.units import Record

COST_FILE = "cost.toml"
MONEY_TABLES = ("board", "offer", "supplier", "stock", "one_off", "fee")
MONEY_RECORDS = ("assembly", "labour", "sale", "demand")


def cost_file(design_path: Path) -> Path:
    """Where the cost file of a design lies: cost.toml beside it."""
    return design_path.parent / COST_FILE


def read_costs(path: Path) -> CostFile:
    """Read one cost file.

    Parameters
    ----------
    path : Path
        A TOML file. Its numbers are taken as written, digit for digit.

    Returns
    -------
    CostFile
        Operations, yields and the fee scheme that it leaves out stand there with the assumed ranges of the catalogue.

    Raises
    ------
    DesignError
        Where the file is missing or anything in it cannot be; all problems are reported, one line each.
    """
    data = parse_toml(path, error=DesignError, parse_float=Decimal)
    costs, problems = parse_record(CostFile, _filled(data))
    if costs is not None:
        problems = [problem for check in CHECKS for problem in check(costs)]
    if problems or costs is None:
        raise DesignError("\n".join(f"{path}: {problem}" for problem in problems))
    return costs


def read_assumed() -> dict[str, Any]:
    """Plain data of the assumed ranges that the catalogue holds for what a user has not timed or asked yet."""
    text = resources.files("paneglow.catalog").joinpath("data", "fees.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _filled(data: dict[str, Any]) -> dict[str, Any]:
    """The user's tables, and assumed ones for what they leave open.

    An operation of the user's own replaces the assumed one for the same thing, under any name. Minutes per
    board hold all soldering where the file counts no soldering itself, unless they say otherwise.
    """
    assumed = read_assumed()
    filled = {**data, "assembly": data.get("assembly", assumed["assembly"])}
    yields, operations = data.get("process_yield", []), data.get("operation", [])
    if isinstance(yields, list):
        ways = {row.get("way") for row in yields if isinstance(row, dict)}
        filled["process_yield"] = [*yields, *(row for row in assumed["process_yield"] if row["way"] not in ways)]
    if isinstance(operations, list):
        counted = {row.get("per") for row in operations if isinstance(row, dict)}
        whole = not counted & SOLDERING
        own = [
            {"solders": whole, **row} if isinstance(row, dict) and row.get("per") == PER_BOARD else row
            for row in operations
        ]
        filled["operation"] = [*own, *(row for row in assumed["operation"] if row["per"] not in counted)]
    return filled


def _offers(costs: CostFile) -> Iterator[str]:
    boards: list[Offer] = [*costs.board]
    placed = [(f"[[board]] {number}", offer) for number, offer in enumerate(boards, start=1)]
    placed += [(f"[[offer]] {number}", offer) for number, offer in enumerate(costs.offer, start=1)]
    for place, offer in placed:
        for number, (low, high) in enumerate(pairwise(offer.price_breaks), start=2):
            if high.at <= low.at:
                yield (
                    f"{place}, price_breaks item {number}: is at {high.at} pieces after {low.at};"
                    " list the steps with rising quantities, each once"
                )
            elif high.each > low.each:
                yield (
                    f"{place}, price_breaks item {number}: a piece costs {high.each} from {high.at} pieces and"
                    f" {low.each} from {low.at}; a price may not rise with quantity: correct it, or leave the more"
                    " expensive step out"
                )
        if offer.leader_on_every_pack and offer.leader >= offer.pack:
            yield f"{place}, leader: is {offer.leader} on every pack of {offer.pack}; nothing of a pack would be left"


def _currencies(costs: CostFile) -> Iterator[str]:
    tables: list[tuple[str, Record]] = [
        (f"[[{name}]] {number}", table)
        for name in MONEY_TABLES
        for number, table in enumerate(getattr(costs, name), start=1)
    ]
    tables += [(f"[{name}]", getattr(costs, name)) for name in MONEY_RECORDS if getattr(costs, name) is not None]
    worth = {} if costs.rates is None else costs.rates.worth
    missing: dict[str, list[str]] = {}
    for place, table in tables:
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
        ("process_yield", (row.way for row in costs.process_yield)),
        ("option", (row.name for row in costs.option)),
    )
    for table, names in named:
        seen: set[str] = set()
        for number, name in enumerate(names, start=1):
            if name in seen:
                yield f"[[{table}]] {number}: {name!r} already stands above; each may stand once"
            seen.add(name)


def _sale(costs: CostFile) -> Iterator[str]:
    if costs.demand is not None and sum(kind(costs.demand) for kind in DEMAND_KINDS.values()) != 1:
        yield f"[demand]: must hold exactly one of {', '.join(DEMAND_KINDS)}"
    if costs.fee and costs.sale is None:
        yield "[[fee]]: fees need a [sale] they are taken from"
    percents = sum((fee.percent.value for fee in costs.fee), start=0)
    if percents >= 100:
        yield f"[[fee]]: all fees together take {percents} percent of what the buyer pays; allowed is below 100"


def _yields(costs: CostFile) -> Iterator[str]:
    for number, row in enumerate(costs.process_yield, start=1):
        place, good, bad = f"[[process_yield]] {number}", row.good_percent, row.joint_defects_ppm
        if (good is None) == (bad is None):
            yield f"{place}: must hold either good_percent or joint_defects_ppm"
        if (good is not None and good.lowest == 0) or row.attrition_percent.highest >= 100:
            yield f"{place}: no board or no part would ever be good; good_percent must be above 0, attrition below 100"
        if bad is not None and bad.highest >= PPM:
            yield f"{place}, joint_defects_ppm: is {bad.highest}; allowed is below 1000000"


def _operations(costs: CostFile) -> Iterator[str]:
    for number, row in enumerate(costs.operation, start=1):
        place = f"[[operation]] {number}"
        if row.learning_percent is not None and row.learning_percent.lowest == 0:
            yield f"{place}, learning_percent: is 0; allowed is above 0 to 100 (100 learns nothing)"
        if row.solders is not None and row.per != PER_BOARD:
            yield f'{place}, solders: belongs to minutes per board only; write per = "{PER_BOARD}" or leave it out'
    whole = [row for row in costs.operation if row.solders and row.per == PER_BOARD]
    for way in costs.build.ways:
        holders = [row.name for row in whole if way in row.ways]
        if len(holders) > 1:
            yield (
                f"[[operation]]: {' and '.join(map(repr, holders))} count minutes per board, and no minutes of LEDs are"
                " stated; write solders = true in the one that holds the soldering and solders = false in the others"
            )
            return
        beside = [row.name for row in costs.operation if holders and row.per in SOLDERING and row.origin != "assumed"]
        if beside:
            yield (
                f"[[operation]]: {holders[0]!r} holds all soldering (solders = true) and {beside[0]!r} counts some"
                " of it again; keep one of the two, or write solders = false"
            )
            return


DEMAND_KINDS: dict[str, Callable[[Demand], bool]] = {
    "mean and sd": lambda demand: demand.mean is not None and demand.sd is not None,
    "least and most": lambda demand: (
        demand.least is not None and demand.most is not None and demand.least < demand.most
    ),
    "[[demand.step]]": lambda demand: bool(demand.step),
}
CHECKS: tuple[Callable[[CostFile], Iterator[str]], ...] = (_offers, _currencies, _names, _sale, _yields, _operations)
