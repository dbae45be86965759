"""What the traced light adds up to, per LED and per emitted lumen."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fates:
    """Shares of the emitted luminous flux by where they end; each array has shape (slab version,), sums to 1."""

    front: npt.NDArray[np.float64]  # leaves the front face
    through: npt.NDArray[np.float64]  # leaves the front through a hole, never having met laminate
    back: npt.NDArray[np.float64]  # leaves the back face again, or is stopped on entry
    edge: npt.NDArray[np.float64]  # crosses the outline sideways
    hole: npt.NDArray[np.float64]  # runs into a hole sideways
    absorbed: npt.NDArray[np.float64]  # taken up by laminate, coats, copper
    missed: npt.NDArray[np.float64]  # never met the board


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What a short trace told of one LED in its surroundings.

    Attributes
    ----------
    is_enough : bool
        Whether the surroundings are the whole board, or else what is seen near their border is negligible even in the
        version that scatters least.
    comes_out_frac : float
        Share of its light that leaves at the front, in the nominal version [1].
    """

    is_enough: bool
    comes_out_frac: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LedLight:
    """Light of one LED, for one emitted lumen.

    Attributes
    ----------
    ref : str
    xyz : ndarray, shape (slab version, 3, y, x), float32
        CIE 1931 tristimulus maps; the second is luminance [cd/m2 per lm]. They cover the part of the map grid that the
        light can reach.
    batches : ndarray, shape (scattering, batch, y, x), float32
        Luminance of the first slab version of every scattering coefficient (`slabs_by_scattering`) in equal independent
        batches; the mean of the first is `xyz[0, 1]`.
    fates, fates_se : Fates
    angles : ndarray, shape (window, bin, slab version)
        Share of the flux that leaves the front there, by polar angle; window 0 is the front between windows. The bins
        are equal in the squared sine of the angle, so that a Lambertian face fills them alike.
    angles_se : ndarray, shape (window, bin)
        Standard error of the first slab version.
    photons : int
        Photons launched for the first slab version.
    corner : tuple of int
        Row and column of the map grid where the maps begin.
    """

    ref: str
    xyz: npt.NDArray[np.float32]
    batches: npt.NDArray[np.float32]
    fates: Fates
    fates_se: Fates
    angles: npt.NDArray[np.float64]
    angles_se: npt.NDArray[np.float64]
    photons: int
    corner: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tally:
    """Light of every LED of a scene, in the order of `scene.emitters`; `photons` is the sum over LEDs."""

    map_grid: Grid  # Grid of the luminance maps
    slab_names: tuple[str, ...]  # Names of the slab versions, the nominal one first
    leds: tuple[LedLight, ...]  # Light of each LED, in the order of `scene.emitters`
    seed: int  # Seed of the random numbers
    device: str  # What traced the light
    photons: int  # Photons launched, over all LEDs
    seconds: float  # Time that the trace took


def add_light(total: npt.NDArray[np.floating], part: npt.NDArray[np.floating], *, corner: tuple[int, int]) -> None:
    """Add a part of a map [..., y, x] to the whole, in place."""
    row, column = corner
    height, width = part.shape[-2:]
    total[..., row : row + height, column : column + width] += part


def cut_light(
    part: npt.NDArray[np.floating], *, corner: tuple[int, int], rows: slice, columns: slice
) -> npt.NDArray[np.float64]:
    """Rows and columns of the whole map, from a part of it [..., y, x] that begins at `corner`; 0 beyond the part."""
    found = np.zeros((*part.shape[:-2], rows.stop - rows.start, columns.stop - columns.start))
    height, width = part.shape[-2:]
    top, bottom = max(rows.start, corner[0]), min(rows.stop, corner[0] + height)
    left, right = max(columns.start, corner[1]), min(columns.stop, corner[1] + width)
    if top < bottom and left < right:
        found[..., top - rows.start : bottom - rows.start, left - columns.start : right - columns.start] = part[
            ..., top - corner[0] : bottom - corner[0], left - corner[1] : right - corner[1]
        ]
    return found
