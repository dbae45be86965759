"""How the LEDs are driven, as the user wrote it: circuits, the chip, and which windows are to be matched."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from paneglow.units import FiniteFloat, Fraction, NonNegativeFloat, PositiveFloat, Record

Driver = Literal["rail", "pin", "sink", "matrix", "charlieplex", "data"]
CurrentSource = Literal["design", "circuit", "matching"]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Gap = Annotated[str, Field(max_length=80)]


class CircuitGroup(Record):
    """LEDs that are driven in one way; a design has as many of these tables as ways."""

    driver: Driver = Field(
        description="How they are driven. rail: strings with a resistor from rail to ground; pin: a string per pin;"
        " sink: strings into constant-current sinks; matrix: row-column scan; charlieplex: an LED between every two"
        " pins; data: LEDs with logic inside, each list in the order that data passes them."
    )
    strings: tuple[Annotated[tuple[Name, ...], Field(min_length=1)], ...] = Field(
        default=(), description="Refs in series, one list per string (rail, pin, sink); in the order of data (data)."
    )
    resistor_ohm: tuple[NonNegativeFloat, ...] = Field(
        default=(), description="Per string, per column (matrix) or per pin (charlieplex); one for all [ohm]."
    )
    resistors: tuple[Name, ...] = Field(
        default=(),
        description="Refs of the resistors, in the order of `resistor_ohm`; one name for all, or the same name twice,"
        " is one resistor that its strings share (rail).",
    )
    resistor_max_mw: PositiveFloat = Field(default=100.0, description="What each resistor may warm by [mW].")
    pins: tuple[Name, ...] = Field(default=(), description="Pins: one per string (pin), or all of a charlieplex.")
    rows: tuple[Name, ...] = Field(default=(), description="Row pins, at the anodes (matrix).")
    columns: tuple[Name, ...] = Field(default=(), description="Column pins, at the cathodes (matrix).")
    grid: tuple[tuple[Gap, ...], ...] = Field(
        default=(), description="Refs by row and column, empty text where there is none (matrix)."
    )
    refs: tuple[Gap, ...] = Field(
        default=(), description="Refs by anode pin, then cathode pin, empty text where there is none (charlieplex)."
    )
    scan: Literal["row", "led"] = Field(default="row", description="One pin or one LED at a time (charlieplex).")
    idle: Literal["opposite", "float"] = Field(
        default="opposite", description="What pins do that light nothing: hold LEDs in reverse, or float (matrix)."
    )
    sinking: bool = Field(default=False, description="Strings run from the rail into the pin (pin).")
    port: Name = Field(default="A", description="Port of the chip that the pins belong to.")
    level_v: PositiveFloat | None = Field(default=None, description="High level of what sends the data [V] (data).")
    current_ma: PositiveFloat | None = Field(default=None, description="Of each sink [mA] (sink).")
    dropout_v: PositiveFloat = Field(
        default=0.3, description="Voltage left for a sink at which it still gives 76 % of its current [V] (sink)."
    )
    duty_frac: Annotated[Fraction, Field(gt=0)] = Field(default=1.0, description="PWM of the whole group [1].")
    cycle_hz: PositiveFloat | None = Field(default=None, description="Repetition of the scan or of the PWM [Hz].")

    @property
    def wired(self) -> tuple[str, ...]:
        """Every ref of the group, in order."""
        named = (*self.strings, *self.grid, self.refs)
        return tuple(ref for refs in named for ref in refs if ref)

    @model_validator(mode="after")
    def _check_wiring(self) -> Self:
        if not self.wired:
            raise ValueError(f"a {self.driver} circuit needs LEDs: {_WHERE[self.driver]}")
        wrong = [
            name for name in ("strings", "grid", "refs") if getattr(self, name) and name != _WHERE_KEY[self.driver]
        ]
        if wrong:
            raise ValueError(f"a {self.driver} circuit takes its LEDs as {_WHERE[self.driver]}, not as {wrong[0]}")
        if self.driver == "pin" and len(self.pins) != len(self.strings):
            raise ValueError(f"has {len(self.pins)} pins for {len(self.strings)} strings; give one pin per string")
        if self.driver == "matrix" and [len(line) for line in self.grid] != [len(self.columns)] * len(self.rows):
            raise ValueError(f"grid must have {len(self.rows)} rows of {len(self.columns)} columns, as pins are named")
        if self.driver == "sink" and self.current_ma is None:
            raise ValueError("current_ma is missing; a sink needs the current that it is set to")
        if (self.duty_frac < 1.0 or self.driver in ("matrix", "charlieplex")) and self.cycle_hz is None:
            raise ValueError("cycle_hz is missing; a scan or a duty below 1 needs the rate at which it repeats")
        if len(self.resistor_ohm) not in {1, _resistors(self)} and self.driver not in ("sink", "data"):
            raise ValueError(f"has {len(self.resistor_ohm)} resistors; give {_resistors(self)}, or one for all")
        return self

    @model_validator(mode="after")
    def _check_resistors(self) -> Self:
        names, count = self.resistor_names, _resistors(self)
        if names is None:
            return self
        if self.driver in ("sink", "data") or len(names) != count:
            has = "no resistors" if self.driver in ("sink", "data") else f"{count} resistors; name each, or one for all"
            raise ValueError(f"resistors names {len(names)}; a {self.driver} circuit has {has}")
        if len(set(names)) < count and self.driver != "rail":
            raise ValueError(f"resistors: only strings of a rail circuit can share one; name {count} different ones")
        if len(set(zip(names, self.ohms, strict=True))) > len(set(names)):
            raise ValueError("resistors: one name stands beside two values of resistor_ohm; give it one")
        return self

    @property
    def ohms(self) -> tuple[float, ...]:
        """Value of the resistor of every string, column or pin [ohm], in order."""
        return self.resistor_ohm * _resistors(self) if len(self.resistor_ohm) == 1 else self.resistor_ohm

    @property
    def resistor_names(self) -> tuple[str, ...] | None:
        """Name of the resistor of every string, column or pin, in order; None where none is stated."""
        return self.resistors * _resistors(self) if len(self.resistors) == 1 else self.resistors or None


_WHERE_KEY: dict[Driver, str] = {
    "rail": "strings", "pin": "strings", "sink": "strings", "matrix": "grid", "charlieplex": "refs",
    "data": "strings",
}  # fmt: skip
_WHERE: dict[Driver, str] = {
    "rail": 'strings = [["D1"], ["D2", "D3"]]',
    "pin": 'strings = [["D1"], ["D2"]]',
    "sink": 'strings = [["D1", "D2"]]',
    "matrix": 'grid = [["D1", "D2"], ["D3", ""]]',
    "charlieplex": 'refs = ["D1", "D2"]',
    "data": 'strings = [["D1", "D2"]]',
}


def _resistors(group: CircuitGroup) -> int:
    """How many strings, columns or pins of a group have a resistor."""
    if group.driver == "matrix":
        return len(group.columns)
    return len(group.pins) if group.driver == "charlieplex" else len(group.strings)


class ChipDesign(Record):
    """The microcontroller whose pins drive LEDs: a kind, and where the user knows better, figures of the data sheet."""

    kind: Name = Field(default="cmos-8bit", description="Code of the kind, which gives what is left out below.")
    high_ohm: PositiveFloat | None = Field(default=None, description="Output resistance of a high pin [ohm].")
    low_ohm: PositiveFloat | None = Field(default=None, description="Output resistance of a low pin [ohm].")
    pin_max_ma: PositiveFloat | None = Field(default=None, description="Greatest lasting current of a pin [mA].")
    port_max_ma: PositiveFloat | None = Field(default=None, description="Greatest current of a port [mA].")
    chip_max_ma: PositiveFloat | None = Field(default=None, description="Greatest of all pins together [mA].")
    standing_ma: NonNegativeFloat | None = Field(default=None, description="What the chip uses itself [mA].")
    voltage_least_v: NonNegativeFloat | None = Field(default=None, description="Below it the chip stops [V].")


class Match(Record):
    """Windows that are to look equally bright, or in chosen ratios."""

    windows: tuple[Name, ...] = Field(default=(), description="Windows to match; all that are lit where none is named.")
    ratios: tuple[PositiveFloat, ...] = Field(
        default=(), description="Luminance of each over the others, in the order of `windows`; equal where absent [1]."
    )
    luminance_cd_m2: PositiveFloat | None = Field(
        default=None,
        description="Mean luminance at ratio 1; as bright as they are on average now where absent [cd/m2].",
    )
    series: Literal["E24", "E12"] = Field(default="E24", description="Preferred values of the resistors.")
    depth_frac: Fraction = Field(
        default=0.0, description="How far the cell is drawn down where windows are to be equal: 0 fresh [1]."
    )

    @model_validator(mode="after")
    def _check_ratios(self) -> Self:
        if self.ratios and len(self.ratios) != len(self.windows):
            raise ValueError(f"has {len(self.ratios)} ratios for {len(self.windows)} windows; give one per window")
        return self


class DriveDesign(Record):
    """Where drive currents come from, and how long the board shines each day."""

    currents: CurrentSource | None = Field(
        default=None,
        description="Where currents come from. design: each [[led]]'s current_ma; circuit: what flows in the circuits;"
        " matching: what makes the windows of [drive.match] equal. The circuits where there are any, else the design.",
    )
    match: Match | None = Field(default=None, description="What to match.")
    hours_per_day: Annotated[float, Field(gt=0, le=24)] = Field(default=24.0, description="Lit time each day [h].")
    idle_ma: NonNegativeFloat = Field(default=0.0, description="Drawn while dark [mA].")
    standing_ma: NonNegativeFloat = Field(default=0.0, description="Drawn beside LEDs and chip while lit [mA].")
    ambient_c: FiniteFloat = Field(default=25.0, description="Air round the board [deg C].")
