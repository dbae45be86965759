"""How a scene is traced: stage by stage until the asked precision is reached, each LED in its own surroundings."""

import time
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Protocol

import numpy as np

from paneglow.checks import check_between
from paneglow.errors import TransportError
from paneglow.scene import Scene
from paneglow.transport.cache import TraceCache, trace_key
from paneglow.transport.cpu import trace_jobs as trace_on_cpu
from paneglow.transport.job import BatchTally, TraceJob, count_windows
from paneglow.transport.merge import joined, light_of
from paneglow.transport.plan import N_BATCHES, Place, find_place, jobs_of
from paneglow.transport.tally import LedLight, Tally

MAX_PHOTONS_PER_LED = 1 << 36
# Shares of the photons in the stages of a trace that may stop early; each doubles what was traced before
STAGES = (0.125, 0.125, 0.25, 0.5)
STAGE_STREAM = 1 << 40  # keeps the random streams of later stages apart

Unfinished = Callable[[Tally], Collection[str]]


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
    unfinished: Unfinished | None = None,
    on_progress: Callable[[TraceProgress], None] | None = None,
    n_threads: int | None = None,
    cache: TraceCache | None = None,
) -> Tally:
    """Trace every emitter of a scene through every slab version.

    Versions that scatter alike are answered by one trace: each carries its own weight along the same paths, which is
    exact for any absorption. Versions that scatter otherwise are traced anew with the same random streams; weights
    between scattering coefficients that differ by half or more would leave an effective sample of next to nothing
    (docs/decisions/0003-ranges-by-weights-and-traces.md).

    Each LED is traced in the part of the board that its light reaches; LEDs in places that are alike to the pixel, a
    whole number of map pixels apart, share one trace and its noise.

    Parameters
    ----------
    scene : Scene
    photons_per_led : int
        Photons launched per emitter for the nominal version, at least 16, if it does not stop before; emitters that
        send little of their light out at the front get up to 8 times as many.
    seed : int
        Same seed, same numbers, whatever the thread count.
    unfinished : callable, optional
        Given the tally after each stage, says by ref which LEDs must go on; the trace stops when there is none. All
        photons are launched where it is absent.
    on_progress : callable, optional
        Called after every LED and stage, in the calling thread.
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
    places = [find_place(scene, number, seed=seed) for number in range(len(scene.emitters))]
    shares = (1.0,) if unfinished is None else STAGES
    meter = _Meter(total=sum(place.extra for place in places), listener=on_progress)
    bench = _Bench(tracer=partial(trace_on_cpu, n_threads=n_threads), seed=seed, cache=cache, meter=meter)
    lights: dict[int, LedLight] = {}
    wanted: Collection[int] = range(len(places))
    for stage, share in enumerate(shares):
        for number in wanted:
            place = places[number]
            photons = max(N_BATCHES, int(photons_per_led * share * place.extra))
            light = bench.traced(place, photons=photons, stage=stage, work=share * place.extra)
            placed = _placed(light, place, ref=scene.emitters[number].ref, n_windows=count_windows(scene))
            lights[number] = placed if stage == 0 else joined(lights[number], placed)
        tally = _tally(scene, lights, seed=seed, seconds=time.perf_counter() - started)
        if unfinished is None or stage + 1 == len(shares):
            break
        refs = set(unfinished(tally))
        wanted = [number for number, emitter in enumerate(scene.emitters) if emitter.ref in refs]
        if not wanted:
            break
    meter.finish()
    return tally


def _tally(scene: Scene, lights: dict[int, LedLight], *, seed: int, seconds: float) -> Tally:
    leds = tuple(lights[number] for number in range(len(scene.emitters)))
    return Tally(
        map_grid=scene.map_grid,
        slab_names=tuple(slab.name for slab in scene.slabs),
        leds=leds,
        seed=seed,
        device="cpu",
        photons=sum(led.photons for led in leds),
        seconds=seconds,
    )


def _placed(light: LedLight, place: Place, *, ref: str, n_windows: int) -> LedLight:
    """Light of a place as that of one LED on the whole board."""
    numbers = list(place.around.windows)
    angles = np.zeros((n_windows, *light.angles.shape[1:]))
    angles_se = np.zeros((n_windows, *light.angles_se.shape[1:]))
    angles[numbers], angles_se[numbers] = light.angles, light.angles_se
    return replace(light, ref=ref, corner=place.around.corner, angles=angles, angles_se=angles_se)


@dataclass(slots=True)
class _Meter:
    """Counts work done and reports it."""

    total: float
    listener: Callable[[TraceProgress], None] | None
    done: float = 0.0
    started: float = field(default_factory=time.perf_counter)

    def add(self, work: float) -> None:
        self.done += work
        self._report()

    def finish(self) -> None:
        """What need not be traced is done as well."""
        self.done = self.total
        self._report()

    def _report(self) -> None:
        if self.listener is None or self.total <= 0.0:
            return
        spent = time.perf_counter() - self.started
        left = spent * max(0.0, self.total - self.done) / max(self.done, 1e-12)
        self.listener(TraceProgress(done_frac=min(1.0, self.done / self.total), seconds_left=left))


@dataclass(slots=True)
class _Bench:
    """Traces places, each only once, and keeps what it traced."""

    tracer: Tracer
    seed: int
    cache: TraceCache | None
    meter: _Meter
    known: dict[str, LedLight] = field(default_factory=dict)

    def traced(self, place: Place, *, photons: int, stage: int, work: float) -> LedLight:
        key = trace_key(place.digest, photons=photons, seed=self.seed, device="cpu", stage=stage)
        light = self.known.get(key)
        if light is None and self.cache is not None:
            light = self.cache.load(key)
        if light is None:
            scene = place.around.scene
            jobs = jobs_of(scene, number=place.stream + stage * STAGE_STREAM, photons=photons)
            light = light_of(scene, self.tracer(scene, jobs, seed=self.seed))
            if self.cache is not None:
                self.cache.keep(key, light)
        self.known[key] = light
        self.meter.add(work)
        return light
