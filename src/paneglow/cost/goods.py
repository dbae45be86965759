"""Charges for everything bought: stock first, then the cheapest basket, leftovers apart from what is used."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from paneglow.cost.buying import Basket, Line, Market
from paneglow.cost.charges import Charge, Group
from paneglow.cost.money import ZERO
from paneglow.cost.prices import BOARD, in_base, in_words
from paneglow.cost.records import LOOSE, CostFile
from paneglow.cost.run import RunPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Goods:
    """What a run buys and takes from stock, and what of it stays over."""

    basket: Basket
    from_stock: Mapping[str, int]
    left: Mapping[str, int]  # bought and not used, by item
    charges: tuple[Charge, ...]
    value: Mapping[str, Decimal]  # of the pieces a run uses, by item


def buy_goods(plan: RunPlan, *, costs: CostFile, market: Market) -> Goods:
    """Buy what a run needs.

    Parameters
    ----------
    plan : RunPlan
    costs : CostFile
    market : Market
        As `paneglow.cost.prices` builds it.
    """
    stock = {row.item: min(row.pieces, plan.needs.get(row.item, 0)) for row in costs.stock}
    to_buy = {item: need - stock.get(item, 0) for item, need in plan.needs.items()}
    basket = market.best_basket(to_buy)
    left = {item: sum(line.usable for line in lines) - to_buy[item] for item, lines in basket.lines.items()}
    packaging = {row.name for row in plan.items if row.packaging}
    charges: list[Charge] = []
    value: dict[str, Decimal] = {}
    for item in plan.needs:
        of_item = [*_stock_charges(item, stock=stock, costs=costs)]
        group: Group = "boards" if item == BOARD else "packaging" if item in packaging else "parts"
        of_item += _line_charges(basket.lines.get(item, ()), left=left.get(item, 0), group=group)
        value[item] = sum((charge.amount for charge in of_item if charge.kind == "variable"), ZERO)
        charges += of_item
    charges += [
        Charge(group="parts", what=f"postage of {name}", working="one order", kind="fixed", amount=amount)
        for name, amount in basket.postage.items()
        if amount
    ]
    return Goods(basket=basket, from_stock=stock, left=left, charges=tuple(charges), value=value)


def _stock_charges(item: str, *, stock: Mapping[str, int], costs: CostFile) -> Iterator[Charge]:
    for row in costs.stock:
        if row.item == item and stock[item]:
            each = in_base(row.each, table=row, costs=costs)
            working = f"{stock[item]} from stock x {in_words(row.each, table=row, costs=costs)}"
            yield Charge(group="parts", what=item, working=working, kind="variable", amount=stock[item] * each)


def _line_charges(lines: Sequence[Line], *, left: int, group: Group) -> Iterator[Charge]:
    """Charges of one item: used and left over of every line, the leftovers in the dearest line first."""
    ordered = sorted(lines, key=lambda line: line.each)
    for line in ordered:
        ladder, each = line.ladder, line.each
        over = min(left, line.usable) if line is ordered[-1] else max(0, left - ordered[-1].usable)
        count = f"{line.pieces - over} of {line.pieces}" if over else f"{line.pieces}"
        working = f"{count}{f' ({ladder.leader} on the leader)' if ladder.leader else ''} x {line.price_words}"
        name = "bare board" if ladder.item == BOARD else ladder.item
        name = name if ladder.form == LOOSE else f"{name}, {ladder.form}"
        yield Charge(
            group=group, what=name, working=working, kind="variable", amount=(line.pieces - over) * each
        )  # fmt: skip
        if over:
            yield Charge(
                group="leftovers",
                what=f"{name}, left over",
                working=f"{over} of {line.pieces} x {line.price_words}",
                kind="leftover",
                amount=over * each,
            )
        if ladder.fee:
            yield Charge(
                group=group, what=f"{name}, order fee", working="per purchase", kind="fixed", amount=ladder.fee
            )  # fmt: skip
