"""Pictures as PNG bytes, window crops and the false-colour scale, ready to embed."""

import base64
import io
import math
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from paneglow.fab import build_text, draw_strokes, text_width_mm
from paneglow.grid import Grid
from paneglow.results import WindowResult

PixelArray = npt.NDArray[np.uint8]  # [y, x, 3], top row first

MARK_SHARE = 0.6  # of the picture's width (our choice)
MARK_GROUND = 0.35  # what the band under a mark leaves of the picture, so that white letters stand out (our choice)
CROP_MARGIN_FRAC = 0.35  # of the window's larger side, so that its surround shows (our choice)
CROP_LEAST_MARGIN_MM = 0.6
CROP_JPEG_QUALITY = 88  # no block is seen at this size (our choice)
CROP_SIDE_PX = 168  # twice the size on the page, for sharp screens


def to_png(pixels: PixelArray) -> bytes:
    """Encode a picture, uint8 [y, x, 3] with the top row first, as PNG."""
    return _encoded(pixels, format="PNG")


def with_mark(pixels: PixelArray, *, words: str | None) -> PixelArray:
    """Words across the lower edge of a picture, light on dark; the picture itself where there are none.

    Parameters
    ----------
    pixels : ndarray, shape (y, x, 3), uint8
        Top row first.
    words : str or None
    """
    if words is None:
        return pixels
    n_y, n_x = pixels.shape[:2]
    height = min(MARK_SHARE * n_x / text_width_mm(words, height_mm=1.0), n_y / 4)  # one millimetre is one pixel here
    band = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=n_x, n_y=math.ceil(2 * height))
    strokes = build_text(words, at_mm=(n_x / 2, height / 2), height_mm=height, pen_mm=height / 8, align="centre")
    ink = draw_strokes(strokes, grid=band)[::-1, :, None]
    marked = pixels.copy()
    below = marked[n_y - band.n_y :]
    below[:] = np.round((1.0 - ink) * (MARK_GROUND * below) + ink * 255.0).astype(np.uint8)
    return marked


def to_jpeg(pixels: PixelArray) -> bytes:
    """Encode a small picture as JPEG, a tenth of the PNG; its colour keeps full resolution."""
    return _encoded(pixels, format="JPEG", quality=CROP_JPEG_QUALITY, subsampling=0)


def _encoded(pixels: PixelArray, **options: Any) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(buffer, **options)
    return buffer.getvalue()


def to_data_uri(encoded: bytes, *, kind: str = "png") -> str:
    """Wrap an encoded picture so that a page can hold it."""
    return f"data:image/{kind};base64,{base64.b64encode(encoded).decode('ascii')}"


def list_ticks(low: float, high: float) -> tuple[float, ...]:
    """Return the two ends of a logarithmic scale and the powers of ten well inside it, rising."""
    span = math.log10(high / low)
    decades = (10.0**power for power in range(math.ceil(math.log10(low)), math.floor(math.log10(high)) + 1))
    clear = (ten for ten in decades if 0.12 * span < math.log10(ten / low) < 0.88 * span)
    return (low, *clear, high)


def _span_px(low_mm: float, high_mm: float, *, origin_mm: float, extent_mm: float, n: int) -> tuple[int, int]:
    first = int(np.floor((low_mm - origin_mm) / extent_mm * n))
    last = int(np.ceil((high_mm - origin_mm) / extent_mm * n))
    first = min(max(first, 0), n - 1)
    return first, min(max(last, first + 1), n)


def crop_window(pixels: PixelArray, *, grid: Grid, window: WindowResult) -> PixelArray:
    """Cut a window and a little of its surround out of a picture and enlarge it.

    Parameters
    ----------
    pixels : ndarray, shape (y, x, 3), uint8
        Picture that covers the whole grid, top row first, at any resolution.
    grid : Grid
        The area the picture covers.
    window : WindowResult
        Its bounding box is cut out, with a margin.

    Returns
    -------
    ndarray, shape (y, x, 3), uint8
        The longer side has CROP_SIDE_PX pixels.
    """
    x_min, y_min, x_max, y_max = window.bbox_mm
    margin = max(CROP_LEAST_MARGIN_MM, CROP_MARGIN_FRAC * max(x_max - x_min, y_max - y_min))
    left_mm, low_mm, right_mm, high_mm = grid.bounds_mm
    n_y, n_x = pixels.shape[:2]
    columns = _span_px(x_min - margin, x_max + margin, origin_mm=left_mm, extent_mm=right_mm - left_mm, n=n_x)
    # Picture rows run downward while y runs upward
    rows = _span_px(
        high_mm - y_max - margin, high_mm - y_min + margin, origin_mm=0.0, extent_mm=high_mm - low_mm, n=n_y
    )
    cut = Image.fromarray(np.ascontiguousarray(pixels[rows[0] : rows[1], columns[0] : columns[1]]))
    scale = CROP_SIDE_PX / max(cut.size)
    size = (max(1, round(cut.width * scale)), max(1, round(cut.height * scale)))
    return np.asarray(cut.resize(size, Image.Resampling.BICUBIC), dtype=np.uint8)
