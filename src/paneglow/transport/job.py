"""One piece of tracing, for any device, and what comes back."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene, Slab

N_ANGLE_BINS = 10  # equal in the squared sine of the polar angle: a Lambertian face fills them alike


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraceJob:
    """One emitter through the slab versions that share a scattering coefficient."""

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
    """Windows that light is booked under by angle; 0 is the front between windows."""
    return 1 if scene.windows is None else 1 + int(scene.windows.max())
