"""Many LEDs, versions and wavelengths at a time on an NVIDIA GPU."""

import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from numba import cuda
from numba.cuda.core.errors import NumbaPerformanceWarning

from paneglow.transport.arrays import SceneGeometry, build_geometry
from paneglow.transport.cuda.kept import compiled_loop
from paneglow.transport.cuda.kernels.loop import Gathering, LoopShape
from paneglow.transport.cuda.tables import build_tables
from paneglow.transport.kernels.inputs import N_ANGLE_BINS, N_FATES
from paneglow.transport.tally import BatchTally, TraceJob, count_windows

MEMORY_FRAC = 0.5  # of what is free: maps of a launch may take so much, and their copy on the host as much
SUM_BYTES = 8  # tallies are summed in double precision
LEAST_PHOTONS, MOST_PHOTONS = 512, 1 << 16  # of one block
ROUNDS = 6  # blocks for every one that runs at a time, so that all of the GPU ends at about the same time

LEAST_CHANNELS, LEAST_VERSIONS = 8, 4  # of a loop for more than one
BLOCKS, LEAN_BLOCKS = 4, 7  # that run on a processor at a time; the fastest that were measured
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
    geometries: dict[int, SceneGeometry] = {}
    alike: dict[tuple[object, ...], list[TraceJob]] = {}
    for job in jobs:
        geometry = geometries.get(id(job.scene)) or geometries.setdefault(id(job.scene), build_geometry(job.scene))
        sight = hash((geometry.rays.tobytes(), geometry.n_rays.tobytes()))
        alike.setdefault((loop_shape([job]), geometry.face.inner_z.size, sight), []).append(job)
    for together in alike.values():
        fit = max(1, int(MEMORY_FRAC * cuda.current_context().get_memory_info().free / max(map(_map_bytes, together))))
        for start in range(0, len(together), fit):
            some = together[start : start + fit]
            yield from zip(some, launch(some, geometries=geometries, seed=seed), strict=True)


def launch(
    jobs: Sequence[TraceJob],
    *,
    geometries: Mapping[int, SceneGeometry],
    seed: int,
    shape: LoopShape | None = None,
    gathering: Gathering = GATHERING,
) -> list[BatchTally]:
    """Trace jobs in one launch.

    Parameters
    ----------
    jobs : sequence of TraceJob
        Their scenes hold as many copper layers and the same directions toward the viewer.
    geometries : mapping of int to SceneGeometry
        By `id` of the jobs' scenes.
    seed : int
    shape : LoopShape, optional
        How the loop is cut up; the fastest that was measured where absent.
    gathering : Gathering

    Returns
    -------
    list of BatchTally
    """
    shape = shape or loop_shape(jobs)
    scenes = list(dict.fromkeys(id(job.scene) for job in jobs))
    places = [scenes.index(id(job.scene)) for job in jobs]
    table = block_table(jobs, places=places, room=_room(shape))
    n_y, n_x = np.max([job.map_grid.shape for job in jobs], axis=0)
    windows = max(count_windows(job.scene) for job in jobs)
    n_versions = max(len(job.versions) for job in jobs)
    rows = sum(job.n_batches for job in jobs)
    sums = [
        cuda.to_device(np.zeros((rows, *axes)))
        for axes in ((3 * n_versions, n_y * n_x), (N_FATES, n_versions), (windows, N_ANGLE_BINS * n_versions))
    ]
    tables = build_tables(jobs, [geometries[scene] for scene in scenes], places=places)
    inputs = [_to_device(record) for record in tables]
    arguments = (cuda.to_device(table), np.uint64(seed), gathering, *inputs, *sums)
    with warnings.catch_warnings():
        # Few photons make few blocks
        warnings.simplefilter("ignore", NumbaPerformanceWarning)
        compiled_loop(shape, arguments)[len(table), shape.threads](*arguments)
    maps, fates, angles = (array.copy_to_host() for array in sums)
    ends = np.cumsum([job.n_batches for job in jobs])
    return [
        _tally(job, *(sums[end - job.n_batches : end] for sums in (maps, fates, angles)))
        for job, end in zip(jobs, ends, strict=True)
    ]


def loop_shape(jobs: Sequence[TraceJob]) -> LoopShape:
    """The smallest loop that holds the jobs' versions and wavelength nodes."""
    versions = max(len(job.versions) for job in jobs)
    channels = max(len(job.versions) * job.emitter.nodes.size for job in jobs)
    if channels == 1:
        is_lean = not any(job.scene.inner for job in jobs)
        return LoopShape(is_lean=is_lean, blocks_per_processor=LEAN_BLOCKS if is_lean else BLOCKS)
    return LoopShape(most_channels=_rounded(channels, LEAST_CHANNELS), most_versions=_rounded(versions, LEAST_VERSIONS))


def _rounded(count: int, least: int) -> int:
    """Few sizes, so that few loops are compiled: `least` times a power of 4."""
    size = least
    while size < count:
        size *= 4
    return size


def _tally(job: TraceJob, maps: FloatArray, fates: FloatArray, angles: FloatArray) -> BatchTally:
    """Sums of one job per photon, without what the largest job of its launch needed more."""
    n_y, n_x = job.map_grid.shape
    n_versions = len(job.versions)
    own = maps[:, : 3 * n_versions, : n_y * n_x].reshape(job.n_batches, n_versions, 3, n_y, n_x)
    return BatchTally(
        (own / job.per_batch).astype(np.float32),
        fates[:, :, :n_versions] / job.per_batch,
        angles[:, : count_windows(job.scene), : N_ANGLE_BINS * n_versions].reshape(
            job.n_batches, -1, N_ANGLE_BINS, n_versions
        )
        / job.per_batch,
    )


def block_table(jobs: Sequence[TraceJob], *, places: Sequence[int], room: int) -> npt.NDArray[np.int64]:
    """Rows of job, scene, batch, row of the sums, first photon, end, photons of the batch.

    A block's share is never of two batches.
    """
    total = sum(job.per_batch * job.n_batches for job in jobs)
    share = int(np.clip(total // (room * ROUNDS), LEAST_PHOTONS, MOST_PHOTONS))
    starts = np.cumsum([0] + [job.n_batches for job in jobs])
    rows = [
        (number, place, batch, starts[number] + batch, first, min(first + share, job.per_batch), job.per_batch)
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
