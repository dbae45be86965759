"""What is traced: the part of the board each LED's light reaches, how many photons, in which jobs."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Scene, Slab
from paneglow.transport.arrays import Ground, build_face_input, build_view_rays
from paneglow.transport.cpu import trace_emitter
from paneglow.transport.job import TraceJob
from paneglow.transport.kernels.inputs import FRONT
from paneglow.transport.local import Neighbourhood, cut_out, scene_digest

N_BATCHES = 16  # independent estimates behind every standard error
END_BATCHES = 4  # for versions whose errors are not reported
END_PHOTONS_FRAC = 0.25  # the ends of an assumed range need a value, not a fine map
# An LED that sends little of its light out at the front gets more photons, found by a short trial of fixed size, so
# that its map is not the noisiest: up to MOST_EXTRA times where less than ENOUGH_OUT_FRAC of its light comes out.
TRIAL_PHOTONS = 1024
TRIAL_STREAM = 1 << 20  # keeps the trial's random streams apart from the trace's
ENOUGH_OUT_FRAC = 0.1
MOST_EXTRA = 8.0
# How far light reaches is found by trials in wider and wider surroundings, in the version that scatters least
FIRST_REACH_MM = 12.0
WIDER = 1.6
RIM_MM = 2.0  # width of the ring along the border that must be as good as dark
DARK_FRAC = 2e-4  # of the light that comes out
RING_CELL_MM = 1.0

ViewRays = tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]  # of `Ground`


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


def find_places(scene: Scene, *, seed: int) -> list[Place]:
    """Surroundings of every emitter."""
    rays = build_view_rays(scene)
    return [find_place(scene, number, seed=seed, rays=rays) for number in range(len(scene.emitters))]


def find_place(scene: Scene, number: int, *, seed: int, rays: ViewRays | None = None) -> Place:
    """Surroundings of an emitter, wide enough that its light is as good as dark at their border.

    The view rays are those of the whole scene; made here where absent.
    """
    rays = build_view_rays(scene) if rays is None else rays
    reach_mm = FIRST_REACH_MM
    while True:
        around = cut_out(scene, number, reach_mm=reach_mm)
        ground = Ground(build_face_input(around.scene), *rays)
        if around.is_whole or _is_dark_at_rim(around.scene, seed=seed, ground=ground):
            break
        reach_mm *= WIDER
    extra = _extra_photons(around.scene, seed=seed, ground=ground)
    return Place(around=around, digest=scene_digest(around.scene), extra=extra)


def _trial(scene: Scene, slab: Slab, *, map_grid: Grid, seed: int, ground: Ground):  # type: ignore[no-untyped-def]
    return trace_emitter(
        scene,
        scene.emitters[0],
        number=TRIAL_STREAM,
        versions=(slab,),
        map_grid=map_grid,
        photons=TRIAL_PHOTONS,
        n_batches=2,
        seed=seed,
        n_threads=1,
        ground=ground,
    )


def _is_dark_at_rim(scene: Scene, *, seed: int, ground: Ground) -> bool:
    """Whether what is seen within RIM_MM of the map's border is a negligible share of all that is seen."""
    clearest = min(scene.slabs, key=lambda slab: (slab.scatter_per_mm, float(slab.absorb_per_mm.sum())))
    whole = scene.map_grid
    coarse = Grid.over(bounds_mm=whole.bounds_mm, pitch_mm=RING_CELL_MM)
    seen = (
        _trial(scene, clearest, map_grid=coarse, seed=seed, ground=ground).maps[:, 0, 1].mean(axis=0, dtype=np.float64)
    )
    rim = round(RIM_MM / RING_CELL_MM)
    inside = seen[rim:-rim, rim:-rim].sum() if min(seen.shape) > 2 * rim else 0.0
    return bool(seen.sum() - inside <= DARK_FRAC * seen.sum())


def _extra_photons(scene: Scene, *, seed: int, ground: Ground) -> float:
    """How many times the usual photons an emitter gets, from a short trial of its own."""
    one = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=1, n_y=1)
    comes_out = float(_trial(scene, scene.slabs[0], map_grid=one, seed=seed, ground=ground).fates[:, FRONT, 0].mean())
    return float(np.clip(ENOUGH_OUT_FRAC / max(comes_out, 1e-9), 1.0, MOST_EXTRA))


def jobs_of(scene: Scene, *, number: int, photons: int) -> Iterator[TraceJob]:
    """One job per scattering coefficient, the nominal one first and with the most photons."""
    groups: dict[float, list[int]] = {}
    for index, slab in enumerate(scene.slabs):
        groups.setdefault(slab.scatter_per_mm, []).append(index)
    for indices in groups.values():
        nominal = indices[0] == 0
        n_batches = N_BATCHES if nominal else END_BATCHES
        wanted = photons if nominal else max(n_batches, int(photons * END_PHOTONS_FRAC))
        yield TraceJob(
            scene=scene,
            number=number,
            emitter=scene.emitters[0],
            versions=tuple(scene.slabs[i] for i in indices),
            indices=tuple(indices),
            map_grid=scene.map_grid,
            photons=-(-wanted // n_batches) * n_batches,
            n_batches=n_batches,
        )
