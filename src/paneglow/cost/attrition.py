"""How many to start with so that enough are good, with a stated confidence: the binomial quantile."""

import math
from decimal import Decimal
from functools import lru_cache

import scipy

from paneglow.checks import check_between
from paneglow.errors import RangeError


@lru_cache(maxsize=65536)
def pieces_to_start(good: int, *, good_share: Decimal, confidence: Decimal) -> int:
    """Smallest number of pieces of which at least `good` are good with the stated confidence.

    Parameters
    ----------
    good : int
        Good pieces needed, at least 0.
    good_share : Decimal
        Probability that one piece is good, above 0 to 1; pieces fail independently.
    confidence : Decimal
        Wanted probability that the number suffices, 0.5 to below 1.

    Returns
    -------
    int
        Smallest n with P[Binomial(n, good_share) >= good] >= confidence.

    Raises
    ------
    RangeError
        Where a value is outside its range.

    Examples
    --------
    >>> pieces_to_start(100, good_share=Decimal("0.98"), confidence=Decimal("0.95"))
    105
    """
    check_between("confidence", float(confidence), lower=0.5, upper=1.0 - 1e-9)
    if good < 0 or not 0 < good_share <= 1:
        raise RangeError(f"good is {good} and good_share {good_share}; allowed are at least 0 and above 0 to 1")
    if good == 0 or good_share == 1:
        return good
    share, sure = float(good_share), float(confidence)
    low, high = good, math.ceil(good / share) + 1
    while not _enough(high, good, share, sure):
        low, high = high, 2 * high - good + 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if _enough(middle, good, share, sure) else (middle + 1, high)
    return low


def _enough(started: int, good: int, share: float, sure: float) -> bool:
    """Whether P[Binomial(started, share) >= good] reaches what is asked."""
    return bool(scipy.special.bdtrc(good - 1, started, share) >= sure)
