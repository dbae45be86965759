"""Plain slabs for tests: the low-level entry, a scene built from arrays."""

import math

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import Emitter, FaceClasses, Scene, Sheet, Slab
from paneglow.transport.cpu import BatchTally, trace_emitter
from sampling_checks import budget

ONE_NODE = np.array([0])


def bare_classes(*, n_wavelengths: int = 1) -> FaceClasses:
    """One class: nothing on the laminate."""
    return FaceClasses(
        names=("bare",),
        transmit=np.ones((1, n_wavelengths)),
        reflect=np.zeros((1, n_wavelengths)),
        haze=np.zeros(1),
        backing_reflect=np.zeros((1, n_wavelengths)),
    )


def one_coat(
    *, transmit: float = 1.0, reflect: float = 0.0, haze: float = 0.0, backing_reflect: float = 0.0
) -> FaceClasses:
    """Class 0 bare, class 1 a coat."""
    return FaceClasses(
        names=("bare", "coat"),
        transmit=np.array([[1.0], [transmit]]),
        reflect=np.array([[0.0], [reflect]]),
        haze=np.array([0.0, haze]),
        backing_reflect=np.array([[0.0], [backing_reflect]]),
    )


def white_sheet(*, distance_mm: float, reflect: float, transmit: float = 0.0, haze: float = 0.0) -> Sheet:
    """Sheet in the air before or behind the board."""
    return Sheet(distance_mm=distance_mm, reflect=np.array([reflect]), transmit=np.array([transmit]), haze=haze)


def beam(*, angle_rad: float = 0.0, at_z_mm: float = -1e-6) -> Emitter:
    """Collimated beam at one point; it starts just off the face that it meets."""
    sign = 1.0 if at_z_mm <= 0.0 else -1.0
    return _source(
        axis=(math.sin(angle_rad), 0.0, sign * math.cos(angle_rad)),
        u=(math.cos(angle_rad), 0.0, -sign * math.sin(angle_rad)),
        at_z_mm=at_z_mm,
        tables=(np.array([1.0, 1.0]), np.array([0.0, 1.0]), np.zeros(2)),
    )


def lambertian(*, at_z_mm: float = -1e-6, size_mm: tuple[float, float] = (0.0, 0.0)) -> Emitter:
    """Lambertian source that touches a face, or hangs at a distance from it."""
    table = cosine_power_table(math.radians(60.0))  # half angle 60 deg is Lambertian exactly
    sign = 1.0 if at_z_mm <= 0.0 else -1.0
    return _source(
        axis=(0.0, 0.0, sign),
        u=(1.0, 0.0, 0.0),
        at_z_mm=at_z_mm,
        tables=(table.cos_table, table.cdf_table, table.intensity_table),
        size_mm=size_mm,
    )


def _source(*, axis, u, at_z_mm, tables, size_mm=(0.0, 0.0)) -> Emitter:
    return Emitter(
        ref="E1",
        window=None,
        centre_mm=(0.0, 0.0, at_z_mm),
        axis=axis,
        u=u,
        v=(0.0, 1.0, 0.0),
        size_mm=size_mm,
        cos_table=tables[0],
        cdf_table=tables[1],
        intensity_table=tables[2],
        nodes=ONE_NODE,
        xyz_per_lm=np.ones((1, 3)),
        flux_lm=1.0,
        flux_lm_low=1.0,
        flux_lm_high=1.0,
    )


def slab_scene(
    *,
    optical_depth: float,
    albedo: float,
    asymmetry: float,
    refractive_index: float,
    emitter: Emitter,
    thickness_mm: float = 1.0,
    view_angle_rad: float = 0.0,
    classes: FaceClasses | None = None,
    front_class: int = 0,
    back_class: int = 0,
    map_grid: Grid | None = None,
) -> Scene:
    """Endless slab: one pixel, which every point off the grid shares."""
    extinction = optical_depth / thickness_mm
    one = Grid(x_min_mm=-0.5, y_min_mm=-0.5, pitch_mm=1.0, n_x=1, n_y=1)
    return Scene(
        grid=one,
        front=np.full((1, 1), front_class, dtype=np.uint8),
        back=np.full((1, 1), back_class, dtype=np.uint8),
        body=np.zeros((1, 1), dtype=np.uint8),
        classes=bare_classes() if classes is None else classes,
        wavelength_nm=np.array([550.0]),
        thickness_mm=thickness_mm,
        refractive_index=refractive_index,
        asymmetry=asymmetry,
        slabs=(
            Slab(
                name="nominal",
                scatter_per_mm=albedo * extinction,
                absorb_per_mm=np.array([(1.0 - albedo) * extinction]),
            ),
        ),
        emitters=(emitter,),
        view_angle_rad=view_angle_rad,
        map_grid=Grid(x_min_mm=-5e5, y_min_mm=-5e5, pitch_mm=1e6, n_x=1, n_y=1) if map_grid is None else map_grid,
    )


def trace_slab(
    scene: Scene, *, photons: int, seed: int, n_batches: int = 32, n_threads: int | None = None, anchor: bool = False
) -> BatchTally:
    """Trace the first emitter of a scene; fewer photons in a quick run, unless it is an anchor."""
    return trace_emitter(
        scene,
        scene.emitters[0],
        number=0,
        versions=scene.slabs,
        map_grid=scene.map_grid,
        photons=photons if anchor else budget(photons),
        n_batches=n_batches,
        seed=seed,
        n_threads=n_threads,
    )


def radiance_per_flux(scene: Scene, tally: BatchTally):
    """Radiance summed over the whole face per unit flux [1/sr], one value per batch."""
    return tally.maps[:, 0, 1].sum(axis=(1, 2)) * scene.map_grid.pixel_area_mm2 * 1e-6
