"""Fabrication files in and out; knows no light."""

from paneglow.fab.archive import file_on_disk
from paneglow.fab.draw import draw_coverage, draw_holes, draw_polygons, draw_strokes
from paneglow.fab.drawing import CentreLine, GerberDrawing, ObjectNames, centre_lines
from paneglow.fab.gerber import parse_gerber
from paneglow.fab.layer_words import IGNORED
from paneglow.fab.netlist import Netlist, NetPoint, parse_netlist, read_netlist
from paneglow.fab.pieces import Piece, drawn_pieces, hole_polygon
from paneglow.fab.placement import PlacementRow, parse_placement, read_placement
from paneglow.fab.placement_rule import (
    BOTTOM_WORDS,
    TURN_WORDS,
    ZERO_WORDS,
    BottomRule,
    PlacementRule,
    TurnRule,
    ZeroRule,
    parse_rule,
)
from paneglow.fab.placement_write import DIALECTS, Dialect, DialectName, to_placement_text
from paneglow.fab.read import read_fabrication
from paneglow.fab.records import Arc, Fabrication, Hole, Line, Segment
from paneglow.fab.work import meeting_pairs
from paneglow.fab.write import write_fabrication
from paneglow.fab.write_records import (
    Aperture,
    Contour,
    DrawnObject,
    FabricationDrawing,
    Flash,
    LayerDrawing,
    ObroundAperture,
    RectangleAperture,
    Region,
    RoundAperture,
    Stroke,
    build_circle,
    build_path,
    build_polygon,
    build_regions,
)
from paneglow.fab.write_text import build_text, text_width_mm

__all__ = [
    "BOTTOM_WORDS",
    "IGNORED",
    "TURN_WORDS",
    "ZERO_WORDS",
    "DIALECTS",
    "Aperture",
    "Arc",
    "BottomRule",
    "CentreLine",
    "Dialect",
    "DialectName",
    "Contour",
    "DrawnObject",
    "Fabrication",
    "FabricationDrawing",
    "Flash",
    "GerberDrawing",
    "Hole",
    "LayerDrawing",
    "Line",
    "NetPoint",
    "Netlist",
    "ObjectNames",
    "ObroundAperture",
    "Piece",
    "PlacementRow",
    "PlacementRule",
    "RectangleAperture",
    "Region",
    "RoundAperture",
    "Segment",
    "Stroke",
    "TurnRule",
    "ZeroRule",
    "build_circle",
    "build_path",
    "build_polygon",
    "build_regions",
    "build_text",
    "centre_lines",
    "draw_coverage",
    "draw_holes",
    "draw_polygons",
    "draw_strokes",
    "drawn_pieces",
    "file_on_disk",
    "hole_polygon",
    "meeting_pairs",
    "parse_gerber",
    "parse_netlist",
    "parse_placement",
    "parse_rule",
    "read_fabrication",
    "read_netlist",
    "read_placement",
    "text_width_mm",
    "to_placement_text",
    "write_fabrication",
]
