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

    start_mm: Point  # Where it begins
    end_mm: Point  # Where it ends
    centre_mm: Point  # Centre
    clockwise: bool  # Direction of travel from start to end


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Straight segment."""

    start_mm: Point  # Where it begins
    end_mm: Point  # Where it ends


Segment = Line | Arc


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A drilled hole, or a slot where `end_mm` differs from `start_mm`."""

    start_mm: Point  # Where it begins
    end_mm: Point  # Where it ends
    diameter_mm: float  # Finished diameter, as the file states it
    plated: bool  # Whether the wall of the hole is plated


@dataclass(frozen=True, slots=True, kw_only=True)
class FileUse:
    """One file of the set: the layer it was taken for and how that was known."""

    name: str  # File name
    role: str  # a LayerRole, "drill", or "ignored"
    how_known: HowKnown  # How the file's role was known
    note: str = ""  # What else is worth knowing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fabrication:
    """One fabrication set, read.

    `drawings` maps a layer role ("copper_front", "copper_inner_1", ..., "copper_back", "mask_front", "mask_back",
    "legend_front", "legend_back") to what its file draws; hand it to `draw_coverage`. A mask drawing is dark where
    mask is *absent*. `outline` holds one polygon per board of the panel, cut-outs as interior rings, holes not cut.
    """

    source: Path  # Folder or zip it was read from
    files: tuple[FileUse, ...]  # Every file of the set and what it was taken for
    drawings: dict[str, object]  # What each layer draws, by layer role
    holes: tuple[Hole, ...]  # Drilled holes and slots
    outline: MultiPolygon  # Outline of the board, cut-outs as interior rings
    copper_layers: int  # Number of copper layers
    notes: tuple[str, ...] = field(default=())  # What was decided while reading, and why
