"""The finer grid that pictures are drawn on, and light drawn onto it with the true edges of board and windows."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from paneglow.board import Board
from paneglow.grid import Grid
from paneglow.look.openings import Resampling, build_resampling
from paneglow.look.records import Glow

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

PIXEL_MM = 0.1  # wanted: 10 pixels per mm, about what a page shows of a board at twice its size
MOST_PIXELS = 12_000_000  # larger boards are drawn coarser
MARGIN_MM = 3.0  # dark surround, so that the veil of stray light is seen

OPEN_PIXEL = 0.75  # map pixels this far inside windows and holes hold their light as it is
PART_PIXEL = 0.25  # below it a rim pixel says too little about the light in its window
CLOSED_PIXEL = 0.05  # map pixels this little inside hold the light of the covered board
# Grain above this relative error is smoothed away, no wider than this; the laminate itself blurs more
GRAIN_FRAC = 0.02
GRAIN_WIDTHS_PX = (0.0, 0.7, 1.4, 2.5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Canvas:
    """Picture grid with what covers it, all [y, x] shares from 0 to 1.

    `open` is window or hole, seen through; `windows` is window only; `board` is laminate.
    """

    grid: Grid
    resample: Resampling
    open: FloatArray
    windows: FloatArray
    board: FloatArray


def build_canvas(board: Board) -> Canvas:
    """Picture grid of a board: whole pixels of its fine grid, close to PIXEL_MM, with a margin.

    Parameters
    ----------
    board : Board
        Its outline, windows and faces on the fine grid.
    """
    fine = board.maps.grid
    block = max(1, round(PIXEL_MM / fine.pitch_mm))
    while fine.n_x * fine.n_y / block**2 > MOST_PIXELS:
        block += 1
    grid = Grid.over(bounds_mm=board.maps.outline.bounds, pitch_mm=block * fine.pitch_mm, margin_mm=MARGIN_MM)
    resample = build_resampling(fine=fine, grid=grid)
    windows = np.clip(resample(board.survey.labels > 0), 0.0, 1.0)
    seen_through = _seen_through(board)
    return Canvas(
        grid=grid,
        resample=resample,
        open=np.clip(resample(seen_through), 0.0, 1.0),
        windows=windows,
        board=np.clip(resample(board.maps.inside), 0.0, 1.0),
    )


def _seen_through(board: Board) -> npt.NDArray[np.float32]:
    """Share of each fine pixel where light comes out unhindered: windows, and holes within the outline."""
    holes = board.maps.holes * board.maps.outline_inside
    return np.asarray(np.maximum(board.survey.labels > 0, holes), dtype=np.float32)


def _interpolation(
    *, from_min_mm: float, from_pitch_mm: float, from_n: int, centres_mm: FloatArray
) -> "scipy.sparse.csr_array":
    """Linear interpolation along one axis as a matrix (to, from); constant beyond the outer pixel centres."""
    place = np.clip((centres_mm - from_min_mm) / from_pitch_mm - 0.5, 0.0, from_n - 1.0)
    left = np.minimum(place.astype(np.int64), max(from_n - 2, 0))
    share = place - left
    right = np.minimum(left + 1, from_n - 1)
    rows = np.arange(len(centres_mm))
    return scipy.sparse.csr_array(
        (np.concatenate([1.0 - share, share]), (np.tile(rows, 2), np.concatenate([left, right]))),
        shape=(len(centres_mm), from_n),
    )


def interpolated(maps: FloatArray, *, source: Grid, grid: Grid) -> FloatArray:
    """Maps read at the pixel centres of another grid (bilinear).

    Parameters
    ----------
    maps : ndarray, shape (..., y, x)
        In any unit, on `source`.
    source, grid : Grid
        Where they are, and where they are read; constant beyond the outer pixel centres.

    Returns
    -------
    ndarray, shape (..., y, x)
        On `grid`.
    """
    along_y = _interpolation(
        from_min_mm=source.y_min_mm, from_pitch_mm=source.pitch_mm, from_n=source.n_y, centres_mm=grid.y_centres_mm()
    )
    along_x = _interpolation(
        from_min_mm=source.x_min_mm, from_pitch_mm=source.pitch_mm, from_n=source.n_x, centres_mm=grid.x_centres_mm()
    )
    flat = maps.reshape(-1, *maps.shape[-2:])
    read = np.stack([(along_x @ (along_y @ layer).T).T for layer in flat])
    return np.asarray(read.reshape(*maps.shape[:-2], *grid.shape), dtype=np.float64)


def draw_glow(glow: Glow, *, board: Board, canvas: Canvas) -> FloatArray:
    """XYZ of the lit board on the picture grid.

    Parameters
    ----------
    glow : Glow
        Light on the map grid.
    board, canvas : Board, Canvas
        True edges of windows and holes; the picture grid.

    Returns
    -------
    ndarray, shape (3, y, x)
        Tristimulus values [cd/m2].

    Notes
    -----
    Map pixels across a rim hold the mean of a bright and a dark side. Light inside windows and light on the covered
    board are therefore taken from pixels wholly on either side, carried on to the rim, read between pixel centres
    (bilinear), and joined along the true edge of the fine grid. Nothing finer than the map is added inside either.
    Grain of the sampling is smoothed just as far as its standard error asks.
    """
    resample = build_resampling(fine=board.maps.grid, grid=glow.grid)
    share = np.clip(resample(_seen_through(board)), 0.0, 1.0)
    full = share >= OPEN_PIXEL
    # A slit narrower than a map pixel has no full pixel near: its part pixels speak for it, scaled up
    near_full = scipy.ndimage.binary_dilation(full, iterations=2)
    inside = full | ((share >= PART_PIXEL) & ~near_full)
    scale = np.where(inside, 1.0 / np.maximum(share, PART_PIXEL), 0.0)
    covered = (share <= CLOSED_PIXEL) & (resample(board.maps.inside) >= 1.0 - CLOSED_PIXEL)
    noise = glow.luminance_se_cd_m2 / np.maximum(glow.xyz[1], np.finfo(np.float64).tiny)
    lit = _carried(_degrained(glow.xyz * scale, noise_frac=noise, known=inside), known=inside)
    dim = _carried(_degrained(glow.xyz * covered, noise_frac=noise, known=covered), known=covered)
    lit, dim = (interpolated(maps, source=glow.grid, grid=canvas.grid) for maps in (lit, dim))
    return np.asarray(canvas.open * lit + np.clip(canvas.board - canvas.open, 0.0, 1.0) * dim, dtype=np.float64)


def _carried(xyz: FloatArray, *, known: BoolArray) -> FloatArray:
    """Maps whose unknown pixels take the value of the nearest known one; 0 where none is known."""
    if not known.any():
        return np.zeros_like(xyz)
    nearest = scipy.ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(xyz[:, nearest[0], nearest[1]], dtype=np.float64)


def _degrained(xyz: FloatArray, *, noise_frac: FloatArray, known: BoolArray) -> FloatArray:
    """Maps smoothed among known pixels, at each pixel as wide as its relative error needs to fall to GRAIN_FRAC.

    A Gaussian of standard deviation s averages about 4 pi s^2 pixels, so s = error / (GRAIN_FRAC 2 sqrt(pi)).
    """
    weights = known.astype(np.float64)
    wanted_px = np.where(known, noise_frac, 0.0) / (GRAIN_FRAC * 2.0 * np.sqrt(np.pi))
    if not np.any(wanted_px > GRAIN_WIDTHS_PX[1] / 2):
        return xyz
    # The wish itself is noisy: take its neighbourhood's
    wanted_px = scipy.ndimage.gaussian_filter(wanted_px, 2.0) / np.maximum(
        scipy.ndimage.gaussian_filter(weights, 2.0), 1e-6
    )
    result = xyz
    for narrow, wide in zip(GRAIN_WIDTHS_PX[:-1], GRAIN_WIDTHS_PX[1:], strict=True):
        spread = scipy.ndimage.gaussian_filter(weights, wide, truncate=3.0)
        smooth = scipy.ndimage.gaussian_filter(xyz * weights, (0.0, wide, wide), truncate=3.0) / np.maximum(
            spread, 1e-6
        )
        blend = np.clip((wanted_px - narrow) / (wide - narrow), 0.0, 1.0)
        result = result + blend * (smooth - result)
    return np.asarray(result * weights, dtype=np.float64)
