"""What the user wrote: design.toml as frozen records, read strictly and written with its comments kept."""

from paneglow.design.circuit import ChipDesign, CircuitGroup, CurrentSource, DriveDesign, Match
from paneglow.design.read import design_file, read_design
from paneglow.design.records import (
    BackCover,
    BoardDesign,
    Design,
    FrontFilm,
    Goals,
    LayerRole,
    LedGroup,
    LightWallDesign,
    Mounting,
    Rail,
    Run,
    Side,
    Supply,
    SupplyKind,
    View,
    WindowDesign,
)
from paneglow.design.toml import nearest, parse_record, parse_toml, read_text
from paneglow.design.write import write_design

__all__ = [
    "BackCover",
    "BoardDesign",
    "ChipDesign",
    "CircuitGroup",
    "CurrentSource",
    "Design",
    "DriveDesign",
    "FrontFilm",
    "Goals",
    "LayerRole",
    "LedGroup",
    "LightWallDesign",
    "Match",
    "Mounting",
    "Rail",
    "Run",
    "Side",
    "Supply",
    "SupplyKind",
    "View",
    "WindowDesign",
    "design_file",
    "nearest",
    "parse_record",
    "parse_toml",
    "read_design",
    "read_text",
    "write_design",
]
