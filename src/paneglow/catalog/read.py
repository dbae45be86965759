"""The catalogue of the package with the user's own parts over it, and look-up by exact code."""

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from importlib import resources
from pathlib import Path
from typing import Literal, TypeVar

from paneglow.catalog.files import CatalogFile, read_catalog_file, unknown_code
from paneglow.catalog.records import (
    Catalog,
    Colour,
    ColourLight,
    Electrical,
    Film,
    Flux,
    Laminate,
    Package,
    Part,
    Surface,
    Timing,
)
from paneglow.errors import CatalogError
from paneglow.units import Origin, Quantity, Record

AnyRecord = TypeVar("AnyRecord", bound=Record)
Shelves = dict[str, dict[str, Record]]  # by kind, then by code

FilmKind = Literal["mask", "legend", "diffuser"]
FILM_WORDS: dict[FilmKind, str] = {"mask": "solder mask", "legend": "legend ink", "diffuser": "diffuser"}
COSINE_SOURCE_SR = math.pi  # flux over on-axis intensity of a source that shines like a cosine (exact)
KINDS = ("part", "laminate", "film", "surface")
_SIZE = re.compile(r"\d{4}|\d+mm")  # of a package in its code: 1206, 5mm
OWN_FILES = ("laminates.toml", "films.toml", "surfaces.toml", "parts.toml")


def read_catalog(*, user_parts: Path | None = None) -> Catalog:
    """Read the starting catalogue and the user's additions.

    Parameters
    ----------
    user_parts : Path, optional
        Folder of the user's *.toml files, read in the order of their names; it may be missing. A record with a code
        that is already known replaces it, which is noted. A record may start from another with `like = "<code>"`.

    Returns
    -------
    Catalog
        Records by exact code; `notes` tells what was replaced.

    Raises
    ------
    CatalogError
        If a file is wrong; file, record and field are named, one line per problem.
    """
    with resources.as_file(resources.files("paneglow.catalog") / "data") as folder:
        shelves = _own_shelves(folder)
        usual = {
            colour.code: colour.electrical for colour in read_catalog_file(folder / "colours.toml", known={}).colour
        }
    notes: list[str] = []
    timings: list[Timing] = []
    for file in sorted(user_parts.glob("*.toml")) if user_parts is not None and user_parts.is_dir() else ():
        content = _read_user_file(file, shelves=shelves)
        notes += _put(shelves, content, file=file)
        timings += content.timing
    return Catalog(
        parts={code: _with_electrical(part, usual=usual) for code, part in _of_kind(shelves, "part", Part).items()},
        laminates=_of_kind(shelves, "laminate", Laminate),
        films=_of_kind(shelves, "film", Film),
        surfaces=_of_kind(shelves, "surface", Surface),
        timings=tuple(timings),
        notes=tuple(notes),
    )


def find_part(catalog: Catalog, code: str) -> Part:
    """The part of an exact order code; raises CatalogError with the nearest codes."""
    if code not in catalog.parts:
        close = _alike(code, parts=catalog.parts.values())
        raise CatalogError(
            f"part {code!r} is not in the catalogue or in parts/*.toml beside the design; {close};"
            " write down your own from its data sheet with paneglow parts new"
        )
    return catalog.parts[code]


def _alike(code: str, *, parts: Iterable[Part]) -> str:
    """Words for the known parts nearest to an order code: of the colour and size that it names, else by spelling."""
    words = set(re.split(r"[^a-z0-9]+", code.casefold()))
    asked = difflib.SequenceMatcher(b=code.casefold())

    def likeness(part: Part) -> float:
        asked.set_seq1(part.code.casefold())
        return asked.ratio()

    alike = sorted(parts, key=likeness, reverse=True)
    coloured = [part for part in alike if part.colour in words]
    sized = [part for part in coloured or alike if words & set(_SIZE.findall(part.code))]
    by = " and ".join(name for name, found in (("colour", coloured), ("size", sized)) if found) or "spelling"
    shown = ", ".join(f"{part.code} ({part.kind.replace('_', ' ')})" for part in (sized or coloured or alike)[:4])
    return f"nearest by {by} is {shown}"


def find_laminate(catalog: Catalog, code: str) -> Laminate:
    """The laminate of a code; raises CatalogError with the nearest codes."""
    return _find(catalog.laminates, code, what="laminate", where="the catalogue or in parts/*.toml beside the design")


def find_film(catalog: Catalog, code: str, *, kind: FilmKind) -> Film:
    """The mask, ink or diffuser of a code; raises CatalogError with the nearest codes, or where it is another kind."""
    film = catalog.films.get(code)
    if film is not None and film.kind != kind:
        alike = ", ".join(sorted(name for name, other in catalog.films.items() if other.kind == kind))
        raise CatalogError(f"{code!r} is a {FILM_WORDS[film.kind]}, where a {FILM_WORDS[kind]} is meant: {alike}")
    films = {name: other for name, other in catalog.films.items() if other.kind == kind}
    return _find(films, code, what=FILM_WORDS[kind], where="the catalogue or in parts/*.toml beside the design")


def find_surface(catalog: Catalog, code: str) -> Surface:
    """The opaque surface of a code; raises CatalogError with the nearest codes."""
    return _find(catalog.surfaces, code, what="surface", where="the catalogue or in parts/*.toml")


def _own_shelves(folder: Path) -> Shelves:
    packages = read_catalog_file(folder / "packages.toml", known={}).package
    colours = read_catalog_file(folder / "colours.toml", known={}).colour
    shelves: Shelves = {kind: {} for kind in KINDS}
    for part in (_build_part(package, colour) for package in packages for colour in colours):
        shelves["part"][part.code] = part
    for name in OWN_FILES:
        _put(shelves, read_catalog_file(folder / name, known=shelves), file=folder / name)
    return shelves


def _build_part(package: Package, colour: ColourLight) -> Part:
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


def _read_user_file(file: Path, *, shelves: Shelves) -> CatalogFile:
    content = read_catalog_file(file, known=shelves)
    if content.package or content.colour:
        raise CatalogError(
            f"{file}: [[package]] and [[colour]] belong to the starting catalogue; write [[part]] tables"
        )
    return content


def _put(shelves: Shelves, content: CatalogFile, *, file: Path) -> list[str]:
    """Put what a file holds on the shelves; tell what it replaced."""
    notes = []
    for kind in KINDS:
        for record in getattr(content, kind):
            if record.code in shelves[kind]:
                notes.append(f"{file.parent.name}/{file.name}: {kind} {record.code} replaces the one known before")
            shelves[kind][record.code] = record
    return notes


def _with_electrical(part: Part, *, usual: Mapping[Colour, Electrical | None]) -> Part:
    """A part that says nothing of itself as a load, with what is usual for its colour."""
    dice = tuple(
        die if die.electrical is not None else die.model_copy(update={"electrical": usual[die.colour]})
        for die in part.dice
    )
    return part.model_copy(update={"electrical": part.electrical or usual[part.colour], "dice": dice})


def _of_kind(shelves: Shelves, kind: str, record: type[AnyRecord]) -> dict[str, AnyRecord]:
    return {code: item for code, item in shelves[kind].items() if isinstance(item, record)}


def _find(shelf: Mapping[str, AnyRecord], code: str, *, what: str, where: str) -> AnyRecord:
    if code not in shelf:
        raise CatalogError(f"{what} {code!r} is not in {where}: {unknown_code(code, known=shelf)}")
    return shelf[code]
