"""Preferred values of resistors, and the ones that stand for a computed resistance."""

import math
from typing import Literal

from paneglow.checks import check_above

Series = Literal["E24", "E12"]

# IEC 60063, table 1, as reproduced on a secondary page (seen). A table, since eight of these are not the rounded powers
# of 10^(1/24): 2.7 to 4.7 stand 0.1 above them and 8.2 stands 0.1 below
E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
       3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)  # fmt: skip
VALUES: dict[Series, tuple[float, ...]] = {"E24": E24, "E12": E24[::2]}
LEAST_OHM, MOST_OHM = 1.0, 1.0e7  # what chip resistors are commonly sold at; common practice, no source
STEP_MOST = 1.3  # more than the greatest step of E12, which is 1.22
DUST = 1e-9  # of a value: binary dust of products


def preferred_values(low_ohm: float, high_ohm: float, *, series: Series = "E24") -> tuple[float, ...]:
    """Every preferred value from one resistance to another, rising [ohm]; the end of the range where all lie beyond.

    Parameters
    ----------
    low_ohm, high_ohm : float
        [ohm], above 0.
    series : "E24" or "E12"

    Raises
    ------
    RangeError
        If the lower one is not above 0.

    Examples
    --------
    >>> preferred_values(450.0, 620.0), preferred_values(0.1, 0.2)
    ((470.0, 510.0, 560.0, 620.0), (1.0,))
    """
    low = min(max(check_above("low_ohm", low_ohm, lower=0.0), LEAST_OHM), MOST_OHM) * (1.0 - DUST)
    high = min(max(high_ohm, LEAST_OHM), MOST_OHM) * (1.0 + DUST)
    decades = range(math.floor(math.log10(low)), math.floor(math.log10(high)) + 1)
    values = (float(f"{step * 10.0**decade:.3g}") for decade in decades for step in VALUES[series])
    return tuple(value for value in values if low <= value <= high)


def preferred_ohm(ohm: float, *, series: Series = "E24", at_least: bool = False) -> float:
    """The preferred value nearest to a resistance by ratio, or the least that is not below it [ohm].

    Parameters
    ----------
    ohm : float
        Resistance [ohm], above 0. Below 1 ohm and above 10 Mohm the end of the range is the answer.
    series : "E24" or "E12"
    at_least : bool
        Never below the resistance, so that the current is never above what it was computed for.

    Raises
    ------
    RangeError
        If the resistance is not above 0.

    Examples
    --------
    >>> preferred_ohm(90.0), preferred_ohm(500.0), preferred_ohm(480.0, at_least=True)
    (91.0, 510.0, 510.0)
    """
    wanted = min(max(check_above("ohm", ohm, lower=0.0), LEAST_OHM), MOST_OHM)
    values = preferred_values(
        wanted * (1.0 - DUST) if at_least else wanted / STEP_MOST, wanted * STEP_MOST, series=series
    )
    # Of two that are as near, the larger: less current
    return values[0] if at_least else min(values, key=lambda value: (abs(math.log(value / wanted)), -value))


def preferred_pair_ohm(ohm: float, *, series: Series = "E24") -> tuple[float, float]:
    """Two preferred values in series that come nearest to a resistance by ratio, the larger first [ohm].

    Parameters
    ----------
    ohm : float
        Resistance [ohm], above 0.
    series : "E24" or "E12"

    Raises
    ------
    RangeError
        If the resistance is not above 0.

    Examples
    --------
    >>> preferred_pair_ohm(1.4e3)
    (1300.0, 100.0)
    """
    larger = preferred_values(max(0.5 * ohm / STEP_MOST, LEAST_OHM), ohm, series=series)
    pairs = ((value, preferred_ohm(max(ohm - value, LEAST_OHM), series=series)) for value in larger[::-1])
    return min(pairs, key=lambda pair: abs(math.log(sum(pair) / ohm)))
