"""Electrical and optical curves of a light-emitting diode: voltage, current, light, and their change with warmth."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.checks import check_above
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

# k/q, exact in the SI since 2019: SI Brochure, 9th ed., 2019, sec. 2.2
THERMAL_VOLTAGE_V_PER_K = 1.380649e-23 / 1.602176634e-19
ZERO_CELSIUS_K = 273.15
DATA_SHEET_C = 25.0  # at which data sheets of LEDs state their figures; common practice, no source
VOLTAGE_READING_V = 0.005  # how closely a point can be read off a printed curve; our choice
SERIES_OHM_LEAST = 0.05  # contacts and bond wire; keeps the fit off a diode without resistance; our choice
IDEALITY_RANGE = (1.0, 8.0)  # heterojunctions reach well above the 2 of textbooks; bounds of the fit; our choice
LIGHT_READING_FRAC = 0.03  # how closely light can be read off a printed curve; our choice


@dataclass(frozen=True, slots=True, kw_only=True)
class DiodeCurve:
    """Shockley diode with series resistance, held by one point of its data sheet.

    Fields are numbers for one diode, or arrays of shape (led,) for many at once, as `stacked_curves` makes them.

    Attributes
    ----------
    reference_ma, reference_v, reference_c : float
        A point of the curve [mA, V] and the junction temperature there [deg C].
    ideality : float
        Slope of the junction in thermal voltages per e-fold of current [1].
    series_ohm : float
        Resistance in series with the junction [ohm], above 0.
    v_per_k : float
        Change of the forward voltage at the reference current with junction temperature [V/K], usually negative.
    """

    reference_ma: float
    reference_v: float
    ideality: float
    series_ohm: float
    v_per_k: float
    reference_c: float = 25.0

    def __post_init__(self) -> None:
        for name in ("reference_ma", "ideality", "series_ohm"):
            check_above(name, np.min(getattr(self, name)), lower=0.0)
        drop_v = np.multiply(self.reference_ma, self.series_ohm) * 1e-3
        check_above("reference_v beyond the drop of series_ohm", np.min(self.reference_v - drop_v), lower=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FluxCurve:
    """Light against current: efficiency rises, peaks and droops.

    Fields are numbers for one LED, or arrays of shape (led,) for many at once, as `stacked_curves` makes them.

    Attributes
    ----------
    reference_ma : float
        Current at which light counts as 1 [mA].
    peak_ma : float
        Current of greatest efficiency [mA].
    quality : float
        Breadth of the peak [1], above 0: radiative rate over the geometric mean of the two loss rates.
    loss_per_k_frac : float
        Share of light lost per kelvin of junction temperature above `reference_c` [1/K].
    """

    reference_ma: float
    peak_ma: float
    quality: float
    loss_per_k_frac: float
    reference_c: float = 25.0  # Junction temperature at which light counts as stated

    def __post_init__(self) -> None:
        for name in ("reference_ma", "peak_ma", "quality"):
            check_above(name, np.min(getattr(self, name)), lower=0.0)


Curve = TypeVar("Curve", DiodeCurve, FluxCurve)


def stacked_curves(curves: Sequence[Curve]) -> Curve:
    """Many curves as one whose fields are arrays of shape (led,), for the functions below.

    Parameters
    ----------
    curves : sequence of DiodeCurve or of FluxCurve
        At least one.
    """
    kind = type(curves[0])
    columns: dict[str, Any] = {name: np.array([getattr(curve, name) for curve in curves]) for name in kind.__slots__}
    return kind(**columns)


def junction_slope_v(curve: DiodeCurve, *, junction_c: npt.ArrayLike = 25.0) -> FloatArray:
    """Voltage per e-fold of current of the junction without its series resistance [V].

    Parameters
    ----------
    curve : DiodeCurve
    junction_c : array_like, shape (...) that broadcasts with the fields of the curve
        Junction temperature [deg C].

    References
    ----------
    n k T/q: W. Shockley, Bell Syst. Tech. J. 28:435 (1949); k and q exact, SI Brochure, 9th ed., 2019, sec. 2.2.
    """
    return np.asarray(curve.ideality * THERMAL_VOLTAGE_V_PER_K * (np.asarray(junction_c, float) + ZERO_CELSIUS_K))


def saturation_ma(curve: DiodeCurve, *, junction_c: npt.ArrayLike = 25.0) -> FloatArray:
    """Saturation current of the junction [mA], such that the reference point lies on the curve.

    Parameters
    ----------
    curve : DiodeCurve
    junction_c : array_like, shape (...) that broadcasts with the fields of the curve
        Junction temperature [deg C].

    Raises
    ------
    RangeError
        If one is so hot that no voltage is left to its junction.
    """
    junction_v = curve.reference_v + curve.v_per_k * (np.asarray(junction_c, float) - curve.reference_c)
    junction_v = junction_v - 1e-3 * np.multiply(curve.series_ohm, curve.reference_ma)
    check_above("junction voltage", np.min(junction_v), lower=0.0)
    return np.asarray(curve.reference_ma / np.expm1(junction_v / junction_slope_v(curve, junction_c=junction_c)))


def shockley_current_ma(
    voltage_v: npt.ArrayLike, *, saturation_ma: npt.ArrayLike, slope_v: npt.ArrayLike, series_ohm: npt.ArrayLike
) -> FloatArray:
    """Current of junctions with series resistance [mA], where V = n k T/q ln(1 + I/Is) + Rs I.

    Parameters
    ----------
    voltage_v : array_like, shape (...)
        Across junction and resistance [V].
    saturation_ma, slope_v, series_ohm : array_like
        Of the junctions [mA, V, ohm], above 0; they broadcast with the voltage.

    Notes
    -----
    Explicit through the Wright omega function w(x), which solves w + ln w = x: with a = Is Rs / nVt,
    I = (nVt / Rs) w(ln a + a + V / nVt) - Is. It holds over hundreds of decades, where an exponential would overflow.

    References
    ----------
    R. M. Corless, D. J. Jeffrey, "The Wright omega function", LNCS 2385:76 (2002).
    """
    slope, series_kohm = np.asarray(slope_v, dtype=np.float64), 1e-3 * np.asarray(series_ohm, dtype=np.float64)
    least = np.asarray(saturation_ma, dtype=np.float64)
    drop = least * series_kohm / slope
    omega = scipy.special.wrightomega(np.log(drop) + drop + np.asarray(voltage_v, dtype=np.float64) / slope)
    return np.asarray(slope / series_kohm * np.real(omega) - least)


def fit_diode(
    current_ma: npt.ArrayLike,
    voltage_v: npt.ArrayLike,
    *,
    reference_ma: float,
    v_per_k: float,
    ideality: tuple[float, float],
    series_ohm: tuple[float, float],
) -> DiodeCurve:
    """Diode curve from points of a data sheet, as few as one.

    Parameters
    ----------
    current_ma, voltage_v : array_like, shape (point,)
        Points of the forward curve, current above 0 [mA, V].
    reference_ma : float
        Current of the point that the curve is held by [mA].
    v_per_k : float
        See `DiodeCurve`.
    ideality, series_ohm : tuple of float
        What parts of the kind usually have, and one standard deviation of it. It decides where the points are too few
        or too close to tell slope and resistance apart, and fades as they say more.

    Raises
    ------
    RangeError
        If there is no point, a current is not above 0, or the voltages fall with current.

    Notes
    -----
    V = V_ref + n Vt ln(I/I_ref) + Rs (I - I_ref) is linear in V_ref, n and Rs wherever I is far above saturation: one
    bounded linear least squares, each point weighted by the reading error of a printed curve (5 mV).

    References
    ----------
    W. Shockley, Bell Syst. Tech. J. 28:435 (1949), with a series resistance.
    """
    current, voltage = np.atleast_1d(np.asarray(current_ma, float)), np.atleast_1d(np.asarray(voltage_v, float))
    if current.size == 0 or current.shape != voltage.shape or current.ndim != 1 or not np.all(current > 0.0):
        raise RangeError("a diode fit needs at least one point, as many voltages as currents, every current above 0 mA")
    order = np.argsort(current)
    if np.any(np.diff(voltage[order]) < 0.0):
        raise RangeError("the forward voltage of an LED rises with current; check the points of the curve")
    thermal_v = THERMAL_VOLTAGE_V_PER_K * (DATA_SHEET_C + ZERO_CELSIUS_K)
    rows = np.column_stack(
        [
            np.ones_like(current),
            thermal_v * np.log(current / reference_ma),
            1e-3 * (current - reference_ma),
        ]
    )
    usual = np.array([[0.0, 1.0 / ideality[1], 0.0], [0.0, 0.0, 1.0 / series_ohm[1]]])
    fitted = scipy.optimize.lsq_linear(
        np.vstack([rows / VOLTAGE_READING_V, usual]),
        np.concatenate([voltage / VOLTAGE_READING_V, [ideality[0] / ideality[1], series_ohm[0] / series_ohm[1]]]),
        bounds=([0.0, IDEALITY_RANGE[0], SERIES_OHM_LEAST], [np.inf, IDEALITY_RANGE[1], np.inf]),
    )
    reference_v, slope, resistance = (float(value) for value in fitted.x)
    return DiodeCurve(
        reference_ma=reference_ma,
        reference_v=reference_v,
        ideality=slope,
        series_ohm=resistance,
        v_per_k=v_per_k,
        reference_c=DATA_SHEET_C,
    )


def relative_light(current_ma: npt.ArrayLike, *, curve: FluxCurve, junction_c: npt.ArrayLike = 25.0) -> FloatArray:
    """Light at a current over the light at the reference current and temperature.

    Parameters
    ----------
    current_ma : array_like, shape (...)
        Forward current [mA]; at or below 0 there is no light.
    curve : FluxCurve
    junction_c : array_like
        Junction temperature [deg C]; broadcasts with the current, as the fields of the curve do.

    Returns
    -------
    ndarray, shape (...)
        Relative light [1], 0 and above, rising with current at a fixed temperature.

    Notes
    -----
    Rate equation of recombination, defects + light + droop, in its normalised form: with p the light over that at the
    peak of efficiency and Q the quality, I/I_peak = p (Q + sqrt(p) + 1/sqrt(p)) / (Q + 2), a cubic in sqrt(p) with one
    positive root. It follows from I = A n + B n^2 + C n^3 with Q = B / sqrt(A C) (derived here).

    References
    ----------
    I. E. Titkov et al., "Temperature-dependent internal quantum efficiency of blue high-brightness light-emitting
    diodes", IEEE J. Quantum Electron. 50:911 (2014): the evaluation on the same rate equation; its abstract was seen.

    Examples
    --------
    >>> blue = FluxCurve(reference_ma=20.0, peak_ma=2.0, quality=4.0, loss_per_k_frac=0.003)
    >>> round(float(relative_light(20.0, curve=blue)), 9)
    1.0
    """
    current = np.maximum(np.asarray(current_ma, dtype=np.float64), 0.0)
    light = _light_of_peak(current / curve.peak_ma, quality=curve.quality)
    light = light / _light_of_peak(np.divide(curve.reference_ma, curve.peak_ma), quality=curve.quality)
    warmth_k = np.asarray(junction_c, dtype=np.float64) - curve.reference_c
    return np.asarray(light * np.exp(-curve.loss_per_k_frac * warmth_k))


def _light_of_peak(current_of_peak: npt.ArrayLike, *, quality: npt.ArrayLike) -> FloatArray:
    """Light over that at peak efficiency, for currents over that of the peak [1]."""
    quality = np.asarray(quality, dtype=np.float64)
    drive = (quality + 2.0) * np.asarray(current_of_peak, dtype=np.float64)
    # Each term alone bounds the root from above; Newton on a convex rising cubic then never overshoots
    root = np.minimum(np.minimum(np.cbrt(drive), drive), np.sqrt(drive / quality))
    for _ in range(60):
        step = (((root + quality) * root + 1.0) * root - drive) / ((3.0 * root + 2.0 * quality) * root + 1.0)
        root = np.maximum(root - step, 0.0)
        if np.all(np.abs(step) <= 1e-15 * (1e-300 + root)):
            break
    return np.asarray(root * root)


def fit_flux(
    current_ma: npt.ArrayLike,
    relative_flux: npt.ArrayLike,
    *,
    reference_ma: float,
    loss_per_k_frac: float,
    peak_ma: tuple[float, float],
    quality: tuple[float, float],
) -> FluxCurve:
    """Light curve from points of a data sheet, as few as none.

    Parameters
    ----------
    current_ma, relative_flux : array_like, shape (point,)
        Points of the printed curve [mA, 1]; light over that at `reference_ma`.
    reference_ma, loss_per_k_frac : float
        See `FluxCurve`.
    peak_ma, quality : tuple of float
        What parts of the kind usually have, and the factor of one standard deviation of it, above 1.

    Raises
    ------
    RangeError
        If a current or light is not above 0, or the lists differ in length.

    Notes
    -----
    Least squares on ln(light), 3 % reading error per point, over ln(peak) and ln(quality).
    """
    current, light = np.atleast_1d(np.asarray(current_ma, float)), np.atleast_1d(np.asarray(relative_flux, float))
    if current.shape != light.shape or not np.all(current > 0.0) or not np.all(light > 0.0):
        raise RangeError("a light curve needs as many values as currents, all above 0")
    usual = np.log([peak_ma[0], quality[0]])
    spread = np.log([check_above("factor of peak_ma", peak_ma[1], lower=1.0), quality[1]])

    def curve_at(logs: FloatArray) -> FluxCurve:
        peak, breadth = np.exp(logs)
        return FluxCurve(
            reference_ma=reference_ma, peak_ma=float(peak), quality=float(breadth), loss_per_k_frac=loss_per_k_frac
        )

    def misfit(logs: FloatArray) -> FloatArray:
        modelled = relative_light(current, curve=curve_at(logs))
        return np.concatenate([np.log(modelled / light) / LIGHT_READING_FRAC, (logs - usual) / spread])

    return curve_at(scipy.optimize.least_squares(misfit, usual).x)
