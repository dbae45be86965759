"""Flicker and flashes: how deep the light is modulated, how fast, and which published limits that keeps."""

import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_above, check_between
from paneglow.drive.circuit.records import Circuit, OperatingPoint
from paneglow.physics import relative_light, stacked_curves

FloatArray = npt.NDArray[np.float64]
FlickerBand = Literal["steady", "no observable effect", "low risk", "above low risk"]

STEADY_FRAC = 1e-3  # a hundredth of the least modulation that any band below asks about; our choice

# IEEE 1789-2015, all four from memory: modulation in percent per hertz, here as a fraction, and the ends of the bands.
# A secondary page prints these shifted by one band; it is wrong (docs/sources.md)
SLOW_HZ = 90.0
LOW_RISK_PER_HZ = (0.00025, 0.0008)  # below SLOW_HZ, above it
LOW_RISK_FREE_HZ = 1250.0
NO_EFFECT_PER_HZ = (0.0001, 0.000333)
NO_EFFECT_FREE_HZ = 3000.0

# WCAG 2.3.1, as seen: no more than three flashes in any second, or all of them within less than 0.006 sr (a quarter
# of any ten degrees of the field)
FLASHES_PER_S_MOST = 3.0
FLASH_AREA_SR = 0.006


def modulation_limits_frac(frequency_hz: float) -> tuple[float, float]:
    """Greatest modulation without observable effect, and of low risk, at a frequency [1], both 0 to 1.

    Parameters
    ----------
    frequency_hz : float
        Of the light [Hz], above 0.

    References
    ----------
    IEEE 1789-2015, from memory: 0.01 f % below 90 Hz and 0.0333 f % up to 3000 Hz without observable effect;
    0.025 f % and 0.08 f % up to 1250 Hz of low risk.

    Examples
    --------
    >>> [round(limit, 4) for limit in modulation_limits_frac(120.0)]
    [0.04, 0.096]
    """
    band = int(check_above("frequency_hz", frequency_hz, lower=0.0) >= SLOW_HZ)
    no_effect = 1.0 if frequency_hz >= NO_EFFECT_FREE_HZ else NO_EFFECT_PER_HZ[band] * frequency_hz
    low_risk = 1.0 if frequency_hz >= LOW_RISK_FREE_HZ else LOW_RISK_PER_HZ[band] * frequency_hz
    return min(no_effect, 1.0), min(low_risk, 1.0)


def flicker_band(modulation_frac: float, *, frequency_hz: float) -> FlickerBand:
    """The band that light of some modulation and frequency falls into.

    Parameters
    ----------
    modulation_frac : float
        (greatest - least) / (greatest + least) light within the cycle [1], 0 to 1.
    frequency_hz : float
        Of the cycle [Hz], above 0.

    Raises
    ------
    RangeError
        If a value is outside these ranges.
    """
    check_between("modulation_frac", modulation_frac, lower=0.0, upper=1.0)
    if modulation_frac < STEADY_FRAC:
        return "steady"
    no_effect, low_risk = modulation_limits_frac(frequency_hz)
    if modulation_frac <= no_effect:
        return "no observable effect"
    return "low risk" if modulation_frac <= low_risk else "above low risk"


def led_modulation_frac(circuit: Circuit, *, point: OperatingPoint) -> FloatArray:
    """Modulation of the light of each LED within the cycle [1], shape (led,); 0 for steady light and for none.

    Parameters
    ----------
    circuit : Circuit
    point : OperatingPoint
        Of that circuit.
    """
    flux = stacked_curves([led.flux for led in circuit.leds])
    light = relative_light(point.led_current_ma, curve=flux, junction_c=point.junction_c)
    lit = light[point.share_frac > 0.0]
    most, least = lit.max(axis=0), lit.min(axis=0)
    return np.asarray(np.divide(most - least, most + least, out=np.zeros_like(most), where=most + least > 0.0))


def solid_angle_sr(*, area_mm2: float, distance_mm: float, angle_deg: float = 0.0) -> float:
    """Solid angle of a small flat area seen from a distance [sr]: area times cosine over distance squared.

    Parameters
    ----------
    area_mm2 : float
        [mm2], much less than the distance squared.
    distance_mm : float
        [mm], above 0.
    angle_deg : float
        Between the line of sight and the normal of the area [deg].

    Raises
    ------
    RangeError
        If the distance is not above 0.

    Examples
    --------
    >>> solid_angle_sr(area_mm2=2400.0, distance_mm=500.0)
    0.0096
    """
    check_above("distance_mm", distance_mm, lower=0.0)
    return area_mm2 * math.cos(math.radians(angle_deg)) / distance_mm**2


def flashes_exceed(rate_hz: float, *, area_sr: float) -> bool:
    """Whether flashes are more than three in a second over more than the area that may flash freely.

    Parameters
    ----------
    rate_hz : float
        Flashes in any second [Hz].
    area_sr : float
        Solid angle of all that flashes at once [sr].

    References
    ----------
    W3C, Web Content Accessibility Guidelines 2.1, criterion 2.3.1 and "general flash and red flash thresholds".
    """
    return rate_hz > FLASHES_PER_S_MOST and area_sr >= FLASH_AREA_SR
