"""How a scene is traced: stage by stage until the asked precision is reached, each LED in its own surroundings."""

import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import chain
from typing import Protocol

import numpy as np

from paneglow.checks import check_between
from paneglow.scene import Scene, check_scene
from paneglow.transport.cache import TraceCache, trace_key
from paneglow.transport.compiled import prepare_compiler
from paneglow.transport.devices import TracingDevice
from paneglow.transport.plan import N_BATCHES, Place, find_places, jobs_of
from paneglow.transport.tally import BatchTally, LedLight, Tally, TraceJob, count_windows, joined, light_of

MAX_PHOTONS_PER_LED = 1 << 36
# Shares of the photons in the stages of a trace that may stop early; each doubles what was traced before
STAGES = (0.125, 0.125, 0.25, 0.5)
STAGE_STREAM = 1 << 40  # keeps the random streams of later stages apart

Unfinished = Callable[[Tally], Collection[str]]


class Tracer(Protocol):
    """Traces jobs on some device, in any order."""

    def __call__(self, jobs: Iterable[TraceJob], /, *, seed: int) -> Iterator[tuple[TraceJob, BatchTally]]:
        """Yield each job with its tally as soon as it is done."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceProgress:
    """How far a trace is: share of its expected work done, and seconds left once that can be told."""

    done_frac: float  # Share of the work done
    seconds_left: float | None  # Estimated time left; None where it cannot be told [s]
    is_compiling: bool = False  # Whether the tracing code is being compiled, which is done once


def trace(
    scene: Scene,
    *,
    photons_per_led: int,
    seed: int,
    unfinished: Unfinished | None = None,
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
    device : {"cpu", "cuda"}
        Where photons are traced, as `choose_device` gives it. The same photons meet the same fates on both; a GPU
        works in single precision and takes sums in no fixed order, so its numbers differ in their sixth digit. A
        fluorescent laminate is traced on the CPU wherever it was asked for.

    Returns
    -------
    Tally

    Raises
    ------
    RangeError
        If photons_per_led or a field of the scene is out of range (`check_scene`).
    """
    check_between("photons_per_led", photons_per_led, lower=N_BATCHES, upper=MAX_PHOTONS_PER_LED)
    check_scene(scene)
    if any(emitter.shifted is not None for emitter in scene.emitters):
        device = "cpu"  # a fluorescent laminate is followed on the CPU only
    started = time.perf_counter()

    def tell_compiling() -> None:
        if on_progress is not None:
            on_progress(TraceProgress(done_frac=0.0, seconds_left=None, is_compiling=True))

    places = find_places(scene, seed=seed, cache=cache, on_compiling=tell_compiling)
    shares = (1.0,) if unfinished is None else STAGES
    meter = _Meter(total=sum(place.extra for place in places), listener=on_progress)
    bench = _Bench(n_threads=n_threads, device=device, seed=seed, cache=cache, meter=meter)
    lights: dict[int, LedLight] = {}
    wanted: Collection[int] = range(len(places))
    for stage, share in enumerate(shares):
        asked = {n: _Asked.of(places[n], photons_per_led=photons_per_led, share=share) for n in wanted}
        for number, light in bench.traced(asked, stage=stage):
            place = places[number]
            placed = _placed(light, place, ref=scene.emitters[number].ref, n_windows=count_windows(scene))
            lights[number] = placed if stage == 0 else joined(lights[number], placed)
        tally = _tally(scene, lights, seed=seed, device=device, seconds=time.perf_counter() - started)
        if unfinished is None or stage + 1 == len(shares):
            break
        refs = set(unfinished(tally))
        wanted = [number for number, emitter in enumerate(scene.emitters) if emitter.ref in refs]
        if not wanted:
            break
    meter.finish()
    return tally


def _tracer(device: TracingDevice, *, n_threads: int | None) -> Tracer:
    if device == "cuda":
        # Needs the extra `gpu` and a GPU
        from paneglow.transport.cuda.run import trace_jobs as trace_on_gpu  # noqa: PLC0415

        return trace_on_gpu
    # Brings in the kernels and their compiler, which a run that finds every trace kept does without
    prepare_compiler()
    from paneglow.transport.cpu import trace_jobs as trace_on_cpu  # noqa: PLC0415

    return partial(trace_on_cpu, n_threads=n_threads)


def _tally(scene: Scene, lights: dict[int, LedLight], *, seed: int, device: TracingDevice, seconds: float) -> Tally:
    leds = tuple(lights[number] for number in range(len(scene.emitters)))
    return Tally(
        map_grid=scene.map_grid,
        slab_names=tuple(slab.name for slab in scene.slabs),
        leds=leds,
        seed=seed,
        device=device,
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asked:
    """Photons that one place gets in a stage."""

    place: Place
    photons: int
    work: float

    @classmethod
    def of(cls, place: Place, *, photons_per_led: int, share: float) -> "_Asked":
        work = share * place.extra
        return cls(place=place, photons=max(N_BATCHES, int(photons_per_led * work)), work=work)


@dataclass(slots=True)
class _Bench:
    """Traces places, each only once, and keeps what it traced."""

    n_threads: int | None
    device: TracingDevice
    seed: int
    cache: TraceCache | None
    meter: _Meter
    known: dict[str, LedLight] = field(default_factory=dict)

    def traced(self, asked: Mapping[int, _Asked], *, stage: int) -> Iterator[tuple[int, LedLight]]:
        """Light by number of the LED, as soon as it is there; all that is missing goes to the tracer at once."""
        keys = {number: self._key(one, stage=stage) for number, one in asked.items()}
        waiting: dict[str, list[int]] = {}
        for number, key in keys.items():
            waiting.setdefault(key, []).append(number)
        missing = {key: asked[numbers[0]] for key, numbers in waiting.items() if not self._is_known(key)}
        made = chain((key for key in waiting if key not in missing), self._made(missing, stage=stage))
        for key in made:
            for number in waiting[key]:
                self.meter.add(asked[number].work)
                yield number, self.known[key]

    def _key(self, one: _Asked, *, stage: int) -> str:
        return trace_key(one.place.digest, photons=one.photons, seed=self.seed, device=self.device, stage=stage)

    def _is_known(self, key: str) -> bool:
        if key not in self.known and self.cache is not None and (light := self.cache.load(key)) is not None:
            self.known[key] = light
        return key in self.known

    def _made(self, missing: Mapping[str, _Asked], *, stage: int) -> Iterator[str]:
        """Keys of the missing lights, each when it has been traced and kept."""
        if not missing:
            return
        jobs = {key: self._jobs(one, stage=stage) for key, one in missing.items()}
        key_of = {job: key for key, of_place in jobs.items() for job in of_place}
        tallies: dict[str, list[tuple[TraceJob, BatchTally]]] = {key: [] for key in missing}
        tracer = _tracer(self.device, n_threads=self.n_threads)
        for job, tally in tracer(key_of, seed=self.seed):
            key = key_of[job]
            tallies[key].append((job, tally))
            if len(tallies[key]) == len(jobs[key]):
                light = light_of(job.scene, tallies.pop(key))
                self.known[key] = light
                if self.cache is not None:
                    self.cache.keep(key, light)
                yield key

    def _jobs(self, one: _Asked, *, stage: int) -> tuple[TraceJob, ...]:
        number = one.place.stream + stage * STAGE_STREAM
        return tuple(jobs_of(one.place.around.scene, number=number, photons=one.photons))
