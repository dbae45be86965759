"""How many to make of an uncertain demand: the newsvendor, by the critical ratio and on the real cost curve."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from math import ceil, pi, sqrt

import numpy as np
import numpy.typing as npt
import scipy
from pydantic import Field

from paneglow.checks import check_between
from paneglow.cost.money import ONE, ZERO, Exact
from paneglow.cost.offers import Floats
from paneglow.cost.records import Demand, Way
from paneglow.errors import RangeError
from paneglow.units import FiniteFloat, Fraction, Record

NEVER_EXCEEDED = 1.0 - 1e-6  # chance that a demand stays within what is looked at (chosen)


class DemandResult(Record):
    """How many to make of one way, so that the expected profit is greatest."""

    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces to make; 0 where no run is expected to pay.")
    expected_profit: Decimal = Field(description="Of the run, over all demands.")
    expected_sold: FiniteFloat = Field(description="Pieces expected to be sold.")
    critical_ratio: Fraction = Field(description="Chance that the demand stays below the best quantity, by the margin.")
    critical_good: FiniteFloat = Field(description="Quantity of that chance, by variable cost alone [pieces].")


def critical_ratio(*, price: float, cost: float, salvage: float) -> float:
    """Chance of demand up to which making one more piece pays: cu / (cu + co).

    Parameters
    ----------
    price, cost, salvage : float
        What a piece sold brings, what making one more costs, and what an unsold one brings; salvage below cost, cost
        below price.

    Returns
    -------
    float
        cu = price - cost is lost with every piece too few, co = cost - salvage with every piece too many.

    Raises
    ------
    RangeError
        Where the order of the three is another.

    Examples
    --------
    >>> critical_ratio(price=130, cost=100, salvage=80)
    0.6
    """
    if not salvage < cost < price:
        raise RangeError(
            f"price {price:g}, cost {cost:g} and salvage {salvage:g} must fall in this order; "
            "below cost no number of pieces is worth making"
        )
    return (price - cost) / (price - salvage)


def demand_quantile(demand: Demand, *, ratio: float) -> float:
    """Demand that is not exceeded with a given chance, above 0 and below 1 [pieces].

    The steps of a stepped demand are never split: the first step that reaches the chance is taken.
    """
    check_between("ratio", ratio, lower=0.0, upper=1.0)
    return _QUANTILES[_kind(demand)](demand, ratio)


def expected_sold(demand: Demand, *, good: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Expected pieces sold of so many on offer, E[min(demand, good)]; a normal demand keeps its tail below 0."""
    return np.asarray(_SOLD[_kind(demand)](demand, np.asarray(good, dtype=np.float64)))


def demand_reach(demand: Demand, *, most: int) -> int:
    """Pieces that the demand practically never exceeds, at least 1 and at most `most`."""
    return max(1, min(most, ceil(demand_quantile(demand, ratio=NEVER_EXCEEDED))))


def best_run(
    demand: Demand,
    *,
    way: Way,
    quantities: Sequence[int],
    totals: Exact,
    contribution: Decimal,
    salvage: Decimal,
    variable: Decimal,
    pieces_per_sale: Decimal = ONE,
) -> DemandResult:
    """The quantity of greatest expected profit on the real cost curve, fixed costs and breaks and all.

    Parameters
    ----------
    demand : Demand
        How many may find a buyer.
    way : {"hand", "mixed", "service"}
        Way to build.
    quantities : sequence of int, shape (run,)
        Quantities to try: every one that may be the best.
    totals : ndarray, shape (run,)
        Cost of a run of so many good pieces, exact.
    contribution : Decimal
        What a sale leaves before the cost of the piece.
    salvage : Decimal
        What an unsold piece brings.
    variable : Decimal
        Cost of one more piece, for the critical ratio.
    pieces_per_sale : Decimal
        Pieces that one sale uses up, below 1 where returned ones are sold again.

    Returns
    -------
    DemandResult
        0 pieces where no run is expected to pay.
    """
    made = np.asarray(quantities)
    sold = np.array([Decimal(float(pieces)) for pieces in expected_sold(demand, good=made / float(pieces_per_sale))])
    expected = contribution * sold + salvage * (made - pieces_per_sale * sold) - totals
    best = max(range(made.size), key=lambda place: expected[place])
    pays = expected[best] > 0
    per_piece = contribution / pieces_per_sale
    sound = salvage < variable < per_piece
    ratio = critical_ratio(price=float(per_piece), cost=float(variable), salvage=float(salvage)) if sound else 0.0
    return DemandResult(
        way=way,
        good=int(made[best]) if pays else 0,
        expected_profit=expected[best] if pays else ZERO,
        expected_sold=float(sold[best]) if pays else 0.0,
        critical_ratio=ratio,
        critical_good=demand_quantile(demand, ratio=ratio) * float(pieces_per_sale) if sound else 0.0,
    )


def _kind(demand: Demand) -> str:
    return "normal" if demand.mean is not None else "uniform" if demand.least is not None else "steps"


def _normal(demand: Demand) -> tuple[float, float]:
    return float(demand.mean or 0), float(demand.sd or 0)


def _uniform(demand: Demand) -> tuple[float, float]:
    return float(demand.least or 0), float(demand.most or 0)


def _normal_sold(demand: Demand, good: Floats) -> Floats:
    mean, sd = _normal(demand)
    z = (good - mean) / sd
    # Expected shortfall of a standard normal demand beyond z
    short = np.exp(-z * z / 2) / sqrt(2 * pi) - z * scipy.special.ndtr(-z)
    return np.asarray(mean - sd * short)


def _uniform_sold(demand: Demand, good: Floats) -> Floats:
    low, high = _uniform(demand)
    reach = np.clip(good, low, high)
    return np.asarray(np.where(good <= low, good, ((reach**2 - low**2) / 2 + reach * (high - reach)) / (high - low)))


def _steps_sold(demand: Demand, good: Floats) -> Floats:
    total = float(sum(step.weight for step in demand.step))
    return np.asarray(sum(float(step.weight) * np.minimum(step.pieces, good) for step in demand.step) / total)


def _normal_quantile(demand: Demand, ratio: float) -> float:
    mean, sd = _normal(demand)
    return mean + sd * float(scipy.special.ndtri(ratio))


def _uniform_quantile(demand: Demand, ratio: float) -> float:
    low, high = _uniform(demand)
    return low + ratio * (high - low)


def _steps_quantile(demand: Demand, ratio: float) -> float:
    total, reached = float(sum(step.weight for step in demand.step)), 0.0
    ordered = sorted(demand.step, key=lambda step: step.pieces)
    for step in ordered:
        reached += float(step.weight) / total
        if reached >= ratio:
            return float(step.pieces)
    return float(ordered[-1].pieces)


_QUANTILES: dict[str, Callable[[Demand, float], float]] = {
    "normal": _normal_quantile,
    "uniform": _uniform_quantile,
    "steps": _steps_quantile,
}
_SOLD: dict[str, Callable[[Demand, Floats], Floats]] = {
    "normal": _normal_sold,
    "uniform": _uniform_sold,
    "steps": _steps_sold,
}
