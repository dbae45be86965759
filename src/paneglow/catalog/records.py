"""Catalogue records: parts, laminates and coatings, every value with its origin."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from paneglow.units import FiniteFloat, Fraction, PositiveFloat, Quantity, Record

Colour = Literal["red", "orange", "amber", "yellow", "green", "blue", "white"]
PartKind = Literal["chip", "side_view", "reverse", "cutout", "through_hole"]


class Body(Record):
    """Outer size of a part: length along the terminals, width across, height off the board as top-mounted."""

    length_mm: PositiveFloat
    width_mm: PositiveFloat
    height_mm: PositiveFloat
    origin: Literal["measured", "sourced", "assumed"]
    source: str


class EmissionTable(Record):
    """Relative intensity against the angle to the emission axis, piecewise linear."""

    angle_deg: tuple[FiniteFloat, ...] = Field(min_length=2, description="Rising, from 0 to at most 180 [deg].")
    relative_intensity: tuple[Fraction, ...] = Field(min_length=2)


class SpectrumTable(Record):
    """Relative spectral power, piecewise linear and zero outside."""

    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=2)
    relative_power: tuple[Fraction, ...] = Field(min_length=2)


class Peak(Record):
    """One Gaussian line: relative_power * exp(-4 ln2 ((wavelength - peak)/fwhm)^2)."""

    peak_nm: Annotated[float, Field(ge=380, le=780)]
    fwhm_nm: Annotated[float, Field(gt=0, le=200)]
    relative_power: Annotated[float, Field(gt=0)] = 1.0


class Spectrum(Record):
    """Spectral power as a sum of peaks or as a table, with its origin."""

    peaks: tuple[Peak, ...] = ()
    table: SpectrumTable | None = None
    origin: Literal["measured", "sourced", "assumed"]
    source: str

    @model_validator(mode="after")
    def _check_one_kind(self) -> Self:
        if bool(self.peaks) == (self.table is not None):
            raise ValueError("give either peaks or a table")
        return self


class Part(Record):
    """One exact order code of an LED."""

    code: Annotated[str, Field(min_length=1, pattern=r"^[a-z0-9][a-z0-9-]*$")]
    kind: PartKind
    colour: Colour
    body: Body
    emitter_length_mm: Quantity = Field(description="Luminous area along the terminals [mm].")
    emitter_width_mm: Quantity = Field(description="Luminous area across the terminals [mm].")
    emitter_height_mm: Quantity = Field(description="Luminous area above the solder plane, as top-mounted [mm].")
    lens_length_mm: Quantity | None = Field(default=None, description="Lens or hole size it needs, along [mm].")
    lens_width_mm: Quantity | None = Field(default=None, description="Lens or hole size it needs, across [mm].")
    lens_height_mm: Quantity | None = Field(default=None, description="Lens above the body [mm].")
    half_angle_deg: Quantity | None = Field(
        default=None, description="Angle off axis where the intensity is half [deg]."
    )
    emission: EmissionTable | None = Field(default=None, description="Used instead of half_angle_deg.")
    spectrum: Spectrum
    test_current_ma: PositiveFloat
    flux_lm: Quantity | None = Field(default=None, description="Total luminous flux at the test current [lm].")
    intensity_mcd: Quantity | None = Field(default=None, description="On-axis intensity at the test current [mcd].")
    forward_voltage_v: Quantity = Field(description="At the test current [V].")
    current_max_ma: Quantity = Field(description="Greatest continuous current [mA].")
    reverse_voltage_max_v: Quantity | None = None
    bins: tuple[str, ...] = Field(default=(), description="Flux or colour bins of the order code, as free text.")
    body_reflectance: Quantity = Field(description="Diffuse reflectance of the body's face to the board [1].")
    note: str = ""

    @model_validator(mode="after")
    def _check_light(self) -> Self:
        if (self.flux_lm is None) == (self.intensity_mcd is None):
            raise ValueError("give either flux_lm or intensity_mcd")
        if (self.half_angle_deg is None) == (self.emission is None):
            raise ValueError("give either half_angle_deg or emission")
        return self


class AbsorptionTable(Record):
    """Absorption against wavelength, linear in between and constant outside."""

    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)
    absorb_per_mm: tuple[Annotated[float, Field(ge=0)], ...] = Field(min_length=1)
    low_factor: Annotated[float, Field(gt=0, le=1)] = Field(description="Low end of the range, times the table [1].")
    high_factor: Annotated[float, Field(ge=1)] = Field(description="High end of the range, times the table [1].")
    origin: Literal["measured", "sourced", "assumed"]
    source: str


class Laminate(Record):
    """A laminate or one measured lot of it."""

    code: str
    refractive_index: Quantity
    asymmetry: Quantity = Field(description="Henyey-Greenstein g [1].")
    reduced_scatter_per_mm: Quantity = Field(description="scatter_per_mm * (1 - asymmetry) [1/mm].")
    absorption: AbsorptionTable
    note: str = ""

    @property
    def assumed(self) -> bool:
        """Whether predictions through it must be printed as ranges."""
        return "assumed" in (self.reduced_scatter_per_mm.origin, self.absorption.origin)


class Film(Record):
    """A coat over the laminate (solder mask, legend ink): tint per pass and diffuse return, against wavelength."""

    code: str
    kind: Literal["mask", "legend", "diffuser"]
    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)
    transmittance: tuple[Fraction, ...] = Field(min_length=1, description="Share of light that crosses, per pass.")
    reflectance: tuple[Fraction, ...] = Field(min_length=1, description="Share returned diffusely, per arrival.")
    haze: Quantity = Field(description="Share of the crossing light that leaves in a diffuse cone [1].")
    origin: Literal["measured", "sourced", "assumed"]
    source: str

    @model_validator(mode="after")
    def _check_energy(self) -> Self:
        if not len(self.wavelength_nm) == len(self.transmittance) == len(self.reflectance):
            raise ValueError("wavelength_nm, transmittance and reflectance need equal lengths")
        if any(t + r > 1 for t, r in zip(self.transmittance, self.reflectance, strict=True)):
            raise ValueError("transmittance plus reflectance is above 1")
        return self


class Surface(Record):
    """An opaque face met by light: copper finish, foil side, cover."""

    code: str
    wavelength_nm: tuple[FiniteFloat, ...] = Field(min_length=1)
    reflectance: tuple[Fraction, ...] = Field(min_length=1)
    origin: Literal["measured", "sourced", "assumed"]
    source: str


class Catalog(Record):
    """Everything that can be named in a design."""

    parts: dict[str, Part]
    laminates: dict[str, Laminate]
    films: dict[str, Film]
    surfaces: dict[str, Surface]
