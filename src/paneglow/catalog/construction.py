"""How one order code is made: terminals, polarity mark with its evidence, tape, soldering limits, maximum ratings.

All positions are in the part's own frame: the part lies on its solder face and is looked at from above (the lens of a
chip then looks up, that of a reverse or cut-out part down, a side-view part shines toward +y). x runs along
`length_mm`, y along `width_mm`, the origin is the centre of the body. The top is the face then seen; a mark on the
bottom is placed as seen *through* the part, in the same frame. Which way round x runs is free; the starting catalogue
puts the cathode at -x. Only the mark and the tape are facts of the world, and they belong to one exact order code: no
other record takes them over.
"""

import datetime
import math
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from paneglow.units import NonNegativeFloat, Origin, PointMm, PositiveFloat, Quantity, Record

TerminalRole = Literal["anode", "cathode", "none", "supply", "ground", "data-in", "data-out", "clock-in", "clock-out"]
MarkFace = Literal["top", "bottom", "end", "side"]
MarkShape = Literal["dot", "notch", "chamfer", "stripe", "triangle", "tee", "flat", "short-leg", "letter", "other"]
EvidenceKind = Literal["data-sheet", "meter-test", "unverified"]
Quadrant = Literal[1, 2, 3, 4]
TapeFace = Literal["solder-down", "solder-up"]
Word = Annotated[str, Field(min_length=1, max_length=40)]

# Neighbours among the quadrants of EIA-481-E: 1 upper left, 2 upper right, 3 lower left, 4 lower right
SIDES_OF_POCKET: frozenset[frozenset[int]] = frozenset(map(frozenset, ((1, 2), (1, 3), (2, 4), (3, 4))))
SAME_PLACE_MM = 0.01  # chosen: two pads nearer than this are one pad typed twice
SYMMETRY_MM = 0.05  # chosen: a mark this little nearer to one terminal than to another sits at neither


def within(lower: float, upper: float) -> AfterValidator:
    """Refuse a quantity whose range leaves what its kind can be."""

    def check(quantity: Quantity) -> Quantity:
        if not lower <= quantity.lowest <= quantity.highest <= upper:
            raise ValueError(f"reaches {quantity.lowest:g} to {quantity.highest:g}; allowed is {lower:g} to {upper:g}")
        return quantity

    return AfterValidator(check)


# What each kind of limit can be at all; wide on purpose, to catch a wrong unit or a slipped point
Temperature = Annotated[Quantity, within(-100.0, 500.0)]  # degree Celsius
Duration = Annotated[Quantity, within(0.1, 600.0)]  # s
PulseCurrent = Annotated[Quantity, within(0.1, 5000.0)]  # mA
Power = Annotated[Quantity, within(0.1, 10_000.0)]  # mW


# N. Holonyak, S. F. Bevacqua, Applied Physics Letters 1 (1962) 82 (from memory): nothing was told of one before
FIRST_LED = datetime.date(1962, 1, 1)


def check_has_come(day: datetime.date | None) -> None:
    """Raise where a day lies in the future or before any LED: nobody can have read, tested or timed anything on it.

    Raises
    ------
    ValueError
        With the day.
    """
    if day is not None and day < FIRST_LED:
        raise ValueError(f"date {day} lies before the first visible LED ({FIRST_LED.year}); correct the year")
    if day is not None and day > datetime.date.today():
        raise ValueError(f"date {day} has not come yet; correct it, or the clock of this machine")


class Evidence(Record):
    """Why a statement about one exact order code is believed."""

    kind: EvidenceKind = Field(default="unverified", description="What it rests on; unverified blocks release.")
    document: str = Field(default="", description="Title and revision of the data sheet.")
    page: Annotated[int, Field(ge=1)] | None = Field(default=None, description="Page of the data sheet.")
    date: datetime.date | None = Field(default=None, description="Of the data sheet's issue, or of the test.")
    who: str = Field(default="", description="Who tested it with a meter, or who read the data sheet.")
    note: str = Field(default="", description="Anything to add.")

    @model_validator(mode="after")
    def _check_kind(self) -> Self:
        needed = {"data-sheet": ("document", "page", "date"), "meter-test": ("date", "who"), "unverified": ()}[
            self.kind
        ]
        missing = [name for name in needed if not getattr(self, name)]
        check_has_come(self.date)
        if missing:
            raise ValueError(f"evidence by {self.kind} needs {' and '.join(missing)}; or say kind = 'unverified'")
        return self

    @property
    def verified(self) -> bool:
        """Whether something that can be looked up stands behind it."""
        return self.kind != "unverified"


class Terminal(Record):
    """One solder pad of the part, or one leg."""

    name: Word = Field(description="Number or letter on the data sheet.")
    role: TerminalRole = Field(description="What it connects to; none for a pad that only holds or cools.")
    at_mm: PointMm = Field(description="Centre of its metal on the solder face, in the part's frame [mm].")
    length_mm: PositiveFloat = Field(description="Of its metal along the part [mm].")
    width_mm: PositiveFloat = Field(description="Of its metal across the part [mm].")
    chips: tuple[Word, ...] = Field(
        default=(), description="Chips it feeds, by name; several for a common terminal, none where there is one chip."
    )


class Terminals(Record):
    """All solder pads of a part."""

    pads: tuple[Terminal, ...] = Field(min_length=2, description="Every pad, once.")
    tolerance_mm: PositiveFloat | None = Field(default=None, description="Each pad size may differ by this much [mm].")
    leg_mm: PositiveFloat | None = Field(
        default=None, description="Free length of a leg outside the body that may be bent onto a pad [mm]."
    )
    wrap: bool = Field(default=False, description="Metal runs up the ends to the lens side: solderable lens down.")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_pads(self) -> Self:
        names = [pad.name for pad in self.pads]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"terminal {twice[0]!r} stands twice: anode and cathode must be different terminals")
        _check_apart(self.pads)
        if any(pad.role == "supply" for pad in self.pads):
            _check_logic(self.pads)
            return self._with_range()
        for chip in self.chips or ("",):
            _check_chip(self.pads, chip=chip)
        if not self.chips and len([pad for pad in self.pads if pad.role != "none"]) > 2:
            raise ValueError("more than two electric terminals: name in `chips` which chip each of them feeds")
        return self._with_range()

    def _with_range(self) -> Self:
        if self.origin == "assumed" and self.tolerance_mm is None:
            raise ValueError("is assumed and needs its range: tolerance_mm")
        return self

    @property
    def has_logic(self) -> bool:
        """Whether logic inside stands between the terminals and the dice."""
        return any(pad.role == "supply" for pad in self.pads)

    @property
    def chips(self) -> tuple[str, ...]:
        """Names of the chips inside, in the order met; empty where there is one that needs no name."""
        return tuple(dict.fromkeys(chip for pad in self.pads for chip in pad.chips))

    @property
    def common(self) -> tuple[str, ...]:
        """Names of terminals that several chips share."""
        return tuple(pad.name for pad in self.pads if len(pad.chips) > 1)

    def of_role(self, role: TerminalRole) -> tuple[Terminal, ...]:
        """Terminals of one role."""
        return tuple(pad for pad in self.pads if pad.role == role)

    def named(self, name: str) -> Terminal | None:
        """The terminal of that name, None where there is none."""
        return next((pad for pad in self.pads if pad.name == name), None)


def _check_apart(pads: tuple[Terminal, ...]) -> None:
    for number, first in enumerate(pads):
        for second in pads[number + 1 :]:
            if math.dist(first.at_mm, second.at_mm) < SAME_PLACE_MM:
                raise ValueError(f"terminals {first.name!r} and {second.name!r} lie at one place: one is typed twice")


def _check_logic(pads: tuple[Terminal, ...]) -> None:
    """Refuse a part with logic inside whose terminals are not supply, ground, and a way in and out of each signal."""
    roles: list[str] = [pad.role for pad in pads]
    strange = next((role for role in roles if role in ("anode", "cathode")), None)
    if strange is not None:
        raise ValueError(f"a part with a supply terminal has logic inside and no {strange}; its dice are not led out")
    needed = ["supply", "ground", "data-in", "data-out"]
    needed += ["clock-in", "clock-out"] if {"clock-in", "clock-out"} & {*roles} else []
    wrong = next((role for role in needed if roles.count(role) != 1), None)
    if wrong is not None:
        raise ValueError(f"has {roles.count(wrong)} terminals of role {wrong!r}; a part with logic inside has one")


def _check_chip(pads: tuple[Terminal, ...], *, chip: str) -> None:
    mine = [pad for pad in pads if (chip in pad.chips if chip else True)]
    for role in ("anode", "cathode"):
        if not any(pad.role == role for pad in mine):
            words = f"chip {chip!r}" if chip else "the part"
            raise ValueError(f"{words} has no {role} among its terminals; every chip needs one anode and one cathode")


class PolarityMark(Record):
    """What is printed, moulded or cut on the part, and the terminal it means."""

    shape: MarkShape = Field(description="What it looks like.")
    colour: str = Field(default="", description="Colour of the mark as seen, as free text.")
    face: MarkFace = Field(description="Face of the body it is on; a notch through the body counts as the face seen.")
    at_mm: PointMm = Field(description="Its centre, or the tip it points with, in the part's frame [mm].")
    terminal: Word = Field(description="Name of the terminal it means.")
    evidence: Evidence = Field(default=Evidence(), description="What the statement rests on.")


class TapeOrientation(Record):
    """How the part lies in its carrier tape, sprocket holes on top, tape pulled off to the left (EIA-481-E)."""

    face: TapeFace = Field(
        default="solder-down", description="Whether it lies in the pocket on its solder face or turned over."
    )
    terminal: Word = Field(description="Name of the terminal whose quadrant is stated.")
    quadrants: tuple[Quadrant, ...] = Field(
        min_length=1,
        max_length=2,
        description="Quadrant of that terminal, seen into the pocket: 1 upper left, 2 upper right, 3 lower left,"
        " 4 lower right; two where it lies on the line between them.",
    )
    evidence: Evidence = Field(default=Evidence(), description="What the statement rests on.")

    @model_validator(mode="after")
    def _check_neighbours(self) -> Self:
        if len(self.quadrants) == 2 and frozenset(self.quadrants) not in SIDES_OF_POCKET:
            raise ValueError(f"quadrants {self.quadrants[0]} and {self.quadrants[1]} do not share a side of the pocket")
        return self


class SolderingLimits(Record):
    """What heat the part survives."""

    reflow_peak_c: Temperature | None = Field(default=None, description="Greatest body temperature [degree Celsius].")
    reflow_peak_s: Duration | None = Field(default=None, description="Longest time near that peak [s].")
    reflow_passes: Annotated[int, Field(ge=0, le=10)] | None = Field(
        default=None, description="Passes through the oven; 0 for hand soldering only."
    )
    iron_tip_c: Temperature | None = Field(default=None, description="Hottest tip of an iron [degree Celsius].")
    iron_contact_s: Duration | None = Field(default=None, description="Longest contact with the iron, per joint [s].")
    moisture_level: Word | None = Field(default=None, description="Moisture sensitivity level, as printed.")


class MaximumRatings(Record):
    """Limits that end a part's life when passed, beside current and reverse voltage of the part itself."""

    pulse_current_max_ma: PulseCurrent | None = Field(default=None, description="Greatest pulse current [mA].")
    pulse_duty_frac: Annotated[float, Field(gt=0, le=1)] | None = Field(
        default=None, description="Share of the time at that current [1]."
    )
    pulse_width_s: PositiveFloat | None = Field(default=None, description="Longest pulse at that current [s].")
    power_max_mw: Power | None = Field(default=None, description="Greatest electric power [mW].")
    junction_max_c: Temperature | None = Field(default=None, description="Hottest junction [degree Celsius].")
    ambient_min_c: Temperature | None = Field(default=None, description="Coldest surroundings in use [degree Celsius].")
    ambient_max_c: Temperature | None = Field(default=None, description="Hottest surroundings in use [degree Celsius].")
    electrostatic_v: NonNegativeFloat | None = Field(
        default=None, description="Discharge it survives, human body model [V]."
    )


def check_mark_place(mark: PolarityMark, *, terminals: Terminals) -> None:
    """Raise where a mark names no terminal of the part, or sits at another than the one it means.

    Raises
    ------
    ValueError
        With what to correct; the record that holds both turns it into one line.
    """
    meant = terminals.named(mark.terminal)
    if meant is None:
        names = ", ".join(pad.name for pad in terminals.pads)
        raise ValueError(f"mark means terminal {mark.terminal!r}, which the part does not have; it has {names}")
    nearest = min(terminals.pads, key=lambda pad: math.dist(pad.at_mm, mark.at_mm))
    if math.dist(meant.at_mm, mark.at_mm) > math.dist(nearest.at_mm, mark.at_mm) + SYMMETRY_MM:
        raise ValueError(
            f"mark sits at terminal {nearest.name!r} ({nearest.role}) but means {meant.name!r} ({meant.role}); "
            "a mark sits at the terminal it means, so correct at_mm or terminal"
        )
