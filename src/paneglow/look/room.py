"""The board in room light: what each stack of laminate, copper, mask and legend returns to the eye."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

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
from paneglow.look.slab import slab_return
from paneglow.physics import diffuse_reflectance
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


def coated(film: Film, *, under: FloatArray, wavelength_nm: FloatArray) -> FloatArray:
    """Reflectance of a film over something: R + T^2 U / (1 - R U).

    Parameters
    ----------
    film : Film
        Its tables already hold its face to air.
    under : ndarray, shape (..., w)
        Reflectance U of what lies below [1], 0 to 1.
    wavelength_nm : ndarray, shape (w,)
        Wavelengths [nm].

    Returns
    -------
    ndarray, shape (..., w)
        Reflectance [1], 0 to 1.

    References
    ----------
    P. Kubelka, J. Opt. Soc. Am. 44:330, 1954, *New contributions to the optics of intensely light-scattering
    materials. Part II* (abstract).
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

    Parameters
    ----------
    design, catalog : Design, Catalog
        Laminate, mask and legend by name; their tables.
    scene : Scene
        Slab versions, thickness and index of the laminate.

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
    films = {
        "mask": find_film(catalog, design.board.mask, kind="mask"),
        "legend": find_film(catalog, design.board.legend, kind="legend"),
    }
    laminate = find_laminate(catalog, design.board.laminate)
    absorb = _laminate_absorption(laminate, scene=scene, wavelength_nm=wavelength_nm)
    metals = {
        name: surface_reflectance(find_surface(catalog, name), wavelength_nm=wavelength_nm)
        for name in (COPPER_UNDER_MASK, COPPER_BEHIND, COPPER_BARE)
    }
    bases = _bases(absorb_per_mm=absorb, scene=scene, mask=films["mask"], metals=metals)
    reflectances = [_stack_reflectance(stack, bases=bases, films=films) for stack in stacks()]
    return np.stack([reflectance @ weights for reflectance in reflectances], axis=1) / math.pi


class _Base(NamedTuple):
    """Reflectance of a base, each of shape (version, w): for light inside it, and seen bare from the air."""

    inner: FloatArray
    from_air: FloatArray


def _bases(
    *, absorb_per_mm: FloatArray, scene: Scene, mask: Film, metals: Mapping[str, FloatArray]
) -> dict[str, _Base]:
    """Every base for every slab version; the faces behind a laminate are air, mask on air, or foil."""
    wavelength_nm = daylight_weights().wavelength_nm
    reduced = np.asarray([[slab.scatter_per_mm * (1.0 - scene.asymmetry)] for slab in scene.slabs])
    air = np.full_like(wavelength_nm, air_reflectance_from_inside(scene.refractive_index))
    backings = {
        "laminate": None,
        "laminate over masked back": coated(mask, under=air, wavelength_nm=wavelength_nm),
        "laminate over copper": metals[COPPER_BEHIND],
    }
    bases = {
        name: _Base(
            *slab_return(
                reduced_scatter_per_mm=reduced,
                absorb_per_mm=absorb_per_mm,
                thickness_mm=scene.thickness_mm,
                refractive_index=scene.refractive_index,
                backing_reflectance=backing,
            )
        )
        for name, backing in backings.items()
    }
    shape = absorb_per_mm.shape
    copper = _Base(
        inner=np.broadcast_to(metals[COPPER_UNDER_MASK], shape), from_air=np.broadcast_to(metals[COPPER_BARE], shape)
    )
    return bases | {"copper": copper}


@lru_cache(maxsize=8)
def air_reflectance_from_inside(refractive_index: float) -> float:
    """Share of diffuse light inside a dielectric that its smooth face to air returns.

    Parameters
    ----------
    refractive_index : float
        Index over that of air [1], above 1.

    Returns
    -------
    float
        1 - (1 - r) / n^2 of the share r returned outside [1], exact by reciprocity.
    """
    return 1.0 - (1.0 - diffuse_reflectance(relative_index=refractive_index)) / refractive_index**2


def _stack_reflectance(stack: Stack, *, bases: Mapping[str, _Base], films: Mapping[str, Film]) -> FloatArray:
    """Reflectance of one stack, shape (version, w)."""
    if not stack.masked and not stack.inked:
        return bases[stack.base].from_air
    wavelength_nm = daylight_weights().wavelength_nm
    reflectance = bases[stack.base].inner
    for name, present in (("mask", stack.masked), ("legend", stack.inked)):
        if present:
            reflectance = coated(films[name], under=reflectance, wavelength_nm=wavelength_nm)
    return reflectance


def stack_shares(maps: FaceMaps, *, resample: Resampling) -> Iterator[tuple[int, FloatArray]]:
    """Share of every pixel that each stack covers; empty stacks are left out.

    Parameters
    ----------
    maps : FaceMaps
        Coverage of both faces, 0 to 1, on the fine grid.
    resample : Resampling
        Leads to the grid of the shares.

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
    """XYZ of the board in room light.

    Parameters
    ----------
    maps : FaceMaps
        Faces on the fine grid.
    stack_xyz : ndarray, shape (stack, 3)
        Tristimulus values of each stack [cd/m2], or per lux.
    resample : Resampling
        Leads to the grid of the result.

    Returns
    -------
    ndarray, shape (3, y, x)
        0 off the laminate.
    """
    total = np.zeros((3, resample.along_y.shape[0], resample.along_x.shape[0]))
    for index, shares in stack_shares(maps, resample=resample):
        total += stack_xyz[index][:, None, None] * shares
    return total
