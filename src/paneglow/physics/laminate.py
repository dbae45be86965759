"""What a laminate does to light: coefficients at chosen wavelengths, and light it gives back at longer ones."""

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

ASYMMETRY_MOST = 0.99  # above it a trace by reduced scattering needs more events than it is worth


def coefficient_at(
    wavelength_nm: npt.ArrayLike, *, table_wavelength_nm: npt.ArrayLike, table_value: npt.ArrayLike
) -> FloatArray:
    """Tabulated coefficient at wavelengths: linear between entries, constant outside.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Wavelengths [nm].
    table_wavelength_nm, table_value : array_like, shape (t,)
        Rising wavelengths [nm] and the coefficient there; one entry means the same everywhere.

    Returns
    -------
    ndarray, shape (w,)
        In the unit of the table.

    Raises
    ------
    RangeError
        If the lists differ in length or the wavelengths do not rise.
    """
    nm, values = np.asarray(table_wavelength_nm, dtype=np.float64), np.asarray(table_value, dtype=np.float64)
    if nm.ndim != 1 or nm.size == 0 or nm.shape != values.shape or not np.all(np.diff(nm) > 0):
        raise RangeError("a table needs rising wavelengths and as many values")
    return np.asarray(np.interp(np.asarray(wavelength_nm, dtype=np.float64), nm, values))


def absorb_per_mm(
    wavelength_nm: npt.ArrayLike,
    *,
    table_wavelength_nm: npt.ArrayLike,
    table_absorb_per_mm: npt.ArrayLike,
    factor: float = 1.0,
) -> FloatArray:
    """Absorption coefficient at wavelengths: the table times a factor (an end of its range).

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Wavelengths [nm].
    table_wavelength_nm, table_absorb_per_mm : array_like, shape (t,)
        Rising wavelengths [nm] and the coefficient there [1/mm], at least 0.
    factor : float
        Times the table [1], at least 0.

    Returns
    -------
    ndarray, shape (w,)
        Absorption coefficient [1/mm]; linear between entries, constant outside.

    Raises
    ------
    RangeError
        If the factor or an entry is negative, or the table is not one.
    """
    check_between("factor", factor, lower=0.0)
    values = coefficient_at(wavelength_nm, table_wavelength_nm=table_wavelength_nm, table_value=table_absorb_per_mm)
    if values.size and values.min() < 0.0:
        raise RangeError("absorb_per_mm must not be negative anywhere in the table")
    return factor * values


def scatter_per_mm(*, reduced_scatter_per_mm: float, asymmetry: float) -> float:
    """Scattering coefficient from the reduced one: scatter = reduced / (1 - asymmetry).

    Parameters
    ----------
    reduced_scatter_per_mm : float
        Reduced scattering coefficient [1/mm], at least 0.
    asymmetry : float
        Mean cosine of the scattering angle [1], -0.99 to 0.99.

    Returns
    -------
    float
        Scattering coefficient [1/mm].

    Raises
    ------
    RangeError
        If the reduced coefficient is negative or the asymmetry is not from -0.99 to 0.99.

    Notes
    -----
    Thick slabs of equal reduced scattering look alike (similarity). With adding and doubling (iadpython 0.5.3) a slab
    of 1.6 mm and index 1.5, 1.5 per mm reduced, passes Lambertian light alike within 1 % from asymmetry 0.5 to 0.9
    (`tests/unit/physics/test_laminate.py`).

    References
    ----------
    The definition of the reduced coefficient.

    Examples
    --------
    >>> round(scatter_per_mm(reduced_scatter_per_mm=1.0, asymmetry=0.8), 6)
    5.0
    """
    check_between("reduced_scatter_per_mm", reduced_scatter_per_mm, lower=0.0)
    check_between("asymmetry", asymmetry, lower=-ASYMMETRY_MOST, upper=ASYMMETRY_MOST)
    return reduced_scatter_per_mm / (1.0 - asymmetry)


def sheet_transmittance(absorb: npt.ArrayLike, *, path_mm: npt.ArrayLike) -> FloatArray:
    """Share of light left after a path in the slab: exp(-absorb path).

    Parameters
    ----------
    absorb : array_like, shape (w,)
        Absorption coefficient [1/mm].
    path_mm : array_like, shape (p,)
        Lengths of path [mm], at least 0.

    Returns
    -------
    ndarray, shape (p, w)
        Transmittance [1], 0 to 1; surface reflections are not included.

    Raises
    ------
    RangeError
        If a path is negative or not finite.

    References
    ----------
    Bouguer's, Lambert's and Beer's law.
    """
    paths = np.atleast_1d(np.asarray(path_mm, dtype=np.float64))
    if not np.all(np.isfinite(paths)) or paths.min() < 0.0:
        raise RangeError("path_mm must be finite and at least 0")
    return np.asarray(np.exp(-paths[:, None] * np.asarray(absorb, dtype=np.float64)))


def shifted_shares(
    *,
    absorbed_nm: npt.ArrayLike,
    power_frac: npt.ArrayLike,
    emitted_nm: npt.ArrayLike,
    yield_frac: float,
    excited_below_nm: float,
) -> FloatArray:
    """Radiant share that comes back at each emission node, per unit weight absorbed at each node.

    Parameters
    ----------
    absorbed_nm : array_like, shape (k,)
        Nodes of the light that is absorbed [nm].
    power_frac : array_like, shape (k,)
        Radiant power that unit weight stands for at each of them, over that of the whole spectrum [1].
    emitted_nm : array_like, shape (m,)
        Nodes of the light that is given back [nm], which stand for one spectrum together and so weigh alike.
    yield_frac : float
        Photons given back per photon absorbed below the limit [1], 0 to 1.
    excited_below_nm : float
        Longer waves excite nothing [nm].

    Returns
    -------
    ndarray, shape (k, m)
        A photon of the shorter wave gives at most one of the longer: the share holds the ratio of wavelengths.

    Raises
    ------
    RangeError
        If the yield is not from 0 to 1.

    References
    ----------
    Photon energy h c / wavelength (exact since the SI of 2019): one quantum out per quantum in is the ratio of
    wavelengths in energy.
    """
    check_between("yield_frac", yield_frac, lower=0.0, upper=1.0)
    absorbed = np.asarray(absorbed_nm, dtype=np.float64)
    emitted = np.asarray(emitted_nm, dtype=np.float64)
    excites = np.where(absorbed < excited_below_nm, np.asarray(power_frac, dtype=np.float64), 0.0)
    shift = absorbed / max(1.0, float(emitted.mean()))
    column = yield_frac * excites * np.minimum(shift, 1.0)
    return np.repeat(column[:, None], emitted.size, axis=1)
