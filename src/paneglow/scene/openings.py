"""The hole or cut-out a part shines through, read off the board itself."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from paneglow.board import FaceMaps

SEARCH_MM = 8.0  # half side of the square searched round a part; larger cut-outs are cropped to it
OPEN = 0.5  # a pixel is a hole from this share on
ROUND_TOLERANCE = 0.08  # a hole is round where area and both extents agree with a circle this closely


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Centre and extents (along u, along v) of a hole [mm], whether it is round and whether its wall is plated."""

    centre_mm: tuple[float, float]
    extent_mm: tuple[float, float]
    is_round: bool
    is_plated: bool


def find_opening(maps: FaceMaps, *, at_mm: tuple[float, float], along: tuple[float, float]) -> Opening | None:
    """Hole that holds a point, measured along and across a direction; None where the board has laminate there.

    Parameters
    ----------
    maps : FaceMaps
    at_mm : tuple of float
        A point [mm].
    along : tuple of float
        Unit vector of the part's long side.
    """
    pixel = maps.grid.pixel_at(x_mm=at_mm[0], y_mm=at_mm[1])
    if pixel is None:
        return None
    reach = round(SEARCH_MM / maps.grid.pitch_mm)
    rows = slice(max(0, pixel[0] - reach), pixel[0] + reach + 1)
    columns = slice(max(0, pixel[1] - reach), pixel[1] + reach + 1)
    # Outside the outline there is no laminate either, but that is no hole
    is_hole = (maps.holes[rows, columns] >= OPEN) & (maps.outline_inside[rows, columns] >= OPEN)
    labels, _ = ndimage.label(is_hole)
    label = labels[pixel[0] - rows.start, pixel[1] - columns.start]
    if label == 0:
        return None
    row, column = np.nonzero(labels == label)
    x_mm = maps.grid.x_centres_mm()[columns][column]
    y_mm = maps.grid.y_centres_mm()[rows][row]
    pitch = maps.grid.pitch_mm
    centre = (float(x_mm.mean()), float(y_mm.mean()))
    along_mm = (x_mm - centre[0]) * along[0] + (y_mm - centre[1]) * along[1]
    across_mm = -(x_mm - centre[0]) * along[1] + (y_mm - centre[1]) * along[0]
    extent = (float(np.ptp(along_mm)) + pitch, float(np.ptp(across_mm)) + pitch)
    area = x_mm.size * pitch * pitch
    diameter = 2.0 * math.sqrt(area / math.pi)
    is_round = all(abs(side / diameter - 1.0) <= ROUND_TOLERANCE + pitch / diameter for side in extent)
    plated = maps.plated_holes[rows, columns][row, column]
    return Opening(
        centre_mm=centre,
        extent_mm=(diameter, diameter) if is_round else extent,
        is_round=is_round,
        is_plated=bool(plated.mean() >= OPEN),
    )
