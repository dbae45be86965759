"""Catalogue records: parts, laminates and coatings, every value with its origin; boards timed by hand."""

import datetime
import math
import re
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from paneglow.catalog.construction import (
    MaximumRatings,
    PolarityMark,
    SolderingLimits,
    TapeOrientation,
    Terminals,
    check_has_come,
    check_mark_place,
    within,
)
from paneglow.design import Mounting
from paneglow.units import FiniteFloat, Fraction, NonNegativeFloat, Origin, PointMm, PositiveFloat, Quantity, Record

Colour = Literal["red", "orange", "amber", "yellow", "green", "blue", "white"]
ORDER_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9./_+-]{0,59}")
PartKind = Literal["chip", "side_view", "reverse", "cutout", "through_hole"]


def check_order_code(code: str) -> str:
    """The code itself.

    Raises
    ------
    ValueError
        Where it is no order code; the words say what one is.
    """
    if not ORDER_CODE.fullmatch(code):
        raise ValueError(
            f"{code[:60]!r} is no order code: letters, digits and - . / _ + are allowed, no spaces, a letter or digit"
            " first, at most 60 characters"
        )
    return code


OrderCode = Annotated[str, AfterValidator(check_order_code)]


# What each kind of quantity can be at all; wide on purpose, to catch a wrong unit or a slipped point.
Size = Annotated[Quantity, within(0.01, 50.0)]  # mm
Height = Annotated[Quantity, within(0.0, 50.0)]  # mm
HalfAngle = Annotated[Quantity, within(1.0, 89.0)]  # deg
Flux = Annotated[Quantity, within(1e-6, 1e3)]  # lm
Intensity = Annotated[Quantity, within(1e-3, 1e6)]  # mcd
Voltage = Annotated[Quantity, within(0.5, 60.0)]  # V
Current = Annotated[Quantity, within(0.1, 1000.0)]  # mA
Share = Annotated[Quantity, within(0.0, 1.0)]
RefractiveIndex = Annotated[Quantity, within(1.0, 3.0)]
Asymmetry = Annotated[Quantity, within(-0.99, 0.99)]
Scatter = Annotated[Quantity, within(0.0, 1e3)]  # 1/mm
Slope = Annotated[Quantity, within(0.0, 1.0)]  # rms, of a face's height along it
LowFactor = Annotated[float, Field(gt=0, le=1)]
HighFactor = Annotated[float, Field(ge=1, le=100)]


# What a part of several dice has from its first one
LIGHT_OF_DIE = (
    "colour", "spectrum", "test_current_ma", "flux_lm", "intensity_mcd", "forward_voltage_v", "current_max_ma",
    "reverse_voltage_max_v", "electrical",
)  # fmt: skip


def _check_axis(name: str, axis: Sequence[float], *columns: Sequence[float]) -> None:
    """Refuse a table whose axis does not rise or whose columns differ in length."""
    if any(later <= earlier for earlier, later in zip(axis, axis[1:], strict=False)):
        raise ValueError(f"{name} must rise from entry to entry")
    if any(len(column) != len(axis) for column in columns):
        raise ValueError(f"every list must have as many entries as {name} ({len(axis)})")


class Body(Record):
    """Outer size of a part: length along the terminals, width across, height off the board as top-mounted."""

    length_mm: PositiveFloat  # Length along the terminals
    width_mm: PositiveFloat  # Width across the terminals
    height_mm: PositiveFloat  # Height off the board, as top-mounted
    tolerance_mm: PositiveFloat | None = Field(default=None, description="Each size may differ by this much [mm].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed


class EmissionTable(Record):
    """Relative intensity against the angle to the emission axis, piecewise linear."""

    angle_deg: tuple[FiniteFloat, ...] = Field(min_length=2, description="Rising, from 0 to at most 180 [deg].")
    relative_intensity: tuple[Fraction, ...] = Field(min_length=2)
    """Intensity at those angles, relative to the greatest."""
    low_factor: LowFactor = Field(default=1.0, description="Narrowest lobe: these angles times this [1].")
    high_factor: HighFactor = Field(default=1.0, description="Widest lobe: these angles times this [1].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_table(self) -> Self:
        _check_axis("angle_deg", self.angle_deg, self.relative_intensity)
        if self.angle_deg[0] != 0.0 or self.angle_deg[-1] > 180.0:
            raise ValueError("angle_deg must start at 0 and end at 180 or before")
        if max(self.relative_intensity) <= 0.0:
            raise ValueError("relative_intensity must be above 0 somewhere")
        return self


class SpectrumTable(Record):
    """Relative spectral power, piecewise linear and zero outside."""

    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=2)  # Wavelengths, rising
    relative_power: tuple[Fraction, ...] = Field(min_length=2)  # Power at those wavelengths, relative to the greatest

    @model_validator(mode="after")
    def _check_table(self) -> Self:
        _check_axis("wavelength_nm", self.wavelength_nm, self.relative_power)
        return self


class Peak(Record):
    """One Gaussian line: relative_power * exp(-4 ln2 ((wavelength - peak)/fwhm)^2)."""

    peak_nm: Annotated[float, Field(ge=380, le=780)]  # Wavelength of the peak
    fwhm_nm: Annotated[float, Field(gt=0, le=200)]  # Full width at half of the peak
    relative_power: Annotated[float, Field(gt=0)] = 1.0  # Height of the peak, relative to the others


class Spectrum(Record):
    """Spectral power as a sum of peaks or as a table, with its origin."""

    peaks: tuple[Peak, ...] = ()  # Gaussian lines, where it is given so
    table: SpectrumTable | None = None  # Table of powers, where it is given so
    shift_nm: NonNegativeFloat | None = Field(default=None, description="It may lie this far to either side [nm].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_one_kind(self) -> Self:
        if bool(self.peaks) == (self.table is not None):
            raise ValueError("give either peaks or a table")
        return self

    @property
    def strongest_nm(self) -> float:
        """Wavelength of the greatest power [nm]."""
        if self.table is not None:
            return max(zip(self.table.relative_power, self.table.wavelength_nm, strict=True))[1]
        return max(self.peaks, key=lambda peak: peak.relative_power).peak_nm


class ForwardCurve(Record):
    """Points read off the printed curves of one order code."""

    current_ma: tuple[PositiveFloat, ...] = Field(min_length=1, description="Currents of the points, rising [mA].")
    voltage_v: tuple[PositiveFloat, ...] = Field(min_length=1, description="Forward voltage there [V].")
    relative_flux: tuple[PositiveFloat, ...] = Field(
        default=(), description="Light there over light at the test current; none where no curve is printed [1]."
    )
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_points(self) -> Self:
        if any(later <= earlier for earlier, later in zip(self.current_ma, self.current_ma[1:], strict=False)):
            raise ValueError("current_ma must rise from point to point")
        if len(self.voltage_v) != len(self.current_ma):
            raise ValueError("voltage_v must have as many points as current_ma")
        if self.relative_flux and len(self.relative_flux) != len(self.current_ma):
            raise ValueError("relative_flux must have as many points as current_ma, or none")
        return self


class Electrical(Record):
    """An LED as a load, beyond its forward voltage at the test current and its limits."""

    forward_curve: ForwardCurve | None = Field(
        default=None, description="Printed points; they outweigh the usual values below where they say more."
    )
    ideality: Quantity = Field(description="Junction slope in thermal voltages per e-fold of current [1].")
    series_ohm: Quantity = Field(description="Resistance in series with the junction [ohm].")
    forward_v_per_k: Quantity = Field(description="Change of forward voltage with junction temperature [V/K].")
    peak_efficiency_ma: Quantity = Field(description="Current at which light per current is greatest [mA].")
    efficiency_quality: Quantity = Field(description="Breadth of that peak, see docs [1].")
    light_loss_per_k_frac: Quantity = Field(description="Share of light lost per kelvin of the junction [1/K].")
    thermal_k_per_w: Quantity = Field(description="Junction to surroundings, on an ordinary board [K/W].")
    pulse_current_max_ma: Quantity = Field(description="Greatest current in short pulses of small duty [mA].")


MOST_LM_PER_W = 683.0  # luminous efficacy of 540 THz, about 555 nm: SI Brochure, 9th ed., 2019, section 2.3.1
# Where spectra of parts sold under these words are strongest; from memory, with room for makers who draw it otherwise
PEAK_NM: Mapping[str, tuple[float, float]] = {
    "red": (605.0, 780.0),
    "orange": (590.0, 640.0),
    "amber": (575.0, 625.0),
    "yellow": (560.0, 605.0),
    "green": (490.0, 580.0),
    "blue": (420.0, 500.0),
}


class Die(Record):
    """One of several dice in a body: its own light, and itself as a load."""

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,19}$")] = Field(
        description="Small letters, digits and _; terminals name it in `chips`, designs as D1.name."
    )
    colour: Colour  # Colour word of its light
    at_mm: PointMm = Field(default=(0.0, 0.0), description="Its middle in the part's frame [mm].")
    spectrum: Spectrum  # Spectral power of its light
    test_current_ma: PositiveFloat  # Current at which flux, intensity and forward voltage hold
    flux_lm: Flux | None = Field(default=None, description="Total luminous flux at the test current [lm].")
    intensity_mcd: Intensity | None = Field(default=None, description="On-axis intensity at the test current [mcd].")
    forward_voltage_v: Voltage = Field(description="At the test current [V].")
    current_max_ma: Current = Field(description="Greatest continuous current [mA].")
    reverse_voltage_max_v: Voltage | None = None  # Greatest reverse voltage
    electrical: Electrical | None = Field(default=None, description="Its curves; those of its colour if absent.")
    drive_ma: Current | None = Field(
        default=None, description="Constant current that the logic inside gives it while it is on [mA]."
    )

    @model_validator(mode="after")
    def _check_light(self) -> Self:
        if (self.flux_lm is None) == (self.intensity_mcd is None):
            raise ValueError("give either flux_lm or intensity_mcd")
        return self


class Logic(Record):
    """Logic inside a body, which drives its dice by data that arrives on one wire or two."""

    supply_min_v: PositiveFloat  # Least supply voltage
    supply_max_v: PositiveFloat  # Greatest supply voltage
    logic_high_frac: Share = Field(description="Least voltage of a high level over the supply voltage [1].")
    idle_ma: Annotated[Quantity, within(0.0, 100.0)] = Field(description="Drawn with all dice dark [mA].")
    dropout_v: Annotated[Quantity, within(0.0, 5.0)] = Field(
        description="Voltage that its current source needs above the forward voltage of a die [V]."
    )
    pwm_hz: Annotated[Quantity, within(1.0, 1e6)] = Field(description="Rate at which it dims its dice [Hz].")


class Part(Record):
    """One exact order code of an LED; of several dice in one body, its light is that of the first of them."""

    code: OrderCode  # Exact order code
    kind: PartKind  # How it is built
    colour: Colour  # Colour word of the order code
    body: Body  # Outer size
    emitter_length_mm: Size = Field(description="Luminous area along the terminals [mm].")
    emitter_width_mm: Size = Field(
        description="Luminous area across the terminals; of a side-view part, its extent off the board [mm]."
    )
    emitter_height_mm: Height = Field(
        description="Middle of the luminous area above the solder plane, as top-mounted; of a reverse or cut-out part,"
        " its distance from the face of the board it shines at [mm]."
    )
    lens_length_mm: Size | None = Field(default=None, description="Lens or hole size it needs, along [mm].")
    lens_width_mm: Size | None = Field(default=None, description="Lens or hole size it needs, across [mm].")
    lens_height_mm: Height | None = Field(
        default=None, description="Lens above the body; of a cut-out part, how far it reaches into the board [mm]."
    )
    half_angle_deg: HalfAngle | None = Field(
        default=None, description="Angle off axis where the intensity is half [deg]."
    )
    emission: EmissionTable | None = Field(default=None, description="Used instead of half_angle_deg.")
    emitter_at_mm: PointMm = Field(
        default=(0.0, 0.0), description="Middle of the luminous area in the part's frame [mm]."
    )
    dice: tuple[Die, ...] = Field(
        default=(), description="Dice of a body that holds several; `like` takes the light of a die from a known part."
    )
    logic: Logic | None = Field(default=None, description="Logic inside, which drives the dice by data.")
    spectrum: Spectrum  # Spectral power of its light
    test_current_ma: PositiveFloat  # Current at which flux, intensity and forward voltage hold
    flux_lm: Flux | None = Field(default=None, description="Total luminous flux at the test current [lm].")
    intensity_mcd: Intensity | None = Field(default=None, description="On-axis intensity at the test current [mcd].")
    forward_voltage_v: Voltage = Field(description="At the test current [V].")
    current_max_ma: Current = Field(description="Greatest continuous current [mA].")
    reverse_voltage_max_v: Voltage | None = None  # Greatest reverse voltage
    electrical: Electrical | None = Field(
        default=None, description="Its curves as a load; those of its colour if absent."
    )
    bins: tuple[str, ...] = Field(default=(), description="Flux or colour bins of the order code, as free text.")
    body_reflectance: Share = Field(description="Diffuse reflectance of the body's face to the board [1].")
    terminals: Terminals | None = Field(default=None, description="Its solder pads.")
    mark: PolarityMark | None = Field(default=None, description="Its polarity mark; of this order code alone.")
    tape: TapeOrientation | None = Field(default=None, description="How it lies in its tape; of this order code alone.")
    soldering: SolderingLimits | None = Field(default=None, description="What heat it survives.")
    ratings: MaximumRatings | None = Field(default=None, description="Further maximum ratings.")
    note: str = ""  # What else is worth knowing

    @model_validator(mode="before")
    @classmethod
    def _take_light_of_first_die(cls, given: Any) -> Any:
        dice = given.get("dice") if isinstance(given, Mapping) else None
        if not isinstance(dice, list | tuple) or not dice or not isinstance(dice[0], Mapping):
            return given
        light = {name: dice[0][name] for name in LIGHT_OF_DIE if name in dice[0]}
        return {**{name: value for name, value in given.items() if name not in LIGHT_OF_DIE}, **light}

    @model_validator(mode="after")
    def _check_dice(self) -> Self:
        names = [die.name for die in self.dice]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f"die {twice!r} stands twice; give each its own name")
        has_logic = self.terminals is not None and self.terminals.has_logic
        if has_logic != (self.logic is not None):
            raise ValueError("logic and a terminal of role 'supply' belong together: give both or neither")
        missing = next((die.name for die in self.dice if (die.drive_ma is None) == has_logic), None)
        if missing is not None:
            raise ValueError(f"die {missing!r}: drive_ma is the current of the logic inside; give it with logic only")
        if self.logic is not None and not self.dice:
            raise ValueError("logic needs dice that it drives")
        chips = () if self.terminals is None else self.terminals.chips
        if self.dice and chips and set(chips) != set(names):
            raise ValueError(f"terminals feed the chips {', '.join(chips)}, but the dice are {', '.join(names)}")
        return self

    @model_validator(mode="after")
    def _check_polarity(self) -> Self:
        if (self.mark is not None or self.tape is not None) and self.terminals is None:
            raise ValueError("a mark or a tape orientation needs terminals, so that it can name one of them")
        if self.terminals is not None and self.mark is not None:
            check_mark_place(self.mark, terminals=self.terminals)
            self._check_mark_on_part(self.mark, terminals=self.terminals)
        if self.terminals is not None and self.tape is not None and self.terminals.named(self.tape.terminal) is None:
            names = ", ".join(pad.name for pad in self.terminals.pads)
            raise ValueError(
                f"tape names terminal {self.tape.terminal!r}, which the part does not have; it has {names}"
            )
        return self

    def of_die(self, die: Die) -> "Part":
        """One die as a part of its own in this body, by the code of both."""
        light = {name: getattr(die, name) for name in LIGHT_OF_DIE}
        own = {"code": f"{self.code}.{die.name}", "dice": (die,), "emitter_at_mm": die.at_mm}
        return self.model_copy(update={**light, **own})

    def _least_flux_lm(self) -> tuple[str, float]:
        if self.flux_lm is not None:
            return "flux_lm", self.flux_lm.lowest
        if self.intensity_mcd is None or self.half_angle_deg is None:
            return "emission", 0.0  # the lobe of a table is integrated where its light is used
        # I cos^m has half of its intensity at the half angle, and 2 pi I / (m + 1) in its half space
        power = math.log(0.5) / math.log(math.cos(math.radians(self.half_angle_deg.lowest)))
        return "intensity_mcd", 2 * math.pi * self.intensity_mcd.lowest / 1000 / (power + 1)

    def _check_mark_on_part(self, mark: PolarityMark, *, terminals: Terminals) -> None:
        # Marks of legs and ends lie on the metal, which may reach beyond the body
        sizes = (self.body.length_mm, max(self.body.width_mm, self.body.height_mm))
        metal = [
            [abs(pad.at_mm[axis]) + max(pad.length_mm, pad.width_mm) / 2 for pad in terminals.pads] for axis in (0, 1)
        ]
        x_mm, y_mm = (
            max(size / 2, *ends) + (self.body.tolerance_mm or 0.0) for size, ends in zip(sizes, metal, strict=True)
        )
        if abs(mark.at_mm[0]) > x_mm or abs(mark.at_mm[1]) > y_mm:
            raise ValueError(
                f"mark lies at ({mark.at_mm[0]:g}, {mark.at_mm[1]:g}) mm, off the part, which reaches {x_mm:.3g} mm"
                f" along and {y_mm:.3g} mm across from its middle; correct at_mm of the mark"
            )

    @property
    def mark_verified(self) -> bool:
        """Whether its polarity mark is known and has evidence; without, nothing may be released."""
        return self.mark is not None and self.mark.evidence.verified

    @model_validator(mode="after")
    def _check_sizes(self) -> Self:
        slack = self.body.tolerance_mm or 0.0
        # A side-view part carries its luminous area upright
        across = ("height_mm", self.body.height_mm) if self.kind == "side_view" else ("width_mm", self.body.width_mm)
        for emitter, (side, size) in (
            (("emitter_length_mm", self.emitter_length_mm), ("length_mm", self.body.length_mm)),
            (("emitter_width_mm", self.emitter_width_mm), across),
        ):
            if emitter[1].value > size + slack:
                raise ValueError(
                    f"{emitter[0]} is {emitter[1].value:g}, larger than the body's {side} of {size:g}; a luminous area"
                    " lies within its body, so check which of the two was read wrongly"
                )
        return self

    @model_validator(mode="after")
    def _check_light(self) -> Self:
        if (self.flux_lm is None) == (self.intensity_mcd is None):
            raise ValueError("give either flux_lm or intensity_mcd")
        if (self.half_angle_deg is None) == (self.emission is None):
            raise ValueError("give either half_angle_deg or emission")
        power_w = self.test_current_ma / 1000 * self.forward_voltage_v.highest
        name, least_lm = self._least_flux_lm()
        if least_lm > MOST_LM_PER_W * power_w:
            raise ValueError(
                f"{name} means at least {least_lm:.3g} lm from {1000 * power_w:.3g} mW at its test current; no"
                f" light gives more than {MOST_LM_PER_W:g} lm/W, so check {name} and test_current_ma"
            )
        low_nm, high_nm = PEAK_NM.get(self.colour, (0.0, math.inf))
        if not low_nm <= self.spectrum.strongest_nm <= high_nm:
            raise ValueError(
                f"colour is {self.colour}, but its spectrum is strongest at {self.spectrum.strongest_nm:g} nm; allowed"
                f" for {self.colour} is {low_nm:g} to {high_nm:g} nm: correct colour or spectrum, or like"
            )
        return self


class AbsorptionTable(Record):
    """Absorption against wavelength, linear in between and constant outside."""

    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)  # Wavelengths, rising
    absorb_per_mm: tuple[Annotated[float, Field(ge=0)], ...] = Field(min_length=1)
    """Absorption coefficient at those wavelengths."""
    low_factor: LowFactor = Field(description="Low end of the range, times the table [1].")
    high_factor: HighFactor = Field(description="High end of the range, times the table [1].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_table(self) -> Self:
        _check_axis("wavelength_nm", self.wavelength_nm, self.absorb_per_mm)
        return self


class Fluorescence(Record):
    """What a laminate gives back of the short waves it absorbs, every way alike."""

    yield_frac: Share = Field(description="Photons given back per photon absorbed below excited_below_nm [1].")
    excited_below_nm: Annotated[float, Field(ge=380, le=780)] = Field(description="Longer waves excite nothing [nm].")
    peak_nm: Annotated[float, Field(ge=380, le=780)] = Field(description="Peak of what is given back [nm].")
    fwhm_nm: Annotated[float, Field(gt=0, le=200)] = Field(description="Its full width at half maximum [nm].")


class Laminate(Record):
    """A laminate or one measured lot of it."""

    code: str  # Code by which a design names it
    refractive_index: RefractiveIndex  # Index relative to air
    asymmetry: Asymmetry = Field(description="Henyey-Greenstein g [1].")
    reduced_scatter_per_mm: Scatter = Field(description="scatter_per_mm * (1 - asymmetry) [1/mm].")
    absorption: AbsorptionTable  # Absorption against wavelength
    face_rms_slope: Slope | None = Field(
        default=None, description="Of an etched bare face, the foil's imprint; smooth where absent [1]."
    )
    fluorescence: Fluorescence | None = Field(default=None, description="Left out where absent.")
    note: str = ""  # What else is worth knowing

    @property
    def assumed(self) -> bool:
        """Whether predictions through it must be printed as ranges."""
        return "assumed" in (self.reduced_scatter_per_mm.origin, self.absorption.origin)


class Film(Record):
    """A coat over the laminate (solder mask, legend ink): tint per pass and diffuse return, against wavelength."""

    code: str  # Code by which a design names it
    kind: Literal["mask", "legend", "diffuser"]  # Mask, legend or diffuser
    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)  # Wavelengths, rising
    transmittance: tuple[Fraction, ...] = Field(min_length=1, description="Share of light that crosses, per pass.")
    reflectance: tuple[Fraction, ...] = Field(min_length=1, description="Share returned diffusely, per arrival.")
    transmittance_low_factor: LowFactor = Field(default=1.0, description="Low end, times the table [1].")
    transmittance_high_factor: HighFactor = Field(default=1.0, description="High end, times the table [1].")
    reflectance_low_factor: LowFactor = Field(default=1.0, description="Low end, times the table [1].")
    reflectance_high_factor: HighFactor = Field(default=1.0, description="High end, times the table [1].")
    haze: Share = Field(description="Share of the crossing light that leaves in a diffuse cone [1].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_energy(self) -> Self:
        _check_axis("wavelength_nm", self.wavelength_nm, self.transmittance, self.reflectance)
        if any(t + r > 1 for t, r in zip(self.transmittance, self.reflectance, strict=True)):
            raise ValueError("transmittance plus reflectance is above 1")
        return self


class Surface(Record):
    """An opaque face met by light: copper finish, foil side, cover."""

    code: str  # Code by which it is named
    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)  # Wavelengths, rising
    reflectance: tuple[Fraction, ...] = Field(min_length=1)  # Diffuse reflectance at those wavelengths
    low_factor: LowFactor = Field(default=1.0, description="Low end of the range, times the table [1].")
    high_factor: HighFactor = Field(default=1.0, description="High end of the range, times the table [1].")
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed

    @model_validator(mode="after")
    def _check_table(self) -> Self:
        _check_axis("wavelength_nm", self.wavelength_nm, self.reflectance)
        return self


class Timing(Record):
    """One board built by hand, timed: the LEDs of one mounting style on it."""

    mounting: Mounting = Field(description="Style of the LEDs timed.")
    leds: Annotated[int, Field(ge=1, le=10_000)] = Field(description="How many of them the board has.")
    minutes: PositiveFloat = Field(description="From the first part picked up to the last joint looked at [min].")
    date: datetime.date = Field(description="When.")
    who: Annotated[str, Field(min_length=1)] = Field(description="Whose hands.")
    note: str = Field(default="", description="Anything to add.")

    @model_validator(mode="after")
    def _check_date(self) -> Self:
        check_has_come(self.date)
        return self


def _above_zero(quantity: Quantity) -> Quantity:
    if quantity.lowest <= 0.0:
        raise ValueError(f"reaches {quantity.lowest:g}; allowed is above 0")
    return quantity


class Package(Record):
    """Geometry that every colour of a package shares."""

    code: str
    kind: PartKind
    body: Body
    emitter_length_mm: Size
    emitter_width_mm: Size
    emitter_height_mm: Height
    lens_length_mm: Size | None = None
    lens_width_mm: Size | None = None
    lens_height_mm: Height | None = None
    half_angle_deg: HalfAngle | None = None
    emission: EmissionTable | None = None
    flux_factor: Annotated[Quantity, AfterValidator(_above_zero)] = Field(
        description="Light of this package over that of a plain chip LED [1]."
    )
    body_reflectance: Share
    terminals: Terminals | None = None
    note: str = ""


class ColourLight(Record):
    """Light and drive of a plain chip LED of one colour."""

    code: Colour
    test_current_ma: PositiveFloat
    intensity_mcd: Intensity
    forward_voltage_v: Voltage
    current_max_ma: Current
    reverse_voltage_max_v: Voltage | None = None
    electrical: Electrical | None = None
    spectrum: Spectrum


class Catalog(Record):
    """Everything that can be named in a design."""

    parts: dict[str, Part]  # LEDs by order code
    laminates: dict[str, Laminate]  # Laminates and lots by code
    films: dict[str, Film]  # Masks, inks and diffusers by code
    surfaces: dict[str, Surface]  # Opaque faces by code
    timings: tuple[Timing, ...] = Field(default=(), description="Boards the user built by hand, timed.")
    notes: tuple[str, ...] = Field(default=(), description="What the user's own parts/*.toml replaced.")
