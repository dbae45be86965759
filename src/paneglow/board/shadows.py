"""What stops or dims light inside a window: copper slivers, traces, vias, ink and mask."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board.opening import EIGHT, Bools, Labels, Slices, boxes_of
from paneglow.board.records import CoverageMap, FaceMaps, Shadow, ShadowKind

SHADOW_SPAN_MM = 1.0  # chosen: copper up to this wide between two parts of a window is in it, wider copper bounds it
DIVIDER_SPAN_MM = 0.6  # chosen: copper up to this wide between two windows is a trace that cuts one, wider is a wall
ISLAND_MAX_MM2 = 10.0  # chosen: a larger copper island is part of the picture, not a shadow
SHADOW_MIN_MM2 = 0.02  # a 0.14 mm square, finer than the 0.15 mm traces of cheap boards (common practice, no source)
INK_MIN_MM2 = 0.05  # chosen: smaller specks of ink or mask are not worth a line
FULL_COAT_FRAC = 0.9  # a face coated so far is coated on purpose and stands in the face's cover
CORNER_LENGTH_SPANS = 1.0  # what rounding leaves at a copper corner is shorter than the span


class _Patch(NamedTuple):
    """One connected patch of something in the gaps of the windows."""

    box: Slices
    mine: Bools
    area_mm2: float
    at_mm: tuple[float, float]
    length_mm: float
    windows: frozenset[int]


def find_shadows(labels: Labels, *, maps: FaceMaps) -> dict[int, list[Shadow]]:
    """Shadows of every window.

    Parameters
    ----------
    labels : ndarray of int, shape (y, x)
        0 outside windows, else the number of the window.
    maps : FaceMaps
        Coverage maps of the board.

    Returns
    -------
    dict
        From the number of a window to its shadows, largest first; a trace between two windows is in both.
    """
    found: dict[int, list[Shadow]] = {number: [] for number in range(1, int(labels.max(initial=0)) + 1)}
    if not found:
        return found
    gaps = _gaps(labels > 0, maps=maps)
    for layer, copper in _copper_layers(maps):
        for patch in _patches((copper > 0.5) & gaps, copper, labels=labels, maps=maps, least_mm2=SHADOW_MIN_MM2):
            kind = _copper_kind(patch, copper=copper, gaps=gaps, maps=maps)
            if kind is not None:
                _note(found, patch, Shadow(kind=kind, layer=layer, area_mm2=patch.area_mm2, at_mm=patch.at_mm))
    for number, shadow in _coats(labels, maps=maps):
        found[number].append(shadow)
    for shadows in found.values():
        shadows.sort(key=lambda shadow: -shadow.area_mm2)
    return found


def _note(found: dict[int, list[Shadow]], patch: _Patch, shadow: Shadow) -> None:
    for number in patch.windows:
        found[number].append(shadow)


def _copper_layers(maps: FaceMaps) -> Iterator[tuple[str, CoverageMap]]:
    yield "copper_front", maps.copper_front
    for number, copper in enumerate(maps.copper_inner, start=1):
        yield f"copper_inner_{number}", copper
    yield "copper_back", maps.copper_back


def _gaps(is_window: Bools, *, maps: FaceMaps) -> Bools:
    """What lies between parts of windows nearer than the span, and small islands inside windows."""
    pitch = maps.grid.pitch_mm
    reach = SHADOW_SPAN_MM / 2 / pitch
    margin = int(np.ceil(reach)) + 2
    (box,) = boxes_of(is_window.view(np.uint8), count=1)
    assert box is not None, "asked for where there are windows"
    here = is_window[box]
    padded = np.pad(here, margin)
    near = scipy.ndimage.distance_transform_edt(~padded) <= reach
    closed = scipy.ndimage.distance_transform_edt(near)[margin:-margin, margin:-margin] > reach
    enclosed = scipy.ndimage.binary_fill_holes(here) & ~here
    islands, count = scipy.ndimage.label(enclosed, structure=EIGHT)
    small = np.bincount(islands.ravel(), minlength=count + 1) * pitch**2 <= ISLAND_MAX_MM2
    small[0] = False
    gaps: Bools = np.zeros_like(is_window)
    gaps[box] = (closed | small[islands]) & ~here & (maps.outline_inside[box] > 0.5)
    return gaps


def _patches(here: Bools, cover: CoverageMap, *, labels: Labels, maps: FaceMaps, least_mm2: float) -> Iterator[_Patch]:
    grid = maps.grid
    pieces, count = scipy.ndimage.label(here, structure=EIGHT)
    for number, box in enumerate(boxes_of(pieces, count=count), start=1):
        if box is None:
            continue
        mine = pieces[box] == number
        area_mm2 = float(cover[box][mine].sum(dtype=np.float64)) * grid.pixel_area_mm2
        if area_mm2 < least_mm2:
            continue
        grown, inner = _grown(box, shape=labels.shape, by=2)
        touch = np.zeros(labels[grown].shape, dtype=np.bool_)
        touch[inner] = mine
        beside = np.unique(labels[grown][scipy.ndimage.binary_dilation(touch, structure=EIGHT, iterations=2)])
        rows, columns = np.nonzero(mine)
        middle = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
        yield _Patch(
            box=box,
            mine=mine,
            area_mm2=area_mm2,
            at_mm=(
                grid.x_min_mm + (box[1].start + int(columns[middle]) + 0.5) * grid.pitch_mm,
                grid.y_min_mm + (box[0].start + int(rows[middle]) + 0.5) * grid.pitch_mm,
            ),
            length_mm=float(np.hypot(*mine.shape)) * grid.pitch_mm,
            windows=frozenset(int(label) for label in beside if label > 0),
        )


def _copper_kind(patch: _Patch, *, copper: CoverageMap, gaps: Bools, maps: FaceMaps) -> ShadowKind | None:
    """What a copper patch in a gap is; None where it is the window's border after all."""
    grown, inner = _grown(patch.box, shape=copper.shape, by=1)
    around = np.zeros(copper[grown].shape, dtype=np.bool_)
    around[inner] = patch.mine
    around = scipy.ndimage.binary_dilation(around, structure=EIGHT)
    leads, contacts = scipy.ndimage.label(around & (copper[grown] > 0.5) & ~gaps[grown], structure=EIGHT)
    holds_via = bool((maps.plated_holes[grown][around] > 0.5).any())
    if holds_via and patch.length_mm <= 2 * SHADOW_SPAN_MM:
        return "via"
    if contacts == 0:
        return "copper sliver"
    if patch.length_mm <= CORNER_LENGTH_SPANS * SHADOW_SPAN_MM:
        return None
    if len(patch.windows) > 1 and patch.area_mm2 / patch.length_mm > DIVIDER_SPAN_MM:
        return None
    return "trace" if contacts > 1 else "copper sliver"


def _coats(labels: Labels, *, maps: FaceMaps) -> Iterator[tuple[int, Shadow]]:
    """Ink and mask that lie over part of a window."""
    coats: tuple[tuple[ShadowKind, str, CoverageMap], ...] = (
        ("ink", "legend_front", maps.legend_front),
        ("ink", "legend_back", maps.legend_back),
        ("mask", "mask_front", maps.mask_front),
        ("mask", "mask_back", maps.mask_back),
    )
    for kind, layer, coat in coats:
        coated = (coat > 0.5) & (labels > 0)
        if not coated.any():
            continue
        share = _share_per_window(coated, labels)
        partly = np.flatnonzero(share < FULL_COAT_FRAC)
        here = coated & np.isin(labels, partly[partly > 0])
        for patch in _patches(here, coat, labels=labels, maps=maps, least_mm2=INK_MIN_MM2):
            for number in patch.windows:
                yield number, Shadow(kind=kind, layer=layer, area_mm2=patch.area_mm2, at_mm=patch.at_mm)


def _share_per_window(coated: Bools, labels: Labels) -> npt.NDArray[np.float64]:
    here = labels > 0
    sizes = np.bincount(labels[here])
    return np.bincount(labels[here], weights=coated[here], minlength=len(sizes)) / np.maximum(sizes, 1)


def _grown(box: Slices, *, shape: tuple[int, ...], by: int) -> tuple[Slices, Slices]:
    """A cut-out grown within the map, and where the old one lies in it."""
    rows, columns = box
    grown = (
        slice(max(0, rows.start - by), min(shape[0], rows.stop + by)),
        slice(max(0, columns.start - by), min(shape[1], columns.stop + by)),
    )
    inner = (
        slice(rows.start - grown[0].start, rows.stop - grown[0].start),
        slice(columns.start - grown[1].start, columns.stop - grown[1].start),
    )
    return grown, inner
