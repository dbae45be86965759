"""Every catalogue value a result rests on, each with its range, unit and origin."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from paneglow.board import Board
from paneglow.catalog import Catalog, EmissionTable, Film, Laminate, Part, Spectrum, Surface
from paneglow.design import Design
from paneglow.results.records import UsedValue
from paneglow.scene import ASSUMED_PLACES, ASSUMED_SURROUNDINGS, BODY_PLATED_HOLE, PLATED_WALL, Scene
from paneglow.units import Origin, Quantity

# Longest suffix first, so that absorb_per_mm is not read as a length
UNIT_BY_SUFFIX: tuple[tuple[str, str], ...] = (
    ("_per_mm", "1/mm"),
    ("_mcd", "mcd"),
    ("_deg", "deg"),
    ("_mm", "mm"),
    ("_nm", "nm"),
    ("_ma", "mA"),
    ("_lm", "lm"),
    ("_v", "V"),
)


def split_unit(field: str) -> tuple[str, str]:
    """Words and unit of a field name: "half_angle_deg" is ("half angle", "deg"), "haze" is ("haze", "1")."""
    for suffix, unit in UNIT_BY_SUFFIX:
        if field.endswith(suffix):
            return field.removesuffix(suffix).replace("_", " "), unit
    return field.replace("_", " "), "1"


def _used(item: str, field: str, quantity: Quantity) -> UsedValue:
    words, unit = split_unit(field)
    return UsedValue(
        item=item,
        quantity=words,
        value=quantity.value,
        low=quantity.lowest,
        high=quantity.highest,
        unit=unit,
        origin=quantity.origin,
        source=quantity.source,
    )


class _Origin(Protocol):
    """What a table says about where it comes from."""

    @property
    def origin(self) -> Origin: ...

    @property
    def source(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """Values of one catalogue entry that share an origin; `low`, `high` are what each is multiplied by at its ends."""

    item: str
    stated: _Origin
    low: float = 1.0
    high: float = 1.0

    def use(self, field: str, value: float, *, at_nm: float | None = None, spread: float = 0.0) -> UsedValue:
        words, unit = split_unit(field)
        return UsedValue(
            item=self.item,
            quantity=words,
            at_nm=at_nm,
            value=value,
            low=value * self.low - spread,
            high=value * self.high + spread,
            unit=unit,
            origin=self.stated.origin,
            source=self.stated.source,
        )

    def use_all(self, field: str, values: Sequence[float], *, wavelength_nm: Sequence[float]) -> Iterator[UsedValue]:
        for at_nm, value in zip(wavelength_nm, values, strict=True):
            yield self.use(field, value, at_nm=at_nm)


def _list_quantities(item: str, record: Part | Laminate | Film) -> Iterator[UsedValue]:
    for field in type(record).model_fields:
        value = getattr(record, field)
        if isinstance(value, Quantity):
            yield _used(item, field, value)


def _list_spectrum(item: str, spectrum: Spectrum) -> Iterator[UsedValue]:
    table = _Table(item=item, stated=spectrum)
    for peak in spectrum.peaks:
        yield table.use("peak_wavelength_nm", peak.peak_nm, spread=spectrum.shift_nm or 0.0)
        yield table.use("width_of_peak_nm", peak.fwhm_nm)
    if spectrum.table is not None:
        yield from table.use_all(
            "relative_power", spectrum.table.relative_power, wavelength_nm=spectrum.table.wavelength_nm
        )


def _half_angle(item: str, emission: EmissionTable) -> UsedValue:
    """Angle where a tabulated lobe first falls to half its greatest intensity, with the factors of its range."""
    half = max(emission.relative_intensity) / 2
    pairs = zip(emission.angle_deg, emission.relative_intensity, strict=True)
    angle_deg = next((angle for angle, share in pairs if share <= half), emission.angle_deg[-1])
    table = _Table(item=item, stated=emission, low=emission.low_factor, high=emission.high_factor)
    return table.use("half_angle_of_the_table_deg", angle_deg)


def _list_part(part: Part) -> Iterator[UsedValue]:
    yield from _list_quantities(part.code, part)
    body = _Table(item=part.code, stated=part.body)
    for field in ("length_mm", "width_mm", "height_mm"):
        yield body.use(f"body_{field}", getattr(part.body, field), spread=part.body.tolerance_mm or 0.0)
    yield from _list_spectrum(part.code, part.spectrum)
    if part.emission is not None:
        yield _half_angle(part.code, part.emission)


def _list_laminate(laminate: Laminate) -> Iterator[UsedValue]:
    yield from _list_quantities(laminate.code, laminate)
    absorption = laminate.absorption
    table = _Table(item=laminate.code, stated=absorption, low=absorption.low_factor, high=absorption.high_factor)
    yield from table.use_all("absorption_per_mm", absorption.absorb_per_mm, wavelength_nm=absorption.wavelength_nm)


def _list_film(film: Film) -> Iterator[UsedValue]:
    yield from _list_quantities(film.code, film)
    crossing = _Table(
        item=film.code, stated=film, low=film.transmittance_low_factor, high=film.transmittance_high_factor
    )
    returned = _Table(item=film.code, stated=film, low=film.reflectance_low_factor, high=film.reflectance_high_factor)
    yield from crossing.use_all("transmittance", film.transmittance, wavelength_nm=film.wavelength_nm)
    yield from returned.use_all("reflectance", film.reflectance, wavelength_nm=film.wavelength_nm)


def _list_surface(surface: Surface) -> Iterator[UsedValue]:
    table = _Table(item=surface.code, stated=surface, low=surface.low_factor, high=surface.high_factor)
    yield from table.use_all("reflectance", surface.reflectance, wavelength_nm=surface.wavelength_nm)


def _film_names(design: Design, board: Board) -> dict[str, None]:
    diffusers = (led.diffuser.removeprefix("film:") for led in board.leds)
    front = () if design.board.front_film is None else (design.board.front_film.film,)
    return dict.fromkeys((design.board.mask, design.board.legend, *diffusers, *front))


def _list_surroundings(*, design: Design, scene: Scene) -> Iterator[UsedValue]:
    """What is assumed of things round the laminate, where the scene has them."""
    glued = any(emitter.dome is not None and emitter.dome.scatter_per_mm > 0.0 for emitter in scene.emitters)
    present = {
        "inner copper": bool(scene.inner) and design.board.inner_depth_mm is None,
        "hot glue": glued,
        "hot glue dome": glued,
        "lens in contact": any(e.dome is not None and e.dome.scatter_per_mm == 0.0 for e in scene.emitters),
    }
    for item, (field, quantity) in ASSUMED_SURROUNDINGS.items():
        if present[item]:
            yield _used(item, field, quantity)


def build_quantities(*, design: Design, board: Board, catalog: Catalog, scene: Scene) -> tuple[UsedValue, ...]:
    """List every value the evaluation used: laminate, coats, surfaces, the parts on the board, how they are held.

    Surfaces count as used where a face class of the scene bears their name.

    Returns
    -------
    tuple of UsedValue
        A value without a range has `low` and `high` equal to it; wavelength tables give one row per wavelength.
    """
    rows: list[UsedValue] = []
    laminate = catalog.laminates.get(design.board.laminate)
    if laminate is not None:
        rows.extend(_list_laminate(laminate))
    for name in _film_names(design, board):
        if name in catalog.films:
            rows.extend(_list_film(catalog.films[name]))
    plated = {PLATED_WALL} if (scene.body == BODY_PLATED_HOLE).any() else set()
    for surface in catalog.surfaces.values():
        if surface.code in plated.union(scene.classes.names):
            rows.extend(_list_surface(surface))
    parts = {led.part.code: led.part for led in board.leds}
    for part in parts.values():
        rows.extend(_list_part(part))
    # Where a style holds its emitter is assumed unless the design says it
    styles = dict.fromkeys(led.mounting for led in board.leds if led.gap_mm is None)
    for style in styles:
        if style in ASSUMED_PLACES:
            rows.append(_used(style.replace("_", " "), *ASSUMED_PLACES[style]))
    rows.extend(_list_surroundings(design=design, scene=scene))
    return tuple(rows)
