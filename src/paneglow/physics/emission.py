"""How a source spreads its light: cosine-power lobes, tabulated lobes, and the tables they are sampled from."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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

    References
    ----------
    Solved from cos^m(half angle) = 1/2.

    Examples
    --------
    >>> round(cosine_power_exponent(np.pi / 3), 12)
    1.0
    """
    check_above("half_angle_rad", half_angle_rad, lower=0.0)
    check_between("half_angle_rad", half_angle_rad, lower=0.0, upper=np.nextafter(np.pi / 2, 0.0))
    return float(-np.log(2.0) / np.log(np.cos(half_angle_rad)))


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
    """Sampling table of the lobe cos^m whose intensity is half at the given angle, nothing behind.

    Parameters
    ----------
    half_angle_rad : float
        Angle off axis where the intensity is half [rad], above 0 and below pi/2; pi/3 is a Lambertian source exactly.

    Returns
    -------
    PolarTable
        On an axis of 0.25 deg steps.

    Raises
    ------
    RangeError
        If the angle is not above 0 and below pi/2.
    """
    exponent = cosine_power_exponent(half_angle_rad)
    angles = np.linspace(0.0, np.pi, TABLE_STEPS + 1)
    cosines = np.cos(angles)
    return _table_of(cosines, np.clip(cosines, 0.0, 1.0) ** exponent)


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
