"""What is traced: the part of the board each LED's light reaches, how many photons, in which jobs."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from paneglow.scene import Scene, slabs_by_scattering
from paneglow.transport.cache import TraceCache
from paneglow.transport.local import Neighbourhood, cut_out, scene_digest
from paneglow.transport.tally import TraceJob
from paneglow.transport.trials import Trials

N_BATCHES = 16  # independent estimates behind every standard error
# The ends of an assumed range need a value, not a fine map; less comes out the more they scatter, so that is what their
# photons are in proportion to, within bounds; shares of what the nominal version gets, our choice.
END_PHOTONS_FRAC = 0.25
LEAST_END_FRAC, MOST_END_FRAC = 1 / 16, 1.0
# An LED that sends little of its light out at the front gets more photons, so that its map is not the noisiest: up to
# MOST_EXTRA times where less than ENOUGH_OUT_FRAC of its light comes out.
ENOUGH_OUT_FRAC = 0.1
MOST_EXTRA = 8.0
# How far light reaches is found by trials in wider and wider surroundings
FIRST_REACH_MM = 12.0
WIDER = 1.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """One LED in its surroundings: its own scene, the hash of that scene, the photons it needs over the usual."""

    around: Neighbourhood
    digest: bytes
    extra: float

    @property
    def stream(self) -> int:
        """Number of its random streams: places that are alike to the pixel share it, and so their noise."""
        return int.from_bytes(self.digest[:4], "big")


def find_places(
    scene: Scene, *, seed: int, cache: TraceCache | None = None, on_compiling: Callable[[], None] | None = None
) -> list[Place]:
    """Surroundings of every emitter; trials are looked for and kept in the cache.

    `on_compiling` is called before tracing code is compiled, which is done once.
    """
    trials = Trials(scene=scene, seed=seed, cache=cache, on_compiling=on_compiling)
    return [find_place(scene, number, trials=trials) for number in range(len(scene.emitters))]


def find_place(scene: Scene, number: int, *, trials: Trials) -> Place:
    """Surroundings of an emitter, wide enough that its light is as good as dark at their border.

    Parameters
    ----------
    scene : Scene
    number : int
        Of the emitter.
    trials : Trials

    Returns
    -------
    Place
    """
    reach_mm = FIRST_REACH_MM
    while True:
        around = cut_out(scene, number, reach_mm=reach_mm)
        digest = scene_digest(around.scene)
        trial = trials.of(around, digest=digest)
        if trial.is_enough:
            break
        reach_mm *= WIDER
    extra = float(np.clip(ENOUGH_OUT_FRAC / max(trial.comes_out_frac, 1e-9), 1.0, MOST_EXTRA))
    return Place(around=around, digest=digest, extra=extra)


def jobs_of(scene: Scene, *, number: int, photons: int) -> Iterator[TraceJob]:
    """One job per scattering coefficient, the nominal one first and with the most photons.

    Parameters
    ----------
    scene : Scene
        The surroundings of one emitter.
    number : int
        Names its random streams.
    photons : int
        For the nominal version.
    """
    for indices in slabs_by_scattering(scene.slabs):
        nominal = indices[0] == 0
        wanted = photons if nominal else _end_photons(scene, photons=photons, index=indices[0])
        yield TraceJob(
            scene=scene,
            number=number,
            emitter=scene.emitters[0],
            versions=tuple(scene.slabs[i] for i in indices),
            indices=indices,
            map_grid=scene.map_grid,
            photons=-(-wanted // N_BATCHES) * N_BATCHES,
            n_batches=N_BATCHES,
        )


def _end_photons(scene: Scene, *, photons: int, index: int) -> int:
    relative = scene.slabs[index].scatter_per_mm / max(scene.slabs[0].scatter_per_mm, 1e-9)
    share = min(max(END_PHOTONS_FRAC * relative, LEAST_END_FRAC), MOST_END_FRAC)
    return max(N_BATCHES, round(photons * share))
