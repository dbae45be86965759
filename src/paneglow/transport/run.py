"""How a scene is traced: which versions share a trace, how many photons each gets, what is reported on the way."""

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.scene import Scene
from paneglow.transport.cache import TraceCache, trace_keys
from paneglow.transport.cpu import trace_jobs as trace_on_cpu
from paneglow.transport.job import BatchTally, TraceJob
from paneglow.transport.kernels.inputs import FRONT
from paneglow.transport.tally import Fates, LedLight, Tally

FloatArray = npt.NDArray[np.float64]

N_BATCHES = 16  # independent estimates behind every standard error
END_BATCHES = 4  # for versions whose errors are not reported
END_PHOTONS_FRAC = 0.25  # the ends of an assumed range need a value, not a fine map
MAX_PHOTONS_PER_LED = 1 << 36
# An LED that sends little of its light out at the front gets more photons, found by a short trial of fixed size, so
# that its map is not the noisiest: up to MOST_EXTRA times where less than ENOUGH_OUT_FRAC of its light comes out.
TRIAL_PHOTONS = 1024
TRIAL_STREAM = 1 << 20  # keeps the trial's random streams apart from the trace's
ENOUGH_OUT_FRAC = 0.1
MOST_EXTRA = 8.0
ONE_PIXEL = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=1, n_y=1)

TracingDevice = Literal["cpu", "cuda"]


class Tracer(Protocol):
    """Traces jobs on some device, in any order."""

    def __call__(
        self, scene: Scene, jobs: Iterable[TraceJob], /, *, seed: int
    ) -> Iterator[tuple[TraceJob, BatchTally]]:
        """Yield each job with its tally as soon as it is done."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceProgress:
    """How far a trace is: share of its expected work done, and seconds left once that can be told."""

    done_frac: float
    seconds_left: float | None


def trace(
    scene: Scene,
    *,
    photons_per_led: int,
    seed: int,
    on_progress: Callable[[TraceProgress], None] | None = None,
    n_threads: int | None = None,
    cache: TraceCache | None = None,
    device: TracingDevice = "cpu",
) -> Tally:
    """Trace every emitter of a scene through every slab version.

    Versions that scatter alike are answered by one trace: each carries its own weight along the same paths, which is
    exact for any absorption. Versions that scatter otherwise are traced anew with the same random streams; weights
    between scattering coefficients that differ by half or more would leave an effective sample of next to nothing
    (docs/decisions/0003-ranges-by-weights-and-traces.md).

    Parameters
    ----------
    scene : Scene
    photons_per_led : int
        Photons launched per emitter for the nominal version, at least 16; emitters that send little of their light
        out at the front get up to 8 times as many.
    seed : int
        Same seed, same numbers, whatever the thread count.
    on_progress : callable, optional
        Called after every emitter and version group, in the calling thread.
    n_threads : int, optional
        Threads to use; as many as processors where absent.
    cache : TraceCache, optional
        Where traces are kept and looked for. A kept trace is the same numbers as a new one.
    device : {"cpu", "cuda"}
        Where photons are traced, as `choose_device` gives it. The same photons meet the same fates on both; on a GPU
        sums are taken in single precision, and those of a map in no fixed order.

    Returns
    -------
    Tally

    Raises
    ------
    TransportError
        If the scene has no slab version.
    RangeError
        If photons_per_led is out of range.
    """
    check_between("photons_per_led", photons_per_led, lower=N_BATCHES, upper=MAX_PHOTONS_PER_LED)
    if not scene.slabs:
        raise TransportError("the scene has no slab version; give at least the nominal one")
    started = time.perf_counter()
    tracer = _tracer(device, n_threads=n_threads)
    keys = trace_keys(scene, photons_per_led=photons_per_led, seed=seed, device=device) if cache is not None else ()
    kept = {n: light for n, key in enumerate(keys) if cache and (light := cache.load(key, ref=scene.emitters[n].ref))}
    missing = [n for n in range(len(scene.emitters)) if n not in kept]
    extra = _extra_photons(scene, missing, seed=seed, tracer=tracer)
    jobs = {n: tuple(_jobs_of(scene, n, photons=int(photons_per_led * extra[n]))) for n in missing}
    queue = [job for of_emitter in jobs.values() for job in of_emitter]
    meter = _Meter(total_work=sum(job.work for job in queue), listener=on_progress)
    lights = dict(kept)
    tallies: dict[TraceJob, BatchTally] = {}
    for job, tally in tracer(scene, queue, seed=seed):
        tallies[job] = tally
        of_emitter = jobs[job.number]
        if all(other in tallies for other in of_emitter):
            light = _merged(scene, [(other, tallies.pop(other)) for other in of_emitter])
            lights[job.number] = light
            if cache is not None:
                cache.keep(keys[job.number], light)
        meter.add(job.work)
    leds = tuple(lights[n] for n in range(len(scene.emitters)))
    return Tally(
        map_grid=scene.map_grid,
        slab_names=tuple(slab.name for slab in scene.slabs),
        leds=leds,
        seed=seed,
        device=device,
        photons=sum(led.photons for led in leds),
        seconds=time.perf_counter() - started,
    )


@dataclass(slots=True)
class _Meter:
    """Counts work done and reports it; the one thing here that changes."""

    total_work: float
    listener: Callable[[TraceProgress], None] | None
    done_work: float = 0.0
    started: float = field(default_factory=time.perf_counter)

    def add(self, work: float) -> None:
        self.done_work += work
        if self.listener is None:
            return
        spent = time.perf_counter() - self.started
        left = spent * (self.total_work - self.done_work) / self.done_work
        self.listener(TraceProgress(done_frac=self.done_work / self.total_work, seconds_left=left))


def _tracer(device: TracingDevice, *, n_threads: int | None) -> Tracer:
    if device == "cuda":
        # Needs the extra `gpu`, and a GPU
        from paneglow.transport.cuda.run import trace_jobs as trace_on_gpu  # noqa: PLC0415

        return trace_on_gpu
    return partial(trace_on_cpu, n_threads=n_threads)


def _extra_photons(scene: Scene, numbers: Iterable[int], *, seed: int, tracer: Tracer) -> dict[int, float]:
    """How many times the usual photons each emitter gets, from a short trial of its own."""
    trials = [
        TraceJob(
            number=TRIAL_STREAM + number,
            emitter=scene.emitters[number],
            versions=scene.slabs[:1],
            map_grid=ONE_PIXEL,
            photons=TRIAL_PHOTONS,
            n_batches=2,
        )
        for number in numbers
    ]
    comes_out = {
        job.number - TRIAL_STREAM: tally.fates[:, FRONT, 0].mean() for job, tally in tracer(scene, trials, seed=seed)
    }
    return {
        number: float(np.clip(ENOUGH_OUT_FRAC / max(float(frac), 1e-9), 1.0, MOST_EXTRA))
        for number, frac in comes_out.items()
    }


def _jobs_of(scene: Scene, number: int, *, photons: int) -> Iterator[TraceJob]:
    """One job per scattering coefficient, the nominal one first and with the most photons."""
    groups: dict[float, list[int]] = {}
    for index, slab in enumerate(scene.slabs):
        groups.setdefault(slab.scatter_per_mm, []).append(index)
    for indices in groups.values():
        nominal = indices[0] == 0
        n_batches = N_BATCHES if nominal else END_BATCHES
        wanted = photons if nominal else max(n_batches, int(photons * END_PHOTONS_FRAC))
        yield TraceJob(
            number=number,
            emitter=scene.emitters[number],
            versions=tuple(scene.slabs[i] for i in indices),
            indices=tuple(indices),
            map_grid=scene.map_grid,
            photons=-(-wanted // n_batches) * n_batches,
            n_batches=n_batches,
        )


def _merged(scene: Scene, tallies: list[tuple[TraceJob, BatchTally]]) -> LedLight:
    """Put the versions of all jobs of one emitter back in the scene's order."""
    n_versions = len(scene.slabs)
    first_job, first = tallies[0]
    xyz = np.zeros((n_versions, 3, *scene.map_grid.shape), dtype=np.float32)
    means = np.zeros((first.fates.shape[1], n_versions))
    errors = np.zeros_like(means)
    angles = np.zeros((*first.angles.shape[1:3], n_versions))
    for job, tally in tallies:
        at = list(job.indices)
        xyz[at] = tally.maps.mean(axis=0)
        means[:, at] = tally.fates.mean(axis=0)
        angles[:, :, at] = tally.angles.mean(axis=0)
        errors[:, at] = tally.fates.std(axis=0, ddof=1) / np.sqrt(job.n_batches)
    return LedLight(
        ref=first_job.emitter.ref,
        xyz=xyz,
        batches=np.ascontiguousarray(first.maps[:, 0, 1]),
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
