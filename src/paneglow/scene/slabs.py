"""Versions of the laminate: the nominal one and the ends of its range."""

import itertools
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.catalog import Laminate, laminate_absorb_per_mm
from paneglow.physics import scatter_per_mm
from paneglow.scene.records import Slab

FloatArray = npt.NDArray[np.float64]
End = Literal["nominal", "low", "high"]
ENDS: tuple[End, ...] = ("nominal", "low", "high")


def build_slabs(laminate: Laminate, *, wavelength_nm: FloatArray) -> tuple[Slab, ...]:
    """Nominal slab first, then every combination of the ends of its scattering and absorption.

    Parameters
    ----------
    laminate : Laminate
    wavelength_nm : ndarray, shape (w,)
        Axis of the scene [nm].

    Returns
    -------
    tuple of Slab
        One where the laminate has no range, else up to nine: three scattering coefficients, each with three
        absorptions. Versions of one scattering coefficient stand together and cost one trace.
    """
    reduced = laminate.reduced_scatter_per_mm
    scatters = _distinct(reduced.value, reduced.lowest, reduced.highest)
    table = laminate.absorption
    absorptions: tuple[tuple[End, float], ...] = tuple(
        (end, factor)
        for end, factor in zip(ENDS, (1.0, table.low_factor, table.high_factor), strict=True)
        if end == "nominal" or factor != 1.0
    )
    return tuple(
        Slab(
            name="nominal"
            if scatter == reduced.value and end == "nominal"
            else f"reduced scattering {scatter:g} per mm, absorption x {factor:g}",
            scatter_per_mm=scatter_per_mm(reduced_scatter_per_mm=scatter, asymmetry=laminate.asymmetry.value),
            absorb_per_mm=laminate_absorb_per_mm(laminate, wavelength_nm=wavelength_nm, end=end),
        )
        for scatter, (end, factor) in itertools.product(scatters, absorptions)
    )


def _distinct(value: float, low: float, high: float) -> tuple[float, ...]:
    """The value first, then the ends that differ from it."""
    return (value, *(end for end in (low, high) if end != value))
