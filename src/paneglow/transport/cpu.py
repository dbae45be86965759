"""Tracing one emitter on the CPU: batches in threads, one compiled walk."""

import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene, Slab
from paneglow.transport.arrays import SceneGeometry, build_geometry, build_setup
from paneglow.transport.kernels.inputs import N_ANGLE_BINS, N_FATES, Workspace
from paneglow.transport.kernels.launch import trace_batch
from paneglow.transport.replicas import build_replicas, replica_count
from paneglow.transport.tally import BatchTally, TraceJob, count_windows


def trace_jobs(
    jobs: Iterable[TraceJob], *, seed: int, n_threads: int | None = None
) -> Iterator[tuple[TraceJob, BatchTally]]:
    """Trace one job after the other, each over all threads.

    Parameters
    ----------
    jobs : iterable of TraceJob
    seed : int
    n_threads : int, optional
        As many as processors where absent.

    Raises
    ------
    TransportError
        If the versions of a job scatter differently, or a coated class is rough.
    """
    scene, geometry = None, None
    for job in jobs:
        if job.scene is not scene:
            scene, geometry = job.scene, build_geometry(job.scene)
        yield (
            job,
            trace_emitter(
                job.scene,
                job.emitter,
                number=job.number,
                versions=job.versions,
                map_grid=job.map_grid,
                photons=job.photons,
                n_batches=job.n_batches,
                seed=seed,
                n_threads=n_threads,
                geometry=geometry,
            ),
        )


def is_compiled() -> bool:
    """Whether the tracing code is ready, or kept on disk; compiling it takes some seconds."""
    kept = Path(trace_batch.stats.cache_path).glob(f"{trace_batch.__module__.rsplit('.', 1)[-1]}.trace_batch-*.nbi")
    return bool(trace_batch.signatures) or any(kept)


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
    geometry: SceneGeometry | None = None,
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
    geometry : SceneGeometry, optional
        What all emitters of the scene share (`build_geometry`); made here where absent.

    Returns
    -------
    BatchTally
        Each batch is an estimate of its own: luminance per emitted lumen [cd/m2] and shares of the flux [1].
    """
    per_batch = -(-photons // n_batches)
    n_versions = len(versions)
    maps = np.zeros((n_batches, 3 * n_versions, *map_grid.shape), dtype=np.float32)
    fates = np.zeros((n_batches, N_FATES, n_versions))
    angles = np.zeros((n_batches, count_windows(scene), N_ANGLE_BINS, n_versions))
    n_replicas = replica_count(scene, emitter, n_versions=n_versions)
    geometry = build_geometry(scene) if geometry is None else geometry

    def workspace(batch: int) -> Workspace:
        weights = np.ones((4, n_versions * emitter.nodes.size))
        # Summed in double precision: one pixel may take 1e8 scores, too small beside it for the digits of a float32
        return Workspace(
            weights[0],
            weights[1],
            weights[2],
            weights[3],
            np.zeros((maps.shape[1], map_grid.n_y * map_grid.n_x)),
            fates[batch],
            angles[batch].reshape(angles.shape[1], -1),
            build_replicas(n_replicas, scene=scene, emitter=emitter, n_versions=n_versions),
        )

    setup = build_setup(
        scene, emitter, number=number, versions=versions, map_grid=map_grid, geometry=geometry, work=workspace(0),
        n_replicas=n_replicas,
    )  # fmt: skip

    def trace_one(batch: int) -> None:
        own = setup._replace(work=workspace(batch))
        trace_batch(batch, per_batch, seed, np.zeros(4, dtype=np.uint64), own)
        maps[batch] = own.work.maps.reshape(maps.shape[1:]) / per_batch

    # The compiled walk holds no Python lock; a batch's result does not depend on which thread traced it
    with ThreadPoolExecutor(max_workers=n_threads or os.cpu_count()) as pool:
        try:
            list(pool.map(trace_one, range(n_batches)))
        except BaseException:
            # Ctrl-C, above all: what runs cannot be stopped, what waits need not start
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    fates /= per_batch
    angles /= per_batch
    return BatchTally(maps.reshape(n_batches, n_versions, 3, *map_grid.shape), fates, angles)
