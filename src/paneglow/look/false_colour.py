"""Luminance as false colour on a logarithmic scale."""

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# Perceptually even, rising in lightness, safe for the common kinds of colour blindness (matplotlib's own, CC0)
RAMP_NAME = "inferno"
RAMP_STEPS = 256
ROUND_STEPS = (1.0, 2.0, 5.0, 10.0)  # scale ends are such numbers times a power of ten
MOST_DECADES = 4.0  # the scale spans at most this, so that its dark end says something
LEAST_CD_M2 = 1e-3  # about the darkest luminance that cones see, from memory


def false_colour_ramp() -> npt.NDArray[np.uint8]:
    """Colours of the scale from its low to its high end, shape (256, 3), equal steps of log luminance."""
    import matplotlib as mpl  # noqa: PLC0415  only where the ramp is asked for

    ramp = mpl.colormaps[RAMP_NAME].resampled(RAMP_STEPS)(np.arange(RAMP_STEPS))
    return np.rint(255.0 * np.asarray(ramp)[:, :3]).astype(np.uint8)


def round_scale(luminance_cd_m2: FloatArray) -> tuple[float, float]:
    """Round ends of a scale that holds all luminances [cd/m2]; dark pixels below four decades are left out.

    Examples
    --------
    >>> round_scale(np.asarray([3.0, 70.0, 130.0]))
    (2.0, 200.0)
    """
    lit = luminance_cd_m2[luminance_cd_m2 > LEAST_CD_M2]
    if lit.size == 0:
        return 0.1, 1.0
    high = _rounded(float(np.percentile(lit, 99.8)), up=True)
    low = _rounded(max(float(np.percentile(lit, 0.5)), high / 10.0**MOST_DECADES), up=False)
    return min(low, high / 10.0), high


def _rounded(value: float, *, up: bool) -> float:
    decade = 10.0 ** math.floor(math.log10(value))
    steps = [step * decade for step in ROUND_STEPS]
    within = [step for step in steps if (step >= value * (1 - 1e-9) if up else step <= value * (1 + 1e-9))]
    return float(f"{min(within) if up else max(within):.6g}")


def scale_place(luminance_cd_m2: FloatArray, *, scale_cd_m2: tuple[float, float]) -> FloatArray:
    """Place of luminances on the scale, 0 at its low end to 1 at its high end, clipped."""
    low, high = scale_cd_m2
    bounded = np.clip(luminance_cd_m2, low, high)
    return np.asarray(np.log(bounded / low) / math.log(high / low), dtype=np.float64)
