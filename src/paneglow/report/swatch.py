"""A chromaticity as the nearest colour a screen can show, for the small colour chips."""

import numpy as np
import numpy.typing as npt

# XYZ to linear sRGB, IEC 61966-2-1:1999 (primaries and D65 white of that standard)
XYZ_TO_LINEAR_SRGB = np.array(
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]], dtype=np.float64
)
NO_LIGHT_HEX = "#1b1b1f"


def _encode(linear: float) -> int:
    encoded = 12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055  # IEC 61966-2-1
    return round(255 * min(max(encoded, 0.0), 1.0))


BEYOND_FRAC = 0.02  # a negative channel this large against the greatest is seen as paler than the light (our choice)


def is_beyond_screen(chromaticity_x: float | None, chromaticity_y: float | None) -> bool:
    """Whether light of this chromaticity is purer than any a screen of sRGB primaries shows."""
    if chromaticity_x is None or chromaticity_y is None or chromaticity_y <= 0.0:
        return False
    linear = _to_linear(chromaticity_x, chromaticity_y)
    return bool(linear.min() < -BEYOND_FRAC * linear.max())


def _to_linear(chromaticity_x: float, chromaticity_y: float) -> npt.NDArray[np.float64]:
    tristimulus = np.array([chromaticity_x, chromaticity_y, 1.0 - chromaticity_x - chromaticity_y]) / chromaticity_y
    return np.asarray(XYZ_TO_LINEAR_SRGB @ tristimulus, dtype=np.float64)


def to_swatch_hex(chromaticity_x: float | None, chromaticity_y: float | None) -> str:
    """Colour "#rrggbb" of a chromaticity at full brightness; a dark chip where there is none.

    Parameters
    ----------
    chromaticity_x, chromaticity_y : float or None
        CIE 1931 chromaticity; None for a dark window.

    Returns
    -------
    str
        Colours no screen reaches are paled just enough to fit.
    """
    if chromaticity_x is None or chromaticity_y is None or chromaticity_y <= 0.0:
        return NO_LIGHT_HEX
    linear = _to_linear(chromaticity_x, chromaticity_y)
    linear = linear - min(0.0, float(linear.min()))
    red, green, blue = (_encode(float(channel)) for channel in linear / linear.max())
    return f"#{red:02x}{green:02x}{blue:02x}"
