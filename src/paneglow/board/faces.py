"""Fabrication files as coverage maps on one grid, all seen from the front."""

import numpy as np

from paneglow.board.records import CoverageMap, FaceMaps
from paneglow.errors import FabricationError
from paneglow.fab import Fabrication, GerberDrawing, draw_coverage, draw_holes, draw_polygons
from paneglow.grid import Grid

GRID_MARGIN_MM = 0.5  # air round the board, so that its edge lies inside the maps


def build_face_maps(fabrication: Fabrication, *, pitch_mm: float) -> FaceMaps:
    """Coverage maps of every layer of one fabrication set.

    Parameters
    ----------
    fabrication : Fabrication
        The set as read.
    pitch_mm : float
        Pixel size [mm], above 0.

    Returns
    -------
    FaceMaps
        Copper and mask only where there is laminate or a plated hole's wall: nothing outside the outline. A layer that
        the set does not have is empty; a face without a mask layer is bare throughout.

    Raises
    ------
    RangeError
        Where the pitch would make too large a grid.
    """
    grid = Grid.over(bounds_mm=fabrication.outline.bounds, pitch_mm=pitch_mm, margin_mm=GRID_MARGIN_MM)
    whole = draw_polygons(fabrication.outline, grid=grid)
    holes = draw_holes(fabrication.holes, grid=grid)
    plated = draw_holes([hole for hole in fabrication.holes if hole.plated], grid=grid)

    def drawn(role: str) -> CoverageMap:
        layer = _draw(fabrication, role, grid=grid)
        return np.minimum(layer, whole, out=layer)

    def mask(role: str) -> CoverageMap:
        if role not in fabrication.drawings:
            return np.zeros_like(whole)
        layer = _draw(fabrication, role, grid=grid)
        np.subtract(np.float32(1), layer, out=layer)
        return np.minimum(layer, whole, out=layer)

    return FaceMaps(
        grid=grid,
        outline=fabrication.outline,
        outline_inside=whole,
        inside=np.minimum(whole, 1.0 - holes),
        holes=np.minimum(holes, whole, out=holes),
        plated_holes=np.minimum(plated, whole, out=plated),
        copper_front=drawn("copper_front"),
        copper_back=drawn("copper_back"),
        copper_inner=tuple(drawn(role) for role in sorted(fabrication.drawings) if role.startswith("copper_inner_")),
        mask_front=mask("mask_front"),
        mask_back=mask("mask_back"),
        legend_front=drawn("legend_front"),
        legend_back=drawn("legend_back"),
        copper_layers=fabrication.copper_layers,
        notes=fabrication.notes,
    )


def _draw(fabrication: Fabrication, role: str, *, grid: Grid) -> CoverageMap:
    drawing = fabrication.drawings.get(role)
    if drawing is None:
        return np.zeros(grid.shape, dtype=np.float32)
    if not isinstance(drawing, GerberDrawing):
        raise FabricationError(f"layer {role} holds no drawing; read the set with read_fabrication")
    return draw_coverage(drawing, grid=grid)
