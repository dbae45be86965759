"""Kernel inputs of a response: the board, its endless slab, and one map row per channel."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from paneglow.grid import Grid
from paneglow.scene import Scene
from paneglow.transport.arrays import build_face_input, build_geometry, build_setup
from paneglow.transport.kernels.inputs import N_ANGLE_BINS, N_FATES, FaceInput, Setup, ViewInput, Workspace
from paneglow.transport.replicas import no_replicas
from paneglow.transport.response.plan import (
    NODES_PER_VERSION,
    base_classes,
    channel_scene,
    collision_ratio,
    neutral_emitter,
)
from paneglow.transport.response.records import Channels, FloatArray, IntArray

N_BATCHES = 8
ENDLESS_MM = 1e7  # pitch of the one pixel of an endless slab

Run = Callable[..., Iterable[object]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseEffort:
    """How finely a response is traced.

    Attributes
    ----------
    spread_photons, difference_photons : int
        Photons into the endless slab, and into the window.
    back_cell_mm, front_cell_mm : float
        Cells of the difference between window and endless slab, where light enters and where it is seen.
    ring_mm : float
        Width of the innermost ring of the point spread.
    absorption_count : int
        Carried absorption coefficients, a multiple of 3.
    scatter_span_frac : float
        Carried scattering coefficients reach this far either way; 0 carries only the traced one.
    """

    spread_photons: int = 400_000
    difference_photons: int = 800_000
    back_cell_mm: float = 0.75
    front_cell_mm: float = 0.6
    ring_mm: float = 0.1
    absorption_count: int = 6
    scatter_span_frac: float = 0.0


class Kit(NamedTuple):
    """Kernel inputs of the board and of its endless slab."""

    channels: Channels
    board: Setup  # scored over the window; its workspace is to be replaced
    plain: FaceInput
    base: IntArray


def _endless(scene: Scene, *, back: int, front: int) -> FaceInput:
    """One pixel of a class on either face."""
    one = np.zeros((1, 1), dtype=np.uint8)
    half = 0.5 * ENDLESS_MM
    return build_face_input(
        replace(
            scene,
            grid=Grid(x_min_mm=-half, y_min_mm=-half, pitch_mm=ENDLESS_MM, n_x=1, n_y=1),
            back=one + np.uint8(back),
            front=one + np.uint8(front),
            body=one,
            inner=(),
            windows=None,
        )
    )


def build_kit(scene: Scene, *, channels: Channels, grid: Grid) -> Kit:
    """Kernel inputs for a scene's channels, scored on a grid."""
    n_channels = channels.n_groups * channels.n_laminates
    carried = channel_scene(scene, channels=channels)
    light = neutral_emitter(n_channels)
    back, front = base_classes(scene, grid=grid)
    board = build_setup(
        carried, light, versions=carried.slabs, map_grid=grid, geometry=build_geometry(carried),
        work=workspace(n_channels, maps=np.zeros((n_channels, grid.n_y * grid.n_x))),
    )  # fmt: skip
    return Kit(
        channels=channels,
        board=board._replace(
            slab=board.slab._replace(collision_ratio=collision_ratio(channels)), sight=on_grid(board.sight, grid=grid)
        ),
        plain=_endless(carried, back=back, front=front),
        base=np.array([back, front]),
    )


def on_grid(view: ViewInput, *, grid: Grid) -> ViewInput:
    """A view that gives every channel a map row of its own: three stand where X, Y and Z do."""
    n_channels = view.n_versions * view.n_nodes
    return view._replace(
        n_versions=n_channels // NODES_PER_VERSION,
        n_nodes=NODES_PER_VERSION,
        xyz=np.eye(NODES_PER_VERSION),
        x_min=grid.x_min_mm,
        y_min=grid.y_min_mm,
        inverse_pitch=1.0 / grid.pitch_mm,
        inverse_pixel_area=1e6 / grid.pixel_area_mm2,
        n_x=grid.n_x,
        n_y=grid.n_y,
    )


def workspace(n_channels: int, *, maps: FloatArray) -> Workspace:
    """Scratch of one thread, with maps of its own, [channel, pixel]."""
    n_versions = n_channels // NODES_PER_VERSION
    fates, angles = np.zeros((N_FATES, n_versions)), np.zeros((1, N_ANGLE_BINS * n_versions))
    weights = np.ones((4, n_channels))
    return Workspace(weights[0], weights[1], weights[2], weights[3], maps, fates, angles, no_replicas())
