"""How long a supply keeps the windows of a board at their goals."""

from paneglow.drive.life.run import DailyUse, WindowLight, follow_supply
from paneglow.drive.life.supply_life import LifeStage, SupplyLife, WindowLife, build_supply_life

__all__ = [
    "DailyUse",
    "LifeStage",
    "SupplyLife",
    "WindowLife",
    "WindowLight",
    "build_supply_life",
    "follow_supply",
]
