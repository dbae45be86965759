"""How many to make of an uncertain demand: the newsvendor, by the critical ratio and on the real cost curve."""

from collections.abc import Sequence
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
    if demand.mean is not None and demand.sd is not None:
        return float(demand.mean) + float(demand.sd) * float(scipy.special.ndtri(ratio))
    if demand.least is not None and demand.most is not None:
        return float(demand.least) + ratio * float(demand.most - demand.least)
    ordered = sorted(demand.step, key=lambda step: step.pieces)
    reached = np.cumsum([float(step.weight) for step in ordered])
    place = int(np.searchsorted(reached / reached[-1], ratio))
    return float(ordered[min(place, len(ordered) - 1)].pieces)


def expected_sold(demand: Demand, *, good: npt.ArrayLike) -> Floats:
    """Expected pieces sold of so many on offer, E[min(demand, good)]; a normal demand keeps its tail below 0."""
    offered = np.asarray(good, dtype=np.float64)
    if demand.mean is not None and demand.sd is not None:
        mean, sd = float(demand.mean), float(demand.sd)
        z = (offered - mean) / sd
        # Expected shortfall of a standard normal demand beyond z
        short = np.exp(-z * z / 2) / sqrt(2 * pi) - z * scipy.special.ndtr(-z)
        return np.asarray(mean - sd * short)
    if demand.least is not None and demand.most is not None:
        low, high = float(demand.least), float(demand.most)
        reach = np.clip(offered, low, high)
        within = ((reach**2 - low**2) / 2 + reach * (high - reach)) / (high - low)
        return np.asarray(np.where(offered <= low, offered, within))
    weights = np.array([float(step.weight) for step in demand.step])
    pieces = np.array([float(step.pieces) for step in demand.step])
    return np.asarray(np.minimum(pieces, offered[..., None]) @ weights / weights.sum())


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
