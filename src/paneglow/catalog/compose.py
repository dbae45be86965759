"""Package x colour to one part record per exact order code, every value keeping its origin."""

import math
from typing import Annotated

from pydantic import AfterValidator, Field

from paneglow.catalog.construction import Terminals
from paneglow.catalog.records import (
    Body,
    Colour,
    Current,
    Electrical,
    EmissionTable,
    Flux,
    HalfAngle,
    Height,
    Intensity,
    Part,
    PartKind,
    Share,
    Size,
    Spectrum,
    Voltage,
)
from paneglow.units import Origin, PositiveFloat, Quantity, Record

COSINE_SOURCE_SR = math.pi  # flux over on-axis intensity of a source that shines like a cosine (exact)


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


def build_part(package: Package, colour: ColourLight) -> Part:
    """One order code from its package and its colour.

    Notes
    -----
    Flux = pi x on-axis intensity of the plain chip LED x flux factor of the package; the ends of the range multiply
    likewise. It is assumed as soon as one of the two is.
    """
    shared = package.model_dump(exclude={"code", "flux_factor"}, exclude_none=True)
    light = colour.model_dump(exclude={"code", "intensity_mcd"}, exclude_none=True)
    flux = _flux_lm(colour.intensity_mcd, factor=package.flux_factor)
    return Part(code=f"{package.code}-{colour.code}", colour=colour.code, flux_lm=flux, **shared, **light)


def _flux_lm(intensity_mcd: Quantity, *, factor: Quantity) -> Flux:
    lumen_per_mcd = 1e-3 * COSINE_SOURCE_SR
    return Quantity(
        value=lumen_per_mcd * intensity_mcd.value * factor.value,
        low=lumen_per_mcd * intensity_mcd.lowest * factor.lowest,
        high=lumen_per_mcd * intensity_mcd.highest * factor.highest,
        origin=_weaker(intensity_mcd.origin, factor.origin),
        source=f"{intensity_mcd.source}; {factor.source}",
    )


def _weaker(first: Origin, second: Origin) -> Origin:
    order: tuple[Origin, ...] = ("measured", "sourced", "assumed")
    return max(first, second, key=order.index)
