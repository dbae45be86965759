"""Placed LEDs as emitters: geometry, pattern, spectrum and flux, no part names inside."""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board import FaceMaps, PlacedLed
from paneglow.catalog import (
    Film,
    Laminate,
    Part,
    film_transmittance,
    part_flux_lm,
    part_node_power,
    part_polar_table,
    part_spectral_nodes,
)
from paneglow.physics import (
    PolarTable,
    gaussian_lines,
    luminous_efficacy_lm_w,
    shifted_shares,
    spectral_nodes,
    visible_axis_nm,
)
from paneglow.scene.pose import Pose, pose_of
from paneglow.scene.records import Dome, Emitter
from paneglow.scene.surroundings import build_light_wall, glue_dome, touching_lens
from paneglow.units import Quantity

FloatArray = npt.NDArray[np.float64]

GLUE = "hot-glue"
TOUCHING = {"lens_down", "reverse"}  # styles whose lens can be pressed against the laminate, by gap_mm = 0
GLOW_NODES = 2  # a fluorescent band is wide and crosses little: two nodes show its colour
ISOTROPIC_PER_SR = 1.0 / (4.0 * math.pi)
SEARCH_MM = 8.0  # half side of the square searched round a part; larger cut-outs are cropped to it
OPEN = 0.5  # a pixel is a hole from this share on
ROUND_TOLERANCE = 0.08  # a hole is round where area and both extents agree with a circle this closely


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartLight:
    """Light of one order code: pattern, wavelength nodes, tristimulus weights, flux at the test current [lm]."""

    pattern: PolarTable
    nodes_nm: FloatArray
    xyz_per_lm: FloatArray
    flux_lm: Quantity
    start: FloatArray | None = None
    shifted: FloatArray | None = None


def build_part_light(part: Part, *, laminate: Laminate, films: tuple[Film, ...] = ()) -> PartLight:
    """Light of an order code, with wavelength nodes that hold behind a laminate and the films over it.

    Parameters
    ----------
    part : Part
        Its spectrum, pattern and flux at the test current.
    laminate, films : Laminate, tuple of Film
        What its light crosses.

    Returns
    -------
    PartLight
    """
    nodes_nm, xyz_per_lm = part_spectral_nodes(part, laminates=(laminate,), films=films)
    light = PartLight(
        pattern=part_polar_table(part), nodes_nm=nodes_nm, xyz_per_lm=xyz_per_lm, flux_lm=part_flux_lm(part)
    )
    return light if laminate.fluorescence is None else fluorescent(light, part=part, laminate=laminate)


def fluorescent(light: PartLight, *, part: Part, laminate: Laminate) -> PartLight:
    """The same light with nodes for what a fluorescent laminate gives back.

    Parameters
    ----------
    light : PartLight
        Without fluorescence.
    part, laminate : Part, Laminate
        Whose spectrum excites it; its yield and band.

    Returns
    -------
    PartLight
    """
    glow = laminate.fluorescence
    assert glow is not None  # noqa: S101  the caller asks only where there is one
    power_frac, watt_per_lm = part_node_power(part, nodes_nm=light.nodes_nm)
    axis_nm = visible_axis_nm()
    band = gaussian_lines(axis_nm, peak_nm=[glow.peak_nm], fwhm_nm=[glow.fwhm_nm], relative_power=[1.0])
    glow_nm, glow_xyz_per_lm = spectral_nodes(axis_nm, band, n_nodes=GLOW_NODES)
    shares = shifted_shares(
        absorbed_nm=light.nodes_nm,
        power_frac=power_frac,
        emitted_nm=glow_nm,
        yield_frac=glow.yield_frac.value,
        excited_below_nm=glow.excited_below_nm,
    )
    n_own, n_all = light.nodes_nm.size, light.nodes_nm.size + GLOW_NODES
    shifted = np.zeros((n_all, n_all))
    shifted[:n_own, n_own:] = shares
    # Unit weight of the glow stands for the radiant power of the whole LED
    to_lm = watt_per_lm * luminous_efficacy_lm_w(axis_nm, band)
    return replace(
        light,
        nodes_nm=np.concatenate([light.nodes_nm, glow_nm]),
        xyz_per_lm=np.concatenate([light.xyz_per_lm, to_lm * glow_xyz_per_lm]),
        start=np.concatenate([np.ones(n_own), np.zeros(GLOW_NODES)]),
        shifted=shifted,
    )


def diffused(pattern: PolarTable, *, haze_frac: float) -> PolarTable:
    """Pattern behind a diffusing dome: a share of the light goes every way alike, the rest as before.

    Parameters
    ----------
    pattern : PolarTable
        Of the bare part.
    haze_frac : float
        That share [1], 0 to 1.

    Returns
    -------
    PolarTable
    """
    isotropic = 0.5 * (1.0 - pattern.cos_table)
    return replace(
        pattern,
        cdf_table=(1.0 - haze_frac) * pattern.cdf_table + haze_frac * isotropic,
        intensity_table=(1.0 - haze_frac) * pattern.intensity_table + haze_frac * ISOTROPIC_PER_SR,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleShape:
    """The hole or cut-out a part shines through, read off the board itself."""

    centre_mm: tuple[float, float]  # Centre (x, y)
    extent_mm: tuple[float, float]  # Along and across the part
    is_round: bool
    is_plated: bool  # Whether its wall is


def find_opening(maps: FaceMaps, *, at_mm: tuple[float, float], along: tuple[float, float]) -> HoleShape | None:
    """Hole that holds a point, measured along and across a direction; None where the board has laminate there.

    Parameters
    ----------
    maps : FaceMaps
    at_mm : tuple of float
        A point (x, y) [mm].
    along : tuple of float
        Unit vector of the part's long side.

    Returns
    -------
    HoleShape or None
        Cut-outs are cropped to SEARCH_MM round the point.
    """
    pixel = maps.grid.pixel_at(x_mm=at_mm[0], y_mm=at_mm[1])
    if pixel is None:
        return None
    reach = round(SEARCH_MM / maps.grid.pitch_mm)
    rows = slice(max(0, pixel[0] - reach), pixel[0] + reach + 1)
    columns = slice(max(0, pixel[1] - reach), pixel[1] + reach + 1)
    # Outside the outline there is no laminate either, but that is no hole
    is_hole = (maps.holes[rows, columns] >= OPEN) & (maps.outline_inside[rows, columns] >= OPEN)
    labels, _ = scipy.ndimage.label(is_hole)
    label = labels[pixel[0] - rows.start, pixel[1] - columns.start]
    if label == 0:
        return None
    row, column = np.nonzero(labels == label)
    x_mm = maps.grid.x_centres_mm()[columns][column]
    y_mm = maps.grid.y_centres_mm()[rows][row]
    pitch = maps.grid.pitch_mm
    centre = (float(x_mm.mean()), float(y_mm.mean()))
    along_mm = (x_mm - centre[0]) * along[0] + (y_mm - centre[1]) * along[1]
    across_mm = -(x_mm - centre[0]) * along[1] + (y_mm - centre[1]) * along[0]
    extent = (float(np.ptp(along_mm)) + pitch, float(np.ptp(across_mm)) + pitch)
    area = x_mm.size * pitch * pitch
    diameter = 2.0 * math.sqrt(area / math.pi)
    is_round = all(abs(side / diameter - 1.0) <= ROUND_TOLERANCE + pitch / diameter for side in extent)
    plated = maps.plated_holes[rows, columns][row, column]
    return HoleShape(
        centre_mm=centre,
        extent_mm=(diameter, diameter) if is_round else extent,
        is_round=is_round,
        is_plated=bool(plated.mean() >= OPEN),
    )


def build_emitter(
    led: PlacedLed,
    *,
    light: PartLight,
    first_node: int,
    maps: FaceMaps,
    thickness_mm: float,
    n_wavelengths: int,
    diffuser: Film | None,
) -> Emitter:
    """One placed LED as an emitter.

    Parameters
    ----------
    led : PlacedLed
        Its place, style and current [mA].
    light : PartLight
        Of its order code at the test current.
    first_node : int
        Where the order code's nodes begin on the scene's axis.
    maps : FaceMaps
        Holes of the board.
    thickness_mm : float
        Laminate thickness [mm].
    n_wavelengths : int
        Nodes of the scene's axis.
    diffuser : Film or None
        What lies between emitter and board.

    Returns
    -------
    Emitter

    Notes
    -----
    Flux is proportional to the current. A part meant for a hole that the board does not have shines at the closed back
    face from just behind it.
    """
    pose = pose_of(led, thickness_mm=thickness_mm)
    opening = None
    if pose.in_opening:
        opening = find_opening(maps, at_mm=led.at_mm, along=pose.u[:2])
    centre = pose.centre_mm
    if pose.in_opening:
        off = (centre[0] - led.at_mm[0], centre[1] - led.at_mm[1])
        centre = (
            (*centre[:2], -0.5)
            if opening is None
            else (opening.centre_mm[0] + off[0], opening.centre_mm[1] + off[1], centre[2])
        )
    dome = _dome(led, pose, diffuser=diffuser)
    pattern, passed = light.pattern, 1.0
    if diffuser is not None:
        passed = _luminous_transmittance(diffuser, light=light)
        if dome is None or dome.scatter_per_mm <= 0.0:
            pattern = diffused(pattern, haze_frac=diffuser.haze.value)
    drive = led.current_ma / led.part.test_current_ma * passed
    return Emitter(
        ref=led.ref,
        window=led.window,
        centre_mm=centre,
        axis=pose.axis,
        u=pose.u,
        v=pose.v,
        size_mm=pose.size_mm if opening is None else _inside(pose, extent_mm=opening.extent_mm),
        cos_table=pattern.cos_table,
        cdf_table=pattern.cdf_table,
        intensity_table=pattern.intensity_table,
        nodes=np.arange(first_node, first_node + light.nodes_nm.size),
        xyz_per_lm=light.xyz_per_lm,
        flux_lm=light.flux_lm.value * drive,
        flux_lm_low=light.flux_lm.lowest * drive,
        flux_lm_high=light.flux_lm.highest * drive,
        opening_mm=None if opening is None else opening.extent_mm,
        opening_round=opening is not None and opening.is_round,
        opening_plated=opening is not None and opening.is_plated,
        dome=dome,
        light_wall=build_light_wall(led, n_wavelengths=n_wavelengths),
        start=light.start,
        shifted=light.shifted,
    )


def _dome(led: PlacedLed, pose: Pose, *, diffuser: Film | None) -> Dome | None:
    """Glue over a side-view part, or a lens pressed on the laminate; None where there is air."""
    if diffuser is not None and led.mounting == "side_view" and led.diffuser == GLUE and led.side == "back":
        return glue_dome(pose, haze_frac=diffuser.haze.value)
    return touching_lens(led, pose) if led.gap_mm == 0.0 and led.mounting in TOUCHING else None


def _luminous_transmittance(film: Film, *, light: PartLight) -> float:
    """Share of the luminous flux that a film passes."""
    at_nodes = film_transmittance(film, wavelength_nm=light.nodes_nm)
    start = np.ones(at_nodes.size) if light.start is None else light.start
    return float((at_nodes * start) @ light.xyz_per_lm[:, 1])


def _inside(pose: Pose, *, extent_mm: tuple[float, float]) -> tuple[float, float]:
    """Emitter size that fits its opening; the corners of a rectangle in a round hole must clear the wall."""
    length, width = pose.size_mm
    fit = min(1.0, extent_mm[0] / (math.sqrt(2.0) * length), extent_mm[1] / (math.sqrt(2.0) * width))
    return length * fit, width * fit
