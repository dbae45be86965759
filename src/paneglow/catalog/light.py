"""Catalogue records to the numbers a scene needs: lobes, flux, spectra, coefficients at wavelengths."""

from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.catalog.records import Film, Laminate, Part, Spectrum, Surface
from paneglow.physics import (
    PolarTable,
    absorb_per_mm,
    coefficient_at,
    cosine_power_table,
    fit_spectral_nodes,
    gaussian_lines,
    luminous_efficacy_lm_w,
    node_powers,
    polar_table,
    sheet_transmittance,
    tabulated_power,
    visible_axis_nm,
)
from paneglow.units import Quantity

FloatArray = npt.NDArray[np.float64]
End = Literal["nominal", "low", "high"]
Table = tuple[float, ...]

# Paths through the laminate that the wavelength nodes of a part must serve: from one crossing of a thin board to the
# longest that light guided along it has been seen to go, about 15 mm (docs/sources.md), and a little more.
PATHS_MM = tuple(float(path) for path in np.geomspace(0.5, 20.0, 14))


def part_polar_table(part: Part) -> PolarTable:
    """Sampling table of a part's lobe at the nominal half angle or table."""
    return _polar_table_at(part, end="nominal")


def part_flux_lm(part: Part) -> Quantity:
    """Total flux of a part at its test current [lm], with the range that its intensity and lobe leave open.

    Linear in current: multiply by current over test current.
    """
    if part.flux_lm is not None:
        return part.flux_lm
    assert part.intensity_mcd is not None  # noqa: S101  the record holds one of the two
    intensity, lobe = part.intensity_mcd, _lobe_words(part)
    return Quantity(
        value=1e-3 * intensity.value / _polar_table_at(part, end="nominal").on_axis_per_sr,
        low=1e-3 * intensity.lowest / _polar_table_at(part, end="low").on_axis_per_sr,
        high=1e-3 * intensity.highest / _polar_table_at(part, end="high").on_axis_per_sr,
        origin="assumed" if "assumed" in (intensity.origin, lobe[0]) else intensity.origin,
        source=f"{intensity.source}; times the solid angle of the lobe: {lobe[1]}",
    )


def part_spectral_power(part: Part, *, wavelength_nm: npt.ArrayLike) -> FloatArray:
    """Relative spectral power of a part at wavelengths [1], shape (w,)."""
    return _spectral_power(part.spectrum, np.asarray(wavelength_nm, dtype=np.float64))


def part_spectral_nodes(
    part: Part, *, laminates: Iterable[Laminate], films: Iterable[Film] = ()
) -> tuple[FloatArray, FloatArray]:
    """Wavelength nodes of a part that serve every path through the given laminates, all ends of their ranges.

    Parameters
    ----------
    part : Part
        Its spectrum is fitted.
    laminates : iterable of Laminate
        What the light may cross.
    films : iterable of Film
        Coloured coats that it may cross once beside.

    Returns
    -------
    nodes_nm : ndarray, shape (k,)
    xyz_per_lm : ndarray, shape (k, 3)
        See `paneglow.physics.fit_spectral_nodes`: luminance within 1 %, chromaticity within 0.002.
    """
    absorbing = {
        (laminate.absorption.wavelength_nm, laminate.absorption.absorb_per_mm, factor)
        for laminate in laminates
        for factor in (laminate.absorption.low_factor, 1.0, laminate.absorption.high_factor)
    }
    coats = {(film.wavelength_nm, film.transmittance) for film in films if len(set(film.transmittance)) > 1}
    nodes_nm, xyz_per_lm = _fitted_nodes(part.spectrum, tuple(sorted(absorbing)), tuple(sorted(coats)))
    return nodes_nm.copy(), xyz_per_lm.copy()


def part_node_power(part: Part, *, nodes_nm: npt.ArrayLike) -> tuple[FloatArray, float]:
    """Share of a part's radiant power that each node stands for [1], shape (k,), and watt per lumen of its light."""
    axis_nm = visible_axis_nm()
    power = part_spectral_power(part, wavelength_nm=axis_nm)
    shares = node_powers(axis_nm, power, nodes_nm=nodes_nm)
    return shares / shares.sum(), 1.0 / luminous_efficacy_lm_w(axis_nm, power)


def laminate_absorb_per_mm(laminate: Laminate, *, wavelength_nm: npt.ArrayLike, end: End = "nominal") -> FloatArray:
    """Absorption of a laminate at wavelengths [1/mm], shape (w,), at one end of its range.

    Parameters
    ----------
    laminate : Laminate
        Linear between the wavelengths of its table, constant outside.
    wavelength_nm : array_like, shape (w,)
        Wavelengths in air [nm].
    end : {"nominal", "low", "high"}
        Which end of its range.
    """
    table = laminate.absorption
    factor = {"nominal": 1.0, "low": table.low_factor, "high": table.high_factor}[end]
    return absorb_per_mm(
        wavelength_nm,
        table_wavelength_nm=table.wavelength_nm,
        table_absorb_per_mm=table.absorb_per_mm,
        factor=factor,
    )


def film_transmittance(film: Film, *, wavelength_nm: npt.ArrayLike, end: End = "nominal") -> FloatArray:
    """Share of light that crosses a film per pass [1], shape (w,), at one end of its range.

    Parameters
    ----------
    film : Film
        Linear between the wavelengths of its table, constant outside.
    wavelength_nm : array_like, shape (w,)
        Wavelengths in air [nm].
    end : {"nominal", "low", "high"}
        Which end of its range.
    """
    factors = {"nominal": 1.0, "low": film.transmittance_low_factor, "high": film.transmittance_high_factor}
    values = _coefficient(film, film.transmittance, wavelength_nm)
    # Light that is returned cannot cross: the bright end stops at what the nominal film does not reflect
    return np.minimum(values * factors[end], 1.0 - _coefficient(film, film.reflectance, wavelength_nm))


def film_reflectance(film: Film, *, wavelength_nm: npt.ArrayLike, end: End = "nominal") -> FloatArray:
    """Share of light that a film returns diffusely [1], shape (w,), at one end of its range.

    Parameters
    ----------
    film : Film
        Linear between the wavelengths of its table, constant outside.
    wavelength_nm : array_like, shape (w,)
        Wavelengths in air [nm].
    end : {"nominal", "low", "high"}
        Which end of its range.
    """
    factors = {"nominal": 1.0, "low": film.reflectance_low_factor, "high": film.reflectance_high_factor}
    values = _coefficient(film, film.reflectance, wavelength_nm)
    return np.minimum(values * factors[end], 1.0 - _coefficient(film, film.transmittance, wavelength_nm))


def surface_reflectance(surface: Surface, *, wavelength_nm: npt.ArrayLike, end: End = "nominal") -> FloatArray:
    """Reflectance of an opaque surface [1], shape (w,), at one end of its range.

    Parameters
    ----------
    surface : Surface
        Linear between the wavelengths of its table, constant outside.
    wavelength_nm : array_like, shape (w,)
        Wavelengths in air [nm].
    end : {"nominal", "low", "high"}
        Which end of its range.
    """
    factors = {"nominal": 1.0, "low": surface.low_factor, "high": surface.high_factor}
    return np.minimum(_coefficient(surface, surface.reflectance, wavelength_nm) * factors[end], 1.0)


def _coefficient(of: Film | Surface, values: tuple[float, ...], wavelength_nm: npt.ArrayLike) -> FloatArray:
    return coefficient_at(wavelength_nm, table_wavelength_nm=of.wavelength_nm, table_value=values)


def _polar_table_at(part: Part, *, end: End) -> PolarTable:
    if part.emission is not None:
        table = part.emission
        factor = {"nominal": 1.0, "low": table.low_factor, "high": table.high_factor}[end]
        return _stretched(table.angle_deg, table.relative_intensity, factor)
    assert part.half_angle_deg is not None  # noqa: S101  the record holds one of the two
    angle = part.half_angle_deg
    half_angle_deg = {"nominal": angle.value, "low": angle.lowest, "high": angle.highest}[end]
    return cosine_power_table(float(np.radians(half_angle_deg)))


def _stretched(angle_deg: tuple[float, ...], intensity: tuple[float, ...], factor: float) -> PolarTable:
    """A lobe with its angles times a factor, cut at the angle that its table ends at."""
    angles = factor * np.asarray(angle_deg, dtype=np.float64)
    ends = min(angles[-1], angle_deg[-1])
    kept = angles < ends
    angles_cut = np.append(angles[kept], ends)
    values = np.append(np.asarray(intensity, dtype=np.float64)[kept], np.interp(ends, angles, intensity))
    return polar_table(np.radians(angles_cut), relative_intensity=values)


def _lobe_words(part: Part) -> tuple[str, str]:
    lobe = part.half_angle_deg if part.emission is None else part.emission
    assert lobe is not None  # noqa: S101  the record holds one of the two
    return lobe.origin, lobe.source


def _spectral_power(spectrum: Spectrum, wavelength_nm: FloatArray) -> FloatArray:
    if spectrum.table is not None:
        return tabulated_power(
            wavelength_nm,
            table_wavelength_nm=spectrum.table.wavelength_nm,
            table_power=spectrum.table.relative_power,
        )
    return gaussian_lines(
        wavelength_nm,
        peak_nm=[peak.peak_nm for peak in spectrum.peaks],
        fwhm_nm=[peak.fwhm_nm for peak in spectrum.peaks],
        relative_power=[peak.relative_power for peak in spectrum.peaks],
    )


@lru_cache(maxsize=256)
def _fitted_nodes(
    spectrum: Spectrum, absorbing: tuple[tuple[Table, Table, float], ...], coats: tuple[tuple[Table, Table], ...]
) -> tuple[FloatArray, FloatArray]:
    axis_nm = visible_axis_nm()
    sheets = [np.ones((1, axis_nm.size))]
    for table_nm, values, factor in absorbing:
        absorb = absorb_per_mm(axis_nm, table_wavelength_nm=table_nm, table_absorb_per_mm=values, factor=factor)
        sheets.append(sheet_transmittance(absorb, path_mm=PATHS_MM))
    bare = np.concatenate(sheets)
    tints = [coefficient_at(axis_nm, table_wavelength_nm=table_nm, table_value=values) for table_nm, values in coats]
    all_sheets = np.concatenate([bare, *(tint * bare for tint in tints)])
    return fit_spectral_nodes(axis_nm, _spectral_power(spectrum, axis_nm), sheet_transmittance=all_sheets)
