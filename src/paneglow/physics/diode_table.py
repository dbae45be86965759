"""Many diodes at once: the curves of `diode` as arrays with an axis over LEDs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_above
from paneglow.physics.diode import THERMAL_VOLTAGE_V_PER_K, ZERO_CELSIUS_K, DiodeCurve, FluxCurve, light_of_peak

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Junctions:
    """Junctions at their temperatures: V = slope ln(1 + I / saturation) + series I, every array of shape (led,)."""

    saturation_ma: FloatArray  # saturation current
    slope_v: FloatArray  # voltage per e-fold of current
    series_ohm: FloatArray  # resistance in series with the junction


def build_junctions(curves: Sequence[DiodeCurve], *, junction_c: npt.ArrayLike) -> Junctions:
    """Junctions of diodes at their temperatures.

    Parameters
    ----------
    curves : sequence of DiodeCurve
    junction_c : array_like, shape (led,) or ()
        Junction temperatures [deg C].

    Raises
    ------
    RangeError
        If one is so hot that no voltage is left to its junction.
    """
    fields = ("reference_ma", "reference_v", "ideality", "series_ohm", "v_per_k", "reference_c")
    reference_ma, reference_v, ideality, series_ohm, v_per_k, reference_c = _columns(curves, fields=fields)
    celsius = np.broadcast_to(np.asarray(junction_c, dtype=np.float64), reference_ma.shape)
    slope_v = ideality * THERMAL_VOLTAGE_V_PER_K * (celsius + ZERO_CELSIUS_K)
    junction_v = reference_v + v_per_k * (celsius - reference_c) - 1e-3 * series_ohm * reference_ma
    if junction_v.size:
        check_above("junction voltage", float(junction_v.min()), lower=0.0)
    return Junctions(
        saturation_ma=reference_ma / np.expm1(junction_v / slope_v), slope_v=slope_v, series_ohm=series_ohm
    )


def relative_lights(current_ma: FloatArray, *, curves: Sequence[FluxCurve], junction_c: npt.ArrayLike) -> FloatArray:
    """Light of many LEDs, each over that at its own reference current and temperature.

    Parameters
    ----------
    current_ma : ndarray, shape (..., led)
        Forward currents [mA]; at or below 0 there is no light.
    curves : sequence of FluxCurve
    junction_c : array_like, shape (led,) or ()
        Junction temperatures [deg C].

    Returns
    -------
    ndarray, shape (..., led)
        Relative light [1], as `relative_light` gives it for one.
    """
    fields = ("reference_ma", "peak_ma", "quality", "loss_per_k_frac", "reference_c")
    reference_ma, peak_ma, quality, loss_per_k_frac, reference_c = _columns(curves, fields=fields)
    light = light_of_peak(np.maximum(current_ma, 0.0) / peak_ma, quality=quality)
    light /= light_of_peak(reference_ma / peak_ma, quality=quality)
    warmth_k = np.asarray(junction_c, dtype=np.float64) - reference_c
    return np.asarray(light * np.exp(-loss_per_k_frac * warmth_k))


def _columns(curves: Sequence[DiodeCurve] | Sequence[FluxCurve], *, fields: tuple[str, ...]) -> FloatArray:
    """Values of curves, shape (field, curve)."""
    table = [[getattr(curve, name) for curve in curves] for name in fields]
    return np.array(table, dtype=np.float64).reshape(len(fields), len(curves))
