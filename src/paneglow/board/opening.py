"""Regions of a coverage map that are at least so wide, with areas counted from coverage instead of whole pixels.

A map is thresholded only to decide what belongs together; areas add the coverage itself, and widths use where the edge
crosses a pixel. Counting whole pixels instead makes fine art up to 10 % too large (measured on published boards).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
CoverageMap = npt.NDArray[np.float32]
Labels = npt.NDArray[np.int32]
Slices = tuple[slice, slice]

OPEN_LEVEL = 0.55  # hatching with gaps as wide as its lines covers 0.48 to 0.52 of every pixel and must not be open
WIDTH_TOLERANCE_PX = 0.1  # edge position from coverage: exact for straight edges along x or y, about 0.1 px oblique
# A disc leaves (sqrt(2) - 1) of its radius uncovered on the diagonal of a right-angled corner; given back to the region
CORNER_REACH = np.sqrt(2.0) - 1.0
NEIGHBOURS = np.array([(down, right) for down in (-1, 0, 1) for right in (-1, 0, 1) if down or right])
STRIP_PX = 4_000_000  # pixels worked on at once where a zone is large
PADDING = 1  # closed pixels put round every map, so that its border is an edge
HALF_DIAGONAL_PX = np.sqrt(0.5)
EIGHT = np.ones((3, 3), dtype=np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenRegion:
    """One connected region of a coverage map.

    `weight[y, x]` is the coverage that belongs to it on `window`, a cut-out of the map; zero elsewhere.
    """

    window: Slices
    weight: CoverageMap
    area_px: float
    swept_px: float  # of it, what the disc itself sweeps over: without corners and without half-open edge pixels
    width_px: float  # diameter of the largest disc inside
    centre_px: tuple[float, float]  # of that disc: row and column from the lower left corner of the map

    @property
    def extent_px(self) -> tuple[float, float]:
        """Height and width of the box around it, counted from coverage [px]."""
        rows = self.weight.max(axis=1)
        columns = self.weight.max(axis=0)
        return float(rows.sum()), float(columns.sum())


class EdgeDistance(NamedTuple):
    """Distance of pixel centres to the edge [px], and the way to the nearest closed pixel in rows and columns."""

    distance: Floats
    down: npt.NDArray[np.int32]
    right: npt.NDArray[np.int32]

    def cut(self, box: Slices) -> "EdgeDistance":
        """The same for a cut-out."""
        return EdgeDistance(distance=self.distance[box], down=self.down[box], right=self.right[box])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """What is left of a coverage map after opening it with a disc, and what fell away whole."""

    wide: tuple[OpenRegion, ...]
    narrow: tuple[OpenRegion, ...]  # connected areas that no such disc fits into


def open_regions(coverage: CoverageMap, *, weight: CoverageMap, disc_px: float, least_narrow_px: float) -> Opened:
    """Connected regions that a disc can sweep, largest part of every corner kept.

    Parameters
    ----------
    coverage : ndarray, shape (y, x)
        Share of each pixel that is open, 0 to 1: decides what belongs together and how wide it is.
    weight : ndarray, shape (y, x)
        Share of each pixel that counts as area of the region it falls to; `coverage` itself or slightly more.
    disc_px : float
        Diameter of the disc: what is narrower is not part of a region [px].
    least_narrow_px : float
        Connected areas smaller than this that no disc fits into are not reported; infinite for none at all [px2].

    Returns
    -------
    Opened
        Regions in the order of their lowest row.
    """
    padded = np.pad(coverage, PADDING)
    is_open = padded > OPEN_LEVEL
    if not is_open.any():
        return Opened(wide=(), narrow=())
    counted = np.pad(weight, PADDING)
    wide: list[OpenRegion] = []
    swept = np.zeros_like(is_open)
    zones, count = scipy.ndimage.label(_roomy(is_open, disc_px=disc_px), structure=EIGHT)
    for number, box in enumerate(boxes_of(zones, count=count), start=1):
        if box is None:
            continue
        window = _grown(box, shape=padded.shape)
        zone = zones[window] == number
        edge = edge_distance(is_open[window], padded[window])
        labels, found = _sweep(zone, edge, disc_px=disc_px)
        if found:
            swept[window] |= labels > 0
            whole = _with_corners(labels, zone, reach_px=_corner_reach_px(disc_px))
            cut = _Cut(window=window, is_open=is_open[window], cover=counted[window], edge=edge)
            wide.extend(_regions(whole, found, swept=labels > 0, cut=cut))
    narrow = _narrow_regions(is_open, padded, counted, swept=swept, least_px=least_narrow_px)
    return Opened(wide=tuple(wide), narrow=tuple(narrow))


def _roomy(is_open: Bools, *, disc_px: float) -> Bools:
    """Open pixels near to places where the disc may fit: where the square inside it does, one pixel less each way.

    Long thin webs between traces fall apart into their few wide places, which are then small to work on.
    """
    side = max(1, int(disc_px / np.sqrt(2.0)) - 1)
    fits = over_squares(is_open, side=side, combine=np.logical_and)
    if not fits.any():
        return np.zeros_like(is_open)
    reach = int(np.ceil(disc_px / 2)) + int(np.ceil(_corner_reach_px(disc_px))) + 3
    roomy: Bools = is_open & over_squares(fits, side=2 * reach + 1, combine=np.logical_or)
    return roomy


def over_squares(
    cells: npt.NDArray[Any], *, side: int, combine: np.ufunc, mode: Literal["constant", "edge"] = "constant"
) -> npt.NDArray[Any]:
    """Every cell combined with all of a square about it; beyond the border lie zeros, or the border's own cells.

    Runs are doubled until they are as long as the square, which costs less than a filter that visits them one by one;
    they overlap, so `combine` must not mind a cell that comes twice.
    """
    before = side // 2
    combined = np.pad(cells, (before, side - 1 - before), mode=mode)
    rows = _over_runs(combined, length=side, combine=combine)
    return _over_runs(rows.T, length=side, combine=combine).T


def _over_runs(cells: npt.NDArray[Any], *, length: int, combine: np.ufunc) -> npt.NDArray[Any]:
    """Every run of so many cells down the first axis combined, at the place of its first."""
    done = 1
    while done < length:
        step = min(done, length - done)
        cells = combine(cells[:-step], cells[step:])
        done += step
    return cells


def _corner_reach_px(disc_px: float) -> float:
    return float(CORNER_REACH * disc_px / 2 + 0.5)


def _narrow_regions(
    is_open: Bools, coverage: CoverageMap, counted: CoverageMap, *, swept: Bools, least_px: float
) -> Iterator[OpenRegion]:
    """Connected areas that the disc never swept, from a least size on."""
    if np.isinf(least_px):
        return
    pieces, count = scipy.ndimage.label(is_open, structure=EIGHT)
    is_narrow = np.bincount(pieces.ravel(), minlength=count + 1) >= least_px
    is_narrow[np.unique(pieces[swept])] = False
    boxes = boxes_of(pieces, count=count)
    for number in np.flatnonzero(is_narrow[1:]) + 1:
        box = boxes[number - 1]
        if box is None:
            continue
        window = _grown(box, shape=is_open.shape)
        piece = pieces[window] == number
        edge = edge_distance(piece, coverage[window])
        cut = _Cut(window=window, is_open=is_open[window], cover=counted[window], edge=edge)
        yield from _regions(piece.astype(np.int32), 1, swept=piece, cut=cut)


class _Cut(NamedTuple):
    """A cut-out of the padded map."""

    window: Slices
    is_open: Bools
    cover: CoverageMap
    edge: EdgeDistance


def edge_distance(is_open: Bools, coverage: CoverageMap) -> EdgeDistance:
    """Distance of every open pixel's centre to the edge, from coverage instead of whole pixels.

    The nearest closed pixel gives the distance; how far the edge lies from the border between that pixel and its open
    neighbours follows from what each of them covers.
    """
    height, width = is_open.shape
    nearest = scipy.ndimage.distance_transform_edt(is_open, return_distances=False, return_indices=True)
    shift = np.empty(is_open.shape, dtype=np.float32)
    distance = np.zeros(is_open.shape)
    # Strip by strip, as a zone may be a whole board and every one of these arrays a quarter of a gigabyte
    strips = [
        slice(top, min(top + max(1, STRIP_PX // width), height)) for top in range(0, height, max(1, STRIP_PX // width))
    ]
    for strip in strips:
        shift[strip] = _edge_shift(is_open, coverage, strip=strip)
    for strip in strips:
        rows, columns = np.nonzero(is_open[strip])
        rows += strip.start
        closed = nearest[0][rows, columns], nearest[1][rows, columns]
        to_closed = np.sqrt((closed[0] - rows) ** 2.0 + (closed[1] - columns) ** 2.0)
        distance[rows, columns] = to_closed - 1.5 + shift[closed]
    nearest[0] -= np.arange(height, dtype=np.int32)[:, None]
    nearest[1] -= np.arange(width, dtype=np.int32)[None, :]
    return EdgeDistance(distance=distance, down=nearest[0], right=nearest[1])


def _edge_shift(is_open: Bools, coverage: CoverageMap, *, strip: slice) -> CoverageMap:
    """How far the edge lies inside a closed pixel's border [px], plus 1, for the rows of a strip."""
    around = slice(max(0, strip.start - 1), strip.stop + 1)
    open_cover = np.where(is_open[around], coverage[around], np.float32(0))
    neighbours = _sum_of_nine(is_open[around].view(np.uint8))
    inner = _sum_of_nine(open_cover) / np.maximum(neighbours, 1)
    shift: CoverageMap = coverage[around] - open_cover + np.where(neighbours > 0, inner, np.float32(1))
    return shift[strip.start - around.start :][: strip.stop - strip.start]


def _sum_of_nine(cells: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Sum of every cell and its eight neighbours, none outside the array."""
    padded = np.pad(cells, 1)
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    total: npt.NDArray[Any] = rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:]
    return total


def _disc_radius(edge: EdgeDistance, pixels: Bools) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], Floats]:
    """Rows, columns and radius of the largest disc about the chosen pixels, centred in them or on the way to the next.

    Between two neighbours that are nearest to edges on opposite sides, the disc that touches both edges has the sum of
    both distances and of the step across as its diameter.
    """
    height, width = edge.distance.shape
    rows, columns = np.nonzero(pixels)
    here = edge.distance[rows, columns]
    down, right = (way[rows, columns].astype(np.float64) for way in (edge.down, edge.right))
    length = np.maximum(np.hypot(down, right), 1.0)
    next_rows, next_columns = rows + NEIGHBOURS[:, :1], columns + NEIGHBOURS[:, 1:]
    if len(rows) and not (rows[0] > 0 and rows[-1] < height - 1 and columns.min() > 0 and columns.max() < width - 1):
        next_rows, next_columns = np.clip(next_rows, 0, height - 1), np.clip(next_columns, 0, width - 1)
    there = edge.distance[next_rows, next_columns]
    turned_away = down * edge.down[next_rows, next_columns] + right * edge.right[next_rows, next_columns] < 0
    across = np.abs(down * NEIGHBOURS[:, :1] + right * NEIGHBOURS[:, 1:]) / length
    between = np.where((there > 0) & turned_away, (here + there + across) / 2, here)
    return rows, columns, np.maximum(here, between.max(axis=0))


def _sweep(piece: Bools, edge: EdgeDistance, *, disc_px: float) -> tuple[Labels, int]:
    """Label what a disc covers while its centre stays at least its radius from the edge."""
    radius = disc_px / 2 - WIDTH_TOLERANCE_PX
    centres = edge.distance >= radius
    rows, columns, between = _disc_radius(edge, (edge.distance >= radius - HALF_DIAGONAL_PX) & ~centres)
    centres[rows[between >= radius], columns[between >= radius]] = True
    if not centres.any():
        return np.zeros(piece.shape, dtype=np.int32), 0
    labels, found = scipy.ndimage.label(piece & _covered(centres, reach_px=disc_px / 2 + 0.5), structure=EIGHT)
    return labels.astype(np.int32), int(found)


def _covered(centres: Bools, *, reach_px: float) -> Bools:
    """Pixels no further than a reach from a chosen one."""
    margin, (height, width) = int(reach_px), centres.shape
    padded = np.pad(centres, margin)
    covered = np.zeros_like(centres)
    for down in range(margin + 1):
        half = int(np.sqrt(reach_px**2 - down**2) + 1e-9)
        runs = _over_runs(padded.T, length=2 * half + 1, combine=np.logical_or).T[:, margin - half :][:, :width]
        covered |= runs[margin - down :][:height] | runs[margin + down :][:height]
    return covered


def _with_corners(labels: Labels, piece: Bools, *, reach_px: float) -> Labels:
    """Labels with the corners that the disc could not reach given back.

    What was cut off from a region is a corner if all of it is within a corner's depth; else it is a neck or a vein,
    and stays cut off whole.
    """
    cut = piece & (labels == 0)
    parts, count = scipy.ndimage.label(cut, structure=EIGHT)
    if count == 0:
        return labels
    grown = labels
    for _ in range(int(np.ceil(reach_px))):
        grown = np.where(cut & (grown == 0), over_squares(grown, side=3, combine=np.maximum), grown)
    is_corner = np.ones(count + 1, dtype=np.bool_)
    is_corner[parts[cut & (grown == 0)]] = False
    return np.where(cut & ~is_corner[parts], 0, grown).astype(np.int32)


def _regions(labels: Labels, found: int, *, swept: Bools, cut: _Cut) -> Iterator[OpenRegion]:
    # Edge pixels open by less than half count with their coverage
    rim = over_squares(labels, side=3, combine=np.maximum)
    owner = np.where(labels > 0, labels, np.where(cut.is_open, 0, rim))
    for number, box in enumerate(boxes_of(owner, count=found), start=1):
        if box is None:
            continue
        full = np.where(owner[box] == number, cut.cover[box], 0.0).astype(np.float32)
        corner = (cut.window[0].start + box[0].start - PADDING, cut.window[1].start + box[1].start - PADDING)
        width, (row, column) = _largest_disc(cut.edge.cut(box), labels[box] == number)
        weight, origin = _trimmed(full, corner)
        yield OpenRegion(
            window=(
                slice(origin[0], origin[0] + weight.shape[0]),
                slice(origin[1], origin[1] + weight.shape[1]),
            ),
            weight=weight,
            area_px=float(weight.sum(dtype=np.float64)),
            swept_px=float(full[swept[box]].sum(dtype=np.float64)),
            width_px=width,
            centre_px=(corner[0] + row + 0.5, corner[1] + column + 0.5),
        )


def _trimmed(weight: CoverageMap, origin: tuple[int, int]) -> tuple[CoverageMap, tuple[int, int]]:
    """Drop rows and columns without weight at the borders: the padding of the map among them."""
    rows = np.flatnonzero(weight.any(axis=1))
    columns = np.flatnonzero(weight.any(axis=0))
    trimmed = weight[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return trimmed, (origin[0] + int(rows[0]), origin[1] + int(columns[0]))


def _largest_disc(edge: EdgeDistance, mine: Bools) -> tuple[float, tuple[int, int]]:
    """Diameter of the largest disc and its centre; of many equal ones the one nearest to the middle of them all."""
    deepest = float(edge.distance[mine].max())
    rows, columns, radius = _disc_radius(edge, mine & (edge.distance >= deepest - HALF_DIAGONAL_PX))
    largest = radius >= radius.max() - 0.25
    rows, columns = rows[largest], columns[largest]
    nearest = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
    return 2 * float(radius.max()), (int(rows[nearest]), int(columns[nearest]))


def boxes_of(labels: npt.NDArray[np.integer], *, count: int) -> list[Slices | None]:
    """Cut-out of every label from 1 to `count`; None for a label that does not occur."""
    found = scipy.ndimage.find_objects(labels, max_label=count)
    return [None if box is None else (box[0], box[1]) for box in found]


def _grown(window: Slices, *, shape: tuple[int, ...]) -> Slices:
    rows, columns = window
    return (
        slice(max(0, rows.start - 1), min(shape[0], rows.stop + 1)),
        slice(max(0, columns.start - 1), min(shape[1], columns.stop + 1)),
    )
