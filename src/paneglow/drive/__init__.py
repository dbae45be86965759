"""What drives the LEDs of a board: its circuit, the match of its windows, the life of its supply.

`circuit` knows parts, wiring and the operating point; `matching` and `life` each rest on it and not on each other;
`driven_board` puts them together for a lit board.
"""

from paneglow.drive.circuit import (
    FLASH_AREA_SR,
    FLASHES_PER_S_MOST,
    CellSupply,
    LedDrive,
    Load,
    SolvedBoard,
    build_chip,
    build_design_supply,
    build_supply,
    flashes_exceed,
    flicker_band,
    loaded_voltage_v,
    read_supplies,
    solid_angle_sr,
    solve_board,
)
from paneglow.drive.driven_board import (
    BoardState,
    DriveResults,
    DriveValue,
    WiredBoard,
    drive_board,
    drive_unlit,
    wire_up,
)
from paneglow.drive.life import LifeStage, SupplyLife, WindowLife
from paneglow.drive.matching import AdjustedValue, BrightnessMatch, Change, WindowMatch

__all__ = [
    "FLASHES_PER_S_MOST",
    "FLASH_AREA_SR",
    "AdjustedValue",
    "BoardState",
    "BrightnessMatch",
    "CellSupply",
    "Change",
    "DriveResults",
    "DriveValue",
    "LedDrive",
    "LifeStage",
    "Load",
    "SolvedBoard",
    "SupplyLife",
    "WindowLife",
    "WindowMatch",
    "WiredBoard",
    "build_chip",
    "build_design_supply",
    "build_supply",
    "drive_board",
    "drive_unlit",
    "flashes_exceed",
    "flicker_band",
    "loaded_voltage_v",
    "read_supplies",
    "solid_angle_sr",
    "solve_board",
    "wire_up",
]
