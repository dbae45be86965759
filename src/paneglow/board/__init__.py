"""The board that will be made: face maps, windows, LEDs in place."""

from paneglow.board.records import (
    Board,
    FaceCover,
    FaceMaps,
    OtherOpening,
    PlacedLed,
    Shadow,
    Window,
    WindowSurvey,
)

__all__ = ["Board", "FaceCover", "FaceMaps", "OtherOpening", "PlacedLed", "Shadow", "Window", "WindowSurvey"]
