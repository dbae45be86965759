"""Fabrication files in and out; knows no light."""

from paneglow.fab.placement import PlacementRow, read_placement
from paneglow.fab.records import Arc, Fabrication, FileUse, Hole, Line, Segment

__all__ = [
    "Arc",
    "Fabrication",
    "FileUse",
    "Hole",
    "Line",
    "PlacementRow",
    "Segment",
    "read_placement",
]
