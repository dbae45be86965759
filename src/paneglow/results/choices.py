"""What there is to choose from for a board: LEDs, laminates, masks, inks, films and supplies, with their figures."""

from collections.abc import Iterable, Mapping
from typing import Literal, get_args

import numpy as np
from pydantic import Field

from paneglow.catalog import Catalog, Colour, Film, Laminate, Part, laminate_absorb_per_mm, part_flux_lm
from paneglow.cost import CostFile
from paneglow.design import Mounting
from paneglow.drive import CellSupply, build_supply, read_supplies
from paneglow.errors import CatalogError
from paneglow.judge import FITTING_KINDS
from paneglow.units import FiniteFloat, Fraction, Origin, PositiveFloat, Quantity, Record

ChoiceKind = Literal["leds", "laminates", "masks", "inks", "films", "supplies"]
FILM_KIND: dict[ChoiceKind, str] = {"masks": "mask", "inks": "legend", "films": "diffuser"}
BLUE_GREEN_RED_NM = (465.0, 525.0, 625.0)  # usual peaks of blue, green and red LEDs; our choice


class LedPrice(Record):
    """What one piece of an order code costs by the cost file beside a design, at its smallest quantity."""

    each: str = Field(description="As the cost file has it.")
    currency: str = Field(description="Of that price.")
    at: int = Field(description="Pieces from which it holds.")
    supplier: str = Field(description="Who asks it.")


class LedChoice(Record):
    """One order code of an LED."""

    code: str  # Exact order code
    kind: str  # How it is built
    colour: str  # Colour word
    size_mm: tuple[PositiveFloat, PositiveFloat, PositiveFloat]  # Length, width, height of the body
    styles: tuple[Mounting, ...]  # Mounting styles its kind is made for
    flux_lm: Quantity = Field(description="Light at the test current, with its range [lm].")
    test_current_ma: PositiveFloat  # Current at which light and voltage hold
    current_max_ma: PositiveFloat  # Greatest continuous current, the lowest of its range
    forward_voltage_v: Quantity  # At the test current
    price: LedPrice | None = None  # Where a cost file beside the design knows it


class LaminateChoice(Record):
    """One laminate, or a measured lot of it."""

    code: str  # Code by which a design names it
    note: str  # What it is, in words
    reduced_scatter_per_mm: Quantity  # How strongly it scatters
    absorb_per_mm: tuple[FiniteFloat, FiniteFloat, FiniteFloat]  # Absorption of blue, green, red light
    origin: Origin  # Weakest origin of its figures


class FilmChoice(Record):
    """One solder mask, legend ink or diffuser film."""

    code: str  # Code by which a design names it
    transmittance: tuple[Fraction, Fraction, Fraction]  # Share of blue, green, red light that crosses
    reflectance: tuple[Fraction, Fraction, Fraction]  # Share of blue, green, red light returned
    origin: Origin  # Where the numbers come from
    source: str  # Where they were read, measured, or why they were assumed


class SupplyChoice(Record):
    """One supply."""

    code: str  # `cell` of [supply]
    words: str  # What it is
    fresh_v: PositiveFloat  # Voltage when fresh, without load
    capacity_mah: PositiveFloat | None  # None where it does not run down
    continuous_max_ma: PositiveFloat  # Greatest lasting current, the lowest of its range
    pulse_max_ma: PositiveFloat  # Greatest current in pulses, the lowest of its range


class Choices(Record):
    """What there is to choose from; exactly what `paneglow parts --json` prints."""

    leds: tuple[LedChoice, ...] = ()  # LEDs, by kind and size
    laminates: tuple[LaminateChoice, ...] = ()  # Laminates and measured lots
    masks: tuple[FilmChoice, ...] = ()  # Solder masks
    inks: tuple[FilmChoice, ...] = ()  # Legend inks
    films: tuple[FilmChoice, ...] = ()  # Diffusers
    supplies: tuple[SupplyChoice, ...] = ()  # Cells, batteries and supplies that do not run down


def build_choices(
    catalog: Catalog,
    *,
    kind: ChoiceKind,
    colour: Colour | None = None,
    size: str = "",
    style: Mounting | None = None,
    costs: CostFile | None = None,
) -> Choices:
    """What there is of one kind.

    Parameters
    ----------
    catalog : Catalog
    kind : "leds", "laminates", "masks", "inks", "films" or "supplies"
    colour, style : str, optional
        Only LEDs of this colour, only those made for this mounting style.
    size : str, optional
        Only LEDs whose order code names this size (0603, 5mm), or whose body has it (1.6x0.8).
    costs : CostFile, optional
        Where prices of LEDs stand.

    Raises
    ------
    CatalogError
        Where nothing is left.
    """
    if kind == "leds":
        leds = [_led(part, prices=_prices(costs)) for part in catalog.parts.values()]
        kept = [
            led
            for led in leds
            if (colour is None or led.colour == colour)
            and (style is None or style in led.styles)
            and (not size or size.lower() in _sizes(led))
        ]
        if not kept:
            sizes = sorted({word for led in leds for word in _sizes(led)})
            raise CatalogError(
                f"no LED is left by colour {colour or 'any'}, style {style or 'any'} and size {size or 'any'};"
                f" sizes are {', '.join(sizes)}; write down your own with paneglow parts new"
            )
        return Choices(leds=tuple(sorted(kept, key=lambda led: (led.kind, led.size_mm))))
    if kind == "supplies":
        return Choices(supplies=tuple(_supply(code) for code in read_supplies()))
    if kind == "laminates":
        return Choices(laminates=tuple(_laminate(laminate) for laminate in catalog.laminates.values()))
    films = tuple(_film(film) for film in catalog.films.values() if film.kind == FILM_KIND[kind])
    return Choices.model_validate({kind: films})


def _sizes(led: LedChoice) -> set[str]:
    return {f"{led.size_mm[0]:g}x{led.size_mm[1]:g}", *(word for word in led.code.split("-") if word[:1].isdigit())}


def _prices(costs: CostFile | None) -> Mapping[str, LedPrice]:
    """The lowest price of one piece of every item, by item."""
    found: dict[str, LedPrice] = {}
    for offer in () if costs is None else costs.offer:
        first = offer.price_breaks[0]
        currency = offer.currency or (costs.currency if costs is not None else "")
        found.setdefault(
            offer.item, LedPrice(each=str(first.each), currency=currency, at=first.at, supplier=offer.supplier)
        )
    return found


def _led(part: Part, *, prices: Mapping[str, LedPrice]) -> LedChoice:
    return LedChoice(
        code=part.code,
        kind=part.kind,
        colour=part.colour,
        size_mm=(part.body.length_mm, part.body.width_mm, part.body.height_mm),
        styles=tuple(style for style in get_args(Mounting) if part.kind in FITTING_KINDS[style]),
        flux_lm=part_flux_lm(part),
        test_current_ma=part.test_current_ma,
        current_max_ma=part.current_max_ma.lowest,
        forward_voltage_v=part.forward_voltage_v,
        price=prices.get(part.code),
    )


def _laminate(laminate: Laminate) -> LaminateChoice:
    absorb = laminate_absorb_per_mm(laminate, wavelength_nm=BLUE_GREEN_RED_NM)
    return LaminateChoice(
        code=laminate.code,
        note=laminate.note,
        reduced_scatter_per_mm=laminate.reduced_scatter_per_mm,
        absorb_per_mm=_three(absorb),
        origin="assumed" if laminate.assumed else laminate.reduced_scatter_per_mm.origin,
    )


def _film(film: Film) -> FilmChoice:
    through, back = (
        _three(np.interp(BLUE_GREEN_RED_NM, film.wavelength_nm, shares))
        for shares in (film.transmittance, film.reflectance)
    )
    return FilmChoice(code=film.code, transmittance=through, reflectance=back, origin=film.origin, source=film.source)


def _three(values: Iterable[float]) -> tuple[float, float, float]:
    blue, green, red = (float(value) for value in values)
    return blue, green, red


def _supply(code: str) -> SupplyChoice:
    usual, weakest = build_supply(code), build_supply(code, end="low")
    return SupplyChoice(
        code=code,
        words=usual.name,
        fresh_v=usual.curve.open_circuit_v[0] if isinstance(usual, CellSupply) else usual.voltage_v,
        capacity_mah=usual.curve.capacity_mah if isinstance(usual, CellSupply) else None,
        continuous_max_ma=weakest.continuous_max_ma,
        pulse_max_ma=weakest.pulse_max_ma,
    )
