"""The board that will be made: face maps, windows, LEDs in place."""

from paneglow.board.records import (
    Board,
    ExposureTotal,
    FaceCover,
    FaceMaps,
    OtherOpening,
    PlacedLed,
    Shadow,
    Window,
    WindowSurvey,
)
from paneglow.board.windows import survey_windows

__all__ = [
    "Board",
    "ExposureTotal",
    "FaceCover",
    "FaceMaps",
    "OtherOpening",
    "PlacedLed",
    "Shadow",
    "Window",
    "WindowSurvey",
    "survey_windows",
]
