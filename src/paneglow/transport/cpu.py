"""Tracing one emitter on the CPU: batches in threads, one compiled walk."""

import os
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene, Slab
from paneglow.transport.arrays import (
    Ground,
    build_air_input,
    build_coat_input,
    build_emitter_input,
    build_ground,
    build_slab_input,
    build_view_input,
)
from paneglow.transport.kernels.batch import trace_batch
from paneglow.transport.kernels.inputs import N_FATES, Workspace

N_ANGLE_BINS = 10  # equal in the squared sine of the polar angle: a Lambertian face fills them alike


class BatchTally(NamedTuple):
    """Sums per emitted lumen, by batch.

    maps[batch, version, xyz, y, x], fates[batch, fate, version], and what leaves the front by polar angle,
    angles[batch, window, bin, version].
    """

    maps: npt.NDArray[np.float32]
    fates: npt.NDArray[np.float64]
    angles: npt.NDArray[np.float64]


def trace_emitter(
    scene: Scene,
    emitter: Emitter,
    *,
    number: int,
    versions: tuple[Slab, ...],
    map_grid: Grid,
    photons: int,
    n_batches: int,
    seed: int,
    n_threads: int | None = None,
    ground: Ground | None = None,
) -> BatchTally:
    """Trace one emitter through slab versions that share a scattering coefficient.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    number : int
        Names the emitter's random stream.
    versions : tuple of Slab
    map_grid : Grid
        Where luminance is scored.
    photons, n_batches : int
        Photons in all, rounded up to equal batches.
    seed : int
    n_threads : int, optional
        Threads; as many as the machine has processors where absent. The result does not depend on it.
    ground : Ground, optional
        What all emitters of the scene share (`build_ground`); made here where absent.

    Returns
    -------
    BatchTally
        Each batch is an estimate of its own: luminance per emitted lumen [cd/m2] and shares of the flux [1].
    """
    per_batch = -(-photons // n_batches)
    maps = np.zeros((n_batches, 3 * len(versions), *map_grid.shape), dtype=np.float32)
    fates = np.zeros((n_batches, N_FATES, len(versions)))
    n_windows = 1 if scene.windows is None else 1 + int(scene.windows.max())
    angles = np.zeros((n_batches, n_windows, N_ANGLE_BINS, len(versions)))
    emitter_input = build_emitter_input(emitter, number=number, n_versions=len(versions))
    ground = build_ground(scene) if ground is None else ground
    face = ground.face
    coat = build_coat_input(scene, emitter, n_versions=len(versions))
    slab = build_slab_input(scene, emitter, versions=versions)
    air = build_air_input(scene, emitter, n_versions=len(versions))
    view = build_view_input(scene, emitter, n_versions=len(versions), map_grid=map_grid, air=air, ground=ground)

    def trace_one(batch: int) -> None:
        weight, aside, chain, before = np.ones((4, slab.absorb.size))
        work = Workspace(weight, aside, chain, before, maps[batch], fates[batch], angles[batch])
        trace_batch(batch, per_batch, seed, emitter_input, face, coat, slab, air, view, np.zeros(4), work)

    # The compiled walk holds no Python lock; a batch's result does not depend on which thread traced it
    with ThreadPoolExecutor(max_workers=n_threads or os.cpu_count()) as pool:
        try:
            list(pool.map(trace_one, range(n_batches)))
        except BaseException:
            # Ctrl-C, above all: what runs cannot be stopped, what waits need not start
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    maps /= per_batch
    fates /= per_batch
    angles /= per_batch
    return BatchTally(maps.reshape(n_batches, len(versions), 3, *map_grid.shape), fates, angles)
