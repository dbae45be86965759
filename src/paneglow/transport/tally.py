"""What is traced, piece by piece on any device, and what it adds up to per LED and emitted lumen."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene, Slab

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceJob:
    """One emitter through the slab versions that share a scattering coefficient."""

    scene: Scene  # its surroundings
    number: int  # names the emitter's random streams
    emitter: Emitter
    versions: tuple[Slab, ...]
    map_grid: Grid  # where luminance is scored
    photons: int  # in all, rounded up to equal batches
    n_batches: int
    indices: tuple[int, ...] = (0,)  # places of the versions among the scene's slabs

    @property
    def per_batch(self) -> int:
        """Photons of each batch."""
        return -(-self.photons // self.n_batches)

    @property
    def work(self) -> float:
        """Expected work, up to a common factor: collisions grow with the scattering coefficient."""
        return self.photons * (1.0 + self.versions[0].scatter_per_mm)


class BatchTally(NamedTuple):
    """Sums per emitted lumen, by batch.

    maps[batch, version, xyz, y, x], fates[batch, fate, version], and what leaves the front by polar angle,
    angles[batch, window, bin, version].
    """

    maps: npt.NDArray[np.float32]
    fates: npt.NDArray[np.float64]
    angles: npt.NDArray[np.float64]


def count_windows(scene: Scene) -> int:
    """Windows that light is booked under by angle; 0 is the front between windows.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    int
    """
    return 1 if scene.windows is None else 1 + int(scene.windows.max())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fates:
    """Shares of the emitted luminous flux by where they end; each array has shape (slab version,), sums to 1."""

    front: npt.NDArray[np.float64]  # leaves the front face
    through: npt.NDArray[np.float64]  # leaves the front through a hole, straight or off its wall
    back: npt.NDArray[np.float64]  # leaves the back face again, or is stopped on entry
    edge: npt.NDArray[np.float64]  # leaves for ever by the outline's rim
    hole: npt.NDArray[np.float64]  # comes out of a hole's rim and leaves at the back
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
    """Add a part of a map [..., y, x] to the whole, in place.

    Parameters
    ----------
    total : ndarray, shape (..., y, x)
    part : ndarray, shape (..., y, x)
    corner : tuple of int
        Row and column of the whole map where the part begins.
    """
    row, column = corner
    height, width = part.shape[-2:]
    total[..., row : row + height, column : column + width] += part


def cut_light(
    part: npt.NDArray[np.floating], *, corner: tuple[int, int], rows: slice, columns: slice
) -> npt.NDArray[np.float64]:
    """Rows and columns of the whole map, from a part of it [..., y, x] that begins at `corner`; 0 beyond the part.

    Parameters
    ----------
    part : ndarray, shape (..., y, x)
    corner : tuple of int
        Row and column of the whole map where the part begins.
    rows, columns : slice
        Of the whole map.

    Returns
    -------
    ndarray, shape (..., y, x)
    """
    found = np.zeros((*part.shape[:-2], rows.stop - rows.start, columns.stop - columns.start))
    height, width = part.shape[-2:]
    top, bottom = max(rows.start, corner[0]), min(rows.stop, corner[0] + height)
    left, right = max(columns.start, corner[1]), min(columns.stop, corner[1] + width)
    if top < bottom and left < right:
        found[..., top - rows.start : bottom - rows.start, left - columns.start : right - columns.start] = part[
            ..., top - corner[0] : bottom - corner[0], left - corner[1] : right - corner[1]
        ]
    return found


def light_of(scene: Scene, tallies: Iterable[tuple[TraceJob, BatchTally]]) -> LedLight:
    """Versions of all jobs of one emitter in the scene's order; the job of the nominal version comes first.

    Parameters
    ----------
    scene : Scene
    tallies : iterable of (TraceJob, BatchTally)

    Returns
    -------
    LedLight
    """
    traced = sorted(tallies, key=lambda pair: pair[0].indices)
    n_versions = len(scene.slabs)
    first_job, first = traced[0]
    xyz = np.zeros((n_versions, 3, *first_job.map_grid.shape), dtype=np.float32)
    means = np.zeros((first.fates.shape[1], n_versions))
    errors = np.zeros_like(means)
    angles = np.zeros((*first.angles.shape[1:3], n_versions))
    for job, tally in traced:
        at = list(job.indices)
        xyz[at] = tally.maps.mean(axis=0)
        means[:, at] = tally.fates.mean(axis=0)
        angles[:, :, at] = tally.angles.mean(axis=0)
        errors[:, at] = tally.fates.std(axis=0, ddof=1) / np.sqrt(job.n_batches)
    return LedLight(
        ref=first_job.emitter.ref,
        xyz=xyz,
        batches=np.stack([tally.maps[:, 0, 1] for _, tally in traced]),
        fates=_named(means),
        fates_se=_named(errors),
        angles=angles,
        angles_se=first.angles[..., 0].std(axis=0, ddof=1) / np.sqrt(first_job.n_batches),
        photons=first_job.photons,
    )


def _named(rows: FloatArray) -> Fates:
    """Rows in the order of the kernels' fates, by name."""
    front, through, back, edge, hole, absorbed, missed = rows
    return Fates(front=front, through=through, back=back, edge=edge, hole=hole, absorbed=absorbed, missed=missed)


def joined(earlier: LedLight, later: LedLight) -> LedLight:
    """Two independent stages of one LED's trace as one, each by its photons; batches pair up and stay independent.

    Parameters
    ----------
    earlier, later : LedLight

    Returns
    -------
    LedLight
    """
    photons = earlier.photons + later.photons
    old, new = earlier.photons / photons, later.photons / photons

    def mean(a: FloatArray, b: FloatArray) -> FloatArray:
        return old * a + new * b

    def error(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(np.hypot(old * a, new * b))

    def light_mean(a: npt.NDArray[np.float32], b: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        return np.float32(old) * a + np.float32(new) * b

    names = [field.name for field in fields(Fates)]
    return replace(
        earlier,
        xyz=light_mean(earlier.xyz, later.xyz),
        batches=light_mean(earlier.batches, later.batches),
        fates=Fates(**{name: mean(getattr(earlier.fates, name), getattr(later.fates, name)) for name in names}),
        fates_se=Fates(
            **{name: error(getattr(earlier.fates_se, name), getattr(later.fates_se, name)) for name in names}
        ),
        angles=mean(earlier.angles, later.angles),
        angles_se=error(earlier.angles_se, later.angles_se),
        photons=photons,
    )
