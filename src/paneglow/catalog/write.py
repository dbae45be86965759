"""Parts to the text of a parts/*.toml file that reads back as the same parts."""

from collections.abc import Iterable, Mapping
from typing import Any

import tomlkit
from tomlkit.items import AoT, InlineTable, Item, Table

from paneglow.catalog.records import Part

LINE_LENGTH = 100  # chosen: longer tables are broken into [part.name]


def to_parts_toml(parts: Iterable[Part], *, comment: str = "") -> str:
    """Text of a file with one [[part]] per part; every field that is not at its default.

    Parameters
    ----------
    parts : iterable of Part
        In the order they are written.
    comment : str
        Lines for the head of the file, without the #.
    """
    document = tomlkit.document()
    for line in comment.splitlines():
        document.add(tomlkit.comment(line))
    tables: AoT = tomlkit.aot()
    for part in parts:
        tables.append(_table(part.model_dump(exclude_none=True, exclude_defaults=True)))
    document.append("part", tables)
    return tomlkit.dumps(document)


def _table(fields: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    for name, value in fields.items():
        table.append(name, _item(value))
    return table


def _item(value: Any) -> Item:
    """A value as TOML: short tables in one line, long ones and lists of tables spread out."""
    if isinstance(value, Mapping):
        inline = _inline(value)
        return inline if len(inline.as_string()) <= LINE_LENGTH and _is_flat(value) else _table(value)
    if isinstance(value, tuple | list):
        array = tomlkit.array()
        for one in value:
            array.append(_inline(one) if isinstance(one, Mapping) else one)
        return array.multiline(any(isinstance(one, Mapping) for one in value))
    item: Item = tomlkit.item(value)
    return item


def _inline(value: Mapping[str, Any]) -> InlineTable:
    table = tomlkit.inline_table()
    for name, inner in value.items():
        table.append(name, _inline(inner) if isinstance(inner, Mapping) else _item(inner))
    return table


def _is_flat(value: Mapping[str, Any]) -> bool:
    return not any(isinstance(inner, Mapping) for inner in value.values())
