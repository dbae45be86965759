"""Learning curves: how the time of a piece falls as more are made, by the two models that are often mixed up.

Unit model (Crawford): the time of the n-th piece is T1 n^b. Cumulative-average model (Wright 1936, J. Aeronaut. Sci. 3,
122-128): the mean time of the first n pieces is T1 n^b, so their total is T1 n^(1+b). In both b = log2(rate): each
doubling leaves `rate` of the time.
"""

from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from math import log2

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.cost.records import LearningModel

BLOCK = 4096  # the running sum of the unit model grows by whole blocks, so that a curve costs one sum


def learning_exponent(rate: float) -> float:
    """Exponent b of a learning rate, 0 to -1 and below for rates from 1 downward; rate above 0 to 1."""
    return log2(check_between("learning rate", rate, lower=1e-6, upper=1.0))


def unit_time(first: float, *, rate: float, piece: int) -> float:
    """Time of the n-th piece in the unit model, in the unit of `first`."""
    return first * float(piece ** learning_exponent(rate))


def mean_time(first: float, *, rate: float, pieces: int) -> float:
    """Mean time of the first n pieces in the cumulative-average model, in the unit of `first`."""
    return first * float(pieces ** learning_exponent(rate))


def pieces_equivalent(pieces: int, *, rate: Decimal, model: LearningModel, learned: int = 0) -> float:
    """Time of a run, counted in times of the very first piece.

    Parameters
    ----------
    pieces : int
        Pieces of the run, at least 0.
    rate : Decimal
        Share of the time that remains at each doubling, above 0 to 1.
    model : {"unit", "cumulative-average"}
    learned : int
        Pieces made before the run, at least 0.

    Returns
    -------
    float
        Multiply by the time of the first piece.
    """
    total = _TOTALS[model]
    return total(learned + pieces, float(rate)) - total(learned, float(rate))


def _unit_total(pieces: int, rate: float) -> float:
    if pieces == 0:
        return 0.0
    return float(_running_sum(-(-pieces // BLOCK), rate)[pieces - 1])


@lru_cache(maxsize=256)
def _running_sum(blocks: int, rate: float) -> npt.NDArray[np.float64]:
    return np.cumsum(np.arange(1, blocks * BLOCK + 1, dtype=np.float64) ** learning_exponent(rate))


def _average_total(pieces: int, rate: float) -> float:
    return float(pieces ** (1.0 + learning_exponent(rate))) if pieces else 0.0


_TOTALS: dict[LearningModel, Callable[[int, float], float]] = {
    "unit": _unit_total,
    "cumulative-average": _average_total,
}
