"""The part of a scene that one LED's light can reach, moved to its own origin.

Only this part is traced, so time and memory do not grow with the board beyond it, and LEDs in places that are alike to
the pixel have one trace between them.
"""

import hashlib
from dataclasses import dataclass, fields, is_dataclass, replace

import numpy as np
import numpy.typing as npt

from paneglow.grid import Grid
from paneglow.scene import Scene

# Names and what is applied after tracing say nothing about the light itself
UNTRACED = {"ref", "window", "name", "names", "flux_lm", "flux_lm_low", "flux_lm_high"}
# Hashed at the emitter's own nodes only, or apart
BY_WAVELENGTH = {
    "emitters",
    "classes",
    "slabs",
    "wavelength_nm",
    "inner",
    "back_sheet",
    "front_sheet",
    "plating",
}
SAME_PLACE_DIGITS = 6  # of a millimetre: places closer than a nanometre are one place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neighbourhood:
    """A scene with one emitter, cut out of a larger one.

    `corner` is the row and column of its map in the whole map; `windows` the numbers, in the whole scene, of its
    windows 0, 1, 2, ...; `is_whole` says that nothing was cut off.
    """

    scene: Scene
    corner: tuple[int, int]
    windows: tuple[int, ...]
    is_whole: bool


def cut_out(scene: Scene, number: int, *, reach_mm: float) -> Neighbourhood:
    """The surroundings of an emitter up to `reach_mm` to every side, whole map pixels wide.

    Parameters
    ----------
    scene : Scene
    number : int
        Of the emitter.
    reach_mm : float
        To every side [mm].

    Returns
    -------
    Neighbourhood
    """
    emitter = scene.emitters[number]
    columns, x_origin = _span(emitter.centre_mm[0], reach_mm, scene.map_grid.x_min_mm, scene.map_grid, "n_x")
    rows, y_origin = _span(emitter.centre_mm[1], reach_mm, scene.map_grid.y_min_mm, scene.map_grid, "n_y")
    map_grid = Grid(
        x_min_mm=0.0,
        y_min_mm=0.0,
        pitch_mm=scene.map_grid.pitch_mm,
        n_x=columns.stop - columns.start,
        n_y=rows.stop - rows.start,
    )
    grid = scene.grid
    # Of the board as much as of the map, and what lies beside a map that is smaller than the board
    around_x, around_y = (
        _whole_pixels(emitter.centre_mm[axis], reach_mm, start_mm, scene.map_grid.pitch_mm)
        for axis, start_mm in enumerate((scene.map_grid.x_min_mm, scene.map_grid.y_min_mm))
    )
    inner_columns = _pixels(around_x[0] - grid.x_min_mm, around_x[1], grid.pitch_mm, grid.n_x)
    inner_rows = _pixels(around_y[0] - grid.y_min_mm, around_y[1], grid.pitch_mm, grid.n_y)
    cut = np.s_[inner_rows, inner_columns]
    windows, numbers = _renumbered(scene, cut)
    local = replace(
        scene,
        grid=Grid(
            x_min_mm=_rounded(grid.x_min_mm + inner_columns.start * grid.pitch_mm - x_origin),
            y_min_mm=_rounded(grid.y_min_mm + inner_rows.start * grid.pitch_mm - y_origin),
            pitch_mm=grid.pitch_mm,
            n_x=inner_columns.stop - inner_columns.start,
            n_y=inner_rows.stop - inner_rows.start,
        ),
        front=scene.front[cut],
        back=scene.back[cut],
        body=scene.body[cut],
        inner=tuple(replace(layer, copper=layer.copper[cut]) for layer in scene.inner),
        windows=windows,
        emitters=(
            replace(
                emitter,
                centre_mm=(
                    _rounded(emitter.centre_mm[0] - x_origin),
                    _rounded(emitter.centre_mm[1] - y_origin),
                    emitter.centre_mm[2],
                ),
            ),
        ),
        map_grid=map_grid,
    )
    is_whole = map_grid.shape == scene.map_grid.shape and local.front.shape == scene.front.shape
    return Neighbourhood(scene=local, corner=(rows.start, columns.start), windows=numbers, is_whole=is_whole)


def _rounded(length_mm: float) -> float:
    return round(length_mm, SAME_PLACE_DIGITS) + 0.0


def _span(centre_mm: float, reach_mm: float, start_mm: float, grid: Grid, count: str) -> tuple[slice, float]:
    """Pixels of the map within reach along one axis, at least one, and where they begin [mm]."""
    n = int(getattr(grid, count))
    first = int(np.clip(np.floor((centre_mm - reach_mm - start_mm) / grid.pitch_mm), 0, n - 1))
    last = int(np.clip(np.ceil((centre_mm + reach_mm - start_mm) / grid.pitch_mm), first + 1, n))
    return slice(first, last), start_mm + first * grid.pitch_mm


def _whole_pixels(centre_mm: float, reach_mm: float, start_mm: float, pitch_mm: float) -> tuple[float, float]:
    """Where the map pixels within reach along an axis would begin, were the map endless, and their length [mm]."""
    first = np.floor((centre_mm - reach_mm - start_mm) / pitch_mm)
    last = np.ceil((centre_mm + reach_mm - start_mm) / pitch_mm)
    return float(start_mm + first * pitch_mm), float((last - first) * pitch_mm)


def _pixels(offset_mm: float, length_mm: float, pitch_mm: float, n: int) -> slice:
    """Raster pixels under a span, at least one; a tolerance keeps a border that falls on an edge from slipping."""
    first = int(np.clip(np.floor(offset_mm / pitch_mm + 1e-6), 0, n - 1))
    last = int(np.clip(np.ceil((offset_mm + length_mm) / pitch_mm - 1e-6), first + 1, n))
    return slice(first, last)


def _renumbered(scene: Scene, cut: tuple[slice, slice]) -> tuple[npt.NDArray[np.uint8] | None, tuple[int, ...]]:
    """Windows of the part, numbered 1, 2, ... by first appearance, and their numbers in the whole; 0 stays 0."""
    if scene.windows is None:
        return None, (0,)
    part = scene.windows[cut]
    found, first = np.unique(part, return_index=True)
    order = found[np.argsort(first)]
    numbers = (0, *(int(number) for number in order if number != 0))
    table = np.zeros(256, dtype=np.uint8)
    table[list(numbers)] = np.arange(len(numbers))
    return table[part], numbers


def scene_digest(local: Scene) -> bytes:
    """Hash of everything the light of a scene with one emitter depends on."""
    digest = hashlib.sha256()
    emitter = local.emitters[0]
    classes = local.classes
    for name in _names(local):
        if name not in BY_WAVELENGTH:
            _add(digest, getattr(local, name))
    # Of wavelength tables only what stands at the emitter's own nodes matters
    for table in (classes.transmit, classes.reflect, classes.backing_reflect):
        _add(digest, table[:, emitter.nodes])
    _add(digest, (classes.haze, classes.roughness))
    for slab in local.slabs:
        _add(digest, (slab.scatter_per_mm, slab.absorb_per_mm[emitter.nodes]))
    for layer in local.inner:
        _add(digest, (layer.height_mm, layer.copper, layer.reflect[emitter.nodes]))
    for sheet in (local.back_sheet, local.front_sheet):
        if sheet is not None:
            _add(digest, (sheet.distance_mm, sheet.haze))
            _add(digest, (_at(sheet.reflect, emitter.nodes), _at(sheet.transmit, emitter.nodes)))
        digest.update(b"|")
    _add(digest, None if local.plating is None else local.plating[emitter.nodes])
    for name in _names(emitter):
        if name not in {"nodes", "light_wall"}:
            _add(digest, getattr(emitter, name))
    wall = emitter.light_wall
    _add(digest, wall and (wall.length_mm, wall.width_mm, wall.reflect[emitter.nodes]))
    return digest.digest()


def _at(table: npt.NDArray[np.float64], nodes: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    return table if table.size == 1 else table[nodes]


def _names(record: object) -> list[str]:
    return [field.name for field in fields(record) if field.name not in UNTRACED]  # type: ignore[arg-type]


def _add(digest: "hashlib._Hash", value: object) -> None:
    """Add a number, an array or a record of such, with its shape."""
    if isinstance(value, np.ndarray):
        digest.update(repr((value.shape, value.dtype.str)).encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif is_dataclass(value):
        for name in _names(value):
            _add(digest, getattr(value, name))
    elif isinstance(value, tuple):
        digest.update(repr(len(value)).encode())
        for item in value:
            _add(digest, item)
    else:
        digest.update(repr(value).encode())
