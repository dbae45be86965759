"""How many to make of an uncertain demand: the newsvendor, by the critical ratio and on the real cost curve."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from math import exp, pi, sqrt

import scipy
from pydantic import Field

from paneglow.checks import check_between
from paneglow.cost.records import Demand, Way
from paneglow.errors import RangeError
from paneglow.units import FiniteFloat, Fraction, Record


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


def expected_sold(demand: Demand, *, good: int) -> float:
    """Expected pieces sold of so many made, E[min(demand, good)]; a normal demand keeps its tail below 0."""
    return _SOLD[_kind(demand)](demand, float(good))


def best_run(
    demand: Demand,
    *,
    way: Way,
    quantities: Sequence[int],
    total_of: Callable[[int], Decimal],
    contribution: Decimal,
    salvage: Decimal,
    variable: Decimal,
) -> DemandResult:
    """The quantity of greatest expected profit on the real cost curve, fixed costs and breaks and all.

    Parameters
    ----------
    demand : Demand
    way : {"hand", "mixed", "service"}
    quantities : sequence of int
        Quantities to try.
    total_of : callable
        Cost of a run of so many good pieces.
    contribution : Decimal
        What a sale leaves before the cost of the piece.
    salvage : Decimal
        What an unsold piece brings.
    variable : Decimal
        Cost of one more piece, for the critical ratio.
    """

    def expected(good: int) -> Decimal:
        sold = Decimal(expected_sold(demand, good=good))
        return contribution * sold + salvage * (good - sold) - total_of(good)

    best = max(quantities, key=expected)
    greatest = expected(best)
    made = best if greatest > 0 else 0
    pays = salvage < variable < contribution
    ratio = critical_ratio(price=float(contribution), cost=float(variable), salvage=float(salvage)) if pays else 0.0
    return DemandResult(
        way=way,
        good=made,
        expected_profit=greatest if made else Decimal(0),
        expected_sold=expected_sold(demand, good=made),
        critical_ratio=ratio,
        critical_good=demand_quantile(demand, ratio=ratio) if pays else 0.0,
    )


def _kind(demand: Demand) -> str:
    return "normal" if demand.mean is not None else "uniform" if demand.least is not None else "steps"


def _normal(demand: Demand) -> tuple[float, float]:
    return float(demand.mean or 0), float(demand.sd or 0)


def _uniform(demand: Demand) -> tuple[float, float]:
    return float(demand.least or 0), float(demand.most or 0)


def _normal_sold(demand: Demand, good: float) -> float:
    mean, sd = _normal(demand)
    z = (good - mean) / sd
    # Expected shortfall of a standard normal demand beyond z
    short = exp(-z * z / 2) / sqrt(2 * pi) - z * float(scipy.special.ndtr(-z))
    return mean - sd * short


def _uniform_sold(demand: Demand, good: float) -> float:
    low, high = _uniform(demand)
    if good <= low:
        return good
    reach = min(good, high)
    return ((reach * reach - low * low) / 2 + reach * (high - reach)) / (high - low)


def _steps_sold(demand: Demand, good: float) -> float:
    total = float(sum(step.weight for step in demand.step))
    return sum(float(step.weight) * min(step.pieces, good) for step in demand.step) / total


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
_SOLD: dict[str, Callable[[Demand, float], float]] = {
    "normal": _normal_sold,
    "uniform": _uniform_sold,
    "steps": _steps_sold,
}
