"""No assumed value without a range: the rule that keeps predictions honest."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from paneglow.catalog.records import EmissionTable, Film, Part

if TYPE_CHECKING:
    from paneglow.catalog.files import CatalogFile

ADVICE = "is assumed and needs its range"


def missing_ranges(content: "CatalogFile") -> Iterator[str]:
    """Places where something is assumed without a range, one line each.

    Quantities refuse this themselves; here stand the tables and bodies, whose range is a factor, shift or tolerance.
    """
    for number, part in enumerate(content.part, start=1):
        yield from (f"[[part]] {number}, {problem}" for problem in _of_part(part))
    for number, film in enumerate(content.film, start=1):
        yield from (f"[[film]] {number}: {problem}" for problem in _of_film(film))
    for number, surface in enumerate(content.surface, start=1):
        if surface.origin == "assumed" and surface.low_factor == surface.high_factor:
            yield f"[[surface]] {number}: {ADVICE}: low_factor and high_factor"


def _of_part(part: Part) -> Iterator[str]:
    if part.body.origin == "assumed" and part.body.tolerance_mm is None:
        yield f"body: {ADVICE}: tolerance_mm"
    if part.spectrum.origin == "assumed" and not part.spectrum.shift_nm:
        yield f"spectrum: {ADVICE}: shift_nm"
    if part.emission is not None and _is_open(part.emission):
        yield f"emission: {ADVICE}: low_factor and high_factor"


def _is_open(emission: EmissionTable) -> bool:
    return emission.origin == "assumed" and emission.low_factor == emission.high_factor


def _of_film(film: Film) -> Iterator[str]:
    if film.origin != "assumed":
        return
    if film.transmittance_low_factor == film.transmittance_high_factor:
        yield f"{ADVICE}: transmittance_low_factor and transmittance_high_factor"
    if film.reflectance_low_factor == film.reflectance_high_factor:
        yield f"{ADVICE}: reflectance_low_factor and reflectance_high_factor"
