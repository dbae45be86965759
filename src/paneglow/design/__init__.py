"""What the user wrote: design.toml as frozen records, read strictly and written with its comments kept."""

from paneglow.design.read import design_file, read_design
from paneglow.design.records import (
    BackCover,
    BoardDesign,
    Design,
    FrontFilm,
    Goals,
    LayerRole,
    LedGroup,
    LightWall,
    Mounting,
    Run,
    Side,
    Supply,
    View,
    WindowDesign,
)
from paneglow.design.toml import nearest, parse_record, parse_toml
from paneglow.design.write import write_design

__all__ = [
    "BackCover",
    "BoardDesign",
    "Design",
    "FrontFilm",
    "Goals",
    "LayerRole",
    "LedGroup",
    "LightWall",
    "Mounting",
    "Run",
    "Side",
    "Supply",
    "View",
    "WindowDesign",
    "design_file",
    "nearest",
    "parse_record",
    "parse_toml",
    "read_design",
    "write_design",
]
