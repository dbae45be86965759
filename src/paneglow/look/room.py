"""The board in room light: what each stack of laminate, copper, mask and legend returns to the eye."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.board import FaceMaps
from paneglow.catalog import Catalog, Film
from paneglow.design import Design
from paneglow.errors import CatalogError
from paneglow.look.colour import daylight_weights
from paneglow.look.openings import Resampling
from paneglow.physics import coefficient_at
from paneglow.physics.fresnel import diffuse_reflectance
from paneglow.scene import Scene

FloatArray = npt.NDArray[np.float64]

BASES = ("laminate", "laminate over masked back", "laminate over copper", "copper")
# Smooth copper under resin of index 1.55, computed from n, k of Johnson and Christy, Phys. Rev. B 6:4370, 1972
COPPER_NM = (450.0, 460.0, 525.0, 550.0, 590.0, 620.0, 630.0, 650.0)
COPPER_REFLECTANCE = (0.431, 0.438, 0.492, 0.527, 0.700, 0.869, 0.884, 0.910)
# Bonded side of the foil, seen through the laminate: no published value; assumed 0.25, 0.10 to 0.40 (from memory)
FOIL_REFLECTANCE = 0.25
# Solderable finish over bare copper, as a matt metal: common practice, no source; assumed 0.55, 0.4 to 0.8
FINISH_REFLECTANCE = 0.55

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


def seen_from_air(inner: FloatArray, *, refractive_index: float) -> FloatArray:
    """Diffuse reflectance seen through a smooth face, mirror reflection left out.

    Notes
    -----
    (1 - k1)(1 - k2) R / (1 - k2 R) with the hemispherical Fresnel reflectances k1 from outside and k2 from inside:
    Saunderson, J. Opt. Soc. Am. 32:727, 1942 (from memory). The room's mirror image in the face is left out: one tilts
    the board until it is gone.
    """
    outside = diffuse_reflectance(relative_index=refractive_index)
    inside = diffuse_reflectance(relative_index=1.0 / refractive_index)
    return np.asarray((1.0 - outside) * (1.0 - inside) * inner / (1.0 - inside * inner), dtype=np.float64)


def coated(film: Film, *, under: FloatArray, wavelength_nm: FloatArray) -> FloatArray:
    """Reflectance of a film over something: R + T^2 U / (1 - R U).

    Notes
    -----
    Kubelka, J. Opt. Soc. Am. 38:448, 1948 (from memory). The film's own tables already hold its face to air.
    """
    transmit = coefficient_at(wavelength_nm, table_wavelength_nm=film.wavelength_nm, table_value=film.transmittance)
    reflect = coefficient_at(wavelength_nm, table_wavelength_nm=film.wavelength_nm, table_value=film.reflectance)
    return np.asarray(reflect + transmit**2 * under / (1.0 - reflect * under), dtype=np.float64)


def _film(catalog: Catalog, *, code: str) -> Film:
    if code not in catalog.films:
        raise CatalogError(f"no film {code!r} in the catalogue; known are {', '.join(sorted(catalog.films))}")
    return catalog.films[code]


def _laminate_absorption(*, design: Design, catalog: Catalog, scene: Scene, wavelength_nm: FloatArray) -> FloatArray:
    """Absorption of every slab version over the whole visible axis [1/mm], shape (version, w).

    The scene's axis holds only what the LEDs emit, so the catalogue's table is taken, times the version's factor.
    """
    code = design.board.laminate
    if code not in catalog.laminates:
        raise CatalogError(f"no laminate {code!r} in the catalogue; known are {', '.join(sorted(catalog.laminates))}")
    table = catalog.laminates[code].absorption
    nominal = coefficient_at(wavelength_nm, table_wavelength_nm=table.wavelength_nm, table_value=table.absorb_per_mm)
    level = float(np.mean(scene.slabs[0].absorb_per_mm)) if scene.slabs[0].absorb_per_mm.size else 0.0
    factors = [float(np.mean(slab.absorb_per_mm)) / level if level > 0.0 else 1.0 for slab in scene.slabs]
    return np.asarray(factors)[:, None] * nominal


def build_stack_xyz(*, design: Design, catalog: Catalog, scene: Scene) -> FloatArray:
    """XYZ of every stack in the room light of the design, for every slab version.

    Returns
    -------
    ndarray, shape (slab version, stack, 3)
        Tristimulus values [cd/m2], nominal version first; stacks in the order of `stacks()`.

    Raises
    ------
    CatalogError
        If the laminate, mask or legend is not in the catalogue.

    Notes
    -----
    Room light is taken as D65 and even over the front, so a diffuse surface of reflectance R sends R E / pi cd/m2.
    """
    wavelength_nm, weights = daylight_weights()
    films = {"mask": _film(catalog, code=design.board.mask), "legend": _film(catalog, code=design.board.legend)}
    absorb = _laminate_absorption(design=design, catalog=catalog, scene=scene, wavelength_nm=wavelength_nm)
    white_cd_m2 = design.view.ambient_lx / math.pi
    table = np.empty((len(scene.slabs), N_STACKS, 3))
    for version, slab in enumerate(scene.slabs):
        reduced = slab.scatter_per_mm * (1.0 - scene.asymmetry)
        bases = _base_reflectances(
            reduced_scatter_per_mm=reduced, absorb_per_mm=absorb[version], scene=scene, mask=films["mask"]
        )
        for index, stack in enumerate(stacks()):
            reflectance = _stack_reflectance(stack, bases=bases, films=films, index=scene.refractive_index)
            table[version, index] = white_cd_m2 * (weights.T @ reflectance)
    return table


def _base_reflectances(
    *, reduced_scatter_per_mm: float, absorb_per_mm: FloatArray, scene: Scene, mask: Film
) -> dict[str, FloatArray]:
    """Inner reflectance of each base under a film, shape (w,)."""
    wavelength_nm = daylight_weights().wavelength_nm
    face = np.full_like(wavelength_nm, diffuse_reflectance(relative_index=1.0 / scene.refractive_index))
    backings = {
        "laminate": face,
        "laminate over masked back": coated(mask, under=face, wavelength_nm=wavelength_nm),
        "laminate over copper": np.full_like(wavelength_nm, FOIL_REFLECTANCE),
    }
    copper = coefficient_at(wavelength_nm, table_wavelength_nm=COPPER_NM, table_value=COPPER_REFLECTANCE)
    bases = {
        name: slab_reflectance(
            reduced_scatter_per_mm=reduced_scatter_per_mm,
            absorb_per_mm=absorb_per_mm,
            thickness_mm=scene.thickness_mm,
            backing_reflectance=backing,
        )
        for name, backing in backings.items()
    }
    return bases | {"copper": copper}


def _stack_reflectance(
    stack: Stack, *, bases: Mapping[str, FloatArray], films: Mapping[str, Film], index: float
) -> FloatArray:
    wavelength_nm = daylight_weights().wavelength_nm
    if not stack.masked and not stack.inked:
        if stack.base == "copper":
            return np.full_like(wavelength_nm, FINISH_REFLECTANCE)
        return seen_from_air(bases[stack.base], refractive_index=index)
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
    """XYZ of the board in room light, shape (3, y, x), on the grid that `resample` leads to.

    Parameters
    ----------
    maps : FaceMaps
        Faces on the fine grid.
    stack_xyz : ndarray, shape (stack, 3)
        Tristimulus values of each stack [cd/m2].
    """
    total: FloatArray | None = None
    for index, shares in stack_shares(maps, resample=resample):
        part = stack_xyz[index][:, None, None] * shares
        total = part if total is None else total + part
    if total is None:
        return np.zeros((3, resample.along_y.shape[0], resample.along_x.shape[0]))
    return total
