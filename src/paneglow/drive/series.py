"""Preferred values of resistors, and the one that stands for a computed resistance."""

import math
from typing import Literal

from paneglow.checks import check_above

Series = Literal["E24", "E12"]

# IEC 60063, from memory. A table, since eight of these are not the rounded powers of 10^(1/24): 2.7 to 4.7 stand 0.1
# above them and 8.2 stands 0.1 below
E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
       3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)  # fmt: skip
VALUES: dict[Series, tuple[float, ...]] = {"E24": E24, "E12": E24[::2]}
LEAST_OHM, MOST_OHM = 1.0, 1.0e7  # what chip resistors are commonly sold at; common practice, no source


def preferred_neighbours(ohm: float, *, series: Series = "E24") -> tuple[float, float]:
    """The preferred values next below and next above a resistance; both are the value itself where it is one.

    Parameters
    ----------
    ohm : float
        Resistance [ohm], above 0. Below 1 ohm and above 10 Mohm the end of the range stands for both.
    series : "E24" or "E12"

    Returns
    -------
    tuple of float
        [ohm]

    Examples
    --------
    >>> preferred_neighbours(500.0), preferred_neighbours(150.0), preferred_neighbours(500.0, series="E12")
    ((470.0, 510.0), (150.0, 150.0), (470.0, 560.0))
    """
    wanted = min(max(check_above("ohm", ohm, lower=0.0), LEAST_OHM), MOST_OHM)
    decade = math.floor(math.log10(wanted) + 1e-12)
    ladder = [_value(step, decade=decade) for step in (*VALUES[series], 10.0)]
    below = max(value for value in ladder if value <= wanted * (1.0 + 1e-9))
    above = min(value for value in ladder if value >= wanted * (1.0 - 1e-9))
    return below, above


def preferred_ohm(ohm: float, *, series: Series = "E24", at_least: bool = False) -> float:
    """The preferred value nearest to a resistance by ratio, or the nearest that is not below it.

    Parameters
    ----------
    ohm : float
        Resistance [ohm], above 0.
    series : "E24" or "E12"
    at_least : bool
        Never below the resistance, so that the current is never above what it was computed for.

    Examples
    --------
    >>> preferred_ohm(90.0), preferred_ohm(500.0), preferred_ohm(480.0, at_least=True)
    (91.0, 510.0, 510.0)
    """
    below, above = preferred_neighbours(ohm, series=series)
    return above if at_least or above * below < ohm * ohm else below


def preferred_pair_ohm(ohm: float, *, series: Series = "E24") -> tuple[float, float]:
    """Two preferred values in series that come nearest to a resistance by ratio, the larger first [ohm].

    Examples
    --------
    >>> preferred_pair_ohm(1.4e3)
    (1300.0, 100.0)
    """
    largest, _ = preferred_neighbours(ohm, series=series)
    candidates = []
    for _ in range(len(VALUES[series]) // 2):
        rest = max(ohm - largest, LEAST_OHM)
        candidates.append((largest, preferred_ohm(rest, series=series)))
        largest, _ = preferred_neighbours(largest * (1.0 - 1e-6), series=series)
    return min(candidates, key=lambda pair: abs(math.log(sum(pair) / ohm)))


def series_resistor_ohm(*, supply_v: float, forward_v: float, current_ma: float) -> float:
    """Resistance that lets a current through an LED (or several, with their voltages added) [ohm].

    Raises
    ------
    RangeError
        If the supply is not above the forward voltage, or the current not above 0.

    Examples
    --------
    >>> series_resistor_ohm(supply_v=5.0, forward_v=2.0, current_ma=20.0)
    150.0
    """
    check_above("supply_v", supply_v, lower=forward_v)
    return 1e3 * (supply_v - forward_v) / check_above("current_ma", current_ma, lower=0.0)


def _value(step: float, *, decade: int) -> float:
    """A step of the table in its decade, without the binary dust of a product."""
    return float(f"{step * 10.0**decade:.3g}")
