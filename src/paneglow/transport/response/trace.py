"""Tracing a response: the endless slab's point spread, and what the window makes of it."""

import os
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between
from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.scene import Emitter, Scene
from paneglow.transport.kernels.response_ask import N_HARMONICS
from paneglow.transport.kernels.response_rows import trace_spread_row
from paneglow.transport.response.difference import trace_difference
from paneglow.transport.response.kit import N_BATCHES, Kit, ResponseEffort, Run, build_kit, on_grid, workspace
from paneglow.transport.response.levels import absorption_levels
from paneglow.transport.response.plan import (
    NODES_PER_VERSION,
    channel_scene,
    entry_bins,
    first_apart,
    group_nodes,
    seen_shares,
)
from paneglow.transport.response.records import Channels, FloatArray, IntArray, PointSpread, Response
from paneglow.transport.response.rings import at_middles, ring_count, ring_projection, without_noise

SPREAD_BINS = 8


def trace_response(
    scene: Scene,
    *,
    grid: Grid,
    seed: int,
    lights: Sequence[Emitter] | None = None,
    absorb_range_per_mm: tuple[float, float] | None = None,
    effort: ResponseEffort | None = None,
    n_threads: int | None = None,
) -> Response:
    """Trace a window once, so that `ask_response` can answer for any LEDs behind it.

    Parameters
    ----------
    scene : Scene
        The board; its first slab gives the scattering coefficient. Its emitters only lend their wavelengths.
    grid : Grid
        Luminance pixels over the window.
    seed : int
    lights : sequence of Emitter, optional
        Lights whose wavelengths will be asked for; the scene's emitters where absent.
    absorb_range_per_mm : (float, float), optional
        Absorption coefficients that can be asked for [1/mm]; the range of the scene's slabs at the lights' nodes where
        absent.
    effort : ResponseEffort, optional
    n_threads : int, optional
        As many as processors where absent. The result does not depend on it.

    Returns
    -------
    Response

    Raises
    ------
    TransportError
        If the view is not along the normal, a sheet stands before the board, or nothing of the window lets light out.
    """
    started = time.perf_counter()
    effort = ResponseEffort() if effort is None else effort
    check_scene(scene)
    lights = scene.emitters if lights is None else tuple(lights)
    groups = group_nodes(scene, lights=lights)
    asked = asked_absorption(scene, groups=groups) if absorb_range_per_mm is None else absorb_range_per_mm
    channels = plan_channels(scene, groups=groups, absorb_range_per_mm=asked, effort=effort)
    kit = build_kit(scene, channels=channels, grid=grid)
    with ThreadPoolExecutor(max_workers=n_threads or os.cpu_count()) as pool:
        spread, books = _trace_spread(scene, kit=kit, grid=grid, effort=effort, seed=seed, run=pool.map)
        seen = seen_shares(channel_scene(scene, channels=channels), grid=grid, base_front=int(kit.base[1]))
        difference = trace_difference(scene, kit=kit, grid=grid, effort=effort, seed=seed, seen=seen, run=pool.map)
    return Response(
        scene=scene,
        grid=grid,
        channels=channels,
        spread=spread,
        difference=difference,
        seen=np.ascontiguousarray(seen[0][:: channels.n_laminates]),
        lit=np.ascontiguousarray(seen[1][:: channels.n_laminates]),
        absorb_range_per_mm=asked,
        effective=_effective(books, channels=channels),
        photons=effort.spread_photons + effort.difference_photons,
        seconds=time.perf_counter() - started,
        seed=seed,
    )


def check_scene(scene: Scene) -> None:
    """Raise where a response would not hold what a trace holds.

    Raises
    ------
    TransportError
    """
    if scene.view_angle_rad != 0.0:
        raise TransportError("a response is traced for a view along the normal; trace slanted views LED by LED")
    if scene.front_sheet is not None:
        raise TransportError("a response has no sheet before the board; trace such a board LED by LED")
    shown = scene.classes.transmit.max(axis=1)[scene.front] > 0.0
    if any(bool(np.any(layer.copper & shown)) for layer in scene.inner):
        raise TransportError("copper inside the board stands in a window; trace such a board LED by LED")


def asked_absorption(scene: Scene, *, groups: IntArray) -> tuple[float, float]:
    """Least and greatest absorption of the scene's slabs at the nodes that are in a group [1/mm]."""
    of_lights = np.concatenate([slab.absorb_per_mm[groups >= 0] for slab in scene.slabs])
    return float(of_lights.min()), float(of_lights.max())


def plan_channels(
    scene: Scene, *, groups: IntArray, absorb_range_per_mm: tuple[float, float], effort: ResponseEffort
) -> Channels:
    """Channels for groups of wavelengths and the ranges wanted."""
    lower = check_between("absorb_range_per_mm", absorb_range_per_mm[0], lower=0.0)
    upper = check_between("absorb_range_per_mm", absorb_range_per_mm[1], lower=lower)
    span = check_between("scatter_span_frac", effort.scatter_span_frac, lower=0.0, upper=0.5)
    count = effort.absorption_count
    if count < NODES_PER_VERSION or count % NODES_PER_VERSION:
        raise TransportError(f"absorption_count is {count}; allowed are multiples of {NODES_PER_VERSION}")
    traced = scene.slabs[0].scatter_per_mm
    return Channels(
        group_of_node=groups,
        scatter_per_mm=np.array([1.0 - span, 1.0, 1.0 + span]) * traced if span > 0.0 else np.array([traced]),
        absorb_per_mm=absorption_levels(lower, upper, count=count),
        n_groups=int(groups.max()) + 1,
        traced_scatter_per_mm=traced,
    )


def _trace_spread(
    scene: Scene, *, kit: Kit, grid: Grid, effort: ResponseEffort, seed: int, run: Run
) -> tuple[PointSpread, FloatArray]:
    """Point spread per entry class and bin of incidence, and the books of what left the front."""
    entries = entry_bins(scene, count=SPREAD_BINS)
    apart = first_apart(scene)
    reach = float(np.hypot(*(np.array(grid.shape) * grid.pitch_mm)))
    n_rings = ring_count(reach, pitch_mm=effort.ring_mm)
    n_pixels = 2 * int(np.ceil(reach / effort.ring_mm))
    project = ring_projection(n_pixels, map_pitch_mm=effort.ring_mm, pitch_mm=effort.ring_mm, n_rings=n_rings)
    half = 0.5 * n_pixels * effort.ring_mm
    square = Grid(x_min_mm=-half, y_min_mm=-half, pitch_mm=effort.ring_mm, n_x=n_pixels, n_y=n_pixels)
    view = on_grid(kit.board.sight, grid=square)
    channels = kit.channels
    n_channels = channels.n_groups * channels.n_laminates
    shape = (entries.classes.size, SPREAD_BINS, N_BATCHES)
    per_row = -(-effort.spread_photons // int(np.prod(shape)))
    table = np.zeros((*shape, n_rings, N_HARMONICS, n_channels), dtype=np.float32)
    books = np.zeros((*shape, 2, n_channels))

    def trace_row(row: int) -> None:
        e, t, b = np.unravel_index(row, shape)
        maps = np.zeros((n_channels, n_pixels * n_pixels))
        low, high = entries.sine2_edges[t : t + 2]
        endless = kit.board._replace(face=kit.plain, sight=view, work=workspace(n_channels, maps=maps))
        entered_face = kit.plain._replace(classes=_with_back(kit.plain.classes, int(entries.classes[e])))
        trace_spread_row(
            row, per_row, seed, low, high, bool(apart[entries.classes[e]]), entered_face, endless, books[e, t, b]
        )
        rings = project @ maps.T
        table[e, t, b] = rings.reshape(n_rings, N_HARMONICS, n_channels) / per_row

    list(run(trace_row, range(int(np.prod(shape)))))
    split = table.reshape(*table.shape[:-1], channels.n_groups, channels.n_laminates)
    ordered = np.stack(
        [
            at_middles(without_noise(of_class), pitch_mm=effort.ring_mm)
            for of_class in split.transpose(0, 1, 3, 4, 5, 2, 6)
        ]
    )
    return PointSpread(entries=entries, table=ordered, pitch_mm=effort.ring_mm), books.sum(axis=(0, 1, 2))


def _with_back(classes: npt.NDArray[np.uint8], back: int) -> npt.NDArray[np.uint8]:
    changed = classes.copy()
    changed[0] = back
    return changed


def _effective(books: FloatArray, *, channels: Channels) -> FloatArray:
    """(sum w)^2 / sum w^2 of what left the front, per carried scattering, at the least absorption."""
    totals, squares = (
        part.reshape(channels.n_groups, channels.scatter_per_mm.size, -1)[0, :, 0] for part in (books[0], books[1])
    )
    return np.asarray(totals**2 / np.maximum(squares, 1e-300))
