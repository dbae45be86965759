"""A Design to design.toml; comments and order of an existing file stay."""

import contextlib
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item, Table
from tomlkit.toml_document import TOMLDocument

from paneglow.design.read import consistency_problems, design_file
from paneglow.design.records import Design
from paneglow.design.toml import parse_toml_text, read_text
from paneglow.errors import DesignError

Container = TOMLDocument | Table


def write_design(design: Design, path: Path | str) -> Path:
    """Write a design so that `read_design` gives the same one back.

    Parameters
    ----------
    design : Design
        What to write; fields at their default are left out unless the file already names them.
    path : Path or str
        File to write, or a folder that gets a design.toml. An existing file keeps its comments and the order of its
        keys; it is replaced in one step, so a stopped program never leaves half a file.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    DesignError
        If the design contradicts itself, the existing file is not TOML, or the folder cannot be written to.
    """
    file = design_file(path)
    problems = consistency_problems(design.model_dump())
    if problems:
        raise DesignError("\n".join(f"{file}: {problem}" for problem in problems))
    document = _document_at(file)
    _fill(document, wanted=_plain(design.model_dump(exclude_none=True)), minimal=_minimal(design))
    _replace_file(file, text=tomlkit.dumps(document))
    return file


def _document_at(file: Path) -> TOMLDocument:
    if not file.exists():
        return tomlkit.document()
    text = read_text(file, error=DesignError)
    parse_toml_text(text, path=file, error=DesignError)
    return tomlkit.parse(text)


def _minimal(design: Design) -> dict[str, Any]:
    """What must be written: everything that is not at its default."""
    return dict(_plain(design.model_dump(exclude_defaults=True, exclude_none=True)))


def _plain(value: Any) -> Any:
    """Tuples as lists, as TOML has them."""
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, tuple | list) else value


def _fill(container: Container, *, wanted: Mapping[str, Any], minimal: Mapping[str, Any]) -> None:
    """Make a table say what is wanted: change what differs, add what must stand there, drop what is gone."""
    for key in [key for key in container if key not in wanted]:
        container.remove(key)
    # Plain values first: in TOML a key after a sub-table would belong to that sub-table
    by_depth = sorted(wanted, key=lambda key: _is_tables(wanted[key]) + 2 * isinstance(wanted[key], Mapping))
    for key in by_depth:
        if key in container:
            _change(container, key, wanted=wanted[key], minimal=minimal.get(key, {}))
        elif key in minimal:
            container[key] = _item(minimal[key])


def _change(container: Container, key: str, *, wanted: Any, minimal: Any) -> None:
    present = container[key]
    if isinstance(wanted, Mapping) and isinstance(present, Table):
        _fill(present, wanted=wanted, minimal=minimal)
    elif _is_tables(wanted) and isinstance(present, AoT):
        _change_tables(container, key, wanted=wanted, minimal=minimal)
    elif _bare(present) != wanted:
        container[key] = _item(wanted)


def _change_tables(
    container: Container, key: str, *, wanted: Sequence[Mapping[str, Any]], minimal: Sequence[Mapping[str, Any]]
) -> None:
    present = container[key]
    if len(present) != len(wanted):
        container[key] = _matched(present, wanted=wanted, minimal=minimal)
        return
    for table, full, short in zip(present.body, wanted, minimal, strict=True):
        _fill(table, wanted=full, minimal=short)


def _bare(value: Any) -> Any:
    """The plain value of an item of the document, which may be plain already."""
    return value.unwrap() if isinstance(value, Item) else value


def _matched(present: AoT, *, wanted: Sequence[Mapping[str, Any]], minimal: Sequence[Mapping[str, Any]]) -> AoT:
    """The array of tables at its new length; a table that stays as it was keeps the comments on its lines."""
    left = list(present.body)
    unchanged = [_take(left, table) for table in minimal]
    tables = tomlkit.aot()
    for kept, full, short in zip(unchanged, wanted, minimal, strict=True):
        table = kept if kept is not None else left.pop(0) if left else tomlkit.table()
        _fill(table, wanted=full, minimal=short)
        tables.append(table)
    return tables


def _take(tables: list[Table], wanted: Mapping[str, Any]) -> Table | None:
    """Remove and return the first table that already says what is wanted."""
    for index, table in enumerate(tables):
        if table.unwrap() == wanted:
            return tables.pop(index)
    return None


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def _item(value: Any) -> Any:
    if _is_tables(value):
        tables = tomlkit.aot()
        for inner in value:
            tables.append(_item(inner))
        return tables
    if isinstance(value, Mapping):
        table = tomlkit.table()
        _fill(table, wanted=value, minimal=value)
        return table
    return tomlkit.item(value)


def _replace_file(file: Path, *, text: str) -> None:
    """Write beside the file, then move over it: readers see the old text or the new one, nothing between."""
    name = ""
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", newline="\n", dir=file.parent, prefix=f".{file.name}.", delete=False
        ) as temporary:
            name = temporary.name
            temporary.write(text)
            temporary.flush()
            os.fsync(temporary.fileno())
        os.chmod(name, file.stat().st_mode & 0o777 if file.exists() else 0o644)
        os.replace(name, file)
    except OSError as reason:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise DesignError(f"{file}: cannot be written: {reason.strerror}") from None
