"""Many LEDs, versions and wavelengths at a time on an NVIDIA GPU."""

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
from numba import cuda

from paneglow.scene import Scene
from paneglow.transport.cuda.kernel import Gathering, LoopShape, build_loop
from paneglow.transport.cuda.tables import build_tables
from paneglow.transport.job import N_ANGLE_BINS, BatchTally, TraceJob, count_windows
from paneglow.transport.kernels.inputs import N_FATES

MEMORY_FRAC = 0.5  # of what is free: maps of a launch may take so much, and their copy on the host as much
SUM_BYTES = 8  # tallies are summed in double precision
LEAST_PHOTONS, MOST_PHOTONS = 512, 1 << 16  # of one block
ROUNDS = 6  # blocks for every place on the GPU, so that all places end at about the same time

GATHERING = Gathering()


def trace_jobs(scene: Scene, jobs: Iterable[TraceJob], *, seed: int) -> Iterator[tuple[TraceJob, BatchTally]]:
    """Trace jobs of one shape in one launch, or in as few as the memory allows.

    Parameters
    ----------
    scene : Scene
    jobs : iterable of TraceJob
    seed : int

    Yields
    ------
    TraceJob, BatchTally
        As `cpu.trace_jobs`, in another order.
    """
    shapes: dict[tuple[object, ...], list[TraceJob]] = {}
    for job in jobs:
        shapes.setdefault((len(job.versions), job.emitter.nodes.size, job.n_batches, job.map_grid), []).append(job)
    for alike in shapes.values():
        fit = max(1, int(MEMORY_FRAC * cuda.current_context().get_memory_info().free / _map_bytes(alike[0])))
        for start in range(0, len(alike), fit):
            together = alike[start : start + fit]
            yield from zip(together, launch(scene, together, seed=seed), strict=True)


def launch(
    scene: Scene, jobs: list[TraceJob], *, seed: int, shape: LoopShape | None = None, gathering: Gathering = GATHERING
) -> list[BatchTally]:
    """Trace jobs that share versions, nodes, batches and map grid in one launch.

    Parameters
    ----------
    scene : Scene
    jobs : list of TraceJob
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
    table = block_table(jobs, places=_places(shape))
    maps = _zeros((len(jobs), n_batches, 3 * n_versions, *first.map_grid.shape))
    fates = _zeros((len(jobs), n_batches, N_FATES, n_versions))
    angles = _zeros((len(jobs), n_batches, count_windows(scene), N_ANGLE_BINS, n_versions))
    tables = build_tables(scene, jobs)
    on_device = [_to_device(record) for record in tables]
    build_loop(shape)[len(table), shape.threads](
        cuda.to_device(table), np.uint64(seed), gathering, *on_device, maps, fates, angles
    )
    counts = np.array([job.per_batch for job in jobs], dtype=np.float64)
    host_maps, host_fates, host_angles = (sums.copy_to_host() for sums in (maps, fates, angles))
    return [
        BatchTally(
            (host_maps[n] / count).astype(np.float32).reshape(n_batches, n_versions, 3, *first.map_grid.shape),
            host_fates[n] / count,
            host_angles[n] / count,
        )
        for n, count in enumerate(counts)
    ]


def block_table(jobs: list[TraceJob], *, places: int) -> npt.NDArray[np.int64]:
    """Rows of job, batch, first photon, end, photons of the batch: a block's share is never of two batches."""
    total = sum(job.per_batch * job.n_batches for job in jobs)
    share = int(np.clip(total // (places * ROUNDS), LEAST_PHOTONS, MOST_PHOTONS))
    rows = [
        (number, batch, first, min(first + share, job.per_batch), job.per_batch)
        for number, job in enumerate(jobs)
        for batch in range(job.n_batches)
        for first in range(0, job.per_batch, share)
    ]
    return np.array(rows, dtype=np.int64)


def _places(shape: LoopShape) -> int:
    """Blocks that run at a time."""
    processors: int = cuda.get_current_device().MULTIPROCESSOR_COUNT
    return processors * shape.blocks_per_processor


def _map_bytes(job: TraceJob) -> int:
    n_y, n_x = job.map_grid.shape
    return SUM_BYTES * job.n_batches * 3 * len(job.versions) * n_y * n_x


def _zeros(shape: tuple[int, ...]) -> Any:
    return cuda.to_device(np.zeros(shape))


def _to_device(record: Any) -> Any:
    """A record whose arrays lie on the GPU."""
    moved = {name: cuda.to_device(value) for name, value in record._asdict().items() if np.ndim(value) > 0}
    return record._replace(**moved)
