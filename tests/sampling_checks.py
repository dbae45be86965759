"""Assertions on sampled means that state their own false-alarm odds."""

import math

import numpy as np
import numpy.typing as npt
from scipy import stats

FALSE_ALARM = 1e-4  # odds that a right sampler fails one chi-square


def assert_chi_square(counts: npt.ArrayLike, expected: npt.ArrayLike, *, model_frac: float = 0.0) -> None:
    """Fail where counts stray from their expectation further than chance allows once in 10 000 seeds.

    `model_frac` is what the expectation itself leaves open, as a share of every bin. Bins that expect fewer than ten
    are taken together.
    """
    found, awaited = np.ravel(counts).astype(np.float64), np.ravel(expected).astype(np.float64)
    few = awaited < 10.0
    if few.any():
        found = np.append(found[~few], found[few].sum())
        awaited = np.append(awaited[~few], awaited[few].sum())
        found, awaited = (found, awaited) if awaited[-1] >= 1.0 else (found[:-1], awaited[:-1])
    statistic = float(((found - awaited) ** 2 / (awaited + (model_frac * awaited) ** 2)).sum())
    chance = float(stats.chi2.sf(statistic, found.size - 1))
    assert chance > FALSE_ALARM, f"chi-square {statistic:.1f} in {found.size} bins, chance {chance:.1e}"


def assert_mean_within(
    batches: npt.ArrayLike, *, expected: float, expected_se: float = 0.0, sigmas: float = 4.0, what: str = "mean"
) -> None:
    """Fail where the mean of independent batches lies more than `sigmas` standard errors from a value.

    The failure prints z and the odds of a false alarm: for 4 standard errors and 32 batches about 1 in 2700 per
    assertion (Student's t with 31 degrees of freedom); seeds are fixed, so a green test stays green.
    """
    values = np.asarray(batches, dtype=np.float64)
    se = math.hypot(float(values.std(ddof=1)) / math.sqrt(values.size), expected_se)
    z = (float(values.mean()) - expected) / se if se > 0.0 else math.inf * np.sign(values.mean() - expected)
    odds = 2.0 * stats.t.sf(sigmas, values.size - 1)
    assert abs(z) <= sigmas, (
        f"{what}: found {values.mean():.6g} +- {se:.2g}, expected {expected:.6g}: z = {z:+.2f} beyond {sigmas:g}; "
        f"a right program fails here once in {1.0 / odds:.0f}"
    )
