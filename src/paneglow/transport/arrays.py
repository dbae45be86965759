"""Scene to kernel input: named tuples of contiguous arrays, made here and nowhere else."""

import math

import numpy as np
import numpy.typing as npt

from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.physics import fresnel_reflectance
from paneglow.scene import Emitter, Scene, Slab
from paneglow.transport.kernels.inputs import CoatInput, EmitterInput, FaceInput, SlabInput, ViewInput

FloatArray = npt.NDArray[np.float64]

LEAST_CHANCE = 0.05  # a branch of a coat that any channel takes is followed at least this often


def build_face_input(scene: Scene) -> FaceInput:
    """Class and body maps as one contiguous block."""
    return FaceInput(
        classes=np.ascontiguousarray(np.stack([scene.back, scene.front])),
        body=np.ascontiguousarray(scene.body),
        x_min=scene.grid.x_min_mm,
        y_min=scene.grid.y_min_mm,
        inverse_pitch=1.0 / scene.grid.pitch_mm,
    )


def build_coat_input(scene: Scene, emitter: Emitter, *, n_versions: int) -> CoatInput:
    """Coefficients of the face classes at an emitter's nodes, repeated for every slab version."""

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
    return CoatInput(
        transmit=transmit,
        reflect=reflect,
        backing=backing,
        haze=np.ascontiguousarray(classes.haze, dtype=np.float64),
        return_chance=chance,
        is_plain=is_plain,
        is_opaque=most_passed <= 0.0,
        has_backing=backing.max(axis=1) > 0.0,
    )


def build_slab_input(scene: Scene, emitter: Emitter, *, versions: tuple[Slab, ...]) -> SlabInput:
    """The laminate for versions that share one scattering coefficient.

    Raises
    ------
    TransportError
        If the versions scatter differently: one walk cannot answer for them.
    """
    scatter_per_mm = versions[0].scatter_per_mm
    if any(version.scatter_per_mm != scatter_per_mm for version in versions):
        raise TransportError("slab versions of one trace must share scatter_per_mm; trace them apart")
    absorb = np.concatenate([version.absorb_per_mm[emitter.nodes] for version in versions])
    return SlabInput(
        thickness=scene.thickness_mm,
        refractive_index=scene.refractive_index,
        scatter=scatter_per_mm,
        asymmetry=scene.asymmetry,
        absorb=np.ascontiguousarray(absorb, dtype=np.float64),
        least_absorb=float(absorb.min()),
    )


def build_emitter_input(emitter: Emitter, *, number: int) -> EmitterInput:
    """One LED as scalars and arrays."""
    opening = (0.0, 0.0) if emitter.opening_mm is None else emitter.opening_mm
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
        cover_distance=float(emitter.cover_distance_mm),
        cover_reflect=float(emitter.cover_reflect),
    )


def build_view_input(scene: Scene, emitter: Emitter, *, n_versions: int, map_grid: Grid) -> ViewInput:
    """Where and along which direction light is scored."""
    sin_out = math.sin(scene.view_angle_rad)
    cos_out = math.cos(scene.view_angle_rad)
    sin_in = sin_out / scene.refractive_index
    reflectance = fresnel_reflectance(cos_out, relative_index=scene.refractive_index)
    return ViewInput(
        sin_out=sin_out,
        cos_out=cos_out,
        sin_in=sin_in,
        cos_in=math.sqrt(1.0 - sin_in * sin_in),
        reflect=float(reflectance),
        n_versions=n_versions,
        n_nodes=int(emitter.nodes.size),
        xyz=np.ascontiguousarray(emitter.xyz_per_lm, dtype=np.float64),
        x_min=map_grid.x_min_mm,
        y_min=map_grid.y_min_mm,
        inverse_pitch=1.0 / map_grid.pitch_mm,
        inverse_pixel_area=1e6 / map_grid.pixel_area_mm2,  # lm per mm2 to cd/m2
        n_x=map_grid.n_x,
        n_y=map_grid.n_y,
    )
