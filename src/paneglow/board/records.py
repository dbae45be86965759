"""The board that will be made: faces as coverage maps, windows, LEDs in place; no light yet."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely.geometry import MultiPolygon, Polygon

from paneglow.board.nets import CopperNets
from paneglow.catalog import Part
from paneglow.design import LightWallDesign, Mounting, Side
from paneglow.fab import PlacementRow, PlacementRule
from paneglow.grid import Grid
from paneglow.units import FiniteFloat, PointMm, Record

CoverageMap = npt.NDArray[np.float32]  # [y, x], share of the pixel covered, 0 to 1
FaceState = Literal["bare", "masked", "inked", "mixed"]
OtherKind = Literal["fiducial", "mask ring", "narrow", "masked both faces", "small"]
ShadowKind = Literal["copper sliver", "trace", "via", "ink", "mask"]
Exposure = Literal["bare both faces", "bare one face", "masked both faces"]
WindowUse = Literal["window", "artwork", "clearance"]

# Mask openings stand beyond pads, and bare one face of the gap between a pad and the copper round it: chosen above the
# widest such gap of 16 published boards (0.94 mm)
WIDEST_CLEARANCE_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceMaps:
    """Coverage maps of one fabrication set on one grid, all seen from the front.

    `inside` is laminate: within the outline, cut-outs and holes taken out. `outline_inside` ignores holes. Mask and
    legend maps say where the coat *is*, on top of whatever it lies on.
    """

    grid: Grid  # The grid that the maps beside it stand on
    outline: MultiPolygon  # Outline of the board, cut-outs as interior rings
    outline_inside: CoverageMap  # Coverage inside the outline, holes ignored, [y, x]
    inside: CoverageMap  # Coverage of laminate: cut-outs and holes taken out, [y, x]
    holes: CoverageMap  # Coverage of holes, plated or not, [y, x]
    plated_holes: CoverageMap  # Coverage of plated holes, [y, x]
    copper_front: CoverageMap  # Coverage of front copper, [y, x]
    copper_back: CoverageMap  # Coverage of back copper, [y, x]
    copper_inner: tuple[CoverageMap, ...]  # Coverage of each inner copper layer, [y, x]
    mask_front: CoverageMap  # Coverage of the front solder mask, where the coat is, [y, x]
    mask_back: CoverageMap  # Coverage of the back solder mask, where the coat is, [y, x]
    legend_front: CoverageMap  # Coverage of the front legend ink, [y, x]
    legend_back: CoverageMap  # Coverage of the back legend ink, [y, x]
    copper_layers: int  # Number of copper layers
    notes: tuple[str, ...]  # What was decided while reading, and why


class FaceCover(Record):
    """How one face of a window is covered; the shares sum to 1."""

    state: FaceState  # How the face is covered, in one word
    bare_frac: FiniteFloat  # Share of the area that is uncovered laminate
    masked_frac: FiniteFloat  # Share of the area under solder mask
    inked_frac: FiniteFloat  # Share of the area under legend ink


class Shadow(Record):
    """Something in or across a window that stops light."""

    kind: ShadowKind  # What it is
    layer: str  # Layer it lies on
    area_mm2: FiniteFloat  # Area it covers inside the window
    at_mm: PointMm  # Place (x, y) on the board, seen from the front


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """A connected area that light can cross."""

    name: str  # Name of the window
    area_mm2: float  # Area seen from the front
    bbox_mm: tuple[float, float, float, float]  # Bounding box (x_min, y_min, x_max, y_max)
    centre_mm: tuple[float, float]  # a point inside, farthest from the rim
    width_mm: float  # largest inscribed circle
    polygon: Polygon  # Its outline, cut-outs as interior rings
    exposure: Exposure  # Which faces of the window are free of mask
    front: FaceCover  # How the front face is covered
    back: FaceCover  # How the back face is covered
    shadows: tuple[Shadow, ...]  # What stops light in the window
    decision: str  # one sentence: why this counts as a window

    @property
    def use(self) -> WindowUse:
        """What a person would call it: made for light, bare laminate as part of a picture, or a gap round pads.

        Who wants light through laminate opens the mask on both faces, or says that mask is no matter; of openings on
        one face only, narrow ones are the clearances of pads.
        """
        if self.exposure != "bare one face":
            return "window"
        return "artwork" if self.width_mm >= WIDEST_CLEARANCE_MM else "clearance"


class OtherOpening(Record):
    """A copper-free opening that is not a window: fiducial clearance, mask ring, too narrow, under mask."""

    kind: OtherKind  # Why it does not count
    area_mm2: FiniteFloat  # Area seen from the front
    at_mm: PointMm  # Place (x, y) on the board, seen from the front
    reason: str  # The same in one sentence, with the measured amount


class ExposureTotal(Record):
    """All copper-free laminate of one exposure, at least 0.4 mm wide: fiducials, rings and specks are in it too.

    `regions` counts connected areas of this very exposure above 0.5 mm2, `area_mm2` adds all of them and the smaller.
    """

    exposure: Exposure  # Which faces are free of mask
    area_mm2: FiniteFloat  # Sum of their areas
    regions: int  # Number of connected areas


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowSurvey:
    """All openings of a board. `labels[y, x]` is 0 outside windows, else 1 + the index into `windows`."""

    outline_area_mm2: float  # Area inside the outline, cut-outs taken out, holes not
    copper_layers: int  # Number of copper layers
    pieces: int  # Boards in the panel
    windows: tuple[Window, ...]  # The windows
    others: tuple[OtherOpening, ...]  # Openings that are not windows, each with its reason
    labels: npt.NDArray[np.int32]  # 0 outside windows, else 1 + the index into `windows`, [y, x]
    notes: tuple[str, ...]  # What was decided while reading, and why
    totals: tuple[ExposureTotal, ...] = ()  # one per exposure, in the order of `Exposure`


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLed:
    """One LED where it will sit; the part's axis geometry is derived in `scene`."""

    ref: str  # Designator of the LED
    part: Part  # The part, by its exact order code
    mounting: Mounting  # Mounting style
    at_mm: tuple[float, float]  # Place (x, y) on the board, seen from the front
    rotation_deg: float  # counter-clockwise seen from the front
    side: Side  # Face the part is soldered to
    window: str | None  # name of the window it is meant for
    current_ma: float  # Drive current
    diffuser: str  # What lies between emitter and board: none, hot-glue or film:<name>
    gap_mm: float | None  # Emitter to the back face, where the design states it; else None
    light_wall: LightWallDesign | None = None  # Frame round the part; None where there is none
    body_ref: str = ""  # Designator of the body that this die is in; empty where the body is all there is


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementRead:
    """A placement file as read: rows in the frame of the board, and what their rotations mean."""

    rows: tuple[PlacementRow, ...]  # Parts, in the frame of the board
    rule: PlacementRule  # What the rotations mean


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """What will be made."""

    name: str  # Name of the design
    thickness_mm: float  # Finished thickness of the laminate
    maps: FaceMaps  # Coverage maps of its layers
    survey: WindowSurvey  # Windows and other openings
    leds: tuple[PlacedLed, ...]  # Placed LEDs in the order of the design, one per die
    notes: tuple[str, ...] = ()  # what was decided while placing LEDs
    nets: CopperNets | None = None  # None where no fabrication files were read
    placement: PlacementRead | None = None  # None where the design names no placement file
    bodies: tuple[PlacedLed, ...] = ()  # What is soldered, where some bodies hold several dice; else the LEDs

    @property
    def soldered(self) -> "Board":
        """The board with one LED per body, as it is built; a body of several dice carries their currents together."""
        if not self.bodies:
            return self
        own = {led.ref: led for led in self.leds if not led.body_ref}
        sums_ma = {
            body.ref: sum(led.current_ma for led in self.leds if led.body_ref == body.ref) for body in self.bodies
        }
        leds = tuple(own.get(body.ref) or replace(body, current_ma=sums_ma[body.ref]) for body in self.bodies)
        return replace(self, leds=leds, bodies=())
