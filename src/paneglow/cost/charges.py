"""What a run is charged for, each charge exact and with its working, so that it can be done again by hand.

Here stand the charges for everything bought (stock first, then the cheapest basket, leftovers apart from what is used),
those of the assembly service by its fee scheme, and money spent once; own work has a file of its own.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.cost.money import ZERO, Exact, to_plain, to_price
from paneglow.cost.offers import BOARD, Counts, Offers, PriceBreaks
from paneglow.cost.records import LOOSE, CostFile, RangedNumber
from paneglow.cost.run import RunPlan, assembly_of, joints_in

Group = Literal["boards", "parts", "leftovers", "assembly", "labour", "packaging", "once"]
GROUPS: tuple[Group, ...] = ("boards", "parts", "assembly", "labour", "packaging", "once", "leftovers")
Kind = Literal["variable", "fixed", "leftover"]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Charge:
    """One charge of every run: `fixed` does not grow with the run, `leftover` buys what the run does not use."""

    group: Group
    what: str
    working: Callable[[int], str]  # how the amount of one run comes about, by its place among the runs
    kind: Kind
    amount: Decimal | Exact
    minutes: Decimal | Exact = ZERO  # of own work
    stands: Flags | None = None  # where it is shown; where it is not 0, if left out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Purchase:
    """What runs buy and take from stock."""

    charges: tuple[Charge, ...]
    value: Mapping[str, Decimal | Exact]  # of the pieces a run uses, by item


def buy(plan: RunPlan, *, costs: CostFile, offers: Offers) -> Purchase:
    """Buy what runs need.

    Parameters
    ----------
    plan : RunPlan
        Says how many pieces of what.
    costs : CostFile
        For what is in stock.
    offers : Offers
        As `paneglow.cost.offers.build_offers` reads them off the cost file.

    Raises
    ------
    DesignError
        Where nobody offers an item that is needed.
    """
    in_stock = {row.item: row for row in costs.stock}
    taken = {item: np.minimum(in_stock[item].pieces, need) for item, need in plan.needs.items() if item in in_stock}
    to_buy = {item: need - taken.get(item, 0) for item, need in plan.needs.items()}
    basket = offers.best_basket(to_buy)
    packaging = {row.name for row in plan.items if row.packaging}
    charges: list[Charge] = []
    value: dict[str, Decimal | Exact] = {}
    for item in plan.needs:
        group: Group = "boards" if item == BOARD else "packaging" if item in packaging else "parts"
        of_item = []
        if item in taken:
            of_item.append(_from_stock(item, pieces=taken[item], costs=costs))
        if item in basket.pieces:
            bought = zip(basket.offers[item], basket.pieces[item], strict=True)
            over = _left_over(basket.offers[item], pieces=basket.pieces[item], need=to_buy[item])
            for (offer, pieces), left in zip(bought, over, strict=True):
                of_item += _of_line(offer, pieces=pieces, left=left, group=group)
        value[item] = sum((charge.amount for charge in of_item if charge.kind == "variable"), ZERO)
        charges += of_item
    charges += [
        Charge(group="parts", what=f"postage of {name}", working=lambda _: "one order", kind="fixed", amount=amount)
        for name, amount in basket.postage.items()  # by name
    ]
    return Purchase(charges=tuple(charges), value=value)


def _from_stock(item: str, *, pieces: Counts, costs: CostFile) -> Charge:
    row = next(row for row in costs.stock if row.item == item)
    return Charge(
        group="parts",
        what=item,
        working=lambda run: f"{pieces[run]} from stock x {costs.in_words(row.each, table=row)}",
        kind="variable",
        amount=pieces.astype(object) * costs.in_base(row.each, table=row),
        stands=pieces > 0,
    )


def _left_over(offers: tuple[PriceBreaks, ...], *, pieces: Counts, need: Counts) -> Counts:
    """Pieces of every line that the run does not use, shape (offer, run): those of the most expensive line first."""
    usable = np.array([offer.usable(line) for offer, line in zip(offers, pieces, strict=True)])
    if len(offers) == 1:
        return usable - need
    prices = np.array(
        [
            np.broadcast_to(np.where(line > 0, offer.price(line), -np.inf), need.shape)
            for offer, line in zip(offers, pieces, strict=True)
        ]
    )
    left = usable.sum(axis=0) - need
    over = np.zeros_like(pieces)
    for order in np.argsort(-prices, axis=0, kind="stable"):
        runs = np.arange(need.size)
        here = np.minimum(left, usable[order, runs])
        over[order, runs] = here
        left = left - here
    return over


def _of_line(offer: PriceBreaks, *, pieces: Counts, left: Counts, group: Group) -> Iterator[Charge]:
    """Charges of what is bought from one offer: used, left over, and the fee of the order."""
    quoted = offer.quoted(pieces)
    each = quoted * offer.factor
    name = "bare board" if offer.item == BOARD else offer.item
    name = name if offer.form == LOOSE else f"{name}, {offer.form}"

    def price(run: int) -> str:
        return f"{to_price(quoted[run])}{offer.terms()}"

    def used(run: int) -> str:
        count = f"{pieces[run] - left[run]} of {pieces[run]}" if left[run] else f"{pieces[run]}"
        lost = pieces[run] - offer.usable(pieces[run])
        return f"{count}{f' ({lost} on the leader)' if lost else ''} x {price(run)}"

    yield Charge(
        group=group, what=name, working=used, kind="variable", amount=(pieces - left) * each, stands=pieces > 0
    )
    yield Charge(
        group="leftovers",
        what=f"{name}, left over",
        working=lambda run: f"{left[run]} of {pieces[run]} x {price(run)}",
        kind="leftover",
        amount=left * each,
    )
    yield Charge(
        group=group,
        what=f"{name}, order fee",
        working=lambda _: "per purchase",
        kind="fixed",
        amount=(pieces > 0).astype(object) * offer.fee,
    )


def service_charges(plan: RunPlan, *, costs: CostFile, value: Mapping[str, Decimal | Exact]) -> tuple[Charge, ...]:
    """What the assembly service asks.

    Parameters
    ----------
    plan : RunPlan
        Says what it places and what it solders by hand.
    costs : CostFile
        With the fee scheme.
    value : mapping of str to Decimal
        Of the pieces of each part that the run uses, in the base currency: the customer supplies them.

    Raises
    ------
    DesignError
        Where the service has a part in the run and there is no fee scheme.

    Notes
    -----
    Set-up and stencil per side with parts; joints per board, raised by `second_side_percent` where both sides have
    parts, but at least the minimum charge of a board; a fee per part type that the service does not stock; joints
    soldered by hand; a share of the value of supplied parts, but at least the minimum charge.
    """
    if not plan.served:
        return ()
    return (
        *_placing(plan, costs=costs),
        *_soldered_by_hand(plan, costs=costs),
        *_supplied(plan, costs=costs, value=value),
    )


def _fee(what: str, *, working: Callable[[int], str], amount: Decimal | Exact, kind: Kind = "fixed") -> Charge:
    return Charge(group="assembly", what=what, working=working, kind=kind, amount=amount)


def _placing(plan: RunPlan, *, costs: CostFile) -> Iterator[Charge]:
    scheme = assembly_of(costs)
    rate, sides = costs.rate_of(scheme), len({row.side for row in plan.machine})
    if not sides:
        return

    def asked(figure: RangedNumber) -> str:
        return costs.in_words(figure, table=scheme)

    on_sides = "1 side" if sides == 1 else f"{sides} sides"
    yield _fee(
        "set-up", working=lambda _: f"{on_sides} x {asked(scheme.setup_per_side)}",
        amount=sides * (scheme.setup_per_side.value * rate),
    )  # fmt: skip
    yield _fee(
        "stencil", working=lambda _: f"{on_sides} x {asked(scheme.stencil_per_side)}",
        amount=sides * (scheme.stencil_per_side.value * rate),
    )  # fmt: skip
    joints = joints_in(plan.machine, costs=costs)
    raised = 1 + scheme.second_side_percent.share if sides > 1 else Decimal(1)
    by_joint = np.broadcast_to(np.asarray(joints * (scheme.per_joint.value * rate) * raised), plan.started.shape)
    minimum = np.broadcast_to(np.asarray(scheme.floor_per_board.value * rate), plan.started.shape)

    def of_joints(run: int) -> str:
        if by_joint[run] < minimum[run]:
            least = f"{asked(scheme.floor_per_board)} minimum charge per board"
            alone = to_price(by_joint[run])
            return f"{plan.started[run]} boards x {least} ({joints} joints alone would be {alone})"
        more = f" x {to_plain(raised)} for two sides" if sides > 1 else ""
        return f"{plan.started[run]} boards x {joints} joints x {asked(scheme.per_joint)}{more}"

    yield _fee("joints", working=of_joints, amount=plan.started * np.maximum(by_joint, minimum), kind="variable")
    types = len({row.item for row in plan.machine} - set(scheme.stocked))
    yield _fee(
        "part types", working=lambda _: f"{types} types x {asked(scheme.per_part_type)}",
        amount=types * (scheme.per_part_type.value * rate),
    )  # fmt: skip


def _soldered_by_hand(plan: RunPlan, *, costs: CostFile) -> Iterator[Charge]:
    scheme = assembly_of(costs)
    items = sum(row.joints * row.per_piece for row in plan.items) if plan.way == "service" else 0
    joints = joints_in(plan.extra, costs=costs) + items
    if joints:
        yield _fee(
            "set-up for hand work", working=lambda _: "per run", amount=costs.in_base(scheme.hand_setup, table=scheme)
        )
        yield _fee(
            "joints by hand",
            working=lambda run: (
                f"{plan.started[run]} boards x {joints} joints x {costs.in_words(scheme.hand_per_joint, table=scheme)}"
            ),
            amount=plan.started.astype(object) * (joints * costs.in_base(scheme.hand_per_joint, table=scheme)),
            kind="variable",
        )


def _supplied(plan: RunPlan, *, costs: CostFile, value: Mapping[str, Decimal | Exact]) -> Iterator[Charge]:
    scheme = assembly_of(costs)
    codes = {row.item for row in (*plan.machine, *plan.extra)} - set(scheme.stocked)
    worth = np.broadcast_to(
        np.asarray(sum((worth for code, worth in value.items() if code in codes), ZERO)), plan.started.shape
    )
    share = np.broadcast_to(np.asarray(worth * scheme.own_parts_percent.share), plan.started.shape)
    minimum = np.broadcast_to(np.asarray(costs.in_base(scheme.own_parts_least, table=scheme)), plan.started.shape)
    raised = np.asarray(share < minimum, dtype=np.bool_)

    def working(run: int) -> str:
        percent = to_plain(scheme.own_parts_percent.value)
        if raised[run]:
            least, would = to_price(minimum[run]), to_price(round(share[run], 2))
            return f"minimum charge {least} ({percent} % of {to_price(round(worth[run], 2))} would be {would})"
        return f"{percent} % of {to_price(worth[run])}"

    # A minimum is asked once, a share grows with the run
    what, nothing = "handling of your own parts", np.full(plan.started.shape, ZERO, dtype=object)
    yield _fee(what, working=working, amount=np.where(raised, nothing, share), kind="variable")
    yield _fee(what, working=working, amount=np.where(raised, minimum, nothing), kind="fixed")


def one_off_charges(costs: CostFile) -> list[Charge]:
    """Money spent once, whatever the run."""
    return [
        Charge(
            group="once",
            what=row.name,
            working=lambda _: "once",
            kind="fixed",
            amount=costs.in_base(row.amount, table=row),
        )
        for row in costs.one_off
    ]
