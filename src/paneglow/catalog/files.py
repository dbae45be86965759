"""One catalogue file to records: shared source texts, records that start from another, problems with their place."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from paneglow.catalog.photometric import read_photometric
from paneglow.catalog.records import (
    LIGHT_OF_DIE,
    ColourLight,
    EmissionTable,
    Film,
    Laminate,
    Package,
    Part,
    Surface,
    Timing,
)
from paneglow.design import nearest, parse_record, parse_toml
from paneglow.errors import CatalogError
from paneglow.units import Record

# Fields of a part of which one excludes the other: naming one drops what `like` brought of the other
EXCLUSIVE_FIELDS = {
    "flux_lm": "intensity_mcd",
    "intensity_mcd": "flux_lm",
    "half_angle_deg": "emission",
    "emission": "half_angle_deg",
}
# Facts of one exact order code: two codes of one series may carry the same mark and mean the opposite by it
NEVER_TAKEN_OVER = frozenset({"mark", "tape"})
# Tables of a part of which some lines may be given anew while the rest stays as `like` brought it
TABLES = ("electrical",)
NEEDS_RANGE = "is assumed and needs its range"


class CatalogFile(Record):
    """What one file holds, in the order it was written."""

    part: tuple[Part, ...] = ()
    laminate: tuple[Laminate, ...] = ()
    film: tuple[Film, ...] = ()
    surface: tuple[Surface, ...] = ()
    package: tuple[Package, ...] = ()
    colour: tuple[ColourLight, ...] = ()
    timing: tuple[Timing, ...] = ()


CODED = ("part", "laminate", "film", "surface", "package", "colour")  # what is named by a code of its own


def read_catalog_file(path: Path, *, known: Mapping[str, Mapping[str, Record]]) -> CatalogFile:
    """Read one file of [[part]], [[laminate]], [[film]] or [[surface]] tables.

    Parameters
    ----------
    path : Path
        A TOML file. A table `[sources]` may give short words for texts used as `source` below it.
    known : mapping
        Records read before, by kind ("part", ...) and code: what a record may be `like`.

    Raises
    ------
    CatalogError
        If anything in it is wrong; all problems are reported, one line each.
    """
    return parse_catalog_data(parse_toml(path, error=CatalogError), path=path, known=known)


def parse_catalog_data(data: dict[str, Any], *, path: Path, known: Mapping[str, Mapping[str, Record]]) -> CatalogFile:
    """Records in plain data as a catalogue file holds them.

    Parameters
    ----------
    data : dict
        Tables as TOML gives them.
    path : Path
        Named in problems; files that `data` names are read beside it.
    known : mapping
        Records read before, by kind and code: what a record may be `like`.

    Raises
    ------
    CatalogError
        As `read_catalog_file`.
    """
    data = _with_sources(data, sources=_sources(data.pop("sources", {}), path=path))
    problems: list[str] = []
    if isinstance(data.get("part"), list):
        data["part"] = [_with_lobe(table, folder=path.parent) for table in data["part"]]
    for kind in ("part", "laminate", "film", "surface"):
        if isinstance(data.get(kind), list):
            data[kind] = _expanded(data[kind], kind=kind, known=known.get(kind, {}), problems=problems)
    _raise_any(problems, path=path)  # what lacks its base would only earn a line for every field it hoped for
    content, problems = parse_record(CatalogFile, data)
    if content is None:
        content = CatalogFile()
    _raise_any([*problems, *_missing_ranges(content), *_twice(content)], path=path)
    return content


def _with_lobe(table: Any, *, folder: Path) -> Any:
    """A part's table whose `emission_file` has become its emission."""
    if not isinstance(table, Mapping) or not isinstance(table.get("emission_file"), str):
        return table
    name = table["emission_file"]
    lobe = read_photometric(folder / name)
    emission = {
        "angle_deg": list(lobe.angle_deg),
        "relative_intensity": list(lobe.relative_intensity),
        "origin": "sourced",
        "source": f"photometric file {name}, averaged about the axis",
    }
    return {key: value for key, value in table.items() if key != "emission_file"} | {"emission": emission}


def _raise_any(problems: list[str], *, path: Path) -> None:
    if problems:
        raise CatalogError("\n".join(f"{path}: {problem}" for problem in problems))


def _sources(given: Any, *, path: Path) -> dict[str, str]:
    if not isinstance(given, Mapping) or not all(isinstance(text, str) for text in given.values()):
        raise CatalogError(f"{path}: [sources] must hold texts in quotes")
    return dict(given)


def _with_sources(value: Any, *, sources: Mapping[str, str]) -> Any:
    """Every `source` word that stands in [sources], spelt out."""
    if isinstance(value, Mapping):
        return {
            key: sources.get(inner, inner)
            if key == "source" and isinstance(inner, str)
            else _with_sources(inner, sources=sources)
            for key, inner in value.items()
        }
    return [_with_sources(inner, sources=sources) for inner in value] if isinstance(value, list) else value


def _expanded(tables: list[Any], *, kind: str, known: Mapping[str, Record], problems: list[str]) -> list[Any]:
    """Tables with everything filled in that they take over from the record they are `like`."""
    bases: dict[str, dict[str, Any]] = {code: record.model_dump(exclude_none=True) for code, record in known.items()}
    whole = []
    for number, table in enumerate(tables, start=1):
        full = table
        if isinstance(table, Mapping):
            base = bases.get(str(table.get("like")))
            if "like" in table and base is None:
                problems.append(f"[[{kind}]] {number}, like: {unknown_code(str(table['like']), known=bases)}")
            full = _merged(base or {}, {key: value for key, value in table.items() if key != "like"})
            if isinstance(full.get("dice"), list | tuple):
                place = f"[[{kind}]] {number}, dice"
                full["dice"] = [_die(die, bases=bases, place=place, problems=problems) for die in full["dice"]]
            bases[str(full.get("code"))] = full
        whole.append(full)
    return whole


def _die(die: Any, *, bases: Mapping[str, Mapping[str, Any]], place: str, problems: list[str]) -> Any:
    """A die with the light of the part that it is `like`."""
    if not isinstance(die, Mapping) or "like" not in die:
        return die
    base = bases.get(str(die["like"]))
    if base is None:
        problems.append(f"{place}, like: {unknown_code(str(die['like']), known=bases)}")
    light = {name: (base or {})[name] for name in LIGHT_OF_DIE if name in (base or {})}
    return _merged(light, {key: value for key, value in die.items() if key != "like"})


def _merged(base: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    dropped = {EXCLUSIVE_FIELDS[key] for key in changes if key in EXCLUSIVE_FIELDS} | NEVER_TAKEN_OVER
    kept = {key: value for key, value in base.items() if key not in dropped}
    return kept | {key: _laid_over(kept.get(key), value) if key in TABLES else value for key, value in changes.items()}


def _laid_over(base: Any, changes: Any) -> Any:
    return {**base, **changes} if isinstance(base, Mapping) and isinstance(changes, Mapping) else changes


def _twice(content: CatalogFile) -> list[str]:
    problems = []
    for kind in CODED:
        codes = [record.code for record in getattr(content, kind)]
        problems += [
            f"[[{kind}]] {number}: code {code!r} already stands above"
            for number, code in enumerate(codes, start=1)
            if code in codes[: number - 1]
        ]
    return problems


def _missing_ranges(content: CatalogFile) -> Iterator[str]:
    """Places where something is assumed without a range, one line each: what keeps predictions honest.

    Quantities refuse this themselves; here stand the tables and bodies, whose range is a factor, shift or tolerance.
    """
    for number, part in enumerate(content.part, start=1):
        if part.body.origin == "assumed" and part.body.tolerance_mm is None:
            yield f"[[part]] {number}, body: {NEEDS_RANGE}: tolerance_mm"
        if part.spectrum.origin == "assumed" and not part.spectrum.shift_nm:
            yield f"[[part]] {number}, spectrum: {NEEDS_RANGE}: shift_nm"
        if part.emission is not None and _without_range(part.emission):
            yield f"[[part]] {number}, emission: {NEEDS_RANGE}: low_factor and high_factor"
    for number, film in enumerate(content.film, start=1):
        for name in ("transmittance", "reflectance") if film.origin == "assumed" else ():
            low, high = f"{name}_low_factor", f"{name}_high_factor"
            if getattr(film, low) == getattr(film, high):
                yield f"[[film]] {number}: {NEEDS_RANGE}: {low} and {high}"
    for number, surface in enumerate(content.surface, start=1):
        if _without_range(surface):
            yield f"[[surface]] {number}: {NEEDS_RANGE}: low_factor and high_factor"


def _without_range(table: EmissionTable | Surface) -> bool:
    return table.origin == "assumed" and table.low_factor == table.high_factor


def unknown_code(code: str, *, known: Mapping[str, Any]) -> str:
    """Words for a code that is not there, with the nearest ones that are."""
    close = nearest(code, known)
    alike = sorted(word for word in known if close and word.rsplit("-", 1)[0] == close.rsplit("-", 1)[0])[:8]
    remedy = f"nearest is {close}" if close else f"there are {', '.join(sorted(known)[:12]) or 'none'}"
    return f"there is no {code!r}; {remedy}" + (
        f" (also {', '.join(w for w in alike if w != close)})" if len(alike) > 1 else ""
    )
