"""The board that will be made: face maps, windows, LEDs in place."""

from paneglow.board.build import BoardFiles, build_board, read_board_files
from paneglow.board.faces import build_face_maps
from paneglow.board.leds import seat_leds
from paneglow.board.nets import CopperNets, CopperPiece, Land, build_nets
from paneglow.board.picture import draw_survey
from paneglow.board.records import (
    Board,
    Exposure,
    ExposureTotal,
    FaceCover,
    FaceMaps,
    OtherOpening,
    PlacedLed,
    PlacementRead,
    Shadow,
    Window,
    WindowSurvey,
    WindowUse,
)
from paneglow.board.rotation import RotationConvention, board_point, is_turned_over, polar_axis, turn_between
from paneglow.board.windows import survey_windows

__all__ = [
    "Board",
    "BoardFiles",
    "CopperNets",
    "CopperPiece",
    "Exposure",
    "ExposureTotal",
    "FaceCover",
    "FaceMaps",
    "Land",
    "OtherOpening",
    "PlacedLed",
    "PlacementRead",
    "Shadow",
    "RotationConvention",
    "Window",
    "WindowSurvey",
    "WindowUse",
    "board_point",
    "build_board",
    "build_face_maps",
    "build_nets",
    "draw_survey",
    "is_turned_over",
    "polar_axis",
    "read_board_files",
    "seat_leds",
    "survey_windows",
    "turn_between",
]
