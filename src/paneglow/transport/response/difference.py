"""Tracing the difference: what the window makes of entering light, less what the endless slab would."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.grid import Grid
from paneglow.scene import BODY_LAMINATE, Scene
from paneglow.transport.kernels.inputs import Workspace
from paneglow.transport.kernels.response_rows import trace_difference_cells
from paneglow.transport.response.kit import N_BATCHES, Kit, ResponseEffort, Run, workspace
from paneglow.transport.response.plan import entry_bins, raster_of
from paneglow.transport.response.records import Channels, Difference, EntryBins, Float32Array, FloatArray, IntArray

BoolArray = npt.NDArray[np.bool_]

DIFFERENCE_BINS = 3
DIFFERENCE_STREAM = 1 << 30  # keeps these photons' random streams apart from those of the point spread
MARGIN_THICKNESSES = 3.0  # light that enters farther from the window is left out


def _cells_over(scene: Scene, *, entry_class: int, reach_mm: float, grid: Grid) -> BoolArray:
    """Cells within which light of an entry class may be centred: [cell y, cell x] of `grid`."""
    enters = (scene.back == entry_class) & (scene.body == BODY_LAMINATE)
    raster = scene.grid
    spread = int(np.ceil(reach_mm / raster.pitch_mm))
    if spread > 0 and enters.shape != (1, 1):
        enters = scipy.ndimage.maximum_filter(enters, size=2 * spread + 1, mode="constant")
    fine = max(1, int(np.ceil(grid.pitch_mm / raster.pitch_mm)))
    points = Grid(
        x_min_mm=grid.x_min_mm, y_min_mm=grid.y_min_mm, pitch_mm=grid.pitch_mm / fine,
        n_x=grid.n_x * fine, n_y=grid.n_y * fine,
    )  # fmt: skip
    rows, columns = raster_of(scene, grid=points)
    found = enters[np.ix_(rows, columns)].reshape(grid.n_y, fine, grid.n_x, fine)
    return np.asarray(found.any(axis=(1, 3)))


class _Places(NamedTuple):
    """Where light enters and where it is seen, as the kernels take it."""

    entries: EntryBins
    cells: Grid
    reach: FloatArray  # [class]
    rows: IntArray  # [class, sine bin, cell y, cell x]
    n_rows: int
    front: Grid
    front_row: IntArray  # [pixel row]
    front_column: IntArray
    share: FloatArray  # [channel, front cell], pixels of it that are lit


def trace_difference(
    scene: Scene,
    *,
    kit: Kit,
    grid: Grid,
    effort: ResponseEffort,
    seed: int,
    seen: tuple[Float32Array, Float32Array],
    run: Run,
) -> Difference:
    """What the window makes of light per cell and bin, less what the endless slab would."""
    places = _places(scene, kit=kit, grid=grid, effort=effort, lit=seen[1])
    channels, rows = kit.channels, places.rows
    n_cells = places.share.shape[1]
    table = np.zeros((places.n_rows, channels.n_groups, N_BATCHES, channels.n_laminates, n_cells), dtype=np.float32)
    entered = np.zeros((N_BATCHES, places.n_rows), dtype=np.int64)
    per_row = max(1, -(-effort.difference_photons // max(1, places.n_rows * N_BATCHES)))

    def trace_strip(task: tuple[int, int, int, int]) -> None:
        e, t, y, b = task
        columns = np.flatnonzero(rows[e, t, y] >= 0)
        at = rows[e, t, y, columns]
        pooled, found = _trace_strip(
            kit, places=places, strip=(e, t, y), columns=columns, photons=per_row, seed=seed, seen=seen[0],
            first_stream=DIFFERENCE_STREAM + b * places.n_rows + int(at[0]),
        )  # fmt: skip
        table[at, :, b] = pooled / np.maximum(found, 1)[:, None, None, None]
        entered[b, at] = found

    strips = np.argwhere((rows >= 0).any(axis=3)).tolist()
    list(run(trace_strip, [(e, t, y, b) for e, t, y in strips for b in range(N_BATCHES)]))
    met = np.append(entered.min(axis=0) > 0, False)
    return Difference(
        entries=places.entries,
        cells=places.cells,
        reach_mm=places.reach,
        rows=np.where(met[rows], rows, -1),
        table=table,
        front=places.front,
    )


def _places(scene: Scene, *, kit: Kit, grid: Grid, effort: ResponseEffort, lit: Float32Array) -> _Places:
    entries = entry_bins(scene, count=DIFFERENCE_BINS)
    cells = _cell_grid(scene, grid=grid, pitch_mm=effort.back_cell_mm)
    reach = _reach(scene, channels=kit.channels, entries=entries)
    wanted = [
        _cells_over(scene, entry_class=int(k), reach_mm=float(reach[e]), grid=cells)
        for e, k in enumerate(entries.classes)
    ]
    rows = np.full((entries.classes.size, DIFFERENCE_BINS, *cells.shape), -1, dtype=np.int64)
    used = np.broadcast_to(np.stack(wanted)[:, None], rows.shape)
    n_rows = int(used.sum())
    rows[used] = np.arange(n_rows)
    front, front_row, front_column = _front_cells(grid, pitch_mm=effort.front_cell_mm)
    flat_cell = (front_row[:, None] * front.n_x + front_column[None, :]).ravel()
    share = [np.bincount(flat_cell, weights=one.ravel(), minlength=front.n_y * front.n_x) for one in lit]
    return _Places(entries, cells, reach, rows, n_rows, front, front_row, front_column, np.stack(share))


def _trace_strip(
    kit: Kit,
    *,
    places: _Places,
    strip: tuple[int, int, int],
    columns: IntArray,
    photons: int,
    seed: int,
    seen: Float32Array,
    first_stream: int,
) -> tuple[FloatArray, IntArray]:
    """One row of cells, one bin, one batch: sums [cell, group, laminate, front cell] and how many photons entered."""
    e, t, y = strip
    cells, channels = places.cells, kit.channels
    corners = np.full((columns.size, 3), cells.pitch_mm)
    corners[:, 0] = cells.x_min_mm + columns * cells.pitch_mm
    corners[:, 1] = cells.y_min_mm + y * cells.pitch_mm
    plus, minus = _two_workspaces(np.zeros((2, seen.shape[0], seen[0].size)))
    shape = (columns.size, channels.n_groups, channels.n_laminates, places.share.shape[1])
    pooled = np.zeros(shape)
    found = np.zeros(columns.size, dtype=np.int64)
    low, high = places.entries.sine2_edges[t : t + 2]
    nowhere = kit.board.sight._replace(n_x=0, n_y=0)
    books = np.zeros((2, seen.shape[0]))
    trace_difference_cells(
        first_stream, corners, photons, seed, low, high, int(places.entries.classes[e]), float(places.reach[e]),
        kit.base, kit.board._replace(work=plus), kit.plain, nowhere, minus, books, seen, places.front_row,
        places.front_column, places.share, pooled, found,
    )  # fmt: skip
    return pooled, found


def _cell_grid(scene: Scene, *, grid: Grid, pitch_mm: float) -> Grid:
    """Cells over the window and as far round it as light entering there still matters to it."""
    x_min, y_min, x_max, y_max = grid.bounds_mm
    margin = MARGIN_THICKNESSES * scene.thickness_mm
    n_x, n_y = (int(np.ceil((span + 2.0 * margin) / pitch_mm)) for span in (x_max - x_min, y_max - y_min))
    return Grid(
        x_min_mm=0.5 * (x_min + x_max) - 0.5 * n_x * pitch_mm,
        y_min_mm=0.5 * (y_min + y_max) - 0.5 * n_y * pitch_mm,
        pitch_mm=pitch_mm,
        n_x=n_x,
        n_y=n_y,
    )


def _front_cells(grid: Grid, *, pitch_mm: float) -> tuple[Grid, IntArray, IntArray]:
    """Front cells of whole pixels, and the cell row and column of every pixel row and column."""
    whole = max(1, round(pitch_mm / grid.pitch_mm))
    front = Grid(
        x_min_mm=grid.x_min_mm,
        y_min_mm=grid.y_min_mm,
        pitch_mm=whole * grid.pitch_mm,
        n_x=-(-grid.n_x // whole),
        n_y=-(-grid.n_y // whole),
    )
    return front, np.arange(grid.n_y) // whole, np.arange(grid.n_x) // whole


def _reach(scene: Scene, *, channels: Channels, entries: EntryBins) -> FloatArray:
    """How deep inside the back face entering light is centred: a transport length, half the slab at most.

    Seen from afar, light that enters along a direction spreads as if from a point one transport length along it.
    """
    reduced = channels.traced_scatter_per_mm * (1.0 - scene.asymmetry)
    depth = min(0.5 * scene.thickness_mm, 1.0 / max(reduced, 1e-9))
    return np.asarray(depth * (1.0 - np.asarray(scene.classes.haze)[entries.classes]))


def _two_workspaces(maps: FloatArray) -> tuple[Workspace, Workspace]:
    """Workspaces of the board and of the endless slab; they share all but maps and kept weights."""
    plus = workspace(maps.shape[1], maps=maps[0])
    return plus, plus._replace(maps=maps[1], saved_weight=np.ones(maps.shape[1]))
