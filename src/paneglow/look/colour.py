"""Colour from CIE 1931 tristimulus values: chromaticity, dominant wavelength, plain words, sRGB."""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.physics import cie_tables, observer_xyz
from paneglow.units import Fraction, PositiveFloat, Record

FloatArray = npt.NDArray[np.float64]

# sRGB primaries and white: IEC 61966-2-1, x and y of R, G, B and D65.
SRGB_PRIMARIES_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
D65_XY = (0.3127, 0.3290)
SOFT_EDGE = 0.15  # least channel over luminance where mixing with white sets in: chosen by eye, no source
# sRGB transfer curve: IEC 61966-2-1.
SRGB_LINEAR_LIMIT = 0.0031308
SRGB_CODE_LIMIT = 0.04045
EQUAL_ENERGY_XY = (1 / 3, 1 / 3)  # of equal energy; the reference white for LEDs by CIE 127:2007 (from memory)
# Purity below which a hue has no useful wavelength: common practice, no source; about 3 just-visible steps from white.
WHITE_PURITY = 0.10
PALE_PURITY = 0.40  # below it a colour is called pale: common practice, no source
WHITE_DISTANCE_UV = 0.015  # farthest from the Planckian locus that is still called white, u'v': common practice
LOCUS_NM = (400.0, 699.0)  # beyond both ends the chromaticity no longer moves visibly

# Plain words by dominant wavelength, upper end of each [nm]: common practice, no source.
WORD_ENDS_NM = (
    (450.0, "violet"),
    (484.0, "blue"),
    (508.0, "cyan"),
    (555.0, "green"),
    (573.0, "yellow-green"),
    (582.0, "yellow"),
    (596.0, "amber"),
    (611.0, "orange"),
    (np.inf, "red"),
)


class Hue(Record):
    """Dominant wavelength against equal-energy white; None for purples. Purity is 0 at white, 1 on the boundary."""

    dominant_wavelength_nm: PositiveFloat | None
    purity: Fraction

    @property
    def useful_wavelength_nm(self) -> float | None:
        """Dominant wavelength where it says something: None for purples and near white."""
        return self.dominant_wavelength_nm if self.purity >= WHITE_PURITY else None


class DaylightWeights(NamedTuple):
    """Weights that turn a reflectance table into the XYZ of a surface in D65 light, for Y = 1 of a perfect white."""

    wavelength_nm: FloatArray  # shape (w,)
    weights: FloatArray  # shape (w, 3)


@lru_cache(maxsize=1)
def daylight_weights() -> DaylightWeights:
    """Observer times D65 on a 5 nm axis from 380 to 780 nm.

    Returns
    -------
    DaylightWeights
        `weights.T @ reflectance` is the XYZ of the surface; the Y column sums to 1.

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed.
    """
    wavelength_nm = np.arange(380.0, 781.0, 5.0)
    tables = cie_tables()
    power = np.interp(wavelength_nm, tables.daylight_nm, tables.daylight)
    weights = observer_xyz(wavelength_nm) * power[:, None]
    return DaylightWeights(wavelength_nm, weights / weights[:, 1].sum())


@lru_cache(maxsize=1)
def _locus() -> tuple[FloatArray, FloatArray]:
    """Wavelengths [nm] and chromaticities (w, 2) of the spectrum, CIE 1931 observer."""
    wavelength_nm = np.arange(LOCUS_NM[0], LOCUS_NM[1] + 0.5, 1.0)
    xyz = observer_xyz(wavelength_nm)
    return wavelength_nm, xyz[:, :2] / xyz.sum(axis=1, keepdims=True)


def to_chromaticity(xyz: FloatArray) -> tuple[float, float] | None:
    """Chromaticity x, y of one XYZ triple; None where there is no light.

    Parameters
    ----------
    xyz : ndarray, shape (3,)
        Tristimulus values, any scale, at least 0.

    Returns
    -------
    tuple of float, or None
        CIE 1931 x and y [1].
    """
    total = float(np.sum(xyz))
    if not total > 0.0:
        return None
    return float(xyz[0] / total), float(xyz[1] / total)


def _ray_hits(point: FloatArray, starts: FloatArray, ends: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the ray from the origin through `point` meets each segment: distance in `point` lengths, and share along.

    Segments it misses, or meets behind the origin, have distance inf.
    """
    edges = ends - starts
    cross = point[0] * edges[:, 1] - point[1] * edges[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (starts[:, 0] * edges[:, 1] - starts[:, 1] * edges[:, 0]) / cross
        along = (starts[:, 0] * point[1] - starts[:, 1] * point[0]) / cross
    met = (np.abs(cross) > 0) & (distance > 0) & (along >= -1e-12) & (along <= 1 + 1e-12)
    return np.where(met, distance, np.inf), along


def hue_of(xy: tuple[float, float]) -> Hue:
    """Dominant wavelength and excitation purity of a chromaticity, against equal-energy white.

    Parameters
    ----------
    xy : tuple of float
        CIE 1931 chromaticity [1].

    Returns
    -------
    Hue

    Notes
    -----
    The ray from white through the point meets the spectrum locus at the dominant wavelength; purity is the share of
    the way. Where the ray meets the line of purples there is no dominant wavelength, and purity is the share of the
    way to that line. Linear between the 1 nm points of the locus.

    References
    ----------
    CIE 015:2004, *Colorimetry*, 3rd ed., sec. 9.1, as colour-science 0.4.7 cites it in `dominant_wavelength` and
    `excitation_purity`, against which the tests check it.
    """
    point = np.asarray(xy, dtype=np.float64) - EQUAL_ENERGY_XY
    if float(np.hypot(*point)) < 1e-9:
        return Hue(dominant_wavelength_nm=None, purity=0.0)
    wavelength_nm, locus = _locus()
    corners = locus - EQUAL_ENERGY_XY
    distance, along = _ray_hits(point, corners, np.roll(corners, -1, axis=0))
    met = int(np.argmin(distance))
    purity = min(1.0, 1.0 / float(distance[met]))
    if met == len(wavelength_nm) - 1:
        return Hue(dominant_wavelength_nm=None, purity=purity)
    step_nm = float(wavelength_nm[met + 1] - wavelength_nm[met])
    return Hue(dominant_wavelength_nm=float(wavelength_nm[met]) + step_nm * float(along[met]), purity=purity)


def _planckian_uv(temperature_k: FloatArray) -> FloatArray:
    """u', v' of blackbodies from 1000 to 15000 K, shape (t, 2).

    References
    ----------
    M. Krystek, Color Res. Appl. 10:38, 1985, doi 10.1002/col.5080100109, as in colour-science 0.4.7.
    """
    t = temperature_k
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t**2) / (1 + 8.42420235e-4 * t + 7.08145163e-7 * t**2)
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t**2) / (1 - 2.89741816e-5 * t + 1.61456053e-7 * t**2)
    return np.stack([u, 1.5 * v], axis=-1)


def _white_word(xy: tuple[float, float]) -> str | None:
    """Warm, plain or cool white where the chromaticity lies on the Planckian locus; None elsewhere."""
    x, y = xy
    scale = -2 * x + 12 * y + 3
    temperature_k = np.geomspace(2000.0, 15000.0, 200)
    distance = np.hypot(*(_planckian_uv(temperature_k) - [4 * x / scale, 9 * y / scale]).T)
    nearest = int(np.argmin(distance))
    if float(distance[nearest]) > WHITE_DISTANCE_UV:
        return None
    # Ends between the words, 3500 K and 7000 K: common practice, no source
    words = ("warm white", "white", "cool white")
    return words[int(np.searchsorted([3500.0, 7000.0], temperature_k[nearest]))]


def colour_word(xy: tuple[float, float] | None) -> str:
    """Plain name of a chromaticity: a hue by its dominant wavelength, a white, a pink or a purple.

    Parameters
    ----------
    xy : tuple of float or None
        CIE 1931 chromaticity; None for no light.

    Returns
    -------
    str

    Notes
    -----
    The table of words is common practice, no source. Saturated light near the Planckian locus (amber to red) keeps
    its hue word, since the white word needs a correlated colour temperature of at least 2000 K.
    """
    if xy is None:
        return "dark"
    hue = hue_of(xy)
    white = _white_word(xy)
    if white is not None:
        return white
    if hue.purity < WHITE_PURITY:
        return "white"
    pale = "pale " if hue.purity < PALE_PURITY else ""
    if hue.dominant_wavelength_nm is None:
        # Light purples are called pink; the redder half of the purple line also: common practice, no source
        return "pink" if pale or xy[0] > 0.45 else "purple"
    word = next(word for end, word in WORD_ENDS_NM if hue.dominant_wavelength_nm <= end)
    return "pink" if pale and word in ("red", "orange") else f"{pale}{word}"


def srgb_matrix() -> FloatArray:
    """Matrix from XYZ (Y = 1 for white) to linear sRGB.

    Returns
    -------
    ndarray, shape (3, 3)

    References
    ----------
    IEC 61966-2-1: its primaries and white.
    """
    primaries = np.asarray([[x / y, 1.0, (1 - x - y) / y] for x, y in SRGB_PRIMARIES_XY]).T
    x, y = D65_XY
    scale = np.linalg.solve(primaries, np.asarray([x / y, 1.0, (1 - x - y) / y]))
    return np.asarray(np.linalg.inv(primaries * scale), dtype=np.float64)


def to_linear_srgb(xyz: FloatArray) -> FloatArray:
    """Linear sRGB of XYZ; channels are negative or above 1 outside the gamut.

    Parameters
    ----------
    xyz : ndarray, shape (3, ...)
        Tristimulus values, Y = 1 for the display's white.

    Returns
    -------
    ndarray, shape (3, ...)
    """
    return np.asarray(np.tensordot(srgb_matrix(), xyz, axes=1), dtype=np.float64)


def in_gamut(xyz: FloatArray) -> FloatArray:
    """Linear sRGB of light, free of negative channels.

    Parameters
    ----------
    xyz : ndarray, shape (3, ...)
        Tristimulus values, Y = 1 for the display's white.

    Returns
    -------
    ndarray, shape (3, ...)

    Notes
    -----
    Light more saturated than the primaries is mixed with white of its own luminance until no channel is negative: its
    dominant wavelength stays, its purity falls. The mixing sets in gently, SOFT_EDGE before the edge of the gamut: a
    hard edge would show as a rim in the smooth glow round a saturated light.
    """
    linear = to_linear_srgb(xyz)
    luminance = xyz[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        # Least channel over luminance, at most 1; below the soft edge a hyperbola with the same value and slope
        least = np.minimum(linear.min(axis=0) / luminance, 1.0)
        softened = np.where(least < SOFT_EDGE, SOFT_EDGE**2 / (2.0 * SOFT_EDGE - least), least)
        keep = np.where((luminance > 0.0) & (least < SOFT_EDGE), (1.0 - softened) / (1.0 - least), 1.0)
    return np.asarray(np.maximum(luminance + keep * (linear - luminance), 0.0), dtype=np.float64)


def encode_srgb(linear: FloatArray) -> FloatArray:
    """Code values of linear sRGB.

    Parameters
    ----------
    linear : ndarray
        Linear values [1], clipped to 0 to 1 first.

    Returns
    -------
    ndarray
        Code values [1], 0 to 1.

    References
    ----------
    IEC 61966-2-1: its transfer curve.
    """
    clipped = np.clip(linear, 0.0, 1.0)
    power = 1.055 * np.power(np.maximum(clipped, SRGB_LINEAR_LIMIT), 1 / 2.4) - 0.055
    return np.asarray(np.where(clipped <= SRGB_LINEAR_LIMIT, 12.92 * clipped, power), dtype=np.float64)


def decode_srgb(code: FloatArray) -> FloatArray:
    """Linear values of sRGB code values; the inverse of `encode_srgb`.

    Parameters
    ----------
    code : ndarray
        Code values [1], 0 to 1.

    Returns
    -------
    ndarray
        Linear values [1], 0 to 1.

    References
    ----------
    IEC 61966-2-1: its transfer curve.
    """
    power = np.power((np.maximum(code, SRGB_CODE_LIMIT) + 0.055) / 1.055, 2.4)
    return np.asarray(np.where(code <= SRGB_CODE_LIMIT, code / 12.92, power), dtype=np.float64)


def to_pixels(linear: FloatArray) -> npt.NDArray[np.uint8]:
    """8-bit sRGB picture; rows keep their order.

    Parameters
    ----------
    linear : ndarray, shape (3, y, x)
        Linear sRGB [1], clipped to 0 to 1.

    Returns
    -------
    ndarray of uint8, shape (y, x, 3)
    """
    code = np.rint(255.0 * encode_srgb(linear)).astype(np.uint8)
    return np.ascontiguousarray(np.moveaxis(code, 0, -1))
