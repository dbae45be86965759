"""How a scene is traced: which versions share a trace, how many photons each gets, what is reported on the way."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene, Slab
from paneglow.transport.arrays import Ground, build_ground
from paneglow.transport.cache import TraceCache, trace_keys
from paneglow.transport.cpu import BatchTally, trace_emitter
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


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceProgress:
    """How far a trace is: share of its expected work done, and seconds left once that can be told."""

    done_frac: float
    seconds_left: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """One emitter through the slab versions that share a scattering coefficient; `indices` place them in the scene."""

    number: int
    emitter: Emitter
    versions: tuple[Slab, ...]
    indices: tuple[int, ...]
    photons: int
    n_batches: int

    @property
    def work(self) -> float:
        """Expected work, up to a common factor: collisions grow with the scattering coefficient."""
        return self.photons * (1.0 + self.versions[0].scatter_per_mm)


def trace(
    scene: Scene,
    *,
    photons_per_led: int,
    seed: int,
    on_progress: Callable[[TraceProgress], None] | None = None,
    n_threads: int | None = None,
    cache: TraceCache | None = None,
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
    keys = trace_keys(scene, photons_per_led=photons_per_led, seed=seed) if cache is not None else ()
    kept = {n: light for n, key in enumerate(keys) if cache and (light := cache.load(key, ref=scene.emitters[n].ref))}
    ground = build_ground(scene) if len(kept) < len(scene.emitters) else None
    jobs = {
        n: tuple(_jobs_of(scene, n, photons=int(photons_per_led * _extra_photons(scene, n, seed=seed, ground=ground))))
        for n in range(len(scene.emitters))
        if n not in kept
    }
    meter = _Meter(total_work=sum(job.work for of_emitter in jobs.values() for job in of_emitter), listener=on_progress)
    lights = dict(kept)
    for n, of_emitter in jobs.items():
        lights[n] = _trace_emitter(scene, of_emitter, seed=seed, n_threads=n_threads, meter=meter, ground=ground)
        if cache is not None:
            cache.keep(keys[n], lights[n])
    leds = tuple(lights[n] for n in range(len(scene.emitters)))
    return Tally(
        map_grid=scene.map_grid,
        slab_names=tuple(slab.name for slab in scene.slabs),
        leds=leds,
        seed=seed,
        device="cpu",
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


def _trace_emitter(
    scene: Scene,
    jobs: tuple[_Job, ...],
    *,
    seed: int,
    n_threads: int | None,
    meter: _Meter,
    ground: Ground | None,
) -> LedLight:
    tallies: list[tuple[_Job, BatchTally]] = []
    for job in jobs:
        tallies.append((job, _trace_job(scene, job, seed=seed, n_threads=n_threads, ground=ground)))
        meter.add(job.work)
    return _merged(scene, tallies)


def _extra_photons(scene: Scene, number: int, *, seed: int, ground: Ground | None) -> float:
    """How many times the usual photons an emitter gets, from a short trial of its own."""
    trial = trace_emitter(
        scene,
        scene.emitters[number],
        number=TRIAL_STREAM + number,
        versions=scene.slabs[:1],
        map_grid=ONE_PIXEL,
        photons=TRIAL_PHOTONS,
        n_batches=2,
        seed=seed,
        n_threads=1,
        ground=ground,
    )
    comes_out = float(trial.fates[:, FRONT, 0].mean())
    return float(np.clip(ENOUGH_OUT_FRAC / max(comes_out, 1e-9), 1.0, MOST_EXTRA))


def _jobs_of(scene: Scene, number: int, *, photons: int) -> Iterator[_Job]:
    """One job per scattering coefficient, the nominal one first and with the most photons."""
    groups: dict[float, list[int]] = {}
    for index, slab in enumerate(scene.slabs):
        groups.setdefault(slab.scatter_per_mm, []).append(index)
    for indices in groups.values():
        nominal = indices[0] == 0
        n_batches = N_BATCHES if nominal else END_BATCHES
        wanted = photons if nominal else max(n_batches, int(photons * END_PHOTONS_FRAC))
        yield _Job(
            number=number,
            emitter=scene.emitters[number],
            versions=tuple(scene.slabs[i] for i in indices),
            indices=tuple(indices),
            photons=-(-wanted // n_batches) * n_batches,
            n_batches=n_batches,
        )


def _trace_job(scene: Scene, job: _Job, *, seed: int, n_threads: int | None, ground: Ground | None) -> BatchTally:
    return trace_emitter(
        scene,
        job.emitter,
        number=job.number,
        versions=job.versions,
        map_grid=scene.map_grid,
        photons=job.photons,
        n_batches=job.n_batches,
        seed=seed,
        n_threads=n_threads,
        ground=ground,
    )


def _merged(scene: Scene, tallies: list[tuple[_Job, BatchTally]]) -> LedLight:
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
