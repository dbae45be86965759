"""Luminance of a window by viewing angle, from the light counted as it leaves the front."""

import math

import numpy as np

from paneglow.look.records import AngleLuminance
from paneglow.scene import Scene
from paneglow.transport import Tally

MM2_PER_M2 = 1e6


def build_by_angle(number: int, *, area_mm2: float, scene: Scene, tally: Tally) -> tuple[AngleLuminance, ...]:
    """Mean luminance of one window in every bin of polar angle, over all azimuths.

    Parameters
    ----------
    number : int
        The window's number in `scene.windows`, from 1.
    area_mm2 : float
        Area of its opening [mm2], above 0.
    scene, tally : Scene, Tally

    Returns
    -------
    tuple of AngleLuminance
        Empty where the tally holds no such window.

    Notes
    -----
    Bins are equal in the squared sine, so each holds the same projected solid angle, pi over their number: luminance is
    flux over area over that. LEDs are independent, so their errors add in squares.
    """
    held = [(emitter.flux_lm, led) for emitter, led in zip(scene.emitters, tally.leds, strict=True)]
    if not held or number >= min(led.angles.shape[0] for _, led in held):
        return ()
    flux_lm = np.sum([lumen * led.angles[number, :, 0] for lumen, led in held], axis=0)
    variance = np.sum([(lumen * led.angles_se[number]) ** 2 for lumen, led in held], axis=0)
    n_bins = flux_lm.size
    to_luminance = n_bins / math.pi / area_mm2 * MM2_PER_M2
    edges_deg = np.degrees(np.arcsin(np.sqrt(np.linspace(0.0, 1.0, n_bins + 1))))
    return tuple(
        AngleLuminance(
            from_deg=float(edges_deg[i]),
            to_deg=float(edges_deg[i + 1]),
            mean_cd_m2=float(flux_lm[i] * to_luminance),
            se_cd_m2=float(math.sqrt(variance[i]) * to_luminance),
        )
        for i in range(n_bins)
    )
