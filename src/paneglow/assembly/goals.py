"""Numbers a land pattern is drawn to: solder joint goals, tolerances, margins round holes, each with its source."""

from typing import Literal

from paneglow.units import FiniteFloat, NonNegativeFloat, Quantity, Record

Density = Literal["most", "nominal", "least"]


class JointGoals(Record):
    """Solder that should show at each edge of a joint, and the room round the part."""

    toe_mm: FiniteFloat  # beyond the outer end of the terminal
    heel_mm: FiniteFloat  # beyond its inner end
    side_mm: FiniteFloat  # beyond each of its sides
    courtyard_mm: NonNegativeFloat  # round the part and its pads, on every side
    source: str  # Where these goals were read


CHIP_SOURCE = "IPC-7351B, rectangular end components of 1608 size and larger, from memory"
SMALL_SOURCE = "IPC-7351B, rectangular end components smaller than 1608, from memory, less sure than the larger ones"
CHIP_GOALS: dict[Density, JointGoals] = {
    "most": JointGoals(toe_mm=0.55, heel_mm=-0.05, side_mm=0.05, courtyard_mm=0.50, source=CHIP_SOURCE),
    "nominal": JointGoals(toe_mm=0.35, heel_mm=-0.05, side_mm=0.00, courtyard_mm=0.25, source=CHIP_SOURCE),
    "least": JointGoals(toe_mm=0.15, heel_mm=-0.05, side_mm=-0.05, courtyard_mm=0.12, source=CHIP_SOURCE),
}
SMALL_CHIP_GOALS: dict[Density, JointGoals] = {
    "most": JointGoals(toe_mm=0.30, heel_mm=-0.05, side_mm=0.05, courtyard_mm=0.20, source=SMALL_SOURCE),
    "nominal": JointGoals(toe_mm=0.20, heel_mm=-0.05, side_mm=0.00, courtyard_mm=0.15, source=SMALL_SOURCE),
    "least": JointGoals(toe_mm=0.10, heel_mm=-0.05, side_mm=-0.05, courtyard_mm=0.10, source=SMALL_SOURCE),
}
SMALL_BELOW_MM = 1.55  # body length; 1608 parts are 1.6 mm long less their tolerance

BODY_TOLERANCE_MM = 0.1  # of a body whose tolerance is not told: usual on data sheets of chip parts, from memory
FABRICATION_TOLERANCE_MM = 0.1  # of a land's size and place, as IPC-7351 takes it, from memory
PLACING_TOLERANCE_MM = 0.1  # of a machine, as IPC-7351 takes it, from memory

# Round holes and slots without plating (docs/sources.md: common practice of board makers)
COPPER_FREE_MARGIN_MM = 0.15
HOLE_TOLERANCE_MM = 0.05
ROUT_TOLERANCE_MM = 0.10
CUTTER_LEAST_MM = 0.8
CUTTER_MOST_MM = 2.4
CORNER_RADIUS_LEAST_MM = 0.25

FILLET_REACH = Quantity(
    value=0.75,
    low=0.5,
    high=1.0,
    origin="assumed",
    source="fillet of a lifted joint: run along the pad over the height it climbs, 27 to 45 deg from the upright;"
    " common practice only says that such pads are joined by fillets",
)
LENS_RISE_FRAC = Quantity(
    value=0.5,
    low=0.35,
    high=0.65,
    origin="assumed",
    source="share of a chip LED's height that its lens takes, where lens_height_mm is not told; no source",
)
LEG_LANDING_MM = Quantity(
    value=1.5, low=1.0, high=2.0, origin="assumed", source="length of a bent leg that lies on its pad; no source"
)
GAP_LANDING_MM = Quantity(
    value=1.0,
    low=0.7,
    high=1.5,
    origin="assumed",
    source="pad needed beyond a gap that a leg or solder must cross: pads drawn for another style leave such gaps and"
    " must be longer (common practice, no source); the length is ours",
)


def joint_goals(*, body_length_mm: float, density: Density) -> JointGoals:
    """Goals for end terminals of a body of that length.

    Parameters
    ----------
    body_length_mm : float
        Along the terminals [mm], above 0.
    density : {"most", "nominal", "least"}
        How much solder shows.
    """
    table = SMALL_CHIP_GOALS if body_length_mm < SMALL_BELOW_MM else CHIP_GOALS
    return table[density]
