"""What fabrication files hold once read: drawn shapes in mm, holes, outline; nothing about light."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from shapely.geometry import MultiPolygon

Point = tuple[float, float]
HowKnown = Literal["attribute", "file name", "design", "content"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """Circular arc from start to end about a centre; a full circle where start equals end."""

    start_mm: Point
    end_mm: Point
    centre_mm: Point
    clockwise: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Straight segment."""

    start_mm: Point
    end_mm: Point


Segment = Line | Arc


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A drilled hole, or a slot where `end_mm` differs from `start_mm`."""

    start_mm: Point
    end_mm: Point
    diameter_mm: float
    plated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FileUse:
    """One file of the set: the layer it was taken for and how that was known."""

    name: str
    role: str  # a LayerRole, "drill", or "ignored"
    how_known: HowKnown
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fabrication:
    """One fabrication set, read.

    `drawings` maps a layer role ("copper_front", "copper_inner_1", ..., "copper_back", "mask_front", "mask_back",
    "legend_front", "legend_back") to what its file draws; hand it to `draw_coverage`. A mask drawing is dark where
    mask is *absent*. `outline` holds one polygon per board of the panel, cut-outs as interior rings, holes not cut.
    """

    source: Path
    files: tuple[FileUse, ...]
    drawings: dict[str, object]
    holes: tuple[Hole, ...]
    outline: MultiPolygon
    copper_layers: int
    notes: tuple[str, ...] = field(default=())
