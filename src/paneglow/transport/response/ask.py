"""Asking a response: currents, colours, places, attitudes, absorption and scattering of LEDs, without tracing."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from paneglow.errors import RangeError, TransportError
from paneglow.physics import fresnel_reflectance
from paneglow.scene import Emitter
from paneglow.transport.arrays import build_emitter_input
from paneglow.transport.kernels.response_ask import (
    RAY_CLASS,
    RAY_COLUMNS,
    RAY_COS,
    RAY_DITHER,
    RAY_KIND,
    RAY_SIN,
    RAY_SINE2,
    RAY_X,
    RAY_Y,
    add_rows,
    bundle_rays,
    cast_rays,
    see_direct,
    see_first,
    spread_far,
    spread_near,
)
from paneglow.transport.response.levels import absorption_weights, check_scattering, scattering_weights
from paneglow.transport.response.ready import NEAR_MM, ReadyResponse
from paneglow.transport.response.records import Answer, EntryBins, Float32Array, FloatArray, IntArray, Response
from paneglow.transport.response.rings import GROWTH

N_LAUNCHED = 4096
N_BUNDLES = 256  # of rays alike, each summed as one; the dearest step takes time in proportion
TURN_MM = 0.6  # a change of the sine of incidence by one counts like this change of place (chosen)
N_UNIFORM = 7  # numbers per ray
CLEAR_DEPTH = 14.0  # scatterings per crossing above which less than 1e-5 is seen after none or one


def ask_response(
    ready: ReadyResponse,
    *,
    emitters: Sequence[Emitter],
    absorb_per_mm: npt.ArrayLike | None = None,
    scatter_per_mm: float | None = None,
) -> Answer:
    """Light of a window from LEDs that were not there when it was traced.

    Parameters
    ----------
    ready : ReadyResponse
    emitters : sequence of Emitter
        Behind the back face, each with its own place, attitude, pattern, spectrum and flux; their nodes are those of
        the traced scene's wavelength axis. LED bodies are those of the traced scene.
    absorb_per_mm : array_like, shape (w,), optional
        Absorption coefficients on that axis [1/mm]; those of the scene's first slab where absent.
    scatter_per_mm : float, optional
        Scattering coefficient [1/mm]; the traced one where absent.

    Returns
    -------
    Answer

    Raises
    ------
    RangeError
        If an absorption is outside the carried range, or the scattering leaves too few effective photons.
    TransportError
        If an emitter stands in an opening, in glue, within a light wall or before the board, or has wavelengths that
        were not traced.
    """
    response = ready.response
    channels = response.channels
    absorb = np.asarray(response.scene.slabs[0].absorb_per_mm if absorb_per_mm is None else absorb_per_mm, dtype=float)
    scatter = channels.traced_scatter_per_mm if scatter_per_mm is None else scatter_per_mm
    effective = check_scattering(channels.scatter_per_mm, response.effective, scatter_per_mm=scatter)
    check_absorption(response, emitters=emitters, absorb_per_mm=absorb)
    shape = response.grid.shape
    mean = np.zeros((3, *shape))
    batches = np.zeros((response.n_batches, *shape))
    for emitter in emitters:
        check_emitter(response, emitter=emitter)
        mix = _mix(response, emitter=emitter, absorb_per_mm=absorb, scatter_per_mm=scatter)
        rays = _rays(ready, emitter=emitter)
        _add_spread_out(ready, rays=rays, mix=mix, mean=mean, batches=batches)
        _add_unspread(ready, emitter=emitter, rays=rays, absorb_per_mm=absorb, scatter_per_mm=scatter, mean=mean)
    batches += mean[1]
    # Where next to nothing arrives, interpolation and noise may fall short of it
    np.maximum(mean, 0.0, out=mean)
    of_batch = np.tensordot(batches, ready.weights, axes=2)
    return Answer(
        grid=response.grid,
        xyz=mean.astype(np.float32),
        batches=batches.astype(np.float32),
        mean_cd_m2=float(of_batch.mean()),
        mean_cd_m2_se=float(of_batch.std(ddof=1) / np.sqrt(of_batch.size)),
        effective=effective,
    )


def check_absorption(response: Response, *, emitters: Sequence[Emitter], absorb_per_mm: FloatArray) -> None:
    """Raise where an absorption at a wavelength of the emitters is not carried.

    Raises
    ------
    RangeError
    """
    if absorb_per_mm.shape != response.scene.wavelength_nm.shape:
        raise RangeError(
            f"absorb_per_mm has shape {absorb_per_mm.shape}; it needs one value per wavelength of the scene, "
            f"{response.scene.wavelength_nm.shape}"
        )
    lower, upper = response.absorb_range_per_mm
    for emitter in emitters:
        asked = absorb_per_mm[emitter.nodes]
        if asked.min() < lower - 1e-9 or asked.max() > upper + 1e-9:
            raise RangeError(
                f"{emitter.ref}: absorb_per_mm spans {asked.min():g} to {asked.max():g}; this response answers for "
                f"{lower:g} to {upper:g} per mm: trace one with a wider absorb_range_per_mm"
            )


def check_emitter(response: Response, *, emitter: Emitter) -> None:
    """Raise where a response cannot answer for an emitter.

    Raises
    ------
    TransportError
    """
    reasons = (
        (emitter.opening_mm is not None, "shines in an opening"),
        (emitter.dome is not None, "is glued to the board"),
        (emitter.light_wall is not None, "stands within a light wall"),
        (emitter.centre_mm[2] > 0.0, "is not behind the board"),
        (emitter.shifted is not None, "excites a laminate to fluoresce, which a response does not follow"),
        (bool(np.any(response.channels.group_of_node[emitter.nodes] < 0)), "has wavelengths that were not traced"),
    )
    for holds, reason in reasons:
        if holds:
            raise TransportError(f"{emitter.ref} {reason}: a response does not answer for it; trace the board instead")


def _mix(response: Response, *, emitter: Emitter, absorb_per_mm: FloatArray, scatter_per_mm: float) -> FloatArray:
    """Weights from channels to X, Y, Z of an emitter at its flux, shape (group, laminate, 3)."""
    channels = response.channels
    of_scatter = scattering_weights(channels.scatter_per_mm, scatter_per_mm=scatter_per_mm)
    mix = np.zeros((channels.n_groups, channels.n_laminates, 3))
    for node, xyz in zip(emitter.nodes, emitter.xyz_per_lm, strict=True):
        of_absorb = _absorption_weights(tuple(channels.absorb_per_mm), float(absorb_per_mm[node]))
        mix[channels.group_of_node[node]] += np.outer(np.outer(of_scatter, of_absorb).ravel(), emitter.flux_lm * xyz)
    return mix


@lru_cache(maxsize=4096)
def _absorption_weights(levels: tuple[float, ...], absorb_per_mm: float) -> FloatArray:
    return absorption_weights(levels, absorb_per_mm=absorb_per_mm)


def _add_spread_out(
    ready: ReadyResponse, *, rays: FloatArray, mix: FloatArray, mean: FloatArray, batches: FloatArray
) -> None:
    """Add one LED's scattered light to the maps [xyz, y, x], and its batches' deviations to [batch, y, x]."""
    response = ready.response
    n_groups = response.channels.n_groups
    parts = (slice(0, n_groups),) if ready.alike else tuple(slice(g, g + 1) for g in range(n_groups))
    sheet = ready.air.reflect[0].reshape(n_groups, -1)[:, 0]
    for part in parts:
        near = np.zeros((*response.grid.shape, 3), dtype=np.float32)
        far = np.zeros((*ready.far_grid.shape, 3 + response.n_batches), dtype=np.float32)
        cells = np.zeros((3 + response.n_batches, response.difference.table.shape[-1]))
        for kind, by in ((0.0, np.ones(n_groups)), (1.0, sheet)):
            of_kind = rays[rays[:, RAY_KIND] == kind]
            if not of_kind.size:
                continue
            chosen = (mix * by[:, None, None])[part] / N_LAUNCHED
            for e, k in enumerate(response.spread.entries.classes):
                entering = of_kind[of_kind[:, RAY_CLASS] == k]
                _add_spread(ready, rays=entering, entry=e, part=part, mix=chosen, near=near, far=far)
                cells += _difference(ready, rays=entering, entry=e, part=part, mix=chosen)
        seen, lit = response.seen[part.start], response.lit[part.start]
        smooth = _between(far.transpose(2, 0, 1), rows=ready.to_rows, columns=ready.to_columns)
        shown = cells[:, ready.nearest_cell].reshape(-1, *response.difference.front.shape)
        made = _between(shown, rows=ready.cell_rows, columns=ready.cell_columns)
        mean += seen * (near.transpose(2, 0, 1) + smooth[:3]) + lit * made[:3]
        batches += seen * smooth[3:] + lit * made[3:]


def _between(coarse: npt.NDArray[np.floating], *, rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Coarse maps [map, y, x] at the pixels, by the matrices of `ReadyResponse`."""
    return np.asarray(rows @ coarse @ columns.T, dtype=np.float64)


def _rays(ready: ReadyResponse, *, emitter: Emitter) -> FloatArray:
    """Those of N_LAUNCHED rays of an LED that meet laminate of the back face."""
    given = build_emitter_input(emitter, number=0, n_versions=1)
    rays = np.zeros((N_LAUNCHED, RAY_COLUMNS))
    found = cast_rays(N_LAUNCHED, given, ready.face, ready.air, np.zeros(N_UNIFORM), rays)
    return rays[:found]


def _crossing(ready: ReadyResponse, *, rays: FloatArray, entries: EntryBins) -> tuple[IntArray, FloatArray]:
    """Bin of incidence of every ray, by chance one of the two nearest, and its share that crosses over the bin's."""
    n_bins = entries.crossing.size
    place = rays[:, RAY_SINE2] * n_bins - 0.5
    bins = np.clip(np.floor(place + rays[:, RAY_DITHER]), 0, n_bins - 1).astype(np.int64)
    scene = ready.response.scene
    if scene.back_sheet is not None:
        return bins, np.ones(len(rays))
    cosine = np.sqrt(np.maximum(0.0, 1.0 - rays[:, RAY_SINE2]))
    return bins, (1.0 - fresnel_reflectance(cosine, relative_index=scene.refractive_index)) / entries.crossing[bins]


def _add_spread(
    ready: ReadyResponse,
    *,
    rays: FloatArray,
    entry: int,
    part: slice,
    mix: FloatArray,
    near: Float32Array,
    far: Float32Array,
) -> None:
    """Add the endless slab's light: pixel by pixel near the rays, on a coarse grid far from them."""
    response = ready.response
    spread = response.spread
    if not len(rays):
        return
    tables = np.einsum("trmgbl,glc->trmbc", spread.table[entry][:, :, :, part], mix, optimize=False)
    averaged = tables.mean(axis=3)
    close = np.ascontiguousarray(averaged * ready.near[:, None, None], dtype=np.float32)
    apart = averaged * (1.0 - ready.near)[:, None, None]
    deviations = tables[..., 1] - averaged[..., 1:2]
    wide = np.ascontiguousarray(np.concatenate([apart, deviations], axis=-1), dtype=np.float32)
    bins, weights = _crossing(ready, rays=rays, entries=spread.entries)
    light = (averaged[:, :, 0, 1] @ ready.ring_weights)[bins]
    rays, weights = _bundled(rays, weights=weights, light=light)
    bins, _ = _crossing(ready, rays=rays, entries=spread.entries)
    coarse, grid = ready.far_grid, response.grid
    spread_far(
        rays, bins, weights, wide, spread.pitch_mm, GROWTH,
        float(coarse.x_centres_mm()[0]), float(coarse.y_centres_mm()[0]), coarse.pitch_mm, far,
    )  # fmt: skip
    spread_near(
        rays, bins, weights, close, spread.pitch_mm, GROWTH, NEAR_MM[1] + spread.pitch_mm,
        grid.x_min_mm, grid.y_min_mm, grid.pitch_mm, near,
    )  # fmt: skip


def _bundled(rays: FloatArray, *, weights: FloatArray, light: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rays alike in place and direction as one each: at most N_BUNDLES rays and their weights.

    A bundle stands where its rays do on average and has the direction of one of them; its weight is such that it makes
    as much light as all of them, given what each makes, `light[ray]`.
    """
    sine = np.sqrt(rays[:, RAY_SINE2])
    turned = TURN_MM * sine[:, None] * rays[:, [RAY_COS, RAY_SIN]]
    places = np.ascontiguousarray(np.concatenate([rays[:, [RAY_X, RAY_Y]], turned], axis=1))
    order = np.arange(len(rays))
    stretches = np.zeros((N_BUNDLES, 2), dtype=np.int64)
    found = bundle_rays(places, weights, order, stretches, np.zeros(N_BUNDLES), np.zeros((2, places.shape[1])))
    of_bundle = np.zeros(len(rays), dtype=np.int64)
    for bundle, (first, last) in enumerate(stretches[:found]):
        of_bundle[order[first:last]] = bundle
    chosen = order[stretches[:found].sum(axis=1) // 2]
    bundles = rays[chosen]
    total = np.maximum(np.bincount(of_bundle, weights=weights), 1e-300)
    for column in (RAY_X, RAY_Y):
        bundles[:, column] = np.bincount(of_bundle, weights=weights * rays[:, column]) / total
    return bundles, np.bincount(of_bundle, weights=weights * light) / np.maximum(light[chosen], 1e-300)


def _difference(ready: ReadyResponse, *, rays: FloatArray, entry: int, part: slice, mix: FloatArray) -> FloatArray:
    """What the window makes of the light that enters, per front cell: X, Y, Z and the batches' deviations of Y."""
    response = ready.response
    difference = response.difference
    bins, crossing = _crossing(ready, rays=rays, entries=difference.entries)
    cells = difference.cells
    deep = (
        difference.reach_mm[entry]
        * np.sqrt(rays[:, RAY_SINE2])
        / np.sqrt(response.scene.refractive_index**2 - rays[:, RAY_SINE2])
    )
    across = (rays[:, RAY_X] + deep * rays[:, RAY_COS] - cells.x_min_mm) / cells.pitch_mm - 0.5
    along = (rays[:, RAY_Y] + deep * rays[:, RAY_SIN] - cells.y_min_mm) / cells.pitch_mm - 0.5
    left, low = np.floor(across).astype(np.int64), np.floor(along).astype(np.int64)
    rows = np.full((4, len(rays)), -1, dtype=np.int64)
    shares = np.zeros((4, len(rays)))
    for corner, (up, right) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
        x, y = left + right, low + up
        inside = (x >= 0) & (y >= 0) & (x < cells.n_x) & (y < cells.n_y)
        found = difference.rows[entry, bins[inside], y[inside], x[inside]]
        rows[corner, inside] = found
        share_x = np.abs(1.0 - right - (across - left))
        share_y = np.abs(1.0 - up - (along - low))
        shares[corner] = np.where(rows[corner] >= 0, share_x * share_y, 0.0)
    shares *= crossing / np.maximum(shares.sum(axis=0), 1e-9)
    per_row = np.bincount(rows[rows >= 0], weights=shares[rows >= 0], minlength=len(difference.table))
    used = np.flatnonzero(per_row)
    flat = difference.table.reshape(len(difference.table), -1)
    total = np.zeros(flat.shape[1])
    add_rows(used, per_row[used], flat, total)
    by_channel = total.reshape(difference.table.shape[1:])[part]
    xyz = np.einsum("gblf,glc->cbf", by_channel, mix)
    mean = xyz.mean(axis=1)
    return np.asarray(np.concatenate([mean, xyz[1] - mean[1]]))


def _add_unspread(
    ready: ReadyResponse, *, emitter: Emitter, rays: FloatArray, absorb_per_mm: FloatArray, scatter_per_mm: float,
    mean: FloatArray,
) -> None:  # fmt: skip
    """Add the light that is seen unscattered, or after one scattering on the way in, where that is any, ray by ray."""
    scene = ready.response.scene
    if scatter_per_mm * scene.thickness_mm > CLEAR_DEPTH:
        return
    taken = np.ascontiguousarray(absorb_per_mm[emitter.nodes] + scatter_per_mm, dtype=np.float64)
    transmit = np.ascontiguousarray(scene.classes.transmit[:, emitter.nodes])
    out = np.zeros((taken.size, *ready.response.grid.shape))
    straight = np.zeros_like(out)
    kind = int(ready.coat.kind[ready.front_class])
    direct, sheet = (rays[rays[:, RAY_KIND] == number] for number in (0.0, 1.0))
    see_first(
        direct, ready.apart, kind, scatter_per_mm, taken, transmit, ready.face, ready.coat, ready.slab, ready.view, out
    )
    if len(sheet) and scene.back_sheet is not None:
        tinted = np.zeros_like(out)
        see_first(
            sheet, ready.apart, kind, scatter_per_mm, taken, transmit, ready.face, ready.coat, ready.slab, ready.view,
            tinted,
        )  # fmt: skip
        out += tinted * np.broadcast_to(scene.back_sheet.reflect, scene.wavelength_nm.shape)[emitter.nodes, None, None]
    given = build_emitter_input(emitter, number=0, n_versions=1)
    see_direct(
        N_LAUNCHED, given, 1.0, taken, transmit, ready.face, ready.coat, ready.slab, ready.view, np.zeros(N_UNIFORM),
        straight,
    )  # fmt: skip
    mean += emitter.flux_lm / N_LAUNCHED * np.einsum("nyx,nc->cyx", out + straight, emitter.xyz_per_lm)
