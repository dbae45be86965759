"""Every catalogue value a result rests on, each with its range, unit and origin."""

from collections.abc import Iterator, Mapping, Sequence

from paneglow.board import Board
from paneglow.catalog import Catalog, Film, Laminate, Part, Surface
from paneglow.design import Design
from paneglow.results.records import UsedValue
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


def _exact(
    item: str, field: str, value: float, *, origin: Origin, source: str, at_nm: float | None = None
) -> UsedValue:
    words, unit = split_unit(field)
    return UsedValue(
        item=item,
        quantity=words,
        at_nm=at_nm,
        value=value,
        low=value,
        high=value,
        unit=unit,
        origin=origin,
        source=source,
    )


def _list_quantities(item: str, record: Part | Laminate | Film) -> Iterator[UsedValue]:
    for field in type(record).model_fields:
        value = getattr(record, field)
        if isinstance(value, Quantity):
            yield _used(item, field, value)


def _list_part(part: Part) -> Iterator[UsedValue]:
    yield from _list_quantities(part.code, part)
    body = part.body
    for field in ("length_mm", "width_mm", "height_mm"):
        yield _exact(part.code, f"body_{field}", getattr(body, field), origin=body.origin, source=body.source)
    light = part.spectrum
    for peak in light.peaks:
        yield _exact(part.code, "peak_wavelength_nm", peak.peak_nm, origin=light.origin, source=light.source)
        yield _exact(part.code, "width_of_peak_nm", peak.fwhm_nm, origin=light.origin, source=light.source)
    if light.table is not None:
        for at_nm, share in zip(light.table.wavelength_nm, light.table.relative_power, strict=True):
            yield _exact(part.code, "relative_power", share, origin=light.origin, source=light.source, at_nm=at_nm)


def _list_laminate(laminate: Laminate) -> Iterator[UsedValue]:
    yield from _list_quantities(laminate.code, laminate)
    table = laminate.absorption
    for at_nm, absorb in zip(table.wavelength_nm, table.absorb_per_mm, strict=True):
        yield UsedValue(
            item=laminate.code,
            quantity="absorption",
            at_nm=at_nm,
            value=absorb,
            low=absorb * table.low_factor,
            high=absorb * table.high_factor,
            unit="1/mm",
            origin=table.origin,
            source=table.source,
        )


def _list_spectral(
    item: Film | Surface, columns: Mapping[str, Sequence[float]], wavelength_nm: Sequence[float]
) -> Iterator[UsedValue]:
    for name, values in columns.items():
        for at_nm, value in zip(wavelength_nm, values, strict=True):
            yield _exact(item.code, name, value, origin=item.origin, source=item.source, at_nm=at_nm)


def _list_film(film: Film) -> Iterator[UsedValue]:
    yield from _list_quantities(film.code, film)
    columns = {"transmittance": film.transmittance, "reflectance": film.reflectance}
    yield from _list_spectral(film, columns, film.wavelength_nm)


def _film_names(design: Design, board: Board) -> dict[str, None]:
    diffusers = (led.diffuser.removeprefix("film:") for led in board.leds)
    return dict.fromkeys((design.board.mask, design.board.legend, *diffusers))


def build_quantities(*, design: Design, board: Board, catalog: Catalog) -> tuple[UsedValue, ...]:
    """List every catalogue value the evaluation used: laminate, coats, surfaces, then the parts on the board.

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
    for surface in catalog.surfaces.values():
        rows.extend(_list_spectral(surface, {"reflectance": surface.reflectance}, surface.wavelength_nm))
    parts = {led.part.code: led.part for led in board.leds}
    for part in parts.values():
        rows.extend(_list_part(part))
    return tuple(rows)
