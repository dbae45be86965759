"""Boards with drawn pads for tests of lands: exposed copper made by exact pixel coverage."""

from dataclasses import replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from paneglow.board import Board, FaceMaps, PlacedLed, WindowSurvey
from paneglow.catalog import Part, read_catalog
from paneglow.grid import Grid

OUTLINE = box(0.0, 0.0, 30.0, 30.0)
GRID = Grid.over(bounds_mm=(9.0, 9.0, 21.0, 21.0), pitch_mm=0.05)  # only where pads are drawn: tests stay fast
PARTS = read_catalog().parts
CENTRE = (15.0, 15.0)


def led(part: Part | str, *, mounting: str, **changes: object) -> PlacedLed:
    plain = PlacedLed(
        ref="D1",
        part=PARTS[part] if isinstance(part, str) else part,
        mounting=mounting,
        at_mm=CENTRE,
        rotation_deg=0.0,
        side="back",
        window=None,
        current_ma=1.0,
        diffuser="none",
        gap_mm=None,
    )
    return replace(plain, **changes)


def pads_at(*, inner_mm: float, outer_mm: float, width_mm: float, deg: float = 0.0, shift_mm: float = 0.0):
    """Two like pads left and right of the centre, turned about it; `shift_mm` moves both across."""
    left = box(-outer_mm, -width_mm / 2 + shift_mm, -inner_mm, width_mm / 2 + shift_mm)
    right = box(inner_mm, -width_mm / 2 + shift_mm, outer_mm, width_mm / 2 + shift_mm)
    turned = (affinity.rotate(pad, deg, origin=(0.0, 0.0)) for pad in (left, right))
    return tuple(affinity.translate(pad, *CENTRE) for pad in turned)


def coverage(*shapes: Polygon) -> np.ndarray:
    """Exact share of every pixel under shapes: only pixels along an outline are intersected one by one."""
    x_mm, y_mm = np.meshgrid(GRID.x_centres_mm(), GRID.y_centres_mm())
    shape = shapely.union_all(list(shapes))
    shapely.prepare(shape)
    whole = shapely.contains_xy(shape, x_mm, y_mm).astype(np.float32)
    if shape.is_empty:
        return whole
    rim = shape.boundary.buffer(GRID.pitch_mm)
    shapely.prepare(rim)
    near = shapely.contains_xy(rim, x_mm, y_mm)
    half = GRID.pitch_mm / 2
    pixels = shapely.box(x_mm[near] - half, y_mm[near] - half, x_mm[near] + half, y_mm[near] + half)
    whole[near] = shapely.area(shapely.intersection(pixels, shape)) / GRID.pixel_area_mm2
    return whole


def board(*pads: Polygon, leds: tuple[PlacedLed, ...] = (), mask: Polygon | None = None, outline=OUTLINE) -> Board:
    nothing = np.zeros(GRID.shape, dtype=np.float32)
    copper = coverage(*pads)
    covered = nothing if mask is None else coverage(mask)
    maps = FaceMaps(
        grid=GRID,
        outline=MultiPolygon([outline]),
        outline_inside=nothing + 1.0,
        inside=nothing + 1.0,
        holes=nothing,
        plated_holes=nothing,
        copper_front=nothing,
        copper_back=copper,
        copper_inner=(),
        mask_front=nothing,
        mask_back=covered,
        legend_front=nothing,
        legend_back=nothing,
        copper_layers=2,
        notes=(),
    )
    survey = WindowSurvey(
        outline_area_mm2=outline.area,
        copper_layers=2,
        pieces=1,
        windows=(),
        others=(),
        labels=nothing.astype(np.int32),
        notes=(),
    )
    return Board(name="test", thickness_mm=1.6, maps=maps, survey=survey, leds=leds)
