"""What the user wrote: design.toml as frozen records, read strictly and written with its comments kept."""

from paneglow.design.records import (
    BackCover,
    BoardDesign,
    Design,
    Goals,
    LayerRole,
    LedGroup,
    Mounting,
    Run,
    Side,
    Supply,
    View,
    WindowDesign,
)

__all__ = [
    "BackCover",
    "BoardDesign",
    "Design",
    "Goals",
    "LayerRole",
    "LedGroup",
    "Mounting",
    "Run",
    "Side",
    "Supply",
    "View",
    "WindowDesign",
]
