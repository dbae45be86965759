"""Coefficients of laminates, films and surfaces at chosen wavelengths."""

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
    """Absorption coefficient at wavelengths [1/mm], shape (w,): the table times a factor (an end of its range).

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
    """Scattering coefficient from the reduced one: scatter = reduced / (1 - asymmetry) [1/mm].

    Raises
    ------
    RangeError
        If the reduced coefficient is negative or the asymmetry is not from -0.99 to 0.99.

    Notes
    -----
    Thick slabs of equal reduced scattering look alike (similarity); published computations agree within 0.4 % in
    transmittance between asymmetry 0.8 and 0.98 at equal reduced scattering.

    Examples
    --------
    >>> round(scatter_per_mm(reduced_scatter_per_mm=1.0, asymmetry=0.8), 6)
    5.0
    """
    check_between("reduced_scatter_per_mm", reduced_scatter_per_mm, lower=0.0)
    check_between("asymmetry", asymmetry, lower=-ASYMMETRY_MOST, upper=ASYMMETRY_MOST)
    return reduced_scatter_per_mm / (1.0 - asymmetry)


def sheet_transmittance(absorb: npt.ArrayLike, *, path_mm: npt.ArrayLike) -> FloatArray:
    """Share of light left after a path in the slab, exp(-absorb path), shape (paths, wavelengths).

    Parameters
    ----------
    absorb : array_like, shape (w,)
        Absorption coefficient [1/mm].
    path_mm : array_like, shape (p,)
        Lengths of path [mm], at least 0.
    """
    paths = np.atleast_1d(np.asarray(path_mm, dtype=np.float64))
    if not np.all(np.isfinite(paths)) or paths.min() < 0.0:
        raise RangeError("path_mm must be finite and at least 0")
    return np.asarray(np.exp(-paths[:, None] * np.asarray(absorb, dtype=np.float64)))
