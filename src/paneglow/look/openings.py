"""Where each window lies on the luminance map: coverage of map pixels, and the surround beside it."""

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board import Board
from paneglow.grid import Grid
from paneglow.transport import Tally, cut_light

FloatArray = npt.NDArray[np.float64]
Box = tuple[slice, slice]
BoolArray = npt.NDArray[np.bool_]

FULL_COVERAGE = 0.95  # map pixels at least this far inside a window decide its percentiles
COVERAGE_STEPS = (FULL_COVERAGE, 0.75, 0.5, 0.25, 1e-3)  # tried in turn for windows only a pixel or two wide
ENOUGH_PIXELS = 12  # so that a 2nd percentile is not always the one darkest pixel
SURROUND_MM = 2.0  # width of the ring that a window is compared with in the lit room: assumed, no source
CLEAR_OF_WINDOW = 0.05  # coverage by windows and holes below which a pixel counts as surround


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """One window on the map grid, cropped.

    Attributes
    ----------
    rows, columns : slice
        Crop of the map.
    coverage : ndarray, shape (h, w)
        Share of each map pixel that the window covers.
    inside : ndarray of bool, shape (h, w)
        Pixels whose luminance decides evenness and peak.
    surround : ndarray, shape (h, w)
        Weights of the ring beside the window; all 0 where there is none.
    """

    name: str
    area_mm2: float
    rows: slice
    columns: slice
    coverage: FloatArray
    inside: BoolArray
    surround: FloatArray

    def crop(self, maps: npt.NDArray[np.floating]) -> FloatArray:
        """Part of maps [..., y, x] that this opening lies on."""
        return np.asarray(maps[..., self.rows, self.columns], dtype=np.float64)

    def mean(self, maps: npt.NDArray[np.floating]) -> FloatArray:
        """Mean over the window's area of maps [..., y, x] given for the whole grid."""
        return _weighted_mean(self.crop(maps), self.coverage)

    def led_mean(
        self, maps: npt.NDArray[np.floating], *, corner: tuple[int, int], weights: FloatArray | None = None
    ) -> FloatArray:
        """Mean of one LED's maps [..., y, x], which begin at `corner` of the grid, over the window's area.

        `weights` over the crop stand for another area, as the surround.
        """
        spans = zip((self.rows, self.columns), corner, maps.shape[-2:], strict=True)
        if any(span.stop <= start or span.start >= start + size for span, start, size in spans):
            return np.zeros(maps.shape[:-2])
        cut = cut_light(maps, corner=corner, rows=self.rows, columns=self.columns)
        return _weighted_mean(cut, self.coverage if weights is None else weights)

    def surround_mean(self, maps: npt.NDArray[np.floating]) -> FloatArray:
        """Mean over the surround of maps [..., y, x] given for the whole grid; 0 where there is no surround."""
        return _weighted_mean(self.crop(maps), self.surround)

    def lit(self, maps: npt.NDArray[np.floating]) -> FloatArray:
        """Maps over the crop, given for the whole grid, as if the window filled its pixels; see `as_if_full`."""
        return self.as_if_full(self.crop(maps))

    def as_if_full(self, cropped: FloatArray) -> FloatArray:
        """Maps of the crop as if the window filled its pixels: divided by the coverage where it is part.

        A pixel across the rim holds the mean of window and dark surround; this takes the surround for dark.
        """
        return np.asarray(cropped / np.maximum(self.coverage, COVERAGE_STEPS[-1]))


def _weighted_mean(maps: FloatArray, weights: FloatArray) -> FloatArray:
    total = float(weights.sum())
    if total <= 0.0:
        return np.zeros(maps.shape[:-2])
    return np.asarray(np.tensordot(maps, weights, axes=2) / total, dtype=np.float64)


def overlap_shares(*, fine_min_mm: float, fine_pitch_mm: float, fine_n: int, grid_min_mm: float, grid_pitch_mm: float,
                   grid_n: int) -> "scipy.sparse.csr_array":  # fmt: skip
    """Share of each coarse cell that each fine cell covers along one axis.

    Parameters
    ----------
    fine_min_mm, fine_pitch_mm, fine_n : float, float, int
        Lower end and pitch of the fine cells [mm], and how many there are.
    grid_min_mm, grid_pitch_mm, grid_n : float, float, int
        The same of the coarse ones.

    Returns
    -------
    scipy.sparse.csr_array, shape (grid_n, fine_n)

    Notes
    -----
    Exact for any two pitches and offsets; coarse cells that reach beyond the fine ones sum to less than 1.
    """
    edges = fine_min_mm + fine_pitch_mm * np.arange(fine_n + 1)
    place = (edges - grid_min_mm) / grid_pitch_mm
    # A fine cell narrower than a coarse one meets at most two; a wider one meets several: walk them all
    reach = int(np.ceil(fine_pitch_mm / grid_pitch_mm)) + 1
    first = np.floor(place[:-1] + 1e-9).astype(np.int64)
    cells = first[:, None] + np.arange(reach)
    shares = np.minimum(place[1:, None], cells + 1) - np.maximum(place[:-1, None], cells)
    columns = np.broadcast_to(np.arange(fine_n)[:, None], cells.shape)
    kept = (shares > 1e-9) & (cells >= 0) & (cells < grid_n)
    return scipy.sparse.csr_array((shares[kept], (cells[kept], columns[kept])), shape=(grid_n, fine_n))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Resampling:
    """Area-true averaging from the board's fine grid to the map grid."""

    along_y: "scipy.sparse.csr_array"
    along_x: "scipy.sparse.csr_array"

    def __call__(self, fine: npt.NDArray[np.generic]) -> FloatArray:
        """Mean over each map pixel of a map on the fine grid; 0 outside the fine grid."""
        rows = self.along_y @ np.asarray(fine, dtype=np.float32)
        return np.asarray((self.along_x @ rows.T).T, dtype=np.float64)

    def part(self, fine: npt.NDArray[np.generic], *, box: Box, rows: slice, columns: slice) -> FloatArray:
        """The same for a map that is 0 outside `box` of the fine grid, for some rows and columns only."""
        along_y = self.along_y[rows][:, box[0]]
        along_x = self.along_x[columns][:, box[1]]
        return np.asarray((along_x @ (along_y @ np.asarray(fine, dtype=np.float32)).T).T, dtype=np.float64)


def build_resampling(*, fine: Grid, grid: Grid) -> Resampling:
    """Area-true averaging from one grid to another.

    Parameters
    ----------
    fine, grid : Grid
        From and to; any two pitches and offsets.
    """
    along_x = overlap_shares(
        fine_min_mm=fine.x_min_mm, fine_pitch_mm=fine.pitch_mm, fine_n=fine.n_x,
        grid_min_mm=grid.x_min_mm, grid_pitch_mm=grid.pitch_mm, grid_n=grid.n_x,
    )  # fmt: skip
    along_y = overlap_shares(
        fine_min_mm=fine.y_min_mm, fine_pitch_mm=fine.pitch_mm, fine_n=fine.n_y,
        grid_min_mm=grid.y_min_mm, grid_pitch_mm=grid.pitch_mm, grid_n=grid.n_y,
    )  # fmt: skip
    return Resampling(along_y=along_y.astype(np.float32), along_x=along_x.astype(np.float32))


def _inside_pixels(coverage: FloatArray) -> BoolArray:
    """Pixels far enough inside; the threshold drops until there are enough, for tiny and thin windows."""
    for least in COVERAGE_STEPS:
        inside = coverage >= least
        if int(inside.sum()) >= ENOUGH_PIXELS:
            return np.asarray(inside)
    return np.asarray(coverage > 0.0)


def _crop_of(box: Box | None, *, fine: Grid, grid: Grid) -> Box:
    """Map rows and columns that hold a box of the fine grid and its surround; empty where it lies off the map."""
    if box is None:
        return slice(0, 0), slice(0, 0)
    spans = ((box[0], fine.y_min_mm, grid.y_min_mm, grid.n_y), (box[1], fine.x_min_mm, grid.x_min_mm, grid.n_x))
    crop = []
    for span, fine_min_mm, grid_min_mm, n in spans:
        low_mm = fine_min_mm + span.start * fine.pitch_mm - SURROUND_MM
        high_mm = fine_min_mm + span.stop * fine.pitch_mm + SURROUND_MM
        start = int(np.clip(np.floor((low_mm - grid_min_mm) / grid.pitch_mm), 0, n))
        stop = int(np.clip(np.ceil((high_mm - grid_min_mm) / grid.pitch_mm), start, n))
        crop.append(slice(start, stop))
    return crop[0], crop[1]


def _surround(coverage: FloatArray, *, free: FloatArray, pitch_mm: float) -> FloatArray:
    """Weights of the board within SURROUND_MM of the rim and clear of every window and hole."""
    touched = coverage > CLEAR_OF_WINDOW
    if not touched.any():
        return np.zeros_like(coverage)
    distance_mm = pitch_mm * scipy.ndimage.distance_transform_edt(~touched)
    ring = (distance_mm > 0.0) & (distance_mm <= SURROUND_MM) & (free > 1.0 - 2 * CLEAR_OF_WINDOW)
    return np.asarray(np.where(ring, free, 0.0))


def build_openings(board: Board, *, grid: Grid) -> tuple[Opening, ...]:
    """Every window of the board on the map grid, in the order of the survey.

    Parameters
    ----------
    board : Board
        Its survey labels windows on the fine grid of the face maps.
    grid : Grid
        Grid of the luminance maps.

    Returns
    -------
    tuple of Opening
    """
    fine = board.maps.grid
    labels = board.survey.labels
    resample = build_resampling(fine=fine, grid=grid)
    # Surround is laminate that is neither window nor hole
    free = resample((labels == 0) * board.maps.inside)
    boxes = cast(list[Box | None], scipy.ndimage.find_objects(labels, max_label=len(board.survey.windows)))
    openings = []
    for number, (window, box) in enumerate(zip(board.survey.windows, boxes, strict=True), start=1):
        rows, columns = _crop_of(box, fine=fine, grid=grid)
        coverage = np.zeros((rows.stop - rows.start, columns.stop - columns.start))
        if box is not None:
            coverage = resample.part(labels[box] == number, box=box, rows=rows, columns=columns)
        openings.append(
            Opening(
                name=window.name,
                area_mm2=window.area_mm2,
                rows=rows,
                columns=columns,
                coverage=coverage,
                inside=_inside_pixels(coverage),
                surround=_surround(coverage, free=free[rows, columns], pitch_mm=grid.pitch_mm),
            )
        )
    return tuple(openings)


def window_light_per_lm(board: Board, *, tally: Tally) -> tuple[tuple[str, ...], FloatArray]:
    """Light of every LED in every window: what drive and layout start from.

    Parameters
    ----------
    board : Board
        Its windows.
    tally : Tally
        Light per lumen of every LED.

    Returns
    -------
    names : tuple of str
        Windows, in the order of the board's survey.
    light : ndarray, shape (window, led)
        Mean luminance along the viewing direction per lumen, nominal laminate [cd/m2 per lm]; LEDs in the order of the
        tally.
    """
    openings = build_openings(board, grid=tally.map_grid)
    light = np.array(
        [[float(opening.led_mean(led.xyz[0, 1], corner=led.corner)) for led in tally.leds] for opening in openings]
    )
    return tuple(opening.name for opening in openings), light.reshape(len(openings), len(tally.leds))
