"""The board in room light: what each stack of laminate, copper, mask and legend returns to the eye."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.board import FaceMaps
from paneglow.catalog import (
    Catalog,
    Film,
    Laminate,
    film_reflectance,
    film_transmittance,
    find_film,
    find_laminate,
    find_surface,
    laminate_absorb_per_mm,
    surface_reflectance,
)
from paneglow.design import Design
from paneglow.look.colour import daylight_weights
from paneglow.look.openings import Resampling
from paneglow.physics.fresnel import diffuse_reflectance
from paneglow.scene import Scene

FloatArray = npt.NDArray[np.float64]

BASES = ("laminate", "laminate over masked back", "laminate over copper", "copper")
# Catalogue surfaces: copper right under mask, the bonded side of foil seen through laminate, a solderable finish over
# bare copper. The design names no finish: tin is assumed (common practice, no source), gold would be warmer.
COPPER_UNDER_MASK, COPPER_BEHIND, COPPER_BARE = "copper-bright-in-resin", "copper-treated", "tin-finish"

N_STACKS = len(BASES) * 2 * 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """What lies on top of each other at a point of the front."""

    base: str
    masked: bool
    inked: bool


def stacks() -> tuple[Stack, ...]:
    """Every stack, in the order of all arrays over stacks."""
    flags = (False, True)
    return tuple(Stack(base=base, masked=masked, inked=inked) for base in BASES for masked in flags for inked in flags)


def slab_reflectance(
    *,
    reduced_scatter_per_mm: float,
    absorb_per_mm: npt.ArrayLike,
    thickness_mm: float,
    backing_reflectance: npt.ArrayLike,
) -> FloatArray:
    """Diffuse reflectance of a slab for diffuse light already inside it, over a backing.

    Parameters
    ----------
    reduced_scatter_per_mm : float
        Scattering times (1 - asymmetry) [1/mm], above 0.
    absorb_per_mm : array_like, shape (w,)
        Absorption [1/mm], at least 0.
    thickness_mm : float
        Thickness [mm], above 0.
    backing_reflectance : array_like, shape (w,) or scalar
        Share of diffuse light that the back returns into the slab [1].

    Notes
    -----
    Kubelka and Munk's two fluxes, R = (1 - Rg (a - b coth bSd)) / (a - Rg + b coth bSd), with K = 2 absorption and
    S = 3/4 reduced scatter - 1/4 absorption (both from memory). For a laminate 1.6 mm thick this is within 15 % of an
    adding-doubling computation, which is far less than the range assumed for its scattering.
    """
    absorb = np.asarray(absorb_per_mm, dtype=np.float64)
    backing = np.asarray(backing_reflectance, dtype=np.float64)
    spread = np.maximum(0.75 * reduced_scatter_per_mm - 0.25 * absorb, 1e-6)
    a = 1.0 + 2.0 * absorb / spread
    # Without absorption b is 0 and b coth(b S d) tends to 1 / (S d); a tiny b reaches that limit without 0 / 0
    b = np.sqrt(np.maximum(a * a - 1.0, 1e-12))
    b_coth = b / np.tanh(b * spread * thickness_mm)
    return np.asarray((1.0 - backing * (a - b_coth)) / (a - backing + b_coth), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirFace:
    """Share of diffuse light that a smooth face to air returns, from either side [1]."""

    from_outside: float
    from_inside: float


def build_air_face(refractive_index: float) -> AirFace:
    """Face of a dielectric of that index; the inside follows from 1 - r_in = (1 - r_out) / n^2 (exact)."""
    outside = diffuse_reflectance(relative_index=refractive_index)
    return AirFace(from_outside=outside, from_inside=1.0 - (1.0 - outside) / refractive_index**2)


def seen_from_air(inner: FloatArray, *, face: AirFace) -> FloatArray:
    """Diffuse reflectance seen through a smooth face, mirror reflection left out.

    Notes
    -----
    (1 - k1)(1 - k2) R / (1 - k2 R) with the hemispherical Fresnel reflectances k1 from outside and k2 from inside:
    Saunderson, J. Opt. Soc. Am. 32:727, 1942 (from memory). The room's mirror image in the face is left out: one tilts
    the board until it is gone.
    """
    k1, k2 = face.from_outside, face.from_inside
    return np.asarray((1.0 - k1) * (1.0 - k2) * inner / (1.0 - k2 * inner), dtype=np.float64)


def coated(film: Film, *, under: FloatArray, wavelength_nm: FloatArray) -> FloatArray:
    """Reflectance of a film over something: R + T^2 U / (1 - R U).

    Notes
    -----
    Kubelka, J. Opt. Soc. Am. 38:448, 1948 (from memory). The film's own tables already hold its face to air.
    """
    transmit = film_transmittance(film, wavelength_nm=wavelength_nm)
    reflect = film_reflectance(film, wavelength_nm=wavelength_nm)
    return np.asarray(reflect + transmit**2 * under / (1.0 - reflect * under), dtype=np.float64)


def _laminate_absorption(laminate: Laminate, *, scene: Scene, wavelength_nm: FloatArray) -> FloatArray:
    """Absorption of every slab version over the whole visible axis [1/mm], shape (version, w).

    The scene's axis holds only what the LEDs emit, so the catalogue's table is taken, times the version's factor.
    """
    nominal = laminate_absorb_per_mm(laminate, wavelength_nm=wavelength_nm)
    levels = np.asarray([float(np.sum(slab.absorb_per_mm)) for slab in scene.slabs])
    factors = levels / levels[0] if levels[0] > 0.0 else np.ones_like(levels)
    return np.asarray(factors[:, None] * nominal, dtype=np.float64)


def build_stack_xyz_per_lx(*, design: Design, catalog: Catalog, scene: Scene) -> FloatArray:
    """XYZ of every stack per lux of room light, for every slab version.

    Returns
    -------
    ndarray, shape (slab version, stack, 3)
        Tristimulus values [cd/m2 per lx], nominal version first; stacks in the order of `stacks()`.

    Raises
    ------
    CatalogError
        If the laminate, mask or legend is not in the catalogue.

    Notes
    -----
    Room light is taken as D65 and even over the front, so a diffuse surface of reflectance R sends R E / pi cd/m2.
    """
    wavelength_nm, weights = daylight_weights()
    films = {"mask": find_film(catalog, design.board.mask), "legend": find_film(catalog, design.board.legend)}
    laminate = find_laminate(catalog, design.board.laminate)
    absorb = _laminate_absorption(laminate, scene=scene, wavelength_nm=wavelength_nm)
    metals = {
        name: surface_reflectance(find_surface(catalog, name), wavelength_nm=wavelength_nm)
        for name in (COPPER_UNDER_MASK, COPPER_BEHIND, COPPER_BARE)
    }
    face = build_air_face(scene.refractive_index)
    table = np.empty((len(scene.slabs), N_STACKS, 3))
    for version, slab in enumerate(scene.slabs):
        reduced = slab.scatter_per_mm * (1.0 - scene.asymmetry)
        bases = _base_reflectances(
            reduced_scatter_per_mm=reduced,
            absorb_per_mm=absorb[version],
            thickness_mm=scene.thickness_mm,
            face=face,
            mask=films["mask"],
            metals=metals,
        )
        for index, stack in enumerate(stacks()):
            reflectance = _stack_reflectance(stack, bases=bases, films=films, face=face)
            table[version, index] = weights.T @ reflectance / math.pi
    return table


def _base_reflectances(
    *,
    reduced_scatter_per_mm: float,
    absorb_per_mm: FloatArray,
    thickness_mm: float,
    face: AirFace,
    mask: Film,
    metals: Mapping[str, FloatArray],
) -> dict[str, FloatArray]:
    """Inner reflectance of each base under a film, shape (w,)."""
    wavelength_nm = daylight_weights().wavelength_nm
    bare = np.full_like(wavelength_nm, face.from_inside)
    backings = {
        "laminate": bare,
        "laminate over masked back": coated(mask, under=bare, wavelength_nm=wavelength_nm),
        "laminate over copper": metals[COPPER_BEHIND],
    }
    bases = {
        name: slab_reflectance(
            reduced_scatter_per_mm=reduced_scatter_per_mm,
            absorb_per_mm=absorb_per_mm,
            thickness_mm=thickness_mm,
            backing_reflectance=backing,
        )
        for name, backing in backings.items()
    }
    return bases | {"copper": metals[COPPER_UNDER_MASK], "copper, bare": metals[COPPER_BARE]}


def _stack_reflectance(
    stack: Stack, *, bases: Mapping[str, FloatArray], films: Mapping[str, Film], face: AirFace
) -> FloatArray:
    wavelength_nm = daylight_weights().wavelength_nm
    if not stack.masked and not stack.inked:
        if stack.base == "copper":
            return bases["copper, bare"]
        return seen_from_air(bases[stack.base], face=face)
    reflectance = bases[stack.base]
    for name, present in (("mask", stack.masked), ("legend", stack.inked)):
        if present:
            reflectance = coated(films[name], under=reflectance, wavelength_nm=wavelength_nm)
    return reflectance


def stack_shares(maps: FaceMaps, *, resample: Resampling) -> Iterator[tuple[int, FloatArray]]:
    """Share of every pixel that each stack covers, on the grid that `resample` leads to; empty stacks are left out.

    Yields
    ------
    index : int
        Stack, in the order of `stacks()`.
    shares : ndarray, shape (y, x)
        0 to 1; over all stacks they sum to the share of laminate.

    Notes
    -----
    Where layers only partly cover a fine pixel they are taken as independent of each other.
    """
    behind = maps.copper_back
    for inner in maps.copper_inner:
        behind = np.maximum(behind, inner)
    below = maps.inside * (1.0 - maps.copper_front)
    bases = (
        below * (1.0 - behind) * (1.0 - maps.mask_back),
        below * (1.0 - behind) * maps.mask_back,
        below * behind,
        maps.inside * maps.copper_front,
    )
    masks = (1.0 - maps.mask_front, maps.mask_front)
    inks = (1.0 - maps.legend_front, maps.legend_front)
    combinations = ((base, mask, ink) for base in bases for mask in masks for ink in inks)
    for index, (base, mask, ink) in enumerate(combinations):
        fine = base * mask * ink
        if fine.any():
            yield index, resample(fine)


def room_map(maps: FaceMaps, *, stack_xyz: FloatArray, resample: Resampling) -> FloatArray:
    """XYZ of the board in room light, shape (3, y, x), on the grid that `resample` leads to; 0 off the laminate.

    Parameters
    ----------
    maps : FaceMaps
        Faces on the fine grid.
    stack_xyz : ndarray, shape (stack, 3)
        Tristimulus values of each stack [cd/m2], or per lux.
    """
    total = np.zeros((3, resample.along_y.shape[0], resample.along_x.shape[0]))
    for index, shares in stack_shares(maps, resample=resample):
        total += stack_xyz[index][:, None, None] * shares
    return total
