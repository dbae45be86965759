"""The stages of an evaluation: timed, and told to whoever listens."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from paneglow.results.evaluation import StageTime
from paneglow.transport import TraceProgress


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far one stage is; `seconds_left` is None where it cannot be told."""

    stage: str  # Step of the work
    done_frac: float  # Share of the work done
    seconds_left: float | None = None  # Estimated time left; None where it cannot be told [s]


Listener = Callable[[Progress], None]


@dataclass(slots=True)
class Stopwatch:
    """Times the stages and reports where each starts and ends."""

    listener: Listener | None  # whom to tell; None for nobody
    times: list[StageTime] = field(default_factory=list)  # of the stages that have ended, in order

    def _tell(self, stage: str, *, done_frac: float, seconds_left: float | None = None) -> None:
        if self.listener is not None:
            self.listener(Progress(stage=stage, done_frac=done_frac, seconds_left=seconds_left))

    def within(self, name: str) -> Callable[[TraceProgress], None]:
        """What reports how far a trace is that runs in a stage."""

        def tell(progress: TraceProgress) -> None:
            told = f"{name}, compiling, once" if progress.is_compiling else name
            self._tell(told, done_frac=progress.done_frac, seconds_left=progress.seconds_left)

        return tell

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time what is done inside."""
        self._tell(name, done_frac=0.0)
        start = time.perf_counter()
        yield
        self.times.append(StageTime(stage=name, seconds=time.perf_counter() - start))
        self._tell(name, done_frac=1.0, seconds_left=0.0)
