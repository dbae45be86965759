"""Inputs of many jobs as one set of tables in single precision, a row per job."""

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from paneglow.scene import Scene
from paneglow.transport.arrays import (
    build_air_input,
    build_coat_input,
    build_emitter_input,
    build_ground,
    build_slab_input,
    build_view_input,
)
from paneglow.transport.cuda.kernel import SHARED_FACE, SHARED_VIEW
from paneglow.transport.job import TraceJob
from paneglow.transport.kernels.inputs import AirInput, CoatInput, EmitterInput, FaceInput, SlabInput, ViewInput

Record = TypeVar("Record", bound=NamedTuple)


class JobTables(NamedTuple):
    """What the loop is given, in its order."""

    emitters: EmitterInput
    faces: FaceInput
    coats: CoatInput
    slabs: SlabInput
    airs: AirInput
    views: ViewInput


def build_tables(scene: Scene, jobs: Sequence[TraceJob]) -> JobTables:
    """Stack the inputs of jobs; lengths are measured from each LED's own centre.

    In single precision a place 100 mm from the origin is known to 8 um; near an LED it is known to some nm.

    Parameters
    ----------
    scene : Scene
    jobs : sequence of TraceJob
        Of one shape: as many versions and nodes, and one map grid.

    Returns
    -------
    JobTables
    """
    ground = build_ground(scene)
    face = ground.face
    emitters, faces, coats, slabs, airs, views = [], [], [], [], [], []
    for job in jobs:
        emitter, n_versions = job.emitter, len(job.versions)
        x, y, z = emitter.centre_mm
        own = build_emitter_input(emitter, number=job.number, n_versions=n_versions)
        air = build_air_input(scene, emitter, n_versions=n_versions)
        view = build_view_input(scene, emitter, n_versions=n_versions, map_grid=job.map_grid, air=air, ground=ground)
        emitters.append(own._replace(centre=np.array([0.0, 0.0, z])))
        faces.append(face._replace(x_min=face.x_min - x, y_min=face.y_min - y))
        coats.append(build_coat_input(scene, emitter, n_versions=n_versions))
        slabs.append(build_slab_input(scene, emitter, versions=job.versions))
        airs.append(air)
        views.append(view._replace(x_min=view.x_min - x, y_min=view.y_min - y))
    return JobTables(
        emitters=_stacked(emitters),
        faces=_stacked(faces, shared=SHARED_FACE),
        coats=_stacked(coats),
        slabs=_stacked(slabs),
        airs=_stacked(airs),
        views=_stacked(views, shared=SHARED_VIEW),
    )


def _stacked(rows: Sequence[Record], *, shared: frozenset[str] = frozenset()) -> Record:
    """One record whose fields have a leading axis of jobs, but for shared ones."""
    first = rows[0]
    columns = {
        name: _narrow(name, getattr(first, name) if name in shared else _column([getattr(row, name) for row in rows]))
        for name in first._fields
    }
    return first._replace(**columns)


def _column(values: Sequence[Any]) -> npt.NDArray[Any]:
    """Stack fields; tables of unlike length are drawn out by their last value, which their readers never pass."""
    arrays = [np.asarray(value) for value in values]
    if arrays[0].ndim != 1:
        return np.stack(arrays)
    longest = max(array.size for array in arrays)
    return np.stack([np.pad(array, (0, longest - array.size), mode="edge") for array in arrays])


def _narrow(name: str, value: Any) -> Any:
    """Single precision and 32-bit whole numbers, but for the number that names a random stream."""
    array = np.asarray(value)
    if array.dtype == np.float64:
        array = array.astype(np.float32)
    elif array.dtype == np.int64 and name != "number":
        array = array.astype(np.int32)
    return array[()] if array.ndim == 0 else np.ascontiguousarray(array)
