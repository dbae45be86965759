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
CROP_MARGIN_FRAC = 0.15  # of the window's larger side, so that its surround shows (our choice)
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
    clear = (ten for ten in decades if 0.18 * span < math.log10(ten / low) < 0.82 * span)
    return (low, *clear, high)


def window_bounds_mm(window: WindowResult) -> tuple[float, float, float, float]:
    """Bounding box of a window with a little of its surround [mm]."""
    x_min, y_min, x_max, y_max = window.bbox_mm
    margin = max(CROP_LEAST_MARGIN_MM, CROP_MARGIN_FRAC * max(x_max - x_min, y_max - y_min))
    return x_min - margin, y_min - margin, x_max + margin, y_max + margin


def enlarge(pixels: PixelArray) -> PixelArray:
    """Enlarge a picture so that its longer side has CROP_SIDE_PX pixels."""
    picture = Image.fromarray(np.ascontiguousarray(pixels))
    scale = CROP_SIDE_PX / max(picture.size)
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    return np.asarray(picture.resize(size, Image.Resampling.BICUBIC), dtype=np.uint8)


def round_length_mm(width_mm: float) -> float:
    """Length of a scale bar: 1, 2 or 5 times a power of ten, the longest that fills no more than half of the width.

    Examples
    --------
    >>> round_length_mm(9.0), round_length_mm(45.0), round_length_mm(1.1)
    (2.0, 20.0, 0.5)
    """
    decade = 10.0 ** math.floor(math.log10(width_mm / 2))
    return max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= width_mm / 2)
