"""Spectral power, photometry with the CIE observer, and few-node quadrature of colour behind absorbing sheets.

Spectra are sampled on a rising wavelength axis [nm]; sums weigh every entry with half the distance between its
neighbours, which on an even 1 nm axis is the usual 1 nm sum.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.checks import check_above, check_shape
from paneglow.errors import RangeError
from paneglow.physics.tables import cie_tables

FloatArray = npt.NDArray[np.float64]

# K_m: K_cd = 683 lm/W, exact at 540 THz (SI Brochure, 9th ed., 2019, sec. 2.2), scaled to V(555 nm in air) = 1.
LUMINOUS_EFFICACY_MAX_LM_W = 683.002
VISIBLE_NM = (380.0, 780.0)  # where the colour sums run; outside it V(lambda) is below 5e-5
# Sheets that pass less of the luminous flux than this do not steer the choice of nodes: light that crossed them is
# swamped by light on shorter paths.
LEAST_SHARE_JUDGED = 0.005
LUMINANCE_TOLERANCE = 0.01  # relative error of Y behind a sheet that fitted nodes may leave
CHROMATICITY_TOLERANCE = (
    0.002  # error of x or y; about one just noticeable step near white (common practice, no source)
)
NODES_LEAST, NODES_MOST = 3, 12
MOVES_PER_NODE = 100  # simplex steps before one more node is tried


def visible_axis_nm() -> FloatArray:
    """Wavelengths of the colour sums.

    Returns
    -------
    ndarray, shape (401,)
        380 to 780 nm in steps of 1 nm.

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed., sums over 380 to 780 nm (from memory).
    """
    return np.arange(VISIBLE_NM[0], VISIBLE_NM[1] + 0.5)


def gaussian_lines(
    wavelength_nm: npt.ArrayLike,
    *,
    peak_nm: npt.ArrayLike,
    fwhm_nm: npt.ArrayLike,
    relative_power: npt.ArrayLike = 1.0,
) -> FloatArray:
    """Sum of Gaussian spectral lines.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Wavelengths [nm].
    peak_nm, fwhm_nm, relative_power : array_like, shape (p,) or scalar
        Peak [nm], full width at half maximum [nm] above 0, and height [1] of each line.

    Returns
    -------
    ndarray, shape (w,)
        Relative spectral power [1].

    Raises
    ------
    RangeError
        If a width is not above 0.

    References
    ----------
    A Gaussian stated by its full width at half maximum: 2^(-4 (x / width)^2).

    Examples
    --------
    >>> gaussian_lines([525.0, 542.5], peak_nm=525.0, fwhm_nm=35.0).tolist()
    [1.0, 0.5]
    """
    width_nm = np.atleast_1d(np.asarray(fwhm_nm, dtype=np.float64))
    check_above("fwhm_nm", float(width_nm.min()), lower=0.0)
    offset = (np.asarray(wavelength_nm, dtype=np.float64)[:, None] - np.atleast_1d(peak_nm)) / width_nm
    heights = np.broadcast_to(np.asarray(relative_power, dtype=np.float64), width_nm.shape)
    return np.asarray(np.exp2(-4.0 * offset**2) @ heights)


def tabulated_power(
    wavelength_nm: npt.ArrayLike, *, table_wavelength_nm: npt.ArrayLike, table_power: npt.ArrayLike
) -> FloatArray:
    """Spectral power from a table.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Wavelengths [nm].
    table_wavelength_nm, table_power : array_like, shape (t,)
        Rising wavelengths [nm] and the power there, in any unit.

    Returns
    -------
    ndarray, shape (w,)
        In the unit of the table; linear between its entries and 0 outside.
    """
    return np.asarray(
        np.interp(
            np.asarray(wavelength_nm, dtype=np.float64),
            np.asarray(table_wavelength_nm, dtype=np.float64),
            np.asarray(table_power, dtype=np.float64),
            left=0.0,
            right=0.0,
        )
    )


def observer_xyz(wavelength_nm: npt.ArrayLike) -> FloatArray:
    """CIE 1931 2-degree colour-matching functions; the second column is also the CIE 1924 V(lambda).

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Wavelengths [nm].

    Returns
    -------
    ndarray, shape (w, 3)
        x-bar, y-bar, z-bar [1]; linear between the 1 nm entries, 0 outside 360 to 830 nm.

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed.; table as in colour-science 0.4.
    """
    tables = cie_tables()
    wavelength = np.asarray(wavelength_nm, dtype=np.float64)
    columns = [np.interp(wavelength, tables.observer_nm, column, 0.0, 0.0) for column in tables.observer_xyz.T]
    return np.stack(columns, axis=-1)


def tristimulus(wavelength_nm: npt.ArrayLike, power: npt.ArrayLike) -> FloatArray:
    """CIE 1931 tristimulus values of spectral power.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Rising wavelengths [nm].
    power : array_like, shape (..., w)
        Spectral power [W/nm] or any multiple of it.

    Returns
    -------
    ndarray, shape (..., 3)
        X, Y, Z; Y is in lm where power is in W/nm.

    Raises
    ------
    RangeError
        If the wavelengths do not rise.

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed.: sums of power times the colour-matching functions, times K_m.
    """
    wavelength = _rising(wavelength_nm)
    weighted = np.asarray(power, dtype=np.float64) * _bin_widths(wavelength)
    return np.asarray(LUMINOUS_EFFICACY_MAX_LM_W * weighted @ observer_xyz(wavelength))


def luminous_efficacy_lm_w(wavelength_nm: npt.ArrayLike, power: npt.ArrayLike) -> float:
    """Luminous efficacy of radiation: lumen per watt of light of this spectrum.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Rising wavelengths [nm].
    power : array_like, shape (w,)
        Spectral power [W/nm] or any multiple of it.

    Returns
    -------
    float
        Efficacy [lm/W], at most 683.002 where all power is visible.

    Raises
    ------
    RangeError
        If the wavelengths do not rise or there is no power on them.

    References
    ----------
    K_cd: SI Brochure, 9th ed., 2019, sec. 2.2; V(lambda): CIE 015:2018.
    """
    wavelength = _rising(wavelength_nm)
    radiant = float(np.asarray(power, dtype=np.float64) @ _bin_widths(wavelength))
    check_above("radiant power", radiant, lower=0.0)
    return float(tristimulus(wavelength, power)[1]) / radiant


def node_weights(wavelength_nm: npt.ArrayLike, power: npt.ArrayLike, *, nodes_nm: npt.ArrayLike) -> FloatArray:
    """Tristimulus values per emitted lumen that each wavelength node stands for.

    Every node weighs the spectrum with its hat function: 1 at the node, falling linearly to 0 at its neighbours, and
    constant beyond the outermost nodes. So `transmittance(nodes) @ weights` is the exact XYZ behind any
    transmittance that is linear between the nodes and constant outside them, and no weight is negative.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Rising wavelengths [nm].
    power : array_like, shape (w,)
        Relative spectral power [1], at least 0.
    nodes_nm : array_like, shape (k,)
        Rising nodes [nm].

    Returns
    -------
    ndarray, shape (k, 3)
        X, Y, Z per lumen; the Y column sums to 1.

    Raises
    ------
    RangeError
        If wavelengths or nodes do not rise, or the spectrum has no visible light.
    """
    wavelength, nodes = _rising(wavelength_nm), _rising(nodes_nm, name="nodes_nm")
    xyz = tristimulus(wavelength, _hats(wavelength, nodes) * np.asarray(power, dtype=np.float64))
    check_above("luminous flux of the spectrum", float(xyz[:, 1].sum()), lower=0.0)
    return np.asarray(xyz / xyz[:, 1].sum())


def node_powers(wavelength_nm: npt.ArrayLike, power: npt.ArrayLike, *, nodes_nm: npt.ArrayLike) -> FloatArray:
    """Radiant power that each node stands for; see `node_weights`.

    Parameters
    ----------
    wavelength_nm, power : array_like, shape (w,)
        Rising wavelengths [nm] and spectral power per nm, in any unit.
    nodes_nm : array_like, shape (k,)
        Rising nodes [nm].

    Returns
    -------
    ndarray, shape (k,)
        In the unit of `power` times nm; their sum is the power of the whole spectrum.

    Raises
    ------
    RangeError
        If wavelengths or nodes do not rise.
    """
    wavelength, nodes = _rising(wavelength_nm), _rising(nodes_nm, name="nodes_nm")
    return np.asarray(_hats(wavelength, nodes) @ (np.asarray(power, dtype=np.float64) * _bin_widths(wavelength)))


def spectral_nodes(
    wavelength_nm: npt.ArrayLike, power: npt.ArrayLike, *, n_nodes: int
) -> tuple[FloatArray, FloatArray]:
    """Wavelength nodes that stand for a spectrum, with their tristimulus values per emitted lumen.

    Parameters
    ----------
    wavelength_nm : array_like, shape (w,)
        Rising wavelengths [nm].
    power : array_like, shape (w,)
        Relative spectral power [1], at least 0.
    n_nodes : int
        Number of nodes, at least 2.

    Returns
    -------
    nodes_nm : ndarray, shape (n_nodes,)
        Rising wavelengths [nm].
    xyz_per_lm : ndarray, shape (n_nodes, 3)
        See `node_weights`.

    Raises
    ------
    RangeError
        If `n_nodes` is below 2, the wavelengths do not rise or there is no visible light.

    Notes
    -----
    Nodes lie at even steps of the cumulative cube root of the spectrum as the observer weighs it: the spacing that
    makes piecewise-linear interpolation of a function of even curvature best in the weighted mean. The outer nodes
    leave a share of 0.1 on either side, which stands for the constant ends.

    References
    ----------
    C. de Boor, *A Practical Guide to Splines*, Springer, 1978, subroutine `newnot`: breakpoints at even steps of the
    integral of a root of the function's derivative. The cube root, for the weighted mean, is our own choice.
    """
    if n_nodes < 2:
        raise RangeError(f"n_nodes is {n_nodes}; allowed is at least 2")
    wavelength = _rising(wavelength_nm)
    seen = np.asarray(power, dtype=np.float64) * observer_xyz(wavelength).sum(axis=-1)
    check_above("luminous flux of the spectrum", float(seen.max()), lower=0.0)
    density = np.cbrt(np.where(seen > 1e-4 * seen.max(), seen, 0.0)) * _bin_widths(wavelength)
    share = (np.cumsum(density) - 0.5 * density) / density.sum()
    inside = density > 0.0
    nodes = np.interp(np.linspace(0.1, 0.9, n_nodes), share[inside], wavelength[inside])
    return nodes, node_weights(wavelength, power, nodes_nm=nodes)


def fit_spectral_nodes(
    wavelength_nm: npt.ArrayLike, power: npt.ArrayLike, *, sheet_transmittance: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Fewest nodes that keep luminance within 1 % and chromaticity within 0.002 behind the given sheets.

    Parameters
    ----------
    wavelength_nm, power : array_like, shape (w,)
        Rising wavelengths [nm] and relative spectral power [1].
    sheet_transmittance : array_like, shape (s, w)
        Transmittance of typical sheets [1]. Those that pass less than 0.5 % of the lumens are left out.

    Returns
    -------
    nodes_nm : ndarray, shape (k,)
        Rising wavelengths [nm], 3 to 12 of them.
    xyz_per_lm : ndarray, shape (k, 3)
        See `node_weights`.

    Notes
    -----
    Starts from `spectral_nodes` and moves the nodes by the simplex method, which has no random part: the same spectrum
    and sheets give the same nodes. Where even the largest number of nodes misses the tolerance, its nodes are returned.

    Raises
    ------
    RangeError
        If the wavelengths do not rise, the sheets do not fit them, or there is no visible light.

    References
    ----------
    J. A. Nelder, R. Mead, Computer J. 7:308, 1965, as `scipy.optimize.minimize(method="Nelder-Mead")` gives it.
    """
    wavelength, sheets = _rising(wavelength_nm), np.asarray(sheet_transmittance, dtype=np.float64)
    light = np.asarray(power, dtype=np.float64)
    passed = tristimulus(wavelength, sheets * light)[:, 1] / tristimulus(wavelength, light)[1]
    judged = sheets[passed >= LEAST_SHARE_JUDGED]
    if judged.size == 0:
        return spectral_nodes(wavelength, light, n_nodes=NODES_LEAST)
    trial = _build_node_trial(wavelength, light, judged)

    def excess(nodes_nm: FloatArray) -> float:
        nodes = np.sort(nodes_nm)
        if np.diff(nodes).min() < 1.0 or nodes[0] < wavelength[0] or nodes[-1] > wavelength[-1]:
            return np.inf
        luminance, chromaticity = trial(nodes)
        return float(max(luminance.max() / LUMINANCE_TOLERANCE, chromaticity.max() / CHROMATICITY_TOLERANCE))

    nodes = np.empty(0)
    for n_nodes in range(NODES_LEAST, NODES_MOST + 1):
        nodes, still = _moved_nodes(excess, spectral_nodes(wavelength, light, n_nodes=n_nodes)[0])
        if still <= 1.0:
            break
    return nodes, node_weights(wavelength, light, nodes_nm=nodes)


def _moved_nodes(excess: Callable[[FloatArray], float], start_nm: FloatArray) -> tuple[FloatArray, float]:
    """Nodes moved until nothing exceeds its tolerance, or no further; and what they still exceed it by."""

    def stop_when_met(intermediate_result: scipy.optimize.OptimizeResult) -> None:
        if intermediate_result.fun <= 1.0:
            raise StopIteration

    if (at_start := excess(start_nm)) <= 1.0:
        return start_nm, at_start
    moves = MOVES_PER_NODE * start_nm.size
    found = scipy.optimize.minimize(
        excess, start_nm, method="Nelder-Mead", callback=stop_when_met, options={"maxiter": moves}
    )
    return np.sort(found.x), float(found.fun)


def _build_node_trial(
    wavelength_nm: npt.ArrayLike, power: npt.ArrayLike, sheet_transmittance: npt.ArrayLike
) -> Callable[[FloatArray], tuple[FloatArray, FloatArray]]:
    """Errors as a function of the nodes alone, with everything else summed once."""
    wavelength, sheets = _rising(wavelength_nm), np.asarray(sheet_transmittance, dtype=np.float64)
    check_shape("sheet_transmittance", sheets, shape=(sheets.shape[0], wavelength.size))
    light = np.asarray(power, dtype=np.float64) * _bin_widths(wavelength)
    per_entry = light[:, None] * observer_xyz(wavelength)
    per_entry = per_entry / check_above("luminous flux of the spectrum", float(per_entry[:, 1].sum()), lower=0.0)
    exact = sheets @ per_entry
    exact_xy = exact[:, :2] / exact.sum(axis=-1, keepdims=True)

    def errors(nodes: FloatArray) -> tuple[FloatArray, FloatArray]:
        found = _at(sheets, wavelength, nodes) @ (_hats(wavelength, nodes) @ per_entry)
        found_xy = found[:, :2] / found.sum(axis=-1, keepdims=True)
        return np.abs(found[:, 1] / exact[:, 1] - 1.0), np.abs(found_xy - exact_xy).max(axis=-1)

    return errors


def _hats(wavelength_nm: FloatArray, nodes_nm: FloatArray) -> FloatArray:
    """Hat function of every node on the wavelength axis, shape (k, w), constant beyond the outermost nodes."""
    place = np.interp(wavelength_nm, nodes_nm, np.arange(nodes_nm.size))
    return np.asarray(np.clip(1.0 - np.abs(place - np.arange(nodes_nm.size)[:, None]), 0.0, None))


def _at(sheets: FloatArray, wavelength_nm: FloatArray, nodes_nm: FloatArray) -> FloatArray:
    """Sheets [s, w] at the nodes, linear between the entries of the axis, shape (s, k)."""
    place = np.interp(nodes_nm, wavelength_nm, np.arange(wavelength_nm.size))
    lower = np.minimum(place.astype(np.int64), wavelength_nm.size - 2)
    share = place - lower
    return np.asarray(sheets[:, lower] * (1.0 - share) + sheets[:, lower + 1] * share)


def _rising(values: npt.ArrayLike, *, name: str = "wavelength_nm") -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size < 2 or not np.all(np.diff(array) > 0):
        raise RangeError(f"{name} has {array.size} values; needed are at least 2 in rising order")
    return array


def _bin_widths(wavelength_nm: FloatArray) -> FloatArray:
    """Width that every entry of a rising axis stands for [nm]: half the distance between its neighbours."""
    return np.asarray(np.gradient(wavelength_nm))
