"""Synthetic boards: exact coverage of simple shapes on a grid, and face maps made of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from paneglow.board import FaceMaps
from paneglow.grid import Grid

SUPERSAMPLES = 16  # per side of a pixel: coverage of an oblique edge to about 1/256


@dataclass(frozen=True)
class Box:
    """Rectangle by centre, size and turn."""

    at: tuple[float, float]
    size: tuple[float, float]
    turn_deg: float = 0.0

    def holds(self, x, y):
        angle = np.radians(self.turn_deg)
        along = (x - self.at[0]) * np.cos(angle) + (y - self.at[1]) * np.sin(angle)
        across = (y - self.at[1]) * np.cos(angle) - (x - self.at[0]) * np.sin(angle)
        return (np.abs(along) <= self.size[0] / 2) & (np.abs(across) <= self.size[1] / 2)

    @property
    def reach(self):
        return float(np.hypot(*self.size)) / 2

    @property
    def area(self):
        return self.size[0] * self.size[1]


@dataclass(frozen=True)
class Disc:
    """Disc by centre and diameter."""

    at: tuple[float, float]
    diameter: float

    def holds(self, x, y):
        return (x - self.at[0]) ** 2 + (y - self.at[1]) ** 2 <= self.diameter**2 / 4

    @property
    def reach(self):
        return self.diameter / 2

    @property
    def area(self):
        return float(np.pi / 4 * self.diameter**2)


Shape = Box | Disc


def draw(shapes: Sequence[Shape], *, grid: Grid) -> np.ndarray:
    """Coverage of the union of shapes by samples inside each pixel."""
    cover = np.zeros(grid.shape, dtype=np.float32)
    for shape in shapes:
        rows, columns = _cut(shape, grid)
        if isinstance(shape, Box) and shape.turn_deg % 180 == 0:
            exact = _upright(shape, grid)
            cover = np.minimum(1, cover + exact)
            continue
        fine = (np.arange(SUPERSAMPLES) + 0.5) / SUPERSAMPLES
        x = grid.x_min_mm + (np.arange(columns.start, columns.stop)[:, None] + fine).ravel() * grid.pitch_mm
        y = grid.y_min_mm + (np.arange(rows.start, rows.stop)[:, None] + fine).ravel() * grid.pitch_mm
        inside = shape.holds(x[None, :], y[:, None])
        count = (rows.stop - rows.start, SUPERSAMPLES, columns.stop - columns.start, SUPERSAMPLES)
        # Edge pixels shared by two shapes hold both; drawings here never overlap on an edge
        cover[rows, columns] = np.minimum(1, cover[rows, columns] + inside.reshape(count).mean(axis=(1, 3)))
    return cover


def _upright(box: Box, grid: Grid) -> np.ndarray:
    """Exact coverage of a box along the axes: the product of what it covers of each row and column."""

    def span(centre: float, size: float, low: float, count: int) -> np.ndarray:
        edges = low + np.arange(count + 1) * grid.pitch_mm
        covered = np.clip(edges, centre - size / 2, centre + size / 2)
        return np.diff(covered) / grid.pitch_mm

    rows = span(box.at[1], box.size[1], grid.y_min_mm, grid.n_y)
    columns = span(box.at[0], box.size[0], grid.x_min_mm, grid.n_x)
    return np.outer(rows, columns).astype(np.float32)


def _cut(shape: Shape, grid: Grid) -> tuple[slice, slice]:
    def span(centre: float, low: float, count: int) -> slice:
        first = int(np.floor((centre - shape.reach - low) / grid.pitch_mm)) - 1
        last = int(np.ceil((centre + shape.reach - low) / grid.pitch_mm)) + 1
        return slice(max(0, first), min(count, last))

    return span(shape.at[1], grid.y_min_mm, grid.n_y), span(shape.at[0], grid.x_min_mm, grid.n_x)


def board(
    *,
    size: tuple[float, float] = (20.0, 20.0),
    pitch_mm: float = 0.05,
    clear: Sequence[Shape] = (),
    copper: Sequence[Shape] = (),
    back_copper: Sequence[Shape] = (),
    no_pours: bool = False,
    open_front: Sequence[Shape] | None = None,
    open_back: Sequence[Shape] | None = None,
    holes: Sequence[Shape] = (),
    plated: Sequence[Shape] = (),
    legend_front: Sequence[Shape] = (),
    layers: int = 2,
) -> FaceMaps:
    """A rectangular board centred on the origin, copper everywhere except in `clear`, plus `copper` drawn after.

    The mask is opened where copper is clear unless `open_front` or `open_back` says otherwise.
    """
    half = (size[0] / 2, size[1] / 2)
    grid = Grid.over(bounds_mm=(-half[0], -half[1], half[0], half[1]), pitch_mm=pitch_mm, margin_mm=0.5)
    whole = draw([Box((0.0, 0.0), size)], grid=grid)
    drilled = draw([*holes, *plated], grid=grid)
    pour = np.zeros_like(whole) if no_pours else np.minimum(whole, 1 - draw(clear, grid=grid))
    front = np.maximum(pour, draw(copper, grid=grid))
    back = np.maximum(pour, draw(back_copper, grid=grid))
    zero = np.zeros_like(whole)

    def mask(opened: Sequence[Shape] | None) -> np.ndarray:
        return np.minimum(whole, 1 - draw(clear if opened is None else opened, grid=grid))

    return FaceMaps(
        grid=grid,
        outline=MultiPolygon([Polygon([(-half[0], -half[1]), (half[0], -half[1]), half, (-half[0], half[1])])]),
        outline_inside=whole,
        inside=np.minimum(whole, 1 - drilled),
        holes=drilled,
        plated_holes=draw(plated, grid=grid),
        copper_front=front,
        copper_back=back,
        copper_inner=tuple(pour for _ in range(layers - 2)),
        mask_front=mask(open_front),
        mask_back=mask(open_back),
        legend_front=draw(legend_front, grid=grid),
        legend_back=zero,
        copper_layers=layers,
        notes=(),
    )
