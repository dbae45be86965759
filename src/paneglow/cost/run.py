"""How runs are made: boards to start, parts to place and who places them, for one way to build.

Every array has one entry per run: runs of several sizes, or one size with inputs drawn from their ranges.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.assembly import Bill, BillRow
from paneglow.checks import check_between
from paneglow.cost.money import ONE, Exact, to_share
from paneglow.cost.offers import BOARD, Counts, Floats
from paneglow.cost.records import Assembly, CostFile, DefectModel, ExtraItem, ProcessYield, Way
from paneglow.errors import DesignError, RangeError

MOST_RUN = 100_000  # good pieces of a run; beyond, prices of a board and its parts are another trade
JOINTS = 2  # a two-terminal chip part; the cost file states others under [build.joints]
PPM = Decimal(1_000_000)
SHARE_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunPlan:
    """Runs of one way: `good` pieces are wanted, `started` boards are begun."""

    way: Way
    good: Counts
    started: Counts
    process: ProcessYield
    first_pass_yield: Decimal | Exact  # share of boards that are good at the first test
    own: tuple[BillRow, ...]  # soldered by own hands
    machine: tuple[BillRow, ...]  # placed by the service's machine
    extra: tuple[BillRow, ...]  # soldered by the service by hand
    items: tuple[ExtraItem, ...]
    needs: dict[str, Counts]  # pieces by item, with what is lost on the way and the spares asked for

    @property
    def served(self) -> bool:
        """Whether the assembly service has a part in it."""
        return bool(self.machine or self.extra)


def plan_runs(costs: CostFile, *, bill: Bill, way: Way, good: Sequence[int] | Counts) -> RunPlan:
    """Plan runs of so many good pieces.

    Parameters
    ----------
    costs : CostFile
        Its figures may hold one value per run.
    bill : Bill
        What one board needs, and who builds it.
    way : {"hand", "mixed", "service"}
        All by hand; what a machine can place by the service's, the rest by own hands; all by the service.
    good : sequence of int, shape (run,)
        Good pieces wanted, at least 1.

    Returns
    -------
    RunPlan
        Boards and parts are enough with the confidence that the cost file states, by the binomial law.

    Raises
    ------
    DesignError
        Where the file has no fee scheme, which reading it rules out.
    """
    wanted = np.asarray(good, dtype=np.int64)
    process = next(row for row in costs.process_yield if row.way == way)
    by_hand = tuple(row for row in bill.rows if row.built_by == "hand")
    by_machine = tuple(row for row in bill.rows if row.built_by == "machine")
    split: dict[Way, tuple[tuple[BillRow, ...], ...]] = {
        "hand": (bill.rows, (), ()),
        "mixed": (by_hand, by_machine, ()),
        "service": ((), by_machine, by_hand),
    }
    own, machine, extra = split[way]
    scheme, confidence = assembly_of(costs), to_share(costs.build.confidence_percent)
    joints = joints_in(bill.rows, costs=costs) + sum(item.joints * item.per_piece for item in costs.item)
    first = first_pass_yield(process, joints=joints)
    finally_good = first + (1 - first) * process.rework_percent.share
    started = pieces_to_start(wanted, good_share=finally_good, confidence=confidence)
    if machine or extra:
        started = np.maximum(started, scheme.minimum_boards)
    served = {row.item for row in (*machine, *extra)}
    counts: dict[str, int] = {}
    for row in (*own, *machine, *extra):
        counts[row.item] = counts.get(row.item, 0) + row.count
    needs, known = {BOARD: started}, dict[int, Counts]()
    for code, count in counts.items():
        placed = count * started
        if count not in known:
            kept = 1 - process.attrition_percent.share
            known[count] = pieces_to_start(placed, good_share=kept, confidence=confidence)
        needs[code] = known[count]
        if code in served:
            spared = np.ceil(placed.astype(object) * (1 + scheme.spares_percent.share)).astype(np.int64)
            needs[code] = np.maximum(needs[code], np.maximum(spared, placed + scheme.spares_least))
    for item in costs.item:
        needs[item.name] = item.per_piece * (np.broadcast_to(wanted, started.shape) if item.packaging else started)
    return RunPlan(
        way=way, good=np.broadcast_to(wanted, started.shape), started=started, process=process, first_pass_yield=first,
        own=own, machine=machine, extra=extra, items=costs.item, needs=needs,
    )  # fmt: skip


def assembly_of(costs: CostFile) -> Assembly:
    """The fee scheme; raises DesignError where there is none, which reading a file rules out."""
    if costs.assembly is None:
        raise DesignError("there is no [assembly] fee scheme; add one, or build all by hand")
    return costs.assembly


def joints_in(rows: tuple[BillRow, ...], *, costs: CostFile) -> int:
    """Solder joints of one board in these rows."""
    return sum(row.count * costs.build.joints.get(row.item, JOINTS) for row in rows)


def pieces_to_start(
    good: npt.ArrayLike, *, good_share: Decimal | Exact | npt.ArrayLike, confidence: Decimal | float
) -> Counts:
    """Smallest numbers of pieces of which at least `good` are good with the stated confidence.

    Parameters
    ----------
    good : array_like of int, shape (run,)
        Good pieces needed, at least 0.
    good_share : array_like, shape (run,) or one for all
        Probability that one piece is good, above 0 to 1; pieces fail independently.
    confidence : float
        Wanted probability that the number suffices, 0.5 to below 1.

    Returns
    -------
    ndarray of int, shape (run,)
        Smallest n with P[Binomial(n, good_share) >= good] >= confidence.

    Raises
    ------
    RangeError
        Where a value is outside its range.

    Examples
    --------
    >>> pieces_to_start([1, 100], good_share=0.98, confidence=0.95).tolist()
    [1, 105]
    """
    sure = check_between("confidence", float(confidence), lower=0.5, upper=1.0 - 1e-9)
    wanted, share = np.broadcast_arrays(
        np.atleast_1d(np.asarray(good, dtype=np.int64)), np.asarray(good_share, dtype=np.float64)
    )
    wrong = (wanted < 0) | ~((share > 0) & (share <= 1))
    if wrong.any():
        raise RangeError(
            f"good is {wanted[wrong][0]} and good_share {share[wrong][0]:g}; allowed are at least 0 and above 0 to 1"
        )
    settled = (wanted == 0) | (share == 1)

    def suffices(started: Counts) -> npt.NDArray[np.bool_]:
        return np.asarray(scipy.special.bdtrc(wanted - 1.0, started, share) >= sure)

    # From what the normal law gives, a few pieces at most, to the exact number
    spread = float(scipy.special.ndtri(sure)) * np.sqrt(1.0 - share)
    started = np.ceil(((spread + np.sqrt(spread**2 + 4.0 * wanted)) / 2.0) ** 2 / share).astype(np.int64)
    started = np.where(settled, wanted, np.maximum(started, wanted))
    while (short := ~settled & ~suffices(started)).any():
        started = started + short
    while (over := ~settled & (started > wanted) & suffices(np.maximum(started - 1, wanted))).any():
        started = started - over
    return np.asarray(started)


def first_pass_yield(process: ProcessYield, *, joints: int) -> Decimal | Exact:
    """Share of boards good at the first test: as stated, or from the bad joints in a million, to six digits."""
    if process.joint_defects_ppm is None:
        return ONE if process.good_percent is None else process.good_percent.share
    if not joints:
        return ONE
    defects = np.atleast_1d(np.asarray(process.joint_defects_ppm.value / PPM * joints, dtype=np.float64))
    shares = yield_share(defects, model=process.defect_model, joints=joints)
    return np.array([Decimal(f"{share:.{SHARE_DIGITS}f}") for share in shares], dtype=object)


def yield_share(defects: npt.ArrayLike, *, model: DefectModel, joints: int = 1) -> Floats:
    """Share of boards without a defect.

    Parameters
    ----------
    defects : array_like
        Mean number of defects on a board, at least 0, and at most the number of joints where each may fail once.
    model : {"independent", "poisson", "murphy", "seeds"}
        How defects are spread over boards: every joint on its own; at random; more or less clustered.
    joints : int
        Joints of a board, for the independent law.

    Raises
    ------
    RangeError
        Where there are fewer than 0 defects, or more than joints that fail once.

    Notes
    -----
    With m defects on n joints: independent (1 - m/n)^n; Poisson e^-m; Murphy ((1 - e^-m)/m)^2; Seeds 1/(1 + m). The
    last two are the yields of semiconductor making, where m is defect density times area.

    Examples
    --------
    >>> [round(float(yield_share(0.1, model=model)), 5) for model in ("poisson", "murphy", "seeds")]
    [0.90484, 0.90559, 0.90909]
    """
    mean = np.asarray(defects, dtype=np.float64)
    most = float(joints) if model == "independent" else np.inf
    if mean.size and not (mean.min() >= 0.0 and mean.max() <= most):
        raise RangeError(f"defects on a board are {mean.min():g} to {mean.max():g}; allowed is 0 to {most:g}")
    if model == "independent":
        return np.asarray((1.0 - mean / joints) ** joints)
    if model == "poisson":
        return np.exp(-mean)
    if model == "seeds":
        return 1.0 / (1.0 + mean)
    return np.asarray(np.where(mean > 0, -np.expm1(-mean) / np.where(mean > 0, mean, 1.0), 1.0) ** 2)
