"""Many parts as one CSV table: a row per order code, a column per field, named by its path in the part's record."""

import csv
import datetime
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from paneglow.catalog.files import parse_catalog_data
from paneglow.catalog.records import Part
from paneglow.design import nearest, read_text
from paneglow.errors import CatalogError
from paneglow.units import Record

EXTRA_COLUMNS = ("like",)  # a row may start from a known part, like a [[part]] table
SEPARATORS = (",", ";", "\t")
ROWS_MOST = 10_000  # chosen: far above any catalogue; more is another kind of table
_PART_PLACE = re.compile(r"\[\[part\]\] (\d+)")
_TRUE_WORDS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def to_parts_csv(parts: Iterable[Part]) -> str:
    """Parts as CSV text, one row each; only columns that some part fills.

    A field inside a field is written with dots (`body.length_mm`), an item of a list with its number
    (`terminals.pads.1.name`); numbers of one list stand in one cell, parted by blanks.
    """
    rows = [dict(_cells(part.model_dump(exclude_none=True), model=Part)) for part in parts]
    columns = sorted({name for row in rows for name in row}, key=_column_order)
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def read_parts_csv(path: Path, *, known: Mapping[str, Part]) -> tuple[Part, ...]:
    """Read a table of parts.

    Parameters
    ----------
    path : Path
        CSV with comma, semicolon or tab; columns as `to_parts_csv` writes them, and `like`. Empty cells are absent.
    known : mapping
        Parts that a row may be `like`, by code.

    Raises
    ------
    CatalogError
        One line per problem, with file, row and field.
    """
    text = read_text(path, error=CatalogError).removeprefix("\ufeff")
    header, rows = _split(text, path=path)
    kinds = {name: _kind_of(name, path=path) for name in header}
    if len(rows) > ROWS_MOST:
        raise CatalogError(f"{path}: has {len(rows)} rows; allowed are {ROWS_MOST}")
    tables = [_table(dict(zip(header, row, strict=True)), kinds=kinds) for row in rows]
    try:
        content = parse_catalog_data({"part": tables}, path=path, known={"part": known})
    except CatalogError as problem:
        raise CatalogError(_PART_PLACE.sub(r"row \1", str(problem))) from None
    return content.part


def _split(text: str, *, path: Path) -> tuple[list[str], list[list[str]]]:
    """Header and rows, blank rows left out."""
    first = text.partition("\n")[0]
    separator = max(SEPARATORS, key=first.count)
    rows = [row for row in csv.reader(io.StringIO(text), delimiter=separator) if any(cell.strip() for cell in row)]
    if len(rows) < 2:
        raise CatalogError(f"{path}: holds no row of parts; a header line and a line per part are needed")
    header = [cell.strip() for cell in rows[0]]
    twice = next((name for name in header if header.count(name) > 1), None)
    if twice is not None:
        raise CatalogError(f"{path}: column {twice!r} stands twice")
    for number, row in enumerate(rows[1:], start=1):
        if len(row) != len(header):
            raise CatalogError(f"{path}: row {number} has {len(row)} cells; the header has {len(header)}")
    return header, rows[1:]


def _column_order(name: str) -> tuple[int, ...]:
    """Columns in the order of the records' fields, list items by number."""
    model: Any = Part
    order = []
    for step in name.split("."):
        inner, is_list = _record_of(model)
        order.append(int(step) if is_list else list(inner.model_fields).index(step))
        model = inner if is_list else inner.model_fields[step].annotation
    return tuple(order)


def _cells(value: Any, *, model: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Column and text of every leaf of a record's plain data."""
    kind = _leaf_kind(model)
    if kind is not None:
        yield path, _TO_TEXT[kind](value)
        return
    record, is_list = _record_of(model)
    if is_list:
        for number, item in enumerate(value, start=1):
            yield from _cells(item, model=record, path=f"{path}.{number}")
        return
    for name, inner in value.items():
        yield from _cells(inner, model=record.model_fields[name].annotation, path=f"{path}.{name}" if path else name)


LeafKind = Literal["text", "number", "integer", "flag", "date", "numbers"]
_TO_TEXT: dict[LeafKind, Callable[[Any], str]] = {
    "text": str,
    "number": lambda value: repr(float(value)),
    "integer": str,
    "flag": lambda value: "true" if value else "false",
    "date": lambda value: str(value.isoformat()),
    "numbers": lambda value: " ".join(repr(item) for item in value),
}
_LEAVES: dict[type, LeafKind] = {bool: "flag", int: "integer", float: "number", str: "text", datetime.date: "date"}


def _bare(annotation: Any) -> Any:
    """An annotation without Annotated and without None."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, UnionType):
            annotation = next(part for part in get_args(annotation) if part is not type(None))
        else:
            return annotation


def _leaf_kind(annotation: Any) -> LeafKind | None:
    """What kind of cell a field is; None for records and lists of other than numbers."""
    bare = _bare(annotation)
    if get_origin(bare) is Literal:
        return _LEAVES[type(get_args(bare)[0])]
    if get_origin(bare) is tuple:
        return "numbers" if _leaf_kind(get_args(bare)[0]) in ("number", "integer") else None
    return _LEAVES.get(bare)


def _record_of(annotation: Any) -> tuple[Any, bool]:
    """What stands inside a field that is no leaf, and whether it is a list of such."""
    bare = _bare(annotation)
    return (get_args(bare)[0], True) if get_origin(bare) is tuple else (bare, False)


def _kind_of(name: str, *, path: Path) -> LeafKind:
    """Kind of a column's cells; raises where the part's record has no such field."""
    if name in EXTRA_COLUMNS:
        return "text"
    model: Any = Part
    for step in name.split("."):
        inner, is_list = _record_of(model)
        is_field = not is_list and isinstance(inner, type) and issubclass(inner, Record) and step in inner.model_fields
        if is_list and step.isdecimal() and int(step) >= 1:
            model = inner
        elif is_field:
            model = inner.model_fields[step].annotation
        else:
            raise CatalogError(f"{path}: unknown column {name!r}; {_column_hint(name)}")
    kind = _leaf_kind(model)
    if kind is None:
        raise CatalogError(
            f"{path}: column {name!r} holds several fields; write one column per field, as `paneglow parts export` does"
        )
    return kind


def _column_hint(name: str) -> str:
    close = nearest(name.split(".", maxsplit=1)[0], Part.model_fields)
    return f"the nearest field is {close}" if close else f"fields are {', '.join(list(Part.model_fields)[:8])} and more"


def _table(row: Mapping[str, str], *, kinds: Mapping[str, LeafKind]) -> dict[str, Any]:
    """One row as the nested table that TOML would hold."""
    table: dict[str, Any] = {}
    for name, cell in row.items():
        if cell.strip():
            _put(table, name.split("."), _FROM_TEXT[kinds[name]](cell.strip()))
    lists: dict[str, Any] = _with_lists(table)
    return lists


def _put(table: dict[str, Any], steps: list[str], value: Any) -> None:
    for step in steps[:-1]:
        table = table.setdefault(step, {})
    table[steps[-1]] = value


def _with_lists(value: Any) -> Any:
    """Tables whose keys are all numbers, as lists in that order."""
    if not isinstance(value, dict):
        return value
    inner = {key: _with_lists(item) for key, item in value.items()}
    if inner and all(key.isdecimal() for key in inner):
        return [inner[key] for key in sorted(inner, key=int)]
    return inner


def _number(cell: str) -> float | str:
    """A number, with a point or a comma; text that is none stays text, so that the record names the field."""
    try:
        return float(cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell)
    except ValueError:
        return cell


def _integer(cell: str) -> int | float | str:
    number = _number(cell)
    return int(number) if isinstance(number, float) and number.is_integer() else number


def _date(cell: str) -> datetime.date | str:
    try:
        return datetime.date.fromisoformat(cell)
    except ValueError:
        return cell


def _numbers(cell: str) -> list[int | float | str]:
    return [_integer(word) if word.lstrip("+-").isdecimal() else _number(word) for word in cell.split()]


_FROM_TEXT: dict[LeafKind, Callable[[str], Any]] = {
    "text": str,
    "number": _number,
    "integer": _integer,
    "flag": lambda cell: _TRUE_WORDS.get(cell.lower(), cell),
    "date": _date,
    "numbers": _numbers,
}
