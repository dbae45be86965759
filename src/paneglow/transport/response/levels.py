"""Between carried coefficients: weights of carried absorptions and scatterings for any in their range."""

import numpy as np
import numpy.typing as npt

from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

# Paths that matter [mm]: from a thin slab crossed straight to one that has lost everything
PATHS_MM = np.geomspace(0.2, 400.0, 600)
OFFSET_PER_MM = 0.02  # levels are even in the logarithm above it, and about even below
SINGULAR = 1e-9  # directions of the fit weaker than this are left out, so that weights stay small
LEAST_EFFECTIVE = 1000.0  # photons: below, an answer's own error estimate is not to be trusted (assumed)


def absorption_levels(lower: float, upper: float, /, *, count: int) -> FloatArray:
    """Carried absorption coefficients over a range [1/mm]: Chebyshev points in log(a + OFFSET_PER_MM)."""
    points = -np.cos(np.pi * (np.arange(count) + 0.5) / count)
    low, high = np.log(lower + OFFSET_PER_MM), np.log(upper + OFFSET_PER_MM)
    return np.asarray(np.exp(0.5 * (low + high) + 0.5 * (high - low) * points) - OFFSET_PER_MM)


def absorption_weights(levels: npt.ArrayLike, *, absorb_per_mm: float) -> FloatArray:
    """Weights w with sum_k w_k exp(-a_k L) close to exp(-a L) for every path L; shape (level,).

    Light that has gone all kinds of paths is a sum of such exponentials with positive shares, so whatever the shares
    are, the sum of carried luminances with these weights errs by no more than the worst error over the paths
    (`absorption_error`) times the light without absorption. Least squares over `PATHS_MM`.

    Parameters
    ----------
    levels : ndarray, shape (level,)
        Carried absorption [1/mm].
    absorb_per_mm : float
        Wanted absorption [1/mm].

    Returns
    -------
    ndarray, shape (level,)
    """
    a_k = np.asarray(levels, dtype=np.float64)
    carried = np.exp(-PATHS_MM[:, None] * a_k)
    wanted = np.exp(-PATHS_MM * absorb_per_mm)
    return np.asarray(np.linalg.lstsq(carried, wanted, rcond=SINGULAR)[0])


def absorption_error(levels: npt.ArrayLike, *, absorb_per_mm: float) -> float:
    """Worst error of `absorption_weights` over all paths, as a share of the light without absorption.

    Parameters
    ----------
    levels : ndarray, shape (level,)
        Carried absorption [1/mm].
    absorb_per_mm : float
        Wanted absorption [1/mm].

    Returns
    -------
    float
        Share of the light without absorption [1].
    """
    a_k = np.asarray(levels, dtype=np.float64)
    weights = absorption_weights(a_k, absorb_per_mm=absorb_per_mm)
    off = np.exp(-PATHS_MM[:, None] * a_k) @ weights - np.exp(-PATHS_MM * absorb_per_mm)
    return float(np.abs(off).max())


def scattering_weights(levels: npt.ArrayLike, *, scatter_per_mm: float) -> FloatArray:
    """Lagrange weights of the carried scattering coefficients, shape (level,).

    Parameters
    ----------
    levels : ndarray, shape (level,)
        Carried scattering [1/mm].
    scatter_per_mm : float
        Wanted scattering [1/mm].

    Returns
    -------
    ndarray, shape (level,)
    """
    s_j = np.asarray(levels, dtype=np.float64)
    weights = np.ones(s_j.size)
    for j in range(s_j.size):
        others = np.delete(s_j, j)
        weights[j] = np.prod((scatter_per_mm - others) / (s_j[j] - others))
    return weights


def effective_photons(levels: npt.ArrayLike, effective: npt.ArrayLike, *, scatter_per_mm: float) -> float:
    """Effective number of photons at a scattering coefficient, from that at the carried ones.

    Its logarithm falls with the square of the step away from the traced coefficient (docs/response.md), so it is
    interpolated, and outside the carried range extrapolated, as a parabola on either side.
    """
    s_j = np.asarray(levels, dtype=np.float64)
    logs = np.log(np.maximum(np.asarray(effective, dtype=np.float64), 1e-300))
    if s_j.size == 1:
        return float(np.exp(logs[0])) if scatter_per_mm == s_j[0] else 0.0
    middle = s_j.size // 2
    step = scatter_per_mm - s_j[middle]
    end = -1 if step > 0.0 else 0
    curve = (logs[end] - logs[middle]) / (s_j[end] - s_j[middle]) ** 2
    return float(np.exp(logs[middle] + curve * step**2))


def check_scattering(levels: npt.ArrayLike, effective: npt.ArrayLike, *, scatter_per_mm: float) -> float:
    """Effective number of photons; refuses a scattering coefficient that the trace cannot answer for.

    Raises
    ------
    RangeError
        Outside the carried range, or where too few photons count.
    """
    s_j = np.asarray(levels, dtype=np.float64)
    left = effective_photons(s_j, effective, scatter_per_mm=scatter_per_mm)
    slack = 1e-9 * s_j[-1]
    outside = not s_j[0] - slack <= scatter_per_mm <= s_j[-1] + slack
    middle = s_j[s_j.size // 2]
    if outside or (left < LEAST_EFFECTIVE and abs(scatter_per_mm - middle) > slack):
        raise RangeError(
            f"scatter_per_mm {scatter_per_mm:g}: this response carries {s_j[0]:g} to {s_j[-1]:g} per mm, and there "
            f"about {left:.0f} effective photons would be left, {LEAST_EFFECTIVE:.0f} are needed; trace a response at "
            f"{scatter_per_mm:g} per mm"
        )
    return left
