"""A response made ready to be asked: all that does not depend on the question."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.grid import Grid
from paneglow.transport.arrays import (
    build_air_input,
    build_coat_input,
    build_geometry,
    build_slab_input,
    build_view_input,
)
from paneglow.transport.kernels.inputs import AirInput, CoatInput, FaceInput, SlabInput, ViewInput
from paneglow.transport.response.plan import base_classes, channel_scene, first_apart, neutral_emitter
from paneglow.transport.response.records import FloatArray, IntArray, Response
from paneglow.transport.response.rings import ring_areas, ring_means, ring_position

BoolArray = npt.NDArray[np.bool_]

NEAR_MM = (0.8, 2.4)  # the point spread is summed pixel by pixel within the first, on a coarse grid beyond the second
COARSE_MM = 0.75  # pitch of that coarse grid, at most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadyResponse:
    """A response with all that does not depend on the question worked out once (`ready_response`)."""

    response: Response  # The traced window
    face: FaceInput  # Kernel input of the board
    air: AirInput  # Kernel input of the sheets
    coat: CoatInput  # Kernel input of the face classes
    slab: SlabInput  # Kernel input of the laminate
    view: ViewInput  # Kernel input of the view
    front_class: int  # of the endless slab
    apart: BoolArray  # [class], whose point spread leaves out the first scattering
    far_grid: Grid  # Coarse grid for light far from where it enters
    to_rows: FloatArray  # [pixel row, coarse row]
    to_columns: FloatArray  # [pixel column, coarse column]
    cell_rows: FloatArray  # [pixel row, front cell row]
    cell_columns: FloatArray  # Columns of the front cells per back cell
    nearest_cell: IntArray  # [front cell], itself where it is lit
    near: FloatArray  # [ring], share summed pixel by pixel
    ring_weights: FloatArray  # [ring], light [mm2] per unit of the value at a ring's middle
    weights: FloatArray  # [y, x] of the mean over what is lit; sums to 1
    alike: bool  # whether all groups see the same share of every pixel


def ready_response(response: Response) -> ReadyResponse:
    """Work out once what every question needs.

    Parameters
    ----------
    response : Response

    Returns
    -------
    ReadyResponse
    """
    carried = channel_scene(response.scene, channels=response.channels)
    n_channels = carried.wavelength_nm.size
    light = neutral_emitter(n_channels)
    air = build_air_input(carried, light, n_versions=1)
    geometry = build_geometry(carried)
    grid, front = response.grid, response.difference.front
    lit = response.lit[0].astype(np.float64)
    far_grid = _far_grid(grid)
    rings, ring_mm = response.spread.table.shape[2], response.spread.pitch_mm
    return ReadyResponse(
        response=response,
        face=geometry.face,
        air=air,
        coat=build_coat_input(carried, light, n_versions=1),
        slab=build_slab_input(carried, light, versions=carried.slabs),
        view=build_view_input(carried, light, n_versions=1, map_grid=grid, air=air, geometry=geometry),
        front_class=base_classes(response.scene, grid=grid)[1],
        apart=first_apart(response.scene),
        far_grid=far_grid,
        to_rows=_spline(far_grid.y_centres_mm(), wanted=grid.y_centres_mm()),
        to_columns=_spline(far_grid.x_centres_mm(), wanted=grid.x_centres_mm()),
        cell_rows=_linear(front.y_centres_mm(), wanted=grid.y_centres_mm()),
        cell_columns=_linear(front.x_centres_mm(), wanted=grid.x_centres_mm()),
        nearest_cell=_nearest_lit(response),
        near=_near_share(rings, ring_mm=ring_mm),
        ring_weights=ring_areas(rings, pitch_mm=ring_mm) @ ring_means(rings),
        weights=lit / lit.sum(),
        alike=all(bool(np.abs(share - share[:1]).max() < 1e-6) for share in (response.seen, response.lit)),
    )


def _far_grid(grid: Grid) -> Grid:
    """Coarse points from rim to rim of a grid, as the centres of a coarser one."""
    n_y, n_x = (max(4, int(np.ceil(n * grid.pitch_mm / COARSE_MM)) + 1) for n in grid.shape)
    pitch = max(grid.n_x * grid.pitch_mm / (n_x - 1), grid.n_y * grid.pitch_mm / (n_y - 1))
    x_min, y_min, _, _ = grid.bounds_mm
    return Grid(x_min_mm=x_min - 0.5 * pitch, y_min_mm=y_min - 0.5 * pitch, pitch_mm=pitch, n_x=n_x, n_y=n_y)


def _spline(points: FloatArray, *, wanted: FloatArray) -> FloatArray:
    """Matrix of a cubic spline through points, at the wanted places."""
    return np.asarray(scipy.interpolate.CubicSpline(points, np.eye(points.size))(wanted))


def _linear(points: FloatArray, *, wanted: FloatArray) -> FloatArray:
    """Matrix of linear interpolation between points, carried on straight beyond them."""
    if points.size == 1:
        return np.ones((wanted.size, 1))
    place = (wanted - points[0]) / (points[1] - points[0])
    low = np.clip(np.floor(place), 0, points.size - 2).astype(np.int64)
    matrix = np.zeros((wanted.size, points.size))
    at = np.arange(wanted.size)
    matrix[at, low] = 1.0 - (place - low)
    matrix[at, low + 1] = place - low
    return matrix


def _nearest_lit(response: Response) -> IntArray:
    """For every front cell itself, or the nearest one of which something is lit."""
    front = response.difference.front
    whole = round(front.pitch_mm / response.grid.pitch_mm)
    padded = np.zeros((front.n_y * whole, front.n_x * whole))
    padded[: response.grid.n_y, : response.grid.n_x] = response.lit.max(axis=0)
    lit = padded.reshape(front.n_y, whole, front.n_x, whole).sum(axis=(1, 3)) > 0.0
    rows, columns = scipy.ndimage.distance_transform_edt(~lit, return_distances=False, return_indices=True)
    return np.asarray((rows * front.n_x + columns).ravel(), dtype=np.int64)


def _near_share(n_rings: int, *, ring_mm: float) -> FloatArray:
    """Share of every ring that is summed pixel by pixel: all within NEAR_MM[0], none beyond NEAR_MM[1], smooth."""
    limits = ring_position(np.array(NEAR_MM), pitch_mm=ring_mm)
    part = np.clip((np.arange(n_rings) + 0.5 - limits[0]) / (limits[1] - limits[0]), 0.0, 1.0)
    return np.asarray(1.0 - part * part * (3.0 - 2.0 * part))
