"""Tracing one emitter on the CPU: batches in threads, one compiled walk."""

import os
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor

import numpy as np

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
from paneglow.transport.companions import build_company, count_companions
from paneglow.transport.job import N_ANGLE_BINS, BatchTally, TraceJob, count_windows
from paneglow.transport.kernels.batch import trace_batch
from paneglow.transport.kernels.inputs import N_FATES, Workspace


def trace_jobs(
    jobs: Iterable[TraceJob], *, seed: int, n_threads: int | None = None
) -> Iterator[tuple[TraceJob, BatchTally]]:
    """Trace one job after the other, each over all threads."""
    scene, ground = None, None
    for job in jobs:
        if job.scene is not scene:
            scene, ground = job.scene, build_ground(job.scene)
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
                ground=ground,
            ),
        )


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
    angles = np.zeros((n_batches, count_windows(scene), N_ANGLE_BINS, len(versions)))
    n_companions = count_companions(scene, emitter, n_versions=len(versions))
    emitter_input = build_emitter_input(emitter, number=number, n_versions=len(versions), n_companions=n_companions)
    ground = build_ground(scene) if ground is None else ground
    face = ground.face
    coat = build_coat_input(scene, emitter, n_versions=len(versions))
    slab = build_slab_input(scene, emitter, versions=versions)
    air = build_air_input(scene, emitter, n_versions=len(versions))
    view = build_view_input(scene, emitter, n_versions=len(versions), map_grid=map_grid, air=air, ground=ground)

    def trace_one(batch: int) -> None:
        weight, aside, chain, before = np.ones((4, slab.absorb.size))
        company = build_company(n_companions, scene=scene, emitter=emitter, n_versions=len(versions))
        # Summed in double precision: one pixel may take 1e8 scores, too small beside it for the digits of a float32
        sums = np.zeros(maps.shape[1:])
        work = Workspace(weight, aside, chain, before, sums, fates[batch], angles[batch], company)
        trace_batch(
            batch, per_batch, seed, emitter_input, face, coat, slab, air, view, np.zeros(4, dtype=np.uint64), work
        )
        maps[batch] = sums / per_batch

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
    return BatchTally(maps.reshape(n_batches, len(versions), 3, *map_grid.shape), fates, angles)
