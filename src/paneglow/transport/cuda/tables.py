"""Inputs of many jobs as one set of tables in single precision, a row per job."""

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from paneglow.transport.arrays import SceneGeometry, build_setup
from paneglow.transport.cuda.kernels.loop import SIGHT_FIELDS
from paneglow.transport.kernels.inputs import AirInput, CoatInput, EmitterInput, FaceInput, SlabInput, ViewInput
from paneglow.transport.tally import TraceJob

NO_WORK: Any = None  # lanes have workspaces of their own
Record = TypeVar("Record", bound=NamedTuple)


class JobTables(NamedTuple):
    """What the loop is given, in its order."""

    emitters: EmitterInput
    faces: FaceInput
    coats: CoatInput
    slabs: SlabInput
    airs: AirInput
    views: ViewInput


def build_tables(jobs: Sequence[TraceJob], geometries: Sequence[SceneGeometry], *, places: Sequence[int]) -> JobTables:
    """Stack the inputs of jobs; lengths are measured from each LED's own centre.

    In single precision a place 100 mm from the origin is known to 8 um; near an LED it is known to some nm.

    Parameters
    ----------
    jobs : sequence of TraceJob
        With as many versions and nodes each.
    geometries : sequence of SceneGeometry
        Of their scenes, all with the same directions toward the viewer.
    places : sequence of int
        Index of every job's geometry.

    Returns
    -------
    JobTables
    """
    emitters, corners, coats, slabs, airs, views = [], [], [], [], [], []
    for job, place in zip(jobs, places, strict=True):
        geometry = geometries[place]
        x, y, z = job.emitter.centre_mm
        setup = build_setup(
            job.scene, job.emitter, number=job.number, versions=job.versions, map_grid=job.map_grid,
            geometry=geometry, work=NO_WORK,
        )  # fmt: skip
        view = setup.sight
        emitters.append(setup.emitter._replace(centre=np.array([0.0, 0.0, z])))
        corners.append((geometry.face.x_min - x, geometry.face.y_min - y))
        coats.append(setup.coat)
        slabs.append(setup.slab)
        airs.append(setup.air)
        views.append(view._replace(x_min=view.x_min - x, y_min=view.y_min - y))
    x_min, y_min = np.ascontiguousarray(np.array(corners, dtype=np.float32).T)
    corner: dict[str, Any] = {"x_min": x_min, "y_min": y_min}
    faces = _stacked([geometry.face for geometry in geometries])
    return JobTables(
        emitters=_stacked(emitters),
        faces=faces._replace(**corner),
        coats=_stacked(coats),
        slabs=_stacked(slabs),
        airs=_stacked(airs),
        views=_stacked(views, shared=SIGHT_FIELDS),
    )


def _stacked(rows: Sequence[Record], *, shared: frozenset[str] = frozenset()) -> Record:
    """One record whose fields have a leading axis of rows, but for shared ones."""
    first = rows[0]
    columns = {
        name: _narrow(name, getattr(first, name) if name in shared else _column([getattr(row, name) for row in rows]))
        for name in first._fields
    }
    return first._replace(**columns)


def _column(values: Sequence[Any]) -> npt.NDArray[Any]:
    """Stack fields; a smaller one is drawn out by its last values, which its readers never pass."""
    arrays = [np.asarray(value) for value in values]
    shape = np.max([array.shape for array in arrays], axis=0)
    if all(array.shape == arrays[0].shape for array in arrays):
        return np.stack(arrays)
    margins = [[(0, int(most - own)) for most, own in zip(shape, array.shape, strict=True)] for array in arrays]
    return np.stack([np.pad(array, margin, mode="edge") for array, margin in zip(arrays, margins, strict=True)])


def _narrow(name: str, value: Any) -> Any:
    """Single precision and 32-bit whole numbers, but for the number that names a random stream."""
    array = np.asarray(value)
    if array.dtype == np.float64:
        array = array.astype(np.float32)
    elif array.dtype == np.int64 and name != "number":
        array = array.astype(np.int32)
    return array[()] if array.ndim == 0 else np.ascontiguousarray(array)
