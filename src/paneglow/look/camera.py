"""A phone camera: exposure by the mean of the scene, overlapping colour channels that clip, sRGB."""

import numpy as np
import numpy.typing as npt

from paneglow.look.colour import to_linear_srgb, to_pixels

FloatArray = npt.NDArray[np.float64]

MID_GREY = 0.18  # the mean of the frame is exposed to this, the board filling it: common practice, no source
# Share of each channel's signal (rows red, green, blue) that comes from the red, green and blue light of sRGB. Filters
# over a sensor overlap about so much: assumed, no source. Rows sum to 1, so white stays white
CHANNEL_OVERLAP = ((0.84, 0.11, 0.05), (0.12, 0.68, 0.20), (0.02, 0.16, 0.82))
# Stops above an exposure for the lit spots alone, at most: software holds back where a few spots would burn out:
# common practice, no source; the number is assumed
STOPS_OVER_LIT = 4.0


def photographed(xyz: FloatArray) -> npt.NDArray[np.uint8]:
    """The picture a phone takes of a scene on automatic, shape (y, x, 3); rows keep their order.

    Parameters
    ----------
    xyz : ndarray, shape (3, y, x)
        Scene [cd/m2].

    Notes
    -----
    The sensor is linear and no signal is negative. Its channels overlap, so even pure red light raises green a
    little: overexposed, red is full while green still rises, and the picture turns orange, then yellow; blue turns to
    cyan and white. Differences above the full channel are lost, so a window that fades at one end can look even. After
    clipping the overlap is undone, as cameras do, and the result is encoded as sRGB in 8 bits.
    """
    overlap = np.asarray(CHANNEL_OVERLAP)
    signal = np.tensordot(overlap, np.maximum(to_linear_srgb(xyz), 0.0), axes=1)
    raw = np.clip(exposure_per_cd_m2(xyz[1]) * signal, 0.0, 1.0)
    return to_pixels(np.asarray(np.tensordot(np.linalg.inv(overlap), raw, axes=1)))


def exposure_per_cd_m2(luminance_cd_m2: FloatArray) -> float:
    """Exposure of a frame [1 per cd/m2]: its mean at mid-grey, held back for lit spots; 0 for a dark scene.

    Notes
    -----
    Lit spots are summed up by the mean luminance weighted by luminance itself, which is that of the spots however
    large the dark around them.
    """
    mean_cd_m2 = float(luminance_cd_m2.mean())
    if not mean_cd_m2 > 0.0:
        return 0.0
    lit_cd_m2 = float((luminance_cd_m2**2).mean()) / mean_cd_m2
    return float(MID_GREY * min(1.0 / mean_cd_m2, 2.0**STOPS_OVER_LIT / lit_cd_m2))
