"""What a response will hold: channels, entry bins, cells and the share of every pixel that is seen."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from paneglow.errors import TransportError
from paneglow.grid import Grid
from paneglow.physics import fresnel_reflectance
from paneglow.scene import BODY_LAMINATE, Emitter, FaceClasses, Scene, Sheet, Slab
from paneglow.transport.response.records import Channels, EntryBins, FloatArray, IntArray

COATS_ALIKE = 0.02  # nodes whose coats differ by less, as shares of light, are carried together (chosen)
MOST_GROUPS = 8  # each costs as much memory as the first
NODES_PER_VERSION = 3  # a map row per channel: three "nodes" stand in the places of X, Y and Z
SUBPIXELS = 8  # per side of a luminance pixel, to find what share of it is seen
CROSSING_POINTS = 64
FLAT_TABLE = np.array([1.0, 1.0])


def group_nodes(scene: Scene, *, lights: Sequence[Emitter]) -> IntArray:
    """Group of every wavelength node of the scene, by how alike the coats are there; -1 for nodes of no light.

    Raises
    ------
    TransportError
        If the coats differ so much over the lights' wavelengths that too many groups would be needed.
    """
    tables = [scene.classes.transmit, scene.classes.reflect, scene.classes.backing_reflect]
    tables += [layer.reflect[None] for layer in scene.inner]
    for sheet in (scene.back_sheet, scene.front_sheet):
        if sheet is not None:
            tables += [
                np.broadcast_to(table, scene.wavelength_nm.shape)[None] for table in (sheet.reflect, sheet.transmit)
            ]
    if scene.plating is not None:
        tables.append(scene.plating[None])
    columns = np.concatenate(tables).T
    groups = np.full(scene.wavelength_nm.size, -1, dtype=np.int64)
    leaders: list[int] = []
    for node in sorted({int(node) for light in lights for node in light.nodes}):
        alike = [g for g, leader in enumerate(leaders) if np.abs(columns[node] - columns[leader]).max() <= COATS_ALIKE]
        if not alike:
            leaders.append(node)
        groups[node] = alike[0] if alike else len(leaders) - 1
    if not leaders:
        raise TransportError("a response needs the wavelengths of at least one light; give lights")
    if len(leaders) > MOST_GROUPS:
        raise TransportError(
            f"the coats need {len(leaders)} groups of wavelengths, {MOST_GROUPS} at most: trace a response per light"
        )
    return groups


def channel_scene(scene: Scene, *, channels: Channels) -> Scene:
    """The scene with one "wavelength" per channel, ordered [group, scattering, absorption], for the kernel inputs."""
    leaders = np.array([int(np.flatnonzero(channels.group_of_node == g)[0]) for g in range(channels.n_groups)])
    of_channel = np.repeat(leaders, channels.n_laminates)

    def per_channel(table: FloatArray) -> FloatArray:
        wide = np.broadcast_to(table, (*np.shape(table)[:-1], scene.wavelength_nm.size))
        return np.ascontiguousarray(wide[..., of_channel])

    steps = channels.scatter_per_mm - channels.traced_scatter_per_mm
    # What the other scattering weighs along a path stands beside the absorption
    taken = (steps[:, None] + channels.absorb_per_mm[None, :]).ravel()
    classes = scene.classes

    def sheet_per_channel(sheet: Sheet | None) -> Sheet | None:
        if sheet is None:
            return None
        return replace(sheet, reflect=per_channel(sheet.reflect), transmit=per_channel(sheet.transmit))

    return replace(
        scene,
        classes=FaceClasses(
            names=classes.names,
            transmit=per_channel(classes.transmit),
            reflect=per_channel(classes.reflect),
            haze=classes.haze,
            backing_reflect=per_channel(classes.backing_reflect),
            roughness=classes.roughness,
        ),
        wavelength_nm=np.arange(of_channel.size, dtype=np.float64),
        slabs=(
            Slab(
                name="carried",
                scatter_per_mm=channels.traced_scatter_per_mm,
                absorb_per_mm=np.tile(taken, channels.n_groups),
            ),
        ),
        inner=tuple(replace(layer, reflect=per_channel(layer.reflect)) for layer in scene.inner),
        plating=None if scene.plating is None else per_channel(scene.plating),
        windows=None,
        back_sheet=sheet_per_channel(scene.back_sheet),
        front_sheet=sheet_per_channel(scene.front_sheet),
    )


def collision_ratio(channels: Channels) -> FloatArray:
    """Factor of every channel per collision; empty where all channels scatter as the photons do."""
    if channels.scatter_per_mm.size == 1:
        return np.zeros(0)
    ratio = channels.scatter_per_mm / channels.traced_scatter_per_mm
    return np.tile(np.repeat(ratio, channels.absorb_per_mm.size), channels.n_groups)


def base_classes(scene: Scene, *, grid: Grid) -> tuple[int, int]:
    """Back and front class of the endless slab: those of most of the window that lets light out, and of its back.

    Raises
    ------
    TransportError
        If nothing on the grid lets light out.
    """
    rows, columns = raster_of(scene, grid=grid)
    front = scene.front[np.ix_(rows, columns)]
    back = scene.back[np.ix_(rows, columns)]
    lets_out = scene.classes.transmit.max(axis=1) > 0.0
    window = lets_out[front] & (scene.body[np.ix_(rows, columns)] == BODY_LAMINATE)
    if not window.any():
        raise TransportError("nothing on this grid lets light out at the front: give the grid of a window")
    behind = back[window]
    enters = lets_out[behind]
    most_behind = behind[enters] if enters.any() else behind
    return int(np.bincount(most_behind).argmax()), int(np.bincount(front[window]).argmax())


def entry_classes(scene: Scene) -> IntArray:
    """Face classes of the back that let light in, or return it to something that may send it back."""
    passing = scene.classes.transmit.max(axis=1) > 0.0
    if scene.back_sheet is not None:
        passing |= scene.classes.reflect.max(axis=1) > 0.0
    present = np.zeros(passing.size, dtype=np.bool_)
    present[np.unique(scene.back[scene.body == BODY_LAMINATE])] = True
    return np.flatnonzero(passing & present)


def first_apart(scene: Scene) -> npt.NDArray[np.bool_]:
    """Face classes of the back through which light keeps its direction; shape (class,)."""
    rough = np.zeros(len(scene.classes.names)) if scene.classes.roughness is None else scene.classes.roughness
    return np.asarray((np.asarray(rough) <= 0.0) & (scene.classes.haze <= 0.0))


def entry_bins(scene: Scene, *, count: int) -> EntryBins:
    """Bins equal in the squared sine of incidence: a Lambertian source fills them alike."""
    edges = np.linspace(0.0, 1.0, count + 1)
    crossing = np.ones(count)
    if scene.back_sheet is None:
        parts = (np.arange(CROSSING_POINTS) + 0.5) / CROSSING_POINTS
        sine2 = edges[:-1, None] + np.diff(edges)[:, None] * parts
        reflected = fresnel_reflectance(np.sqrt(1.0 - sine2), relative_index=scene.refractive_index)
        crossing = 1.0 - reflected.mean(axis=1)
    return EntryBins(classes=entry_classes(scene), sine2_edges=edges, crossing=crossing)


def seen_shares(
    scene: Scene, *, grid: Grid, base_front: int
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Shares of a pixel's light that its own front lets out, relative to the base class; shape (channel, y, x) each.

    The first is of light that keeps its direction, which is what the point spread holds; the second of all light.
    `scene` is a channel scene.
    """
    fine = Grid(
        x_min_mm=grid.x_min_mm,
        y_min_mm=grid.y_min_mm,
        pitch_mm=grid.pitch_mm / SUBPIXELS,
        n_x=grid.n_x * SUBPIXELS,
        n_y=grid.n_y * SUBPIXELS,
    )
    rows, columns = raster_of(scene, grid=fine)
    at = np.ix_(rows, columns)
    transmit = scene.classes.transmit
    clear = transmit * (1.0 - np.asarray(scene.classes.haze))[:, None]
    if clear[base_front].min() <= 0.0:
        # Nothing keeps its direction there: the point spread holds what the coat scatters outward
        clear = transmit
    shares = np.zeros((2, scene.wavelength_nm.size, *grid.shape), dtype=np.float32)
    for k in np.unique(scene.front[at]):
        covered = ((scene.front[at] == k) & (scene.body[at] == BODY_LAMINATE)).astype(np.float32)
        blocks = covered.reshape(grid.n_y, SUBPIXELS, grid.n_x, SUBPIXELS).mean(axis=(1, 3))
        for share, table in zip(shares, (clear, transmit), strict=True):
            ratio = table[k] / np.maximum(table[base_front], 1e-12)
            share += ratio[:, None, None].astype(np.float32) * blocks
    return shares[0], shares[1]


def raster_of(scene: Scene, *, grid: Grid) -> tuple[IntArray, IntArray]:
    """Raster rows and columns under the centres of a grid; the nearest for points beside the raster."""
    raster = scene.grid
    columns = np.floor((grid.x_centres_mm() - raster.x_min_mm) / raster.pitch_mm).astype(np.int64)
    rows = np.floor((grid.y_centres_mm() - raster.y_min_mm) / raster.pitch_mm).astype(np.int64)
    return np.clip(rows, 0, raster.n_y - 1), np.clip(columns, 0, raster.n_x - 1)


def neutral_emitter(n_channels: int) -> Emitter:
    """A light of every channel, without body: only its place in the kernels' signatures is used."""
    return Emitter(
        ref="response",
        window=None,
        centre_mm=(0.0, 0.0, 0.0),
        axis=(0.0, 0.0, 1.0),
        u=(1.0, 0.0, 0.0),
        v=(0.0, 1.0, 0.0),
        size_mm=(0.0, 0.0),
        cos_table=FLAT_TABLE,
        cdf_table=FLAT_TABLE,
        intensity_table=FLAT_TABLE,
        nodes=np.arange(n_channels),
        xyz_per_lm=np.zeros((n_channels, 3)),
        flux_lm=1.0,
        flux_lm_low=1.0,
        flux_lm_high=1.0,
    )
