"""How a run is made: boards to start, parts to place and who places them, for one way to build."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from paneglow.assembly import Bill, BillRow
from paneglow.cost.attrition import pieces_to_start
from paneglow.cost.money import to_share
from paneglow.cost.prices import BOARD
from paneglow.cost.records import Assembly, CostFile, Item, Quality, Way
from paneglow.cost.yields import first_pass_share
from paneglow.errors import DesignError

JOINTS = 2  # a two-terminal chip part; the cost file states others under [build.joints]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPlan:
    """One run of one way: `good` pieces are wanted, `started` boards are begun."""

    way: Way
    good: int
    started: int
    quality: Quality
    first_pass: Decimal  # share of boards that are good at once
    own: tuple[BillRow, ...]  # soldered by own hands
    machine: tuple[BillRow, ...]  # placed by the service's machine
    extra: tuple[BillRow, ...]  # soldered by the service by hand
    items: tuple[Item, ...]
    needs: dict[str, int]  # pieces by item, with what is lost on the way and the spares asked for

    @property
    def served(self) -> bool:
        """Whether the assembly service has a part in it."""
        return bool(self.machine or self.extra)


def first_pass(quality: Quality, *, joints: int) -> Decimal:
    """Share of boards that are good at once: as stated, or from the bad joints in a million."""
    if quality.joint_defects_ppm is None:
        return Decimal(1) if quality.good_percent is None else quality.good_percent.share
    return first_pass_share(quality.joint_defects_ppm.value, joints=joints, model=quality.defect_model)


def plan_run(costs: CostFile, *, bill: Bill, way: Way, good: int) -> RunPlan:
    """Plan a run of so many good pieces.

    Parameters
    ----------
    costs : CostFile
    bill : Bill
        What one board needs.
    way : {"hand", "mixed", "service"}
    good : int
        Good pieces wanted, at least 1.

    Returns
    -------
    RunPlan
        Boards and parts are enough with the confidence that the cost file states, by the binomial law.
    """
    quality = next(row for row in costs.quality if row.way == way)
    own, machine, extra = _split(bill, way=way)
    scheme = assembly_of(costs)
    confidence = to_share(costs.build.confidence_percent)
    joints = joints_in(bill.rows, costs=costs) + sum(item.joints * item.per_piece for item in costs.item)
    first = first_pass(quality, joints=joints)
    finally_good = first + (1 - first) * quality.rework_percent.share
    started = pieces_to_start(good, good_share=finally_good, confidence=confidence)
    started = max(started, scheme.minimum_boards) if machine or extra else started
    kept = 1 - quality.attrition_percent.share
    needs = {BOARD: started}
    for code, count, served in _placed(own, machine=machine, extra=extra):
        placed = count * started
        enough = pieces_to_start(placed, good_share=kept, confidence=confidence)
        needs[code] = max(enough, _with_spares(placed, scheme=scheme) if served else 0)
    for item in costs.item:
        needs[item.name] = item.per_piece * (good if item.packaging else started)
    return RunPlan(
        way=way, good=good, started=started, quality=quality, first_pass=first, own=own, machine=machine, extra=extra,
        items=costs.item, needs=needs,
    )  # fmt: skip


def assembly_of(costs: CostFile) -> Assembly:
    """The fee scheme; raises DesignError where there is none, which reading a file rules out."""
    if costs.assembly is None:
        raise DesignError("there is no [assembly] fee scheme; add one, or build all by hand")
    return costs.assembly


def _split(bill: Bill, *, way: Way) -> tuple[tuple[BillRow, ...], ...]:
    """Rows by who solders them: own hands, the machine, hands at the service."""
    by_hand = tuple(row for row in bill.rows if row.built_by == "hand")
    others = tuple(row for row in bill.rows if row.built_by == "machine")
    split: dict[Way, tuple[tuple[BillRow, ...], ...]] = {
        "hand": (bill.rows, (), ()),
        "mixed": (by_hand, others, ()),
        "service": ((), others, by_hand),
    }
    return split[way]


def _placed(
    own: tuple[BillRow, ...], *, machine: tuple[BillRow, ...], extra: tuple[BillRow, ...]
) -> Iterator[tuple[str, int, bool]]:
    """Every code once: how many a board takes, and whether any of them goes to the service."""
    served = {row.item for row in (*machine, *extra)}
    counts: dict[str, int] = {}
    for row in (*own, *machine, *extra):
        counts[row.item] = counts.get(row.item, 0) + row.count
    yield from ((code, count, code in served) for code, count in counts.items())


def _with_spares(placed: int, *, scheme: Assembly) -> int:
    """Pieces the service asks for: a share more, and at least so many more."""
    return max(math.ceil(placed * (1 + scheme.spares_percent.share)), placed + scheme.spares_least)


def joints_in(rows: tuple[BillRow, ...], *, costs: CostFile) -> int:
    """Solder joints of one board in these rows."""
    return sum(row.count * costs.build.joints.get(row.item, JOINTS) for row in rows)
