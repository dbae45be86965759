"""The polarity chain of every LED as a record: from copper and mark to the pad that must be the anode."""

from typing import Literal

from pydantic import Field

from paneglow.assembly.wiring import NO_WIRING, WiringCheck
from paneglow.design import Mounting, Side
from paneglow.units import FiniteFloat, PointMm, Record

PolarityState = Literal["correct", "reversed", "off its pads", "both on one net", "not told", "not on this board"]
Electrode = Literal["anode", "cathode"]
LegendMark = Literal["anode", "cathode", "both ends"]


class MarkOnBoard(Record):
    """Where a part's mark sits once it is mounted."""

    shape: str  # What the mark looks like
    means: Electrode | None = Field(description="Role of the terminal it means; None for a terminal without one.")
    verified: bool = Field(description="Whether a data sheet or a meter test stands behind it.")
    visible: bool = Field(description="Whether it can be seen on the finished board, from the face it is on.")
    at_mm: PointMm = Field(description="On the board, seen from the front [mm].")
    direction: str = Field(description="From the part's middle, as seen at the bench.")


class LedPolarity(Record):
    """One LED: which pad must be its anode, how it will lie, and whether the two agree."""

    ref: str  # Designator of the LED
    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    side: Side  # Face the part is soldered to
    state: PolarityState  # How the part will lie, against how it must lie
    proven: bool = Field(
        description="Whether more than an assumption says which terminal is which: a source, or a verified mark."
    )
    reason: str = Field(description="Why the state is so, in one sentence.")
    anode_mm: PointMm | None = Field(description="Pad that must take the anode [mm]; None where that is not told.")
    cathode_mm: PointMm | None = Field(description="Pad that must take the cathode [mm].")
    anode_direction: str = Field(description="Of that pad from the part's middle, as seen at the bench; may be empty.")
    anode_net: str = Field(description="Net of that pad; empty where it is not told.")
    cathode_net: str = Field(description="Net of that pad; empty where it is not told.")
    dead_end: Electrode | None = Field(description="Electrode whose copper reaches nothing else; None where both do.")
    mark: MarkOnBoard | None = Field(description="None where the part's record states no mark.")
    legend: LegendMark | None = Field(description="Electrode whose pad the legend marks; None where it marks none.")
    legend_agrees: bool | None = Field(description="Whether that is what legend marks of this design mean.")
    mark_agrees: bool | None = Field(
        description="Whether the part's mark, where it shows, means what the legend marks; None where one is missing."
    )
    how_to_test: str = Field(description="How to make sure at the bench.")


class RowCheck(Record):
    """One row of a placement file, put on the board again by a second way."""

    ref: str  # Designator of the LED
    part: str = Field(description="Exact order code.")
    state: PolarityState  # How the row comes to lie, found by the second way
    proven: bool = Field(description="As for the LED.")
    rotation_deg: FiniteFloat = Field(description="As the file has it [deg].")
    anode_mm: PointMm | None = Field(description="Where the anode comes to lie [mm].")


class Misread(Record):
    """Rows of the placement file that lie wrong now, and would all lie right if they were read in one other way."""

    refs: tuple[str, ...]  # Designators of the rows that lie wrong
    part: str = Field(description="Exact order code that all of them have; empty where the whole file is meant.")
    right_if: str = Field(description="How they must be read to lie right, in words.")
    write: str = Field(description="What to write in the design for that.")


class AcrossLands(Record):
    """A part of the placement file that is no LED and lies across its two pads."""

    ref: str  # Designator of the part
    at_mm: PointMm  # Place (x, y) on the board, seen from the front
    off_deg: FiniteFloat = Field(description="Angle between how it lies and how it should, 0 to 90 [deg].")


class Polarity(Record):
    """The polarity of a whole board."""

    basis: str = Field(description="Where the rails come from; empty where nothing tells them.")
    leds: tuple[LedPolarity, ...]  # Every LED of the board
    rows: tuple[RowCheck, ...] = Field(description="Rows of the placement file, checked by the second way.")
    misread: tuple[Misread, ...] = Field(default=(), description="Rows that one other reading would set right.")
    across: tuple[AcrossLands, ...] = Field(default=(), description="Rows of other parts that lie across their pads.")
    wiring: WiringCheck = Field(default=NO_WIRING, description="Declared circuits against the copper.")
    rule: tuple[str, ...] = Field(description="What rotations of the placement file mean, in words.")
    conflicts: tuple[str, ...] = Field(description="Where names of nets and copper disagree.")


NO_POLARITY = Polarity(basis="", leds=(), rows=(), rule=(), conflicts=())  # of a board without copper files
