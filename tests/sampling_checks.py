"""Assertions on sampled numbers, with one stated false-alarm odds for each family of them.

A family is all assertions of one kind in the suite. A right program fails any of a family's assertions once in 100
seeds; by Sidak each of N independent ones may then fail with 1 - 0.99^(1/N). Seeds are fixed, so a green test stays
green until random streams change.

Quick runs trace few photons. `make proof` (PANEGLOW_PROOF=1) traces all of them and keeps the z-scores
(`tests/proof`); it must be run again when the code that moves photons has changed, and a test says when.
"""

import math
import os

import numpy as np
import numpy.typing as npt
from scipy import stats

PROOF = os.environ.get("PANEGLOW_PROOF") == "1"
QUICK_SHARE = 10  # of the photons of a proof; but not fewer than these, where the proof has as many
QUICK_LEAST = 6_400
FAMILY_ODDS = 0.01
MEANS = 600  # assertions on a mean in the suite, at most; the proof counts them
CHI_SQUARES = 100

Z_SCORES: list[tuple[str, str, float]] = []  # test, what, z


def budget(photons: int) -> int:
    """Photons to trace: as many as stated in a proof, fewer in a quick run."""
    return photons if PROOF else max(photons // QUICK_SHARE, min(photons, QUICK_LEAST))


def alarm_odds(count: int) -> float:
    """Odds of a false alarm that one of `count` assertions of a family may have."""
    return 1.0 - (1.0 - FAMILY_ODDS) ** (1.0 / count)


def most_sigmas(count: int, *, degrees: float = math.inf) -> float:
    """How many standard errors one of `count` means may be off, for an error with so many degrees of freedom."""
    return float(stats.t.isf(0.5 * alarm_odds(count), degrees))


def keep_z(what: str, z: float) -> None:
    """Note a z-score for the proof."""
    test = os.environ.get("PYTEST_CURRENT_TEST", "").partition(" (")[0]
    Z_SCORES.append((test, what, z))


def assert_chi_square(counts: npt.ArrayLike, expected: npt.ArrayLike, *, model_frac: float = 0.0) -> None:
    """Fail where counts stray from their expectation further than chance allows.

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
    assert chance > alarm_odds(CHI_SQUARES), f"chi-square {statistic:.1f} in {found.size} bins, chance {chance:.1e}"


def assert_mean_within(
    batches: npt.ArrayLike, *, expected: float, expected_se: float = 0.0, what: str = "mean"
) -> None:
    """Fail where the mean of independent batches lies further from a value than chance allows.

    For 32 batches that is 5.1 standard errors, by Student's t with 31 degrees of freedom.
    """
    values = np.asarray(batches, dtype=np.float64)
    se = math.hypot(float(values.std(ddof=1)) / math.sqrt(values.size), expected_se)
    z = (float(values.mean()) - expected) / se if se > 0.0 else math.inf * np.sign(values.mean() - expected)
    keep_z(what, float(z))
    limit = most_sigmas(MEANS, degrees=values.size - 1)
    assert abs(z) <= limit, (
        f"{what}: found {values.mean():.6g} +- {se:.2g}, expected {expected:.6g}: z = {z:+.2f} beyond {limit:.1f}; "
        f"a right program fails any of {MEANS} such assertions once in {1.0 / FAMILY_ODDS:.0f} seeds"
    )
