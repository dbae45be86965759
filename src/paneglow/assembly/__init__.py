"""How the LEDs are put on the board: polarity, lands, mechanics, machine or hand."""

from paneglow.assembly.assemble import Assembled, assemble
from paneglow.assembly.bill import Bill, BillRow, build_bill
from paneglow.assembly.building import NO_BUILDING, Building, NeededLand, size_of, survey_building
from paneglow.assembly.drawing import build_bench_drawings
from paneglow.assembly.fitting import (
    CASE_MM,
    OVERLAP_LEAST_FRAC,
    JointFit,
    LandFit,
    case_size,
    fit_land,
    opening_outline,
    sizes_that_fit,
)
from paneglow.assembly.goals import joint_goals
from paneglow.assembly.labour import BuildWay, build_ways, minutes_by_hand
from paneglow.assembly.lands import (
    HOLE_STYLES,
    ROUND_ENOUGH_MM,
    build_land,
    hole_room_mm,
)
from paneglow.assembly.mechanics import (
    Height,
    Stability,
    body_on_board,
    height_of,
    leg_needed_mm,
    lift_of,
    stability_of,
    tight_pairs,
)
from paneglow.assembly.other_rows import ASKEW_DEG
from paneglow.assembly.pads import find_pads
from paneglow.assembly.placement import WrittenPlacement, build_placement
from paneglow.assembly.polarity import build_polarity
from paneglow.assembly.polarity_records import (
    NO_POLARITY,
    AcrossLands,
    LedPolarity,
    MarkOnBoard,
    Misread,
    Polarity,
    RowCheck,
)

__all__ = [
    "CASE_MM",
    "case_size",
    "ASKEW_DEG",
    "AcrossLands",
    "Assembled",
    "Bill",
    "BillRow",
    "assemble",
    "build_bill",
    "size_of",
    "NO_BUILDING",
    "NO_POLARITY",
    "LedPolarity",
    "MarkOnBoard",
    "Misread",
    "Polarity",
    "WrittenPlacement",
    "RowCheck",
    "body_on_board",
    "build_bench_drawings",
    "build_placement",
    "build_polarity",
    "BuildWay",
    "Building",
    "NeededLand",
    "survey_building",
    "HOLE_STYLES",
    "OVERLAP_LEAST_FRAC",
    "ROUND_ENOUGH_MM",
    "hole_room_mm",
    "sizes_that_fit",
    "Height",
    "JointFit",
    "LandFit",
    "Stability",
    "build_land",
    "build_ways",
    "find_pads",
    "fit_land",
    "height_of",
    "joint_goals",
    "leg_needed_mm",
    "lift_of",
    "minutes_by_hand",
    "opening_outline",
    "tight_pairs",
    "stability_of",
]
