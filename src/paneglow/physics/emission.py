"""How a source spreads its light: cosine-power lobes, tabulated lobes, sampling tables, and light behind a gap."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from paneglow.checks import check_above, check_between
from paneglow.errors import RangeError

FloatArray = npt.NDArray[np.float64]

TABLE_STEPS = 720  # polar steps of a table over 0 to pi: 0.25 deg, fine against the narrowest lens in the catalogue


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PolarTable:
    """Inverse-transform table of a lobe that is round about its axis.

    Attributes
    ----------
    cos_table : ndarray, shape (n,)
        Cosine of the angle to the axis [1], falling from 1 to -1.
    cdf_table : ndarray, shape (n,)
        Share of the flux within that angle [1], rising from 0 to 1.
    intensity_table : ndarray, shape (n,)
        Intensity per unit flux at that angle [1/sr], linear in the cosine between entries; its integral over the
        sphere is 1.
    """

    cos_table: FloatArray
    cdf_table: FloatArray
    intensity_table: FloatArray

    @property
    def on_axis_per_sr(self) -> float:
        """On-axis intensity per unit flux [1/sr]."""
        return float(self.intensity_table[0])


def cosine_power_exponent(half_angle_rad: float) -> float:
    """Exponent m of the lobe cos^m that falls to half at the given angle.

    Parameters
    ----------
    half_angle_rad : float
        Angle off axis where the intensity is half [rad], above 0 and below pi/2.

    Returns
    -------
    float
        m = -ln 2 / ln cos(half angle) [1].

    Raises
    ------
    RangeError
        If the angle is outside its range.

    Examples
    --------
    >>> round(cosine_power_exponent(np.pi / 3), 12)
    1.0
    """
    check_above("half_angle_rad", half_angle_rad, lower=0.0)
    check_between("half_angle_rad", half_angle_rad, lower=0.0, upper=np.nextafter(np.pi / 2, 0.0))
    return float(-np.log(2.0) / np.log(np.cos(half_angle_rad)))


def cosine_power_flux_lm(intensity_cd: float, *, exponent: float) -> float:
    """Total flux of a cos^m lobe from its on-axis intensity: 2 pi I / (m + 1) [lm]."""
    return 2.0 * np.pi * check_between("intensity_cd", intensity_cd, lower=0.0) / (_exponent(exponent) + 1.0)


def cosine_power_intensity_cd(flux_lm: float, *, exponent: float) -> float:
    """On-axis intensity of a cos^m lobe from its total flux: (m + 1) flux / (2 pi) [cd]."""
    return (_exponent(exponent) + 1.0) * check_between("flux_lm", flux_lm, lower=0.0) / (2.0 * np.pi)


def cosine_power_flux_within(angle_rad: npt.ArrayLike, *, exponent: float) -> FloatArray:
    """Share of the flux of a cos^m lobe within an angle off its axis: 1 - cos^(m+1) [1], angles 0 to pi/2."""
    return np.asarray(1.0 - np.cos(np.asarray(angle_rad, dtype=np.float64)) ** (_exponent(exponent) + 1.0))


def polar_table(angle_rad: npt.ArrayLike, *, relative_intensity: npt.ArrayLike) -> PolarTable:
    """Sampling table of a lobe given as relative intensity against angle.

    Parameters
    ----------
    angle_rad : array_like, shape (a,)
        Rising angles to the axis [rad], from 0 to at most pi.
    relative_intensity : array_like, shape (a,)
        Intensity [any unit], at least 0; linear in the angle between entries and 0 beyond the last.

    Returns
    -------
    PolarTable
        On an axis of 0.25 deg steps merged with the given angles.

    Raises
    ------
    RangeError
        If the angles do not rise from 0 to at most pi, an intensity is negative or none is above 0.
    """
    angles = np.asarray(angle_rad, dtype=np.float64)
    intensities = np.asarray(relative_intensity, dtype=np.float64)
    _check_lobe(angles, intensities)
    # The entry just past the last angle makes a lobe that ends above 0 end there, not fade over a step
    past_end = np.nextafter(angles[-1], np.inf)
    fine = np.union1d(np.linspace(0.0, np.pi, TABLE_STEPS + 1), np.append(angles, min(past_end, np.pi)))
    shaped = np.interp(fine, angles, intensities, right=0.0)
    return _table_of(np.cos(fine), shaped)


def cosine_power_table(half_angle_rad: float) -> PolarTable:
    """Sampling table of the lobe cos^m whose intensity is half at the given angle [rad], nothing behind.

    Raises
    ------
    RangeError
        If the angle is not above 0 and below pi/2.
    """
    exponent = cosine_power_exponent(half_angle_rad)
    angles = np.linspace(0.0, np.pi, TABLE_STEPS + 1)
    cosines = np.cos(angles)
    return _table_of(cosines, np.clip(cosines, 0.0, 1.0) ** exponent)


def diffuser_illuminance_lx(offset_mm: npt.ArrayLike, *, gap_mm: float, flux_lm: float) -> FloatArray:
    """Illuminance on a plane from a Lambertian point source at a distance that faces it.

    Parameters
    ----------
    offset_mm : array_like, shape (...)
        Distance in the plane from the foot of the source [mm].
    gap_mm : float
        Source to plane [mm], above 0.
    flux_lm : float
        Total flux of the source [lm], at least 0.

    Returns
    -------
    ndarray, shape (...)
        E = (flux / pi) cos^4(t) / gap^2, tan t = offset / gap [lx].

    References
    ----------
    Inverse square and cosine laws; half brightness at 0.64 gap follows.
    """
    gap_m = 1e-3 * check_above("gap_mm", gap_mm, lower=0.0)
    on_axis_lx = check_between("flux_lm", flux_lm, lower=0.0) / (np.pi * gap_m**2)
    return np.asarray(on_axis_lx * _relative_illuminance(np.asarray(offset_mm, dtype=np.float64) / gap_mm))


def offset_of_share_mm(share_frac: float, *, gap_mm: float) -> float:
    """Offset where a Lambertian point source at a gap lights the plane with a share of its brightest point [mm].

    Examples
    --------
    >>> round(offset_of_share_mm(0.5, gap_mm=1.0), 2)
    0.64
    """
    check_above("share_frac", share_frac, lower=0.0)
    check_between("share_frac", share_frac, lower=0.0, upper=1.0)
    return check_above("gap_mm", gap_mm, lower=0.0) * float(np.sqrt(1.0 / np.sqrt(share_frac) - 1.0))


def row_evenness(pitch_mm: float, *, gap_mm: float, n_sources: int = 401) -> float:
    """Least over greatest illuminance along a long straight row of Lambertian point sources at a gap [1].

    Parameters
    ----------
    pitch_mm, gap_mm : float
        Distance between sources, and from them to the plane [mm], above 0.
    n_sources : int
        Odd number of sources in the row; the middle one and its neighbours are judged.
    """
    check_above("pitch_mm", pitch_mm, lower=0.0)
    pitch_in_gaps = pitch_mm / check_above("gap_mm", gap_mm, lower=0.0)
    sources = pitch_in_gaps * (np.arange(n_sources) - n_sources // 2)
    along = np.linspace(0.0, pitch_in_gaps, 201)
    illuminance = _relative_illuminance(along[:, None] - sources).sum(axis=-1)
    return float(illuminance.min() / illuminance.max())


def largest_row_pitch_mm(evenness_min: float, *, gap_mm: float) -> float:
    """Largest pitch of a long row of Lambertian point sources that keeps the evenness [mm].

    Raises
    ------
    RangeError
        If the evenness is not from 0.01 to 0.999.
    """
    check_between("evenness_min", evenness_min, lower=0.01, upper=0.999)
    check_above("gap_mm", gap_mm, lower=0.0)
    return gap_mm * float(brentq(lambda pitch: row_evenness(pitch, gap_mm=1.0) - evenness_min, 0.3, 20.0))


def _relative_illuminance(offset_in_gaps: FloatArray) -> FloatArray:
    return np.asarray((1.0 + offset_in_gaps**2) ** -2)


def _exponent(exponent: float) -> float:
    return check_between("exponent", exponent, lower=0.0)


def _check_lobe(angles_rad: FloatArray, intensities: FloatArray) -> None:
    if angles_rad.ndim != 1 or angles_rad.size < 2 or angles_rad.shape != intensities.shape:
        raise RangeError("a lobe needs two lists of equal length, at least 2: angles and intensities")
    rises = angles_rad[0] == 0.0 and angles_rad[-1] <= np.pi and bool(np.all(np.diff(angles_rad) > 0))
    if not rises:
        raise RangeError("the angles of a lobe must rise from 0 to at most pi (180 deg)")
    if not np.all(np.isfinite(intensities)) or intensities.min() < 0.0 or intensities.max() <= 0.0:
        raise RangeError("the intensities of a lobe must be finite, at least 0, and one of them above 0")


def _table_of(cosines: FloatArray, intensities: FloatArray) -> PolarTable:
    """Normalise a lobe on falling cosines; flux per step by the trapezoid rule in the cosine, exact for the table."""
    steps = 2.0 * np.pi * 0.5 * (intensities[1:] + intensities[:-1]) * (cosines[:-1] - cosines[1:])
    cumulative = np.concatenate(([0.0], np.cumsum(steps)))
    total = cumulative[-1]
    return PolarTable(
        cos_table=np.ascontiguousarray(cosines),
        cdf_table=np.minimum(cumulative / total, 1.0),
        intensity_table=intensities / total,
    )
