"""A cost file's offers, postage and other amounts in the base currency."""

from decimal import Decimal

from paneglow.assembly import Bill
from paneglow.cost.buying import Ladder, Market
from paneglow.cost.charges import to_plain
from paneglow.cost.figures import Figure
from paneglow.cost.money import ZERO, to_base
from paneglow.cost.records import BoardOffer, CostFile, Offer, Supplier
from paneglow.errors import DesignError
from paneglow.units import Record

BOARD = "board"  # the item that stands for the bare board


def terms_of(table: Record, *, costs: CostFile, duty: Decimal = ZERO, factor: Decimal = Decimal(1)) -> str:
    """What stands behind an amount as quoted: its currency where it is not the base one, duty, a price factor."""
    currency = getattr(table, "currency", None)
    foreign = "" if currency in (None, costs.currency) else f" {currency}"
    moved = "" if factor == 1 else f" x {to_plain(factor)} (price factor)"
    return f"{foreign}{moved}{f' + {to_plain(100 * duty)} % duty' if duty else ''}"


def in_words(figure: Figure, *, table: Record, costs: CostFile) -> str:
    """A figure of a table as it was quoted, with its currency where that is not the base one."""
    return f"{to_plain(figure.value)}{terms_of(table, costs=costs)}"


def in_base(figure: Figure, *, table: Record, costs: CostFile) -> Decimal:
    """A figure of a table in the base currency, not rounded."""
    return rate_of(table, costs=costs) * figure.value


def rate_of(table: Record, *, costs: CostFile) -> Decimal:
    """What one unit of a table's currency is worth in the base currency."""
    worth = {} if costs.rates is None else costs.rates.worth
    return to_base(Decimal(1), currency=getattr(table, "currency", None), base=costs.currency, rates=worth)


def finish_of(costs: CostFile) -> str:
    """The surface finish that is bought: the stated one, or the only one offered.

    Raises
    ------
    DesignError
        Where no board is offered, or several finishes are and none is chosen, or the chosen one is not offered.
    """
    offered = tuple(dict.fromkeys(board.finish for board in costs.board))
    if not offered:
        raise DesignError("there is no offer for the bare board; add a [[board]] with size_mm, finish and ladder")
    if costs.build.finish is None and len(offered) > 1:
        raise DesignError(f"[build] finish is missing; boards are offered in {', '.join(offered)}: choose one")
    finish = costs.build.finish or offered[0]
    if finish not in offered:
        raise DesignError(f"[build] finish is {finish!r}; boards are offered in {', '.join(offered)}")
    return finish


def holds_board(offer: BoardOffer, *, bill: Bill) -> bool:
    """Whether the board of a bill is no larger than the one quoted, turned if need be."""
    return all(own <= quoted + 0.01 for own, quoted in zip(sorted(bill.size_mm), sorted(offer.size_mm), strict=True))


def build_market(costs: CostFile, *, bill: Bill) -> Market:
    """All offers and postage in the base currency; raises DesignError where no board is offered for the bill."""
    postage = {row.name: in_base(row.postage, table=row, costs=costs) for row in costs.supplier}
    return Market(ladders=build_ladders(costs, bill=bill), postage=postage)


def build_ladders(costs: CostFile, *, bill: Bill) -> tuple[Ladder, ...]:
    """Offers for the board in the chosen finish and for all items, in the base currency with duty.

    Raises
    ------
    DesignError
        Where no offer holds for a board of this size and finish.
    """
    finish = finish_of(costs)
    boards = [board for board in costs.board if board.finish == finish and holds_board(board, bill=bill)]
    if not boards:
        size = " x ".join(f"{side:g}" for side in bill.size_mm)
        raise DesignError(
            f"the board is {size} mm and no [[board]] offer in {finish} holds for that size;"
            " ask for a price at this size and add it"
        )
    duties = {row.name: row.duty_percent.share for row in costs.supplier}
    offers: list[Offer] = [*boards, *costs.offer]
    return tuple(_ladder(offer, costs=costs, duty=duties.get(offer.supplier, ZERO)) for offer in offers)


def _ladder(offer: Offer, *, costs: CostFile, duty: Decimal) -> Ladder:
    landed = rate_of(offer, costs=costs) * (1 + duty)
    factor = landed * offer.price_factor.value
    return Ladder(
        item=offer.item,
        supplier=offer.supplier,
        form=offer.form,
        steps=tuple((rung.at, rung.each * factor) for rung in offer.ladder),
        minimum=offer.minimum,
        pack=offer.pack,
        leader=offer.leader,
        fee=offer.order_fee.value * landed,
        quoted=tuple(rung.each for rung in offer.ladder),
        terms=terms_of(offer, costs=costs, duty=duty, factor=offer.price_factor.value),
    )


def supplier_named(name: str, *, costs: CostFile) -> Supplier | None:
    """The table of a supplier, None where there is none."""
    return next((row for row in costs.supplier if row.name == name), None)
