"""Brightness matching: drive values that make windows equally bright, as they can be bought."""

from paneglow.drive.matching.changes import Change
from paneglow.drive.matching.exact import MatchTask, match_exactly
from paneglow.drive.matching.match import (
    DARK_CD_M2,
    AdjustedValue,
    BoardLights,
    BrightnessMatch,
    WindowMatch,
    match_board,
)
from paneglow.drive.matching.rounding import match_bought
from paneglow.drive.matching.series import E24, preferred_ohm

__all__ = [
    "DARK_CD_M2",
    "E24",
    "AdjustedValue",
    "BoardLights",
    "BrightnessMatch",
    "Change",
    "MatchTask",
    "WindowMatch",
    "match_board",
    "match_bought",
    "match_exactly",
    "preferred_ohm",
]
