"""Scene to kernel input: named tuples of contiguous arrays, made here and nowhere else."""

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.physics import diffuse_reflectance, fresnel_reflectance
from paneglow.scene import BODY_LAMINATE, Emitter, Scene, Sheet, Slab
from paneglow.transport.kernels.inputs import (
    RAY_BOUNCE,
    RAY_COLUMNS,
    RAY_SCALE,
    RAY_SECANT,
    RAY_SLOPE_X,
    RAY_SLOPE_Y,
    RAY_X,
    RAY_Y,
    RAY_Z,
    AirInput,
    CoatInput,
    EmitterInput,
    FaceInput,
    Setup,
    SlabInput,
    ViewInput,
    Workspace,
)
from paneglow.transport.kernels.microfacet import sample_view_rays

FloatArray = npt.NDArray[np.float64]

RAYS_PER_KIND = 8192  # directions drawn once per kind of rough face; their own error is below 0.1 % of a mean
SHIFT_CHANCE = 0.02  # at each collision in a fluorescent laminate; some hundred collisions make several
LEAST_COSINE = 1e-6
NO_SCATTER = 1e-12  # 1/mm; below it a free path is endless
RAY_SEED = 20_170  # of their stream, apart from any photon's
LEAST_CHANCE = 0.05  # a branch of a coat that any channel takes is followed at least this often
FARTHEST_PX = 255  # distances are kept in one byte
WITHIN_PIXELS = 1.42  # two half diagonals: from anywhere in one pixel to anywhere in the other
SMOOTHING_PX = 2.0  # evens out the steps of the raster before its slope is taken


class SceneGeometry(NamedTuple):
    """What all emitters of a scene share; expensive to make, so made once."""

    face: FaceInput
    rays: FloatArray  # ViewInput.rays
    n_rays: npt.NDArray[np.int64]


def build_geometry(scene: Scene) -> SceneGeometry:
    """Maps of the board with how far its rims are, and the directions that its faces turn toward the viewer.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    SceneGeometry
    """
    rays, n_rays = build_view_rays(scene)
    return SceneGeometry(build_face_input(scene), rays, n_rays)


def clearance_px(body: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Pixels that one may go any way, at least, in laminate or beside it, before the other begins; shape (y, x).

    Parameters
    ----------
    body : ndarray, shape (y, x), uint8
        What the board is at every pixel.

    Returns
    -------
    ndarray, shape (y, x), uint8
    """
    laminate = body == BODY_LAMINATE
    if laminate.all():
        return np.full(body.shape, FARTHEST_PX, dtype=np.uint8)
    distance = scipy.ndimage.distance_transform_edt(laminate) + scipy.ndimage.distance_transform_edt(~laminate)
    pixels: npt.NDArray[np.uint8] = np.clip(np.floor(distance - WITHIN_PIXELS), 0, FARTHEST_PX).astype(np.uint8)
    return pixels


def wall_directions(body: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Direction out of the laminate, in 1/256 turns from +x, as it holds beside a rim; shape (y, x).

    Parameters
    ----------
    body : ndarray, shape (y, x), uint8
        What the board is at every pixel.

    Returns
    -------
    ndarray, shape (y, x), uint8
    """
    laminate = (body == BODY_LAMINATE).astype(np.float32)
    if laminate.all() or min(body.shape) < 2:
        return np.zeros(body.shape, dtype=np.uint8)
    smooth = scipy.ndimage.gaussian_filter(laminate, SMOOTHING_PX, mode="nearest")
    down, right = np.gradient(smooth)
    turns = np.arctan2(-down, -right) / (2.0 * math.pi)
    directions: npt.NDArray[np.uint8] = (np.round(turns * 256.0).astype(np.int64) % 256).astype(np.uint8)
    return directions


def build_face_input(scene: Scene) -> FaceInput:
    """Maps of the board, contiguous, with how far its rims are.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    FaceInput
    """
    n_pixels = scene.body.size
    inner = [layer.copper.ravel() for layer in scene.inner]
    pitch = scene.grid.pitch_mm
    return FaceInput(
        classes=np.stack([scene.back.ravel(), scene.front.ravel()]),
        body=scene.body.flatten(),
        clearance=clearance_px(scene.body).ravel(),
        wall_turn=wall_directions(scene.body).ravel(),
        inner=np.stack(inner) if inner else np.zeros((0, n_pixels), dtype=np.bool_),
        inner_z=np.array([layer.height_mm for layer in scene.inner], dtype=np.float64),
        window=np.zeros(n_pixels, dtype=np.uint8) if scene.windows is None else scene.windows.flatten(),
        x_min=scene.grid.x_min_mm,
        y_min=scene.grid.y_min_mm,
        pitch=pitch,
        inverse_pitch=1.0 / pitch,
        n_x=scene.grid.n_x,
        n_y=scene.grid.n_y,
        widest=pitch * float(sum(scene.body.shape)),
    )


def roughness_kinds(scene: Scene) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """Kind of face of every class, and the roughness of every kind; kind 0 is smooth.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    kind : ndarray, shape (class,), int64
    alpha : ndarray, shape (kind,)
        Microfacet width [1].

    Raises
    ------
    TransportError
        If a class with a coat is rough: a coat fills the roughness of the laminate.
    """
    classes = scene.classes
    roughness = np.zeros(len(classes.names)) if classes.roughness is None else np.asarray(classes.roughness)
    coated = (classes.transmit.min(axis=1) < 1.0) | (classes.reflect.max(axis=1) > 0.0) | (classes.haze > 0.0)
    if np.any(coated & (roughness > 0.0)):
        raise TransportError("only bare face classes may be rough; set the roughness of coated and copper classes to 0")
    alphas = np.unique(np.append(roughness, 0.0))
    return np.searchsorted(alphas, roughness).astype(np.int64), alphas


def build_coat_input(scene: Scene, emitter: Emitter, *, n_versions: int) -> CoatInput:
    """Coefficients of the face classes at an emitter's nodes, repeated for every slab version.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    n_versions : int
        Slab versions that share a walk; channels are ordered [version, node].

    Returns
    -------
    CoatInput

    Raises
    ------
    TransportError
        If a coated class is rough.
    """

    def at_nodes(table: FloatArray) -> FloatArray:
        return np.ascontiguousarray(np.tile(table[:, emitter.nodes], (1, n_versions)))

    classes = scene.classes
    transmit, reflect, backing = (
        at_nodes(classes.transmit),
        at_nodes(classes.reflect),
        at_nodes(classes.backing_reflect),
    )
    most_returned = reflect.max(axis=1)
    most_passed = transmit.max(axis=1)
    total = most_returned + most_passed
    chance = np.divide(most_returned, total, out=np.full_like(total, -1.0), where=total > 0.0)
    both = (most_returned > 0.0) & (most_passed > 0.0)
    chance[both] = np.clip(chance[both], LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    is_plain = (transmit.min(axis=1) >= 1.0) & (most_returned <= 0.0) & (classes.haze <= 0.0)
    kind, alpha = roughness_kinds(scene)
    return CoatInput(
        transmit=transmit,
        reflect=reflect,
        backing=backing,
        haze=np.ascontiguousarray(classes.haze, dtype=np.float64),
        return_chance=chance,
        is_plain=is_plain,
        is_opaque=most_passed <= 0.0,
        has_backing=backing.max(axis=1) > 0.0,
        kind=kind,
        alpha=alpha,
    )


def build_slab_input(scene: Scene, emitter: Emitter, *, versions: tuple[Slab, ...]) -> SlabInput:
    """The laminate for versions that share one scattering coefficient.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    versions : tuple of Slab

    Returns
    -------
    SlabInput

    Raises
    ------
    TransportError
        If the versions scatter differently: one walk cannot answer for them.
    """
    scatter_per_mm = versions[0].scatter_per_mm
    if any(version.scatter_per_mm != scatter_per_mm for version in versions):
        raise TransportError("slab versions of one trace must share scatter_per_mm; trace them apart")
    absorb = np.concatenate([version.absorb_per_mm[emitter.nodes] for version in versions])
    n_versions = len(versions)
    foils = [_at_channels(layer.reflect, emitter, n_versions=n_versions) for layer in scene.inner]
    plating = np.zeros(scene.wavelength_nm.size) if scene.plating is None else scene.plating
    return SlabInput(
        thickness=scene.thickness_mm,
        refractive_index=scene.refractive_index,
        scatter=scatter_per_mm,
        free_path=1.0 / scatter_per_mm if scatter_per_mm > NO_SCATTER else math.inf,
        asymmetry=scene.asymmetry,
        absorb=np.ascontiguousarray(absorb, dtype=np.float64),
        least_absorb=float(absorb.min()),
        collision_ratio=np.zeros(0),
        inner_reflect=np.stack(foils) if foils else np.zeros((0, absorb.size)),
        plating=_at_channels(plating, emitter, n_versions=n_versions),
        rim_inside=diffuse_reflectance(relative_index=1.0 / scene.refractive_index),
        rim_outside=diffuse_reflectance(relative_index=scene.refractive_index),
        shift_chance=0.0 if emitter.shifted is None or scatter_per_mm <= 0.0 else SHIFT_CHANCE,
        shifted=np.zeros((1, 1)) if emitter.shifted is None else np.ascontiguousarray(emitter.shifted),
    )


def _at_channels(table: FloatArray, emitter: Emitter, *, n_versions: int) -> FloatArray:
    """A table on the scene's wavelengths at the emitter's nodes, repeated for every slab version."""
    return np.ascontiguousarray(np.tile(np.asarray(table, dtype=np.float64)[emitter.nodes], n_versions))


def build_air_input(scene: Scene, emitter: Emitter, *, n_versions: int) -> AirInput:
    """Sheets behind and before the board.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    n_versions : int
        Slab versions that share a walk; channels are ordered [version, node].

    Returns
    -------
    AirInput
    """
    nothing = Sheet(distance_mm=0.0, reflect=np.zeros(1), transmit=np.ones(1), haze=0.0)
    sheets = (scene.back_sheet, scene.front_sheet)
    shown = [nothing if sheet is None else sheet for sheet in sheets]

    def at_channels(table: FloatArray) -> FloatArray:
        return _at_channels(np.broadcast_to(table, scene.wavelength_nm.shape), emitter, n_versions=n_versions)

    return AirInput(
        present=np.array([sheet is not None for sheet in sheets]),
        distance=np.array([sheet.distance_mm for sheet in shown]),
        reflect=np.stack([at_channels(sheet.reflect) for sheet in shown]),
        transmit=np.stack([at_channels(sheet.transmit) for sheet in shown]),
        haze=np.array([sheet.haze for sheet in shown]),
    )


def build_emitter_input(emitter: Emitter, *, number: int, n_versions: int, n_replicas: int = 0) -> EmitterInput:
    """One LED as scalars and arrays.

    Parameters
    ----------
    emitter : Emitter
    number : int
        Names the random streams.
    n_versions : int
    n_replicas : int

    Returns
    -------
    EmitterInput
    """
    opening = (0.0, 0.0) if emitter.opening_mm is None else emitter.opening_mm
    dome, wall = emitter.dome, emitter.light_wall
    n_channels = emitter.nodes.size * n_versions
    return EmitterInput(
        number=number,
        centre=np.array(emitter.centre_mm, dtype=np.float64),
        axis=np.array(emitter.axis, dtype=np.float64),
        u=np.array(emitter.u, dtype=np.float64),
        v=np.array(emitter.v, dtype=np.float64),
        size_u=float(emitter.size_mm[0]),
        size_v=float(emitter.size_mm[1]),
        cos_table=np.ascontiguousarray(emitter.cos_table, dtype=np.float64),
        cdf_table=np.ascontiguousarray(emitter.cdf_table, dtype=np.float64),
        intensity_table=np.ascontiguousarray(emitter.intensity_table, dtype=np.float64),
        opening_u=float(opening[0]),
        opening_v=float(opening[1]),
        opening_round=emitter.opening_round,
        opening_plated=emitter.opening_plated,
        wall_u=0.0 if wall is None else 0.5 * wall.length_mm,
        wall_v=0.0 if wall is None else 0.5 * wall.width_mm,
        wall_reflect=(
            np.zeros(n_channels) if wall is None else _at_channels(wall.reflect, emitter, n_versions=n_versions)
        ),
        dome_index=1.0 if dome is None else dome.refractive_index,
        dome_radius=0.0 if dome is None else dome.radius_mm,
        dome_height=0.0 if dome is None else dome.height_mm,
        dome_scatter=0.0 if dome is None else dome.scatter_per_mm,
        n_replicas=n_replicas,
    )


def build_view_rays(scene: Scene) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    """Directions inside the laminate that every kind of face turns toward the viewer, as `ViewInput.rays`.

    Parameters
    ----------
    scene : Scene

    Returns
    -------
    rays : ndarray, shape (kind, ray, column)
    n_rays : ndarray, shape (kind,), int64

    Raises
    ------
    TransportError
        If a coated class is rough.
    """
    n = scene.refractive_index
    sin_out, cos_out = math.sin(scene.view_angle_rad), math.cos(scene.view_angle_rad)
    _, alphas = roughness_kinds(scene)
    n_rays = np.where(alphas > 0.0, RAYS_PER_KIND, 1).astype(np.int64)
    rays = np.zeros((alphas.size, int(n_rays.max()), RAY_COLUMNS))
    sin_in = sin_out / n
    rays[0, 0, :3] = (sin_in, 0.0, math.sqrt(1.0 - sin_in * sin_in))
    crossing = np.ones((alphas.size, 1))
    crossing[0] -= float(fresnel_reflectance(cos_out, relative_index=n))
    for kind in range(1, alphas.size):
        crossing[kind] = sample_view_rays(RAY_SEED, kind, sin_out, cos_out, n, alphas[kind], rays[kind])
    cosine = np.maximum(rays[:, :, RAY_Z], LEAST_COSINE)
    rays[:, :, RAY_SLOPE_X] = rays[:, :, RAY_X] / cosine
    rays[:, :, RAY_SLOPE_Y] = rays[:, :, RAY_Y] / cosine
    rays[:, :, RAY_SECANT] = 1.0 / cosine
    rays[:, :, RAY_SCALE] = crossing / (n * n * cosine)
    rays[:, :, RAY_BOUNCE] = fresnel_reflectance(cosine, relative_index=1.0 / n)
    return rays, n_rays


def build_view_input(
    scene: Scene, emitter: Emitter, *, n_versions: int, map_grid: Grid, air: AirInput, geometry: SceneGeometry
) -> ViewInput:
    """Where and along which direction light is scored.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    n_versions : int
    map_grid : Grid
        Where luminance is scored.
    air : AirInput
    geometry : SceneGeometry

    Returns
    -------
    ViewInput
    """
    return ViewInput(
        sin_out=math.sin(scene.view_angle_rad),
        cos_out=math.cos(scene.view_angle_rad),
        rays=geometry.rays,
        n_rays=geometry.n_rays,
        n_versions=n_versions,
        n_nodes=int(emitter.nodes.size),
        xyz=np.ascontiguousarray(emitter.xyz_per_lm, dtype=np.float64),
        start=np.tile(np.ones(emitter.nodes.size) if emitter.start is None else emitter.start, n_versions),
        through=air.transmit[1] * (1.0 - air.haze[1]),
        x_min=map_grid.x_min_mm,
        y_min=map_grid.y_min_mm,
        inverse_pitch=1.0 / map_grid.pitch_mm,
        inverse_pixel_area=1e6 / map_grid.pixel_area_mm2,  # lm per mm2 to cd/m2
        n_x=map_grid.n_x,
        n_y=map_grid.n_y,
    )


def build_setup(
    scene: Scene,
    emitter: Emitter,
    *,
    versions: tuple[Slab, ...],
    map_grid: Grid,
    geometry: SceneGeometry,
    work: Workspace,
    number: int = 0,
    n_replicas: int = 0,
) -> Setup:
    """All that the photons of an emitter meet, for slab versions that share a scattering coefficient.

    Parameters
    ----------
    scene : Scene
    emitter : Emitter
    versions : tuple of Slab
    map_grid : Grid
        Where luminance is scored.
    geometry : SceneGeometry
    work : Workspace
        Scratch and tallies.
    number : int
        Names the emitter's random streams.
    n_replicas : int
        Places beside its own at which a photon is followed.

    Returns
    -------
    Setup

    Raises
    ------
    TransportError
        If the versions scatter differently, or a coated class is rough.
    """
    n_versions = len(versions)
    air = build_air_input(scene, emitter, n_versions=n_versions)
    return Setup(
        emitter=build_emitter_input(emitter, number=number, n_versions=n_versions, n_replicas=n_replicas),
        face=geometry.face,
        coat=build_coat_input(scene, emitter, n_versions=n_versions),
        slab=build_slab_input(scene, emitter, versions=versions),
        air=air,
        sight=build_view_input(scene, emitter, n_versions=n_versions, map_grid=map_grid, air=air, geometry=geometry),
        work=work,
    )
