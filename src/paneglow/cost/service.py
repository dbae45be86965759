"""Charges of an assembly service by its fee scheme."""

from collections.abc import Iterator, Mapping
from decimal import Decimal

from paneglow.cost.charges import Charge, Kind, to_plain, to_price
from paneglow.cost.figures import Figure
from paneglow.cost.money import ZERO
from paneglow.cost.prices import in_words, rate_of
from paneglow.cost.records import CostFile
from paneglow.cost.run import RunPlan, assembly_of, joints_in


def service_charges(plan: RunPlan, *, costs: CostFile, value: Mapping[str, Decimal]) -> tuple[Charge, ...]:
    """What the service asks for one run.

    Parameters
    ----------
    plan : RunPlan
    costs : CostFile
    value : mapping of str to Decimal
        Of the pieces of each part that the run uses, in the base currency: the customer supplies them.

    Notes
    -----
    Set-up and stencil per side with parts; joints per board, raised by `second_side_percent` where both sides have
    parts, but at least the floor; a fee per part type that the service does not stock; joints soldered by hand; a
    share of the value of supplied parts, but at least the stated least.
    """
    if not plan.served:
        return ()
    return (*_placing(plan, costs=costs), *_by_hand(plan, costs=costs), *_supplied(plan, costs=costs, value=value))


def _charge(what: str, *, working: str, kind: Kind, amount: Decimal) -> Charge:
    return Charge(group="assembly", what=what, working=working, kind=kind, amount=amount)


def _placing(plan: RunPlan, *, costs: CostFile) -> Iterator[Charge]:
    scheme, rate = assembly_of(costs), rate_of(assembly_of(costs), costs=costs)
    sides = len({row.side for row in plan.machine})
    if not sides:
        return

    def asked(figure: Figure) -> str:
        return in_words(figure, table=scheme, costs=costs)

    for what, figure in (("set-up", scheme.setup_per_side), ("stencil", scheme.stencil_per_side)):
        words = "1 side" if sides == 1 else f"{sides} sides"
        yield _charge(what, working=f"{words} x {asked(figure)}", kind="fixed", amount=sides * figure.value * rate)
    joints, each = joints_in(plan.machine, costs=costs), scheme.per_joint.value * rate
    raised = 1 + scheme.second_side_percent.share if sides > 1 else Decimal(1)
    per_board, floor = joints * each * raised, scheme.floor_per_board.value * rate
    more = f" x {to_plain(raised)} for two sides" if sides > 1 else ""
    working = f"{plan.started} boards x {joints} joints x {asked(scheme.per_joint)}{more}"
    if per_board < floor:
        least = asked(scheme.floor_per_board)
        working = f"{plan.started} boards x {least}, the least ({joints} joints are {to_price(per_board)})"
    yield _charge("joints", working=working, kind="variable", amount=plan.started * max(per_board, floor))
    types = len({row.item for row in plan.machine} - set(scheme.stocked))
    each = scheme.per_part_type.value * rate
    yield _charge(
        "part types", working=f"{types} types x {asked(scheme.per_part_type)}", kind="fixed", amount=types * each
    )


def _by_hand(plan: RunPlan, *, costs: CostFile) -> Iterator[Charge]:
    scheme, rate = assembly_of(costs), rate_of(assembly_of(costs), costs=costs)
    items = sum(row.joints * row.per_piece for row in plan.items) if plan.way == "service" else 0
    joints = joints_in(plan.extra, costs=costs) + items
    if not joints:
        return
    setup, each = scheme.hand_setup.value * rate, scheme.hand_per_joint.value * rate
    yield _charge("set-up for hand work", working="per run", kind="fixed", amount=setup)
    words = in_words(scheme.hand_per_joint, table=scheme, costs=costs)
    working = f"{plan.started} boards x {joints} joints x {words}"
    yield _charge("joints by hand", working=working, kind="variable", amount=plan.started * joints * each)


def _supplied(plan: RunPlan, *, costs: CostFile, value: Mapping[str, Decimal]) -> Iterator[Charge]:
    scheme, rate = assembly_of(costs), rate_of(assembly_of(costs), costs=costs)
    codes = {row.item for row in (*plan.machine, *plan.extra)} - set(scheme.stocked)
    worth = sum((value[code] for code in sorted(codes)), ZERO)
    asked, least = worth * scheme.own_parts_percent.share, scheme.own_parts_least.value * rate
    if max(asked, least) == 0:
        return
    percent = to_plain(scheme.own_parts_percent.value)
    working = f"{percent} % of {to_price(worth)}"
    if asked < least:
        working = f"the least ({working} is {to_price(asked)})"
    kind: Kind = "variable" if asked >= least else "fixed"
    yield _charge("parts supplied", working=working, kind=kind, amount=max(asked, least))
