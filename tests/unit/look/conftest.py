"""A synthetic lit board: our own shapes and smooth patches of light, with known noise, instead of a trace."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pytest
from shapely.geometry import MultiPolygon, Point, Polygon, box

from paneglow.board import Board, FaceCover, FaceMaps, Window, WindowSurvey
from paneglow.catalog import Catalog, read_catalog
from paneglow.design import BoardDesign, Design, View
from paneglow.grid import Grid
from paneglow.physics import gaussian_lines, tristimulus, visible_axis_nm
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import Fates, LedLight, Tally

BARE = FaceCover(state="bare", bare_frac=1.0, masked_frac=0.0, inked_frac=0.0)
PEAKS_NM = {"red": (625.0, 18.0), "amber": (590.0, 15.0), "green": (525.0, 35.0), "blue": (465.0, 25.0)}


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """One LED: a round patch of light about a point, `cd_m2_per_lm` at its middle."""

    ref: str
    at_mm: tuple[float, float]
    window: str | None = None
    colour: str = "amber"
    flux_lm: float = 1.0
    flux_low: float = 1.0  # times flux_lm
    flux_high: float = 1.0
    width_mm: float = 2.0
    cd_m2_per_lm: float = 100.0
    floor: float = 0.0  # even light everywhere in windows, over the middle


@dataclass(frozen=True, kw_only=True, eq=False)
class Stage:
    """Everything `build_look` asks for."""

    board: Board
    design: Design
    catalog: Catalog
    scene: Scene
    tally: Tally

    def parts(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in ("board", "design", "catalog", "scene", "tally")}


def coverage_of(shape: Polygon | MultiPolygon, *, grid: Grid) -> npt.NDArray[np.float32]:
    """Pixels whose centre lies in a shape, as 0 or 1."""
    from shapely import contains_xy

    x, y = np.meshgrid(grid.x_centres_mm(), grid.y_centres_mm())
    return contains_xy(shape, x, y).astype(np.float32)


def make_board(shapes: dict[str, Polygon], *, outline: Polygon, pitch_mm: float, holes: Polygon | None = None) -> Board:
    grid = Grid.over(bounds_mm=outline.bounds, pitch_mm=pitch_mm, margin_mm=0.5)
    inside = coverage_of(outline, grid=grid)
    drilled = np.zeros_like(inside) if holes is None else coverage_of(holes, grid=grid)
    labels = np.zeros(grid.shape, dtype=np.int32)
    windows = []
    for number, (name, shape) in enumerate(shapes.items(), start=1):
        here = coverage_of(shape, grid=grid) > 0
        labels[here & (drilled == 0)] = number
        windows.append(
            Window(
                name=name,
                area_mm2=shape.area,
                bbox_mm=shape.bounds,
                centre_mm=shape.centroid.coords[0],
                width_mm=1.0,
                polygon=shape,
                exposure="bare both faces",
                front=BARE,
                back=BARE,
                shadows=(),
                decision="drawn so",
            )  # fmt: skip
        )
    window = (labels > 0).astype(np.float32)
    none = np.zeros_like(inside)
    maps = FaceMaps(
        grid=grid, outline=MultiPolygon([outline]), outline_inside=inside, inside=inside * (1 - drilled),
        holes=drilled, plated_holes=none, copper_front=inside * (1 - window) * (1 - drilled),
        copper_back=inside * (1 - window) * (1 - drilled), copper_inner=(), mask_front=inside * (1 - window),
        mask_back=inside * (1 - window), legend_front=none, legend_back=none, copper_layers=2, notes=(),
    )  # fmt: skip
    survey = WindowSurvey(outline_area_mm2=outline.area, copper_layers=2, pieces=1, windows=tuple(windows), others=(),
                          labels=labels, notes=())  # fmt: skip
    return Board(name="stage", thickness_mm=1.6, maps=maps, survey=survey, leds=())


def _emitter(lamp: Lamp, *, xyz: npt.NDArray[np.float64]) -> Emitter:
    table = np.asarray([1.0, -1.0])
    return Emitter(
        ref=lamp.ref, window=lamp.window, centre_mm=(*lamp.at_mm, -0.3), axis=(0.0, 0.0, 1.0), u=(1.0, 0.0, 0.0),
        v=(0.0, 1.0, 0.0), size_mm=(0.5, 0.5), cos_table=table, cdf_table=table[::-1].copy(), intensity_table=table,
        nodes=np.asarray([0]), xyz_per_lm=xyz[None, :], flux_lm=lamp.flux_lm, flux_lm_low=lamp.flux_lm * lamp.flux_low,
        flux_lm_high=lamp.flux_lm * lamp.flux_high,
    )  # fmt: skip


def _fates() -> Fates:
    one, none = np.ones(1), np.zeros(1)
    return Fates(front=one, through=none, back=none, edge=none, hole=none, absorbed=none, missed=none)


def make_stage(
    shapes: dict[str, Polygon],
    lamps: Sequence[Lamp],
    *,
    outline: Polygon | None = None,
    holes: Polygon | None = None,
    pitch_mm: float = 0.05,
    map_pitch_mm: float = 0.2,
    slab_factors: Sequence[float] = (1.0,),
    n_batches: int = 16,
    noise: float = 0.0,
    leak: float = 0.0,
    view: View | None = None,
    mask: str = "green",
    seed: int = 1,
) -> Stage:
    """A stage; `noise` is the relative standard error of a pixel of mean luminance, `leak` light outside windows."""
    outline = outline or box(0, 0, 30, 20)
    board = make_board(shapes, outline=outline, pitch_mm=pitch_mm, holes=holes)
    map_grid = Grid.over(bounds_mm=outline.bounds, pitch_mm=map_pitch_mm, margin_mm=1.0)
    block = round(map_pitch_mm / pitch_mm)
    fine_grid = Grid(x_min_mm=map_grid.x_min_mm, y_min_mm=map_grid.y_min_mm, pitch_mm=map_pitch_mm / block,
                     n_x=map_grid.n_x * block, n_y=map_grid.n_y * block)  # fmt: skip
    whole = MultiPolygon([shape for shape in shapes.values()]) if shapes else MultiPolygon()
    open_to_light = coverage_of(whole, grid=fine_grid) + leak * coverage_of(outline, grid=fine_grid)
    x, y = np.meshgrid(fine_grid.x_centres_mm(), fine_grid.y_centres_mm())
    rng = np.random.default_rng(seed)
    emitters, leds = [], []
    for lamp in lamps:
        peak_nm, fwhm_nm = PEAKS_NM[lamp.colour]
        axis = visible_axis_nm()
        xyz = tristimulus(axis, gaussian_lines(axis, peak_nm=peak_nm, fwhm_nm=fwhm_nm))
        xyz = xyz / xyz[1]
        r2 = (x - lamp.at_mm[0]) ** 2 + (y - lamp.at_mm[1]) ** 2
        glow = lamp.cd_m2_per_lm * (np.exp(-r2 / (2 * lamp.width_mm**2)) + lamp.floor) * open_to_light
        n_y, n_x = map_grid.shape
        mean = glow.reshape(n_y, block, n_x, block).mean(axis=(1, 3))
        scatter = noise * np.sqrt(n_batches)
        shape = 1.0 / max(scatter, 1e-6) ** 2
        grain = rng.gamma(shape, 1 / shape, size=(n_batches, *mean.shape)) if noise else np.ones((n_batches, 1, 1))
        batches = mean * grain
        nominal = batches.mean(axis=0)
        maps = nominal * np.asarray(slab_factors)[:, None, None]
        leds.append(LedLight(ref=lamp.ref, xyz=(maps[:, None] * xyz[:, None, None]).astype(np.float32),
                             batches=batches[None].astype(np.float32), fates=_fates(), fates_se=_fates(),
                             angles=np.full((3, 10, len(slab_factors)), 0.001), angles_se=np.full((3, 10), 1e-5),
                             photons=1000))  # fmt: skip
        emitters.append(_emitter(lamp, xyz=xyz))
    classes = FaceClasses(names=("bare",), transmit=np.ones((1, 1)), reflect=np.zeros((1, 1)), haze=np.zeros(1),
                          backing_reflect=np.zeros((1, 1)))  # fmt: skip
    grid = board.maps.grid
    faces = np.zeros(grid.shape, dtype=np.uint8)
    slabs = tuple(Slab(name=f"slab {k}", scatter_per_mm=7.5, absorb_per_mm=np.asarray([0.05 / factor]))
                  for k, factor in enumerate(slab_factors))  # fmt: skip
    scene = Scene(grid=grid, front=faces, back=faces, body=faces, classes=classes, wavelength_nm=np.asarray([590.0]),
                  thickness_mm=1.6, refractive_index=1.55, asymmetry=0.8, slabs=slabs, emitters=tuple(emitters),
                  view_angle_rad=0.0, map_grid=map_grid)  # fmt: skip
    tally = Tally(map_grid=map_grid, slab_names=tuple(slab.name for slab in slabs), leds=tuple(leds), seed=seed,
                  device="none", photons=1000 * len(leds), seconds=0.0)  # fmt: skip
    design = Design(name="stage", board=BoardDesign(fabrication="fab/", mask=mask), view=view or View())
    return Stage(board=board, design=design, catalog=read_catalog(), scene=scene, tally=tally)


def with_currents(stage: Stage, *, factor: float) -> Stage:
    """The same light per lumen with every flux times a factor."""
    emitters = tuple(
        replace(emitter, flux_lm=factor * emitter.flux_lm, flux_lm_low=factor * emitter.flux_lm_low,
                flux_lm_high=factor * emitter.flux_lm_high)
        for emitter in stage.scene.emitters
    )  # fmt: skip
    return replace(stage, scene=replace(stage.scene, emitters=emitters))


def disc(x_mm: float, y_mm: float, *, radius_mm: float) -> Polygon:
    return Point(x_mm, y_mm).buffer(radius_mm, quad_segs=32)


@pytest.fixture(scope="session")
def staged() -> Callable[..., Stage]:
    return make_stage


@pytest.fixture(scope="session")
def lamp() -> type[Lamp]:
    return Lamp


@pytest.fixture(scope="session")
def scaled() -> Callable[..., Stage]:
    return with_currents
