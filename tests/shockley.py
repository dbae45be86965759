"""Shockley's law with a series resistance, voltage from current: the direction that the package never computes."""

import numpy as np

from paneglow.physics import junction_slope_v, saturation_ma


def diode_voltage_v(current_ma, *, curve, junction_c=25.0):
    """V = n k T/q ln(1 + I/Is) + Rs I [V], of a current [mA] (W. Shockley, Bell Syst. Tech. J. 28:435, 1949)."""
    current = np.asarray(current_ma, dtype=np.float64)
    e_folds = np.log1p(current / saturation_ma(curve, junction_c=junction_c))
    return np.asarray(junction_slope_v(curve, junction_c=junction_c) * e_folds + 1e-3 * curve.series_ohm * current)
