"""Many LEDs, versions and wavelengths at a time on an NVIDIA GPU."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from numba import cuda

from paneglow.transport.arrays import Ground, build_ground
from paneglow.transport.cuda.kernel import Gathering, LoopShape, build_loop
from paneglow.transport.cuda.tables import build_tables
from paneglow.transport.job import N_ANGLE_BINS, BatchTally, TraceJob, count_windows
from paneglow.transport.kernels.inputs import N_FATES

MEMORY_FRAC = 0.5  # of what is free: maps of a launch may take so much, and their copy on the host as much
SUM_BYTES = 8  # tallies are summed in double precision
LEAST_PHOTONS, MOST_PHOTONS = 512, 1 << 16  # of one block
ROUNDS = 6  # blocks for every one that runs at a time, so that all of the GPU ends at about the same time

GATHERING = Gathering()

FloatArray = npt.NDArray[np.float64]


def trace_jobs(jobs: Iterable[TraceJob], *, seed: int) -> Iterator[tuple[TraceJob, BatchTally]]:
    """Trace jobs of one shape in one launch, or in as few as the memory allows.

    Parameters
    ----------
    jobs : iterable of TraceJob
    seed : int

    Yields
    ------
    TraceJob, BatchTally
        As `cpu.trace_jobs`, in another order.
    """
    grounds: dict[int, Ground] = {}
    shapes: dict[tuple[object, ...], list[TraceJob]] = {}
    for job in jobs:
        ground = grounds.setdefault(id(job.scene), build_ground(job.scene))
        sight = hash((ground.rays.tobytes(), ground.n_rays.tobytes()))
        layers = ground.face.inner_z.size
        shape = (len(job.versions), job.emitter.nodes.size, job.n_batches, layers, sight)
        shapes.setdefault(shape, []).append(job)
    for alike in shapes.values():
        fit = max(1, int(MEMORY_FRAC * cuda.current_context().get_memory_info().free / max(map(_map_bytes, alike))))
        for start in range(0, len(alike), fit):
            together = alike[start : start + fit]
            yield from zip(together, launch(together, grounds=grounds, seed=seed), strict=True)


def launch(
    jobs: Sequence[TraceJob],
    *,
    grounds: Mapping[int, Ground],
    seed: int,
    shape: LoopShape | None = None,
    gathering: Gathering = GATHERING,
) -> list[BatchTally]:
    """Trace jobs that share versions, nodes and batches in one launch.

    Parameters
    ----------
    jobs : sequence of TraceJob
    grounds : mapping of int to Ground
        By `id` of the jobs' scenes.
    seed : int
    shape : LoopShape, optional
        How the loop is cut up; the fastest that was measured where absent.
    gathering : Gathering

    Returns
    -------
    list of BatchTally
    """
    first = jobs[0]
    n_versions, n_batches = len(first.versions), first.n_batches
    shape = shape or LoopShape(n_versions=n_versions, n_nodes=int(first.emitter.nodes.size))
    scenes = list(dict.fromkeys(id(job.scene) for job in jobs))
    places = [scenes.index(id(job.scene)) for job in jobs]
    table = block_table(jobs, places=places, room=_room(shape))
    n_y, n_x = np.max([job.map_grid.shape for job in jobs], axis=0)
    windows = max(count_windows(job.scene) for job in jobs)
    sums = [
        cuda.to_device(np.zeros((len(jobs), n_batches, *axes)))
        for axes in ((3 * n_versions, n_y, n_x), (N_FATES, n_versions), (windows, N_ANGLE_BINS, n_versions))
    ]
    tables = build_tables(jobs, [grounds[scene] for scene in scenes], places=places)
    inputs = [_to_device(record) for record in tables]
    loop = build_loop(shape)
    loop[len(table), shape.threads](cuda.to_device(table), np.uint64(seed), gathering, *inputs, *sums)
    maps, fates, angles = (array.copy_to_host() for array in sums)
    return [_tally(job, maps[n], fates[n], angles[n]) for n, job in enumerate(jobs)]


def _tally(job: TraceJob, maps: FloatArray, fates: FloatArray, angles: FloatArray) -> BatchTally:
    """Sums of one job per photon, without what the largest job of its launch needed more."""
    n_y, n_x = job.map_grid.shape
    own = maps[:, :, :n_y, :n_x].reshape(job.n_batches, len(job.versions), 3, n_y, n_x)
    return BatchTally(
        (own / job.per_batch).astype(np.float32),
        fates / job.per_batch,
        angles[:, : count_windows(job.scene)] / job.per_batch,
    )


def block_table(jobs: Sequence[TraceJob], *, places: Sequence[int], room: int) -> npt.NDArray[np.int64]:
    """Rows of job, scene, batch, first photon, end, photons of the batch: a block's share is never of two batches."""
    total = sum(job.per_batch * job.n_batches for job in jobs)
    share = int(np.clip(total // (room * ROUNDS), LEAST_PHOTONS, MOST_PHOTONS))
    rows = [
        (number, place, batch, first, min(first + share, job.per_batch), job.per_batch)
        for number, (job, place) in enumerate(zip(jobs, places, strict=True))
        for batch in range(job.n_batches)
        for first in range(0, job.per_batch, share)
    ]
    return np.array(rows, dtype=np.int64)


def _room(shape: LoopShape) -> int:
    """Blocks that run at a time."""
    processors: int = cuda.get_current_device().MULTIPROCESSOR_COUNT
    return processors * shape.blocks_per_processor


def _map_bytes(job: TraceJob) -> int:
    n_y, n_x = job.map_grid.shape
    return SUM_BYTES * job.n_batches * 3 * len(job.versions) * n_y * n_x


def _to_device(record: Any) -> Any:
    """A record whose arrays lie on the GPU."""
    moved = {name: cuda.to_device(value) for name, value in record._asdict().items() if np.ndim(value) > 0}
    return record._replace(**moved)
