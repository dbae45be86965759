"""The regular grid that layers, faces and luminance maps are sampled on."""

from dataclasses import dataclass
from typing import Self

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_above
from paneglow.errors import RangeError

MAX_PIXELS = 200_000_000  # about 0.7 m square at 0.05 mm; a float32 layer then takes 0.8 GB


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Square pixels over a rectangle of the board, seen from the front; y grows upward.

    Arrays on a grid are indexed [y, x]; row 0 is the lowest row, so pictures flip it. Pixel [j, i] covers
    x from `x_min_mm + i * pitch_mm` to one pitch more, and y likewise.
    """

    x_min_mm: float  # Left edge
    y_min_mm: float  # Lower edge
    pitch_mm: float  # Side of a pixel
    n_x: int  # Pixels along x
    n_y: int  # Pixels along y

    def __post_init__(self) -> None:
        check_above("grid pitch_mm", self.pitch_mm, lower=0.0)
        if self.n_x < 1 or self.n_y < 1 or self.n_x * self.n_y > MAX_PIXELS:
            raise RangeError(
                f"grid has {self.n_x} x {self.n_y} pixels; allowed is 1 to {MAX_PIXELS} in all: use a larger pitch"
            )

    @classmethod
    def over(cls, *, bounds_mm: tuple[float, float, float, float], pitch_mm: float, margin_mm: float = 0.0) -> Self:
        """Smallest grid that covers bounds (x_min, y_min, x_max, y_max) plus a margin on all sides.

        The lower left corner is snapped down to a multiple of the pitch, so grids of one pitch align.
        """
        x_min, y_min, x_max, y_max = bounds_mm
        check_above("grid pitch_mm", pitch_mm, lower=0.0)
        left = int(np.floor((x_min - margin_mm) / pitch_mm + 1e-9))
        low = int(np.floor((y_min - margin_mm) / pitch_mm + 1e-9))
        right = int(np.ceil((x_max + margin_mm) / pitch_mm - 1e-9))
        high = int(np.ceil((y_max + margin_mm) / pitch_mm - 1e-9))
        return cls(
            x_min_mm=left * pitch_mm,
            y_min_mm=low * pitch_mm,
            pitch_mm=pitch_mm,
            n_x=max(1, right - left),
            n_y=max(1, high - low),
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Array shape (n_y, n_x)."""
        return (self.n_y, self.n_x)

    @property
    def pixel_area_mm2(self) -> float:
        """Area of one pixel [mm2]."""
        return self.pitch_mm * self.pitch_mm

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Covered rectangle (x_min, y_min, x_max, y_max) [mm]."""
        return (
            self.x_min_mm,
            self.y_min_mm,
            self.x_min_mm + self.n_x * self.pitch_mm,
            self.y_min_mm + self.n_y * self.pitch_mm,
        )

    def x_centres_mm(self) -> npt.NDArray[np.float64]:
        """Pixel centres along x, shape (n_x,) [mm]."""
        return np.asarray(self.x_min_mm + (np.arange(self.n_x) + 0.5) * self.pitch_mm, dtype=np.float64)

    def y_centres_mm(self) -> npt.NDArray[np.float64]:
        """Pixel centres along y, shape (n_y,) [mm]."""
        return np.asarray(self.y_min_mm + (np.arange(self.n_y) + 0.5) * self.pitch_mm, dtype=np.float64)

    def pixel_at(self, *, x_mm: float, y_mm: float) -> tuple[int, int] | None:
        """Index (row, column) of the pixel that holds a point, or None outside the grid."""
        column = int(np.floor((x_mm - self.x_min_mm) / self.pitch_mm))
        row = int(np.floor((y_mm - self.y_min_mm) / self.pitch_mm))
        if 0 <= column < self.n_x and 0 <= row < self.n_y:
            return row, column
        return None
