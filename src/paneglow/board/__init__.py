"""The board that will be made: face maps, windows, LEDs in place."""

from paneglow.board.build import build_board
from paneglow.board.faces import build_face_maps
from paneglow.board.picture import draw_survey
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
    "build_board",
    "build_face_maps",
    "draw_survey",
    "survey_windows",
]
