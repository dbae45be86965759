"""Henyey-Greenstein phase function."""

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between

FloatArray = npt.NDArray[np.float64]


def henyey_greenstein_density(cosine: npt.ArrayLike, *, asymmetry: float) -> FloatArray:
    """Probability density per steradian of scattering by an angle.

    Parameters
    ----------
    cosine : array_like, shape (...)
        Cosine of the scattering angle [1], -1 to 1.
    asymmetry : float
        Mean cosine g [1], above -1 and below 1.

    Returns
    -------
    ndarray, shape (...)
        Density [1/sr]; its integral over the sphere is 1.

    References
    ----------
    L. G. Henyey, J. L. Greenstein, Astrophys. J. 93:70, 1941, doi 10.1086/144246 (from memory).

    Examples
    --------
    >>> round(float(4 * np.pi * henyey_greenstein_density(0.3, asymmetry=0.0)), 6)
    1.0
    """
    g = check_between("asymmetry", asymmetry, lower=-0.999999, upper=0.999999)
    mu = np.asarray(cosine, dtype=np.float64)
    return np.asarray((1.0 - g * g) / (4.0 * np.pi * (1.0 + g * g - 2.0 * g * mu) ** 1.5), dtype=np.float64)
