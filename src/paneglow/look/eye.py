"""The eye: its blur, its veil of stray light, its compressive response."""

import math

import numpy as np
import numpy.typing as npt
import scipy

FloatArray = npt.NDArray[np.float64]

BLUR_FWHM_ARCMIN = 1.0  # of a healthy eye in good light: the project's definition of evenness (docs/design.md)
FWHM_PER_SIGMA = 2.0 * math.sqrt(2.0 * math.log(2.0))  # of a Gaussian, exact

# Veil of stray light: CIE 146:2002, *CIE equations for disability glare*, small-angle equation, valid from 0.1 to 30
# degrees (abstract); see also J. J. Vos, Clin. Exp. Optom. 86:363, 2003. Its form and coefficients are from memory:
# veil / illuminance at the eye = 10 / t^3 + 5 / t^2 * (1 + (age / 62.5)^4), t in degrees
GLARE_FROM_DEG = 0.1
GLARE_TO_DEG = 30.0
OBSERVER_AGE = 40.0  # years; assumed, 20 to 70 changes the 5 / t^2 term from 1.01 to 2.6

# Of cones: J. M. Valeton, D. van Norren, Vision Res. 23:1539, 1983, doi 10.1016/0042-6989(83)90167-0: all responses of
# rhesus cones follow V / Vm = I^n / (I^n + s^n) with n = 0.74, whatever they are adapted to (abstract)
RESPONSE_EXPONENT = 0.74


def blur_sigma_mm(distance_mm: float) -> float:
    """Standard deviation on the board of the eye's blur [mm].

    Parameters
    ----------
    distance_mm : float
        Eye to board [mm], above 0.

    Returns
    -------
    float

    Examples
    --------
    >>> round(blur_sigma_mm(400.0), 4)
    0.0494
    """
    return distance_mm * math.tan(math.radians(BLUR_FWHM_ARCMIN / 60.0)) / FWHM_PER_SIGMA


def _blur_kernel(sigma_px: float) -> FloatArray:
    """Share of a pixel's light that its neighbours along one axis receive: the Gaussian integrated over pixels."""
    reach = max(1, math.ceil(4.0 * sigma_px))
    edges = np.arange(-reach - 0.5, reach + 1.0) / (sigma_px * math.sqrt(2.0))
    kernel = np.diff(scipy.special.erf(edges))
    return np.asarray(kernel / kernel.sum(), dtype=np.float64)


def blurred_inside(maps: FloatArray, *, inside: npt.NDArray[np.bool_], sigma_px: float) -> FloatArray:
    """Maps after a Gaussian blur that stays inside a mask.

    The weights of pixels outside are left out and the rest scaled up to 1 (normalised convolution), so a dark
    surround does not darken the rim.

    Parameters
    ----------
    maps : ndarray, shape (..., y, x)
        Luminance maps.
    inside : ndarray of bool, shape (y, x)
        Pixels that count.
    sigma_px : float
        Standard deviation of the blur [pixel], at least 0.

    Returns
    -------
    ndarray, shape (..., y, x)
        0 outside the mask.
    """
    weights = inside.astype(np.float64)
    if sigma_px < 0.05:  # less than 1e-9 of the light then leaves its pixel
        return np.asarray(maps * weights, dtype=np.float64)
    kernel = _blur_kernel(sigma_px)

    def spread(values: FloatArray) -> FloatArray:
        along_x = scipy.ndimage.correlate1d(values, kernel, axis=-1, mode="constant")
        return np.asarray(scipy.ndimage.correlate1d(along_x, kernel, axis=-2, mode="constant"), dtype=np.float64)

    return np.asarray(spread(maps * weights) / np.where(inside, spread(weights), 1.0) * weights, dtype=np.float64)


def veil(xyz: FloatArray, *, pitch_mm: float, distance_mm: float) -> FloatArray:
    """Light scattered inside the eye over the scene, as equivalent XYZ to be added to it.

    Parameters
    ----------
    xyz : ndarray, shape (3, y, x)
        Scene [cd/m2], dark beyond its rim.
    pitch_mm, distance_mm : float
        Pixel of the scene and distance of the eye [mm].

    Returns
    -------
    ndarray, shape (3, y, x)
        Stray light [cd/m2].

    Notes
    -----
    A pixel of luminance L and area A sends the eye L A / d^2 lux; the glare equation gives the veil beside it, from 0.1
    to 30 degrees. The scene is taken as flat and small, all at distance d. Stray light is taken as uncoloured by the
    eye.

    References
    ----------
    CIE 146:2002 (see the constants above).
    """
    rows, columns = xyz.shape[1:]
    pixel_deg = math.degrees(pitch_mm / distance_mm)
    y = np.arange(-rows + 1, rows)[:, None] * pixel_deg
    x = np.arange(-columns + 1, columns)[None, :] * pixel_deg
    angle_deg = np.hypot(y, x)
    safe_deg = np.maximum(angle_deg, GLARE_FROM_DEG)
    veil_per_lx = 10.0 / safe_deg**3 + 5.0 / safe_deg**2 * (1.0 + (OBSERVER_AGE / 62.5) ** 4)
    # Closer than the equation holds, the light belongs to the blurred image itself
    veil_per_lx[(angle_deg < GLARE_FROM_DEG) | (angle_deg > GLARE_TO_DEG)] = 0.0
    kernel = veil_per_lx * (pitch_mm / distance_mm) ** 2
    shape = [scipy.fft.next_fast_len(3 * n - 2, real=True) for n in (rows, columns)]
    spectrum = scipy.fft.rfft2(xyz, s=shape) * scipy.fft.rfft2(kernel, s=shape)
    full = scipy.fft.irfft2(spectrum, s=shape)
    stray = full[:, rows - 1 : 2 * rows - 1, columns - 1 : 2 * columns - 1]
    return np.asarray(np.maximum(stray, 0.0), dtype=np.float64)


def response(luminance_cd_m2: FloatArray, *, adapted_cd_m2: float) -> FloatArray:
    """Response of a cone adapted to a luminance, 0 to 1; one half at that luminance.

    Parameters
    ----------
    luminance_cd_m2 : ndarray
        Luminance [cd/m2], at least 0.
    adapted_cd_m2 : float
        Luminance of half response [cd/m2], above 0.

    Returns
    -------
    ndarray
        R = L^n / (L^n + s^n) with n = 0.74 [1]. It never reaches 1, so it hides no difference, however bright.

    References
    ----------
    J. M. Valeton, D. van Norren, Vision Res. 23:1539, 1983, doi 10.1016/0042-6989(83)90167-0.
    """
    power = np.power(np.maximum(luminance_cd_m2, 0.0) / adapted_cd_m2, RESPONSE_EXPONENT)
    return np.asarray(power / (power + 1.0), dtype=np.float64)
