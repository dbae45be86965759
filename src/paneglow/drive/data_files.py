"""The files of figures in drive/data: read with their sources spelt out, and taken at an end of their ranges."""

from collections.abc import Mapping
from importlib import resources
from typing import Any, Literal, TypeVar

from paneglow.design import parse_record, parse_toml
from paneglow.errors import CatalogError
from paneglow.units import Origin, Quantity, Record

End = Literal["nominal", "low", "high"]
AnyRecord = TypeVar("AnyRecord", bound=Record)


def read_data(name: str, *, model: type[AnyRecord]) -> AnyRecord:
    """One file of drive/data as a record.

    Raises
    ------
    CatalogError
        If anything in it is wrong; all problems are told, one line each.
    """
    with resources.as_file(resources.files("paneglow.drive") / "data" / name) as path:
        data = parse_toml(path, error=CatalogError)
        texts = data.pop("sources", {})
        content, problems = parse_record(model, _with_sources(data, texts=texts))
    if content is None:
        raise CatalogError("\n".join(f"{path}: {problem}" for problem in problems))
    return content


def quantity_at(quantity: Quantity, *, end: End) -> float:
    """The value, or an end of its range."""
    return {"nominal": quantity.value, "low": quantity.lowest, "high": quantity.highest}[end]


def other_end(end: End) -> End:
    """The opposite end, for quantities of which more is worse."""
    ends: dict[End, End] = {"nominal": "nominal", "low": "high", "high": "low"}
    return ends[end]


def quantity_origins(record: Record) -> tuple[tuple[str, Origin], ...]:
    """Name and source of every quantity of a record, and its origin."""
    values = ((name, getattr(record, name)) for name in type(record).model_fields)
    return tuple((f"{name}: {value.source}", value.origin) for name, value in values if isinstance(value, Quantity))


def _with_sources(value: Any, *, texts: Mapping[str, str]) -> Any:
    """Every `source` word that stands in [sources], spelt out."""
    if isinstance(value, Mapping):
        return {
            key: texts.get(inner, inner) if key == "source" else _with_sources(inner, texts=texts)
            for key, inner in value.items()
        }
    return [_with_sources(inner, texts=texts) for inner in value] if isinstance(value, list) else value
