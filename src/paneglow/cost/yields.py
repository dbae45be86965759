"""Share of boards that are good at once, from the defects of single joints: four laws, from scattered to clustered."""

from collections.abc import Callable
from decimal import Decimal
from math import exp, expm1, log1p
from typing import Literal

from paneglow.checks import check_between

DefectModel = Literal["independent", "poisson", "murphy", "seeds"]
PPM = Decimal(1_000_000)
SHARE_DIGITS = 6


def yield_share(defects: float, *, model: DefectModel, joints: int = 1) -> float:
    """Share of boards without a defect.

    Parameters
    ----------
    defects : float
        Mean number of defects on a board, at least 0, and at most the number of joints where each may fail once.
    model : {"independent", "poisson", "murphy", "seeds"}
        How defects are spread over boards: every joint on its own; at random; more or less clustered.
    joints : int
        Joints of a board, for the independent law.

    Notes
    -----
    With m defects on n joints: independent (1 - m/n)^n; Poisson e^-m; Murphy ((1 - e^-m)/m)^2; Seeds 1/(1 + m). The
    last two are the yields of semiconductor making, where m is defect density times area.

    Examples
    --------
    >>> [round(yield_share(0.1, model=model), 5) for model in ("poisson", "murphy", "seeds")]
    [0.90484, 0.90559, 0.90909]
    """
    check_between("defects", defects, lower=0.0)
    return _LAWS[model](defects, joints) if defects else 1.0


def first_pass_share(ppm: Decimal, *, joints: int, model: DefectModel) -> Decimal:
    """Share of boards good at once where so many of a million joints are bad, to six digits."""
    share = yield_share(float(ppm / PPM * joints), model=model, joints=joints) if joints else 1.0
    return Decimal(f"{share:.{SHARE_DIGITS}f}")


def _independent(defects: float, joints: int) -> float:
    check_between("defects per joint", defects / joints, lower=0.0, upper=1.0)
    return exp(joints * log1p(-defects / joints)) if defects < joints else 0.0


def _poisson(defects: float, _: int) -> float:
    return exp(-defects)


def _murphy(defects: float, _: int) -> float:
    return (-expm1(-defects) / defects) ** 2


def _seeds(defects: float, _: int) -> float:
    return 1.0 / (1.0 + defects)


_LAWS: dict[DefectModel, Callable[[float, int], float]] = {
    "independent": _independent,
    "poisson": _poisson,
    "murphy": _murphy,
    "seeds": _seeds,
}
