"""Reflection at a smooth dielectric face, unpolarised light."""

import numpy as np
import numpy.typing as npt
from numpy.polynomial.legendre import leggauss

from paneglow.checks import check_above
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

MOMENT_NODES, MOMENT_WEIGHTS = leggauss(48)  # each side of the critical angle; within 1e-13 of 400 points


def fresnel_reflectance(cos_in: npt.ArrayLike, *, relative_index: float) -> FloatArray:
    """Share of unpolarised light that a smooth face returns.

    Parameters
    ----------
    cos_in : array_like, shape (...)
        Cosine of the angle of incidence [1], 0 to 1.
    relative_index : float
        Index beyond the face over the index before it [1], above 0.

    Returns
    -------
    ndarray, shape (...)
        Reflectance [1], 0 to 1; exactly 1 under total internal reflection.

    Raises
    ------
    RangeError
        If a cosine is outside 0 to 1 or the index is not above 0.

    References
    ----------
    S. J. Byrnes, *Multilayer optical calculations*, arXiv:1603.02720, 2016, eq. (6), as cited by
    `polarised_light_reflection_coefficient` of colour-science 0.4.7, against which the tests check it.

    Examples
    --------
    >>> round(float(fresnel_reflectance(1.0, relative_index=1.5)), 6)
    0.04
    """
    check_above("relative_index", relative_index, lower=0.0)
    mu_in = np.asarray(cos_in, dtype=np.float64)
    if mu_in.size and not (np.all(mu_in >= 0.0) and np.all(mu_in <= 1.0)):
        raise RangeError(f"cos_in spans {mu_in.min():g} to {mu_in.max():g}; allowed is 0 to 1")
    sin2_out = (1.0 - mu_in**2) / relative_index**2
    mu_out = np.sqrt(np.maximum(0.0, 1.0 - sin2_out))
    crossing = sin2_out < 1.0
    # The sums vanish only where both cosines do, which is total reflection
    across = np.where(crossing, mu_in + relative_index * mu_out, 1.0)
    along = np.where(crossing, mu_out + relative_index * mu_in, 1.0)
    r_s = (mu_in - relative_index * mu_out) / np.where(across == 0.0, 1.0, across)
    r_p = (mu_out - relative_index * mu_in) / np.where(along == 0.0, 1.0, along)
    return np.where(crossing, 0.5 * (r_s**2 + r_p**2), 1.0)


def diffuse_reflectance(*, relative_index: float) -> float:
    """Share of Lambertian light that a smooth face returns, integrated over the hemisphere.

    Parameters
    ----------
    relative_index : float
        Index beyond the face over the index before it [1], above 0.

    Returns
    -------
    float
        Reflectance [1], 0 to 1.

    Raises
    ------
    RangeError
        If the index is not above 0.

    References
    ----------
    The integral of 2 mu R(mu) over mu from 0 to 1. Closed form: J. W. T. Walsh, 1926, in S. Q. Duntley, J. Opt. Soc.
    Am. 32:61, 1942 (from memory); the tests hold its value for four indices.

    Examples
    --------
    >>> round(diffuse_reflectance(relative_index=1.5), 4)
    0.0918
    """
    # Under total reflection the integrand has a corner at the critical angle: integrate each side apart
    corner = np.sqrt(max(0.0, 1.0 - relative_index**2))
    total = 0.0
    for lower, upper in ((0.0, corner), (corner, 1.0)):
        # mu = lower + (upper - lower) t^2 tames the square root at the lower end
        t = 0.5 * (MOMENT_NODES + 1.0)
        mu = lower + (upper - lower) * t**2
        share = fresnel_reflectance(mu, relative_index=relative_index)
        total += float(np.sum(MOMENT_WEIGHTS * share * 2.0 * mu * (upper - lower) * t))
    return total
