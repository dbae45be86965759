"""The reference scenes in the transport's own terms, and the renderer's values beside what is traced."""

import json
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import (
    BODY_PLATED_HOLE,
    Dome,
    Emitter,
    FaceClasses,
    InnerLayer,
    LightWall,
    Scene,
    Sheet,
    Slab,
)
from paneglow.transport.cpu import trace_emitter
from reference.make_reference import fingerprint
from reference.scene_records import HOLE, INDEX, Lamp, Patch, ReferenceScene

FloatArray = npt.NDArray[np.float64]

DATA = Path(__file__).parent / "data"
PITCH = 0.05  # mm; every edge of the scenes lies on this raster
FINE_PITCH = 0.02  # mm; where rims stand that lie between the pixels of the other
MARGIN = 1.0  # mm beyond the outermost patch; points beside the raster take its nearest pixel
N_BATCHES = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Independent batches of block values, radiance over that of the lamp: shape (batch, y, x)."""

    batches: FloatArray

    @property
    def mean(self) -> FloatArray:
        return np.asarray(self.batches.mean(axis=0))

    @property
    def se(self) -> FloatArray:
        """Standard error of every block.

        A block that missed its few heavy paths looks dim and sure of it. Both codes count paths, so variance goes with
        the mean: no block is held surer than the median block would be at its mean.
        """
        own = self.batches.var(axis=0, ddof=1) / len(self.batches)
        seen = self.mean > 0.0
        usual = np.median(own[seen] / self.mean[seen])
        return np.sqrt(np.maximum(own, usual * self.mean))

    @property
    def whole(self) -> tuple[float, float]:
        """Mean over all blocks and its standard error."""
        means = self.batches.mean(axis=(1, 2))
        return float(means.mean()), float(means.std(ddof=1) / math.sqrt(means.size))


def reference_blocks(scene: ReferenceScene, *, kind: str = "") -> Blocks:
    """What the renderer found, or a walk of facets of a kind; refuses values of another scene."""
    kept = json.loads((DATA / f"{scene.name}{kind}.json").read_text())
    assert kept["scene"] == fingerprint(scene), f"{scene.name}: the scene has changed since it was rendered"
    return Blocks(batches=np.array(kept["batches"]))


def traced_blocks(scene: ReferenceScene, *, photons: int, seed: int, n_threads: int | None = None) -> Blocks:
    """The same blocks, traced."""
    arrays = as_arrays(scene)
    tally = trace_emitter(
        arrays, arrays.emitters[0], number=0, versions=arrays.slabs, map_grid=arrays.map_grid, photons=photons,
        n_batches=N_BATCHES, seed=seed, n_threads=n_threads,
    )  # fmt: skip
    # One lumen from a Lambertian lamp of area A has the luminance 1 / (pi A)
    area_m2 = 1e-6 * scene.lamp.size[0] * scene.lamp.size[1]
    return Blocks(batches=tally.maps[:, 0, 1].astype(np.float64) * math.pi * area_m2)


def as_arrays(scene: ReferenceScene) -> Scene:
    """A scene of plain arrays, as docs/referee.md describes them."""
    foil_patches = () if scene.foil is None else scene.foil.patches
    grid = _raster(scene.front + scene.back + foil_patches, fine=scene.plating > 0.0)
    names = tuple(scene.covers)
    covers = tuple(scene.covers.values())
    numbers = {name: number for number, name in enumerate(names)} | {HOLE: 0}
    body = np.zeros(grid.shape, dtype=np.uint8)
    for patch in scene.front:
        if patch.cover == HOLE:
            body[_inside(patch, grid)] = BODY_PLATED_HOLE
    return Scene(
        grid=grid,
        front=_painted(scene.front, rest=scene.front_rest, numbers=numbers, grid=grid),
        back=_painted(scene.back, rest=scene.back_rest, numbers=numbers, grid=grid),
        body=body,
        classes=FaceClasses(
            names=names,
            transmit=np.array([[cover.transmit] for cover in covers]),
            reflect=np.array([[cover.reflect] for cover in covers]),
            haze=np.zeros(len(covers)),
            backing_reflect=np.array([[cover.body_reflect] for cover in covers]),
            roughness=np.array([cover.roughness for cover in covers]),
        ),
        wavelength_nm=np.array([550.0]),
        thickness_mm=scene.thickness,
        refractive_index=INDEX,
        asymmetry=scene.asymmetry,
        slabs=(Slab(name="nominal", scatter_per_mm=scene.scatter, absorb_per_mm=np.array([scene.absorb])),),
        emitters=(_emitter(scene.lamp, scene),),
        view_angle_rad=math.radians(scene.view_deg),
        map_grid=Grid(
            x_min_mm=scene.map_low[0], y_min_mm=scene.map_low[1], pitch_mm=scene.block, n_x=scene.blocks[0],
            n_y=scene.blocks[1],
        ),
        inner=_inner(scene, grid),
        back_sheet=_sheet(scene),
        front_sheet=_film(scene),
        plating=np.array([scene.plating]),
    )  # fmt: skip


def _raster(patches: tuple[Patch, ...], *, fine: bool) -> Grid:
    pitch = FINE_PITCH if fine else PITCH
    low_x = min([patch.low[0] for patch in patches], default=0.0) - MARGIN
    low_y = min([patch.low[1] for patch in patches], default=0.0) - MARGIN
    high_x = max([patch.high[0] for patch in patches], default=0.0) + MARGIN
    high_y = max([patch.high[1] for patch in patches], default=0.0) + MARGIN
    return Grid(
        x_min_mm=low_x, y_min_mm=low_y, pitch_mm=pitch, n_x=round((high_x - low_x) / pitch),
        n_y=round((high_y - low_y) / pitch),
    )  # fmt: skip


def _inside(patch: Patch, grid: Grid) -> npt.NDArray[np.bool_]:
    x, y = grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None]
    return (x > patch.low[0]) & (x < patch.high[0]) & (y > patch.low[1]) & (y < patch.high[1])


def _painted(patches: tuple[Patch, ...], *, rest: str, numbers: dict[str, int], grid: Grid) -> npt.NDArray[np.uint8]:
    face = np.full(grid.shape, numbers[rest], dtype=np.uint8)
    for patch in patches:
        face[_inside(patch, grid)] = numbers[patch.cover]
    return face


def _inner(scene: ReferenceScene, grid: Grid) -> tuple[InnerLayer, ...]:
    if scene.foil is None:
        return ()
    copper = np.zeros(grid.shape, dtype=np.bool_)
    for patch in scene.foil.patches:
        copper |= _inside(patch, grid)
    return (InnerLayer(height_mm=scene.foil.height, copper=copper, reflect=np.array([scene.foil.reflect])),)


def _sheet(scene: ReferenceScene) -> Sheet | None:
    if scene.sheet_reflect == 0.0:
        return None
    return Sheet(
        distance_mm=scene.sheet_distance, reflect=np.array([scene.sheet_reflect]), transmit=np.zeros(1), haze=0.0
    )


def _film(scene: ReferenceScene) -> Sheet | None:
    film = scene.film
    if film is None:
        return None
    return Sheet(
        distance_mm=film.distance, reflect=np.array([film.reflect]), transmit=np.array([film.transmit]), haze=film.haze
    )


def _dome(scene: ReferenceScene) -> Dome | None:
    cap = scene.cap
    if cap is None:
        return None
    return Dome(radius_mm=cap.radius, height_mm=cap.height, refractive_index=cap.index, scatter_per_mm=cap.scatter)


def _emitter(lamp: Lamp, scene: ReferenceScene) -> Emitter:
    table = cosine_power_table(math.radians(60.0))  # half brightness at 60 degrees is Lambertian exactly
    frame = scene.frame
    wall = None
    if frame is not None:
        wall = LightWall(length_mm=frame.length, width_mm=frame.width, reflect=np.array([frame.reflect]))
    return Emitter(
        ref="E1", window=None, centre_mm=lamp.centre, axis=lamp.axis, u=lamp.u, v=lamp.v, size_mm=lamp.size,
        cos_table=table.cos_table, cdf_table=table.cdf_table, intensity_table=table.intensity_table,
        nodes=np.array([0]), xyz_per_lm=np.ones((1, 3)), flux_lm=1.0, flux_lm_low=1.0, flux_lm_high=1.0,
        light_wall=wall, dome=_dome(scene),
    )  # fmt: skip
