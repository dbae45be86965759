"""Trials: short traces that tell, before the trace proper, how far an LED's light reaches and how much comes out."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Scene, Slab
from paneglow.transport.cache import TraceCache, trial_key
from paneglow.transport.compiled import prepare_compiler
from paneglow.transport.local import Neighbourhood
from paneglow.transport.tally import Trial

if TYPE_CHECKING:
    from paneglow.transport.arrays import SceneGeometry

TRIAL_PHOTONS = 1024
TRIAL_STREAM = 1 << 20  # keeps the trials' random streams apart from the trace's
RIM_MM = 2.0  # width of the ring along the border that must be as good as dark
DARK_FRAC = 2e-4  # of the light that comes out
RING_CELL_MM = 1.0

ViewRays = tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]  # of `SceneGeometry`


@dataclass(frozen=True, kw_only=True, eq=False)
class Trials:
    """Trials on one board, each made once: alike surroundings share it, and a cache keeps it for the next run.

    Attributes
    ----------
    scene : Scene
        The whole board, whose view rays every trial uses.
    seed : int
    cache : TraceCache or None
    on_compiling : callable or None
        Called before tracing code is compiled.
    known : dict
        Trials so far, by key.
    """

    scene: Scene
    seed: int
    cache: TraceCache | None = None
    on_compiling: Callable[[], None] | None = None
    known: dict[str, Trial] = field(default_factory=dict)

    def of(self, around: Neighbourhood, *, digest: bytes) -> Trial:
        """Trial of an LED in its surroundings; `digest` is `local.scene_digest` of their scene."""
        key = trial_key(digest, seed=self.seed, is_whole=around.is_whole)
        if key not in self.known:
            self.known[key] = self._kept(key) or self._made(around, key=key)
        return self.known[key]

    def _kept(self, key: str) -> Trial | None:
        return None if self.cache is None else self.cache.load_trial(key)

    def _made(self, around: Neighbourhood, *, key: str) -> Trial:
        # Brings in the kernels and their compiler, which a run that finds every trial kept does without
        prepare_compiler()
        from paneglow.transport.arrays import SceneGeometry, build_face_input  # noqa: PLC0415
        from paneglow.transport.cpu import is_compiled  # noqa: PLC0415

        if self.on_compiling is not None and not is_compiled():
            self.on_compiling()

        scene = around.scene
        geometry = SceneGeometry(build_face_input(scene), *self._rays)
        trial = Trial(
            is_enough=around.is_whole or _is_dark_at_rim(scene, seed=self.seed, geometry=geometry),
            comes_out_frac=_comes_out_frac(scene, seed=self.seed, geometry=geometry),
        )
        if self.cache is not None:
            self.cache.keep_trial(key, trial)
        return trial

    @cached_property
    def _rays(self) -> ViewRays:
        from paneglow.transport.arrays import build_view_rays  # noqa: PLC0415

        return build_view_rays(self.scene)


def _trial(scene: Scene, slab: Slab, *, map_grid: Grid, seed: int, geometry: "SceneGeometry"):  # type: ignore[no-untyped-def]
    from paneglow.transport.cpu import trace_emitter  # noqa: PLC0415

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
        geometry=geometry,
    )


def _is_dark_at_rim(scene: Scene, *, seed: int, geometry: "SceneGeometry") -> bool:
    """Whether, in the version that scatters least, what is seen near the map's border is negligible."""
    clearest = min(scene.slabs, key=lambda slab: (slab.scatter_per_mm, float(slab.absorb_per_mm.sum())))
    whole = scene.map_grid
    coarse = Grid.over(bounds_mm=whole.bounds_mm, pitch_mm=RING_CELL_MM)
    seen = (
        _trial(scene, clearest, map_grid=coarse, seed=seed, geometry=geometry)
        .maps[:, 0, 1]
        .mean(axis=0, dtype=np.float64)
    )
    rim = round(RIM_MM / RING_CELL_MM)
    inside = seen[rim:-rim, rim:-rim].sum() if min(seen.shape) > 2 * rim else 0.0
    return bool(seen.sum() - inside <= DARK_FRAC * seen.sum())


def _comes_out_frac(scene: Scene, *, seed: int, geometry: "SceneGeometry") -> float:
    """Share of an emitter's light that leaves at the front, in the nominal version."""
    from paneglow.transport.kernels.inputs import FRONT  # noqa: PLC0415

    one = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=1, n_y=1)
    return float(_trial(scene, scene.slabs[0], map_grid=one, seed=seed, geometry=geometry).fates[:, FRONT, 0].mean())
