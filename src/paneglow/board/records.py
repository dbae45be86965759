"""The board that will be made: faces as coverage maps, windows, LEDs in place; no light yet."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely.geometry import MultiPolygon, Polygon

from paneglow.board.nets_records import CopperNets
from paneglow.catalog import Part
from paneglow.design import LightWall, Mounting, Side
from paneglow.fab import PlacementRow, PlacementRule
from paneglow.grid import Grid
from paneglow.units import FiniteFloat, PointMm, Record

CoverageMap = npt.NDArray[np.float32]  # [y, x], share of the pixel covered, 0 to 1
FaceState = Literal["bare", "masked", "inked", "mixed"]
OtherKind = Literal["fiducial", "mask ring", "narrow", "masked both faces", "small"]
ShadowKind = Literal["copper sliver", "trace", "via", "ink", "mask"]
Exposure = Literal["bare both faces", "bare one face", "masked both faces"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceMaps:
    """Coverage maps of one fabrication set on one grid, all seen from the front.

    `inside` is laminate: within the outline, cut-outs and holes taken out. `outline_inside` ignores holes. Mask and
    legend maps say where the coat *is*, on top of whatever it lies on.
    """

    grid: Grid
    outline: MultiPolygon
    outline_inside: CoverageMap
    inside: CoverageMap
    holes: CoverageMap
    plated_holes: CoverageMap
    copper_front: CoverageMap
    copper_back: CoverageMap
    copper_inner: tuple[CoverageMap, ...]
    mask_front: CoverageMap
    mask_back: CoverageMap
    legend_front: CoverageMap
    legend_back: CoverageMap
    copper_layers: int
    notes: tuple[str, ...]


class FaceCover(Record):
    """How one face of a window is covered; the shares sum to 1."""

    state: FaceState
    bare_frac: FiniteFloat
    masked_frac: FiniteFloat
    inked_frac: FiniteFloat


class Shadow(Record):
    """Something in or across a window that stops light."""

    kind: ShadowKind
    layer: str
    area_mm2: FiniteFloat
    at_mm: PointMm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """A connected area that light can cross."""

    name: str
    area_mm2: float
    bbox_mm: tuple[float, float, float, float]
    centre_mm: tuple[float, float]  # a point inside, farthest from the rim
    width_mm: float  # largest inscribed circle
    polygon: Polygon
    exposure: Exposure
    front: FaceCover
    back: FaceCover
    shadows: tuple[Shadow, ...]
    decision: str  # one sentence: why this counts as a window


class OtherOpening(Record):
    """A copper-free opening that is not a window: fiducial clearance, mask ring, too narrow, under mask."""

    kind: OtherKind
    area_mm2: FiniteFloat
    at_mm: PointMm
    reason: str


class ExposureTotal(Record):
    """All copper-free laminate of one exposure, at least 0.4 mm wide: fiducials, rings and specks are in it too.

    `regions` counts connected areas of this very exposure above 0.5 mm2, `area_mm2` adds all of them and the smaller.
    """

    exposure: Exposure
    area_mm2: FiniteFloat
    regions: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowSurvey:
    """All openings of a board. `labels[y, x]` is 0 outside windows, else 1 + the index into `windows`."""

    outline_area_mm2: float
    copper_layers: int
    pieces: int
    windows: tuple[Window, ...]
    others: tuple[OtherOpening, ...]
    labels: npt.NDArray[np.int32]
    notes: tuple[str, ...]
    totals: tuple[ExposureTotal, ...] = ()  # one per exposure, in the order of `Exposure`


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLed:
    """One LED where it will sit; the part's axis geometry is derived in `scene`."""

    ref: str
    part: Part
    mounting: Mounting
    at_mm: tuple[float, float]
    rotation_deg: float  # counter-clockwise seen from the front
    side: Side
    window: str | None  # name of the window it is meant for
    current_ma: float
    diffuser: str
    gap_mm: float | None
    light_wall: LightWall | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementRead:
    """A placement file as read: rows in the frame of the board, and what their rotations mean."""

    rows: tuple[PlacementRow, ...]
    rule: PlacementRule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """What will be made."""

    name: str
    thickness_mm: float
    maps: FaceMaps
    survey: WindowSurvey
    leds: tuple[PlacedLed, ...]
    notes: tuple[str, ...] = ()  # what was decided while placing LEDs
    nets: CopperNets | None = None  # None where no fabrication files were read
    placement: PlacementRead | None = None  # None where the design names no placement file
