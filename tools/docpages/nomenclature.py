"""docs/nomenclature.md: every field of every public record, with its unit and its meaning.

The unit is read off the name's suffix. The meaning is, first found first taken: the field's description, the comment on
its line, the entry "Record.field" or "field" of docs/meanings.toml.
"""

import dataclasses
import importlib
import inspect
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import paneglow
from paneglow import grid, units
from paneglow.units import Record

MEANINGS = Path(__file__).parents[2] / "docs" / "meanings.toml"

# Longest suffix first: the first that fits is the unit
UNIT_SUFFIXES = (
    ("_xyz_per_lx", "cd/(m2 lx)"),
    ("_cd_m2_per_ma", "cd/(m2 mA)"),
    ("_cd_m2", "cd/m2"),
    ("_per_k_frac", "1/K"),
    ("_k_per_w", "K/W"),
    ("_v_per_k", "V/K"),
    ("_per_h", "1/h"),
    ("_per_mm", "1/mm"),
    ("_bytes", "byte"),
    ("_per_lm", "1/lm"),
    ("_mm2", "mm2"),
    ("_mcd", "mcd"),
    ("_mm", "mm"),
    ("_nm", "nm"),
    ("_deg", "deg"),
    ("_rad", "rad"),
    ("_mah", "mAh"),
    ("_ma", "mA"),
    ("_ohm", "ohm"),
    ("_mw", "mW"),
    ("_lm", "lm"),
    ("_lx", "lx"),
    ("_hz", "Hz"),
    ("_stops", "stops"),
    ("_s", "s"),
    ("_h", "h"),
    ("_c", "deg C"),
    ("_v", "V"),
    ("_frac", "1"),
    ("_mib", "MiB"),
    ("_percent", "%"),
    ("_mg", "mg"),
    ("_mw", "mW"),
    ("_c", "degree Celsius"),
)
# What may follow a unit: which end of a range, a standard error, a role
ROLE_SUFFIX = re.compile(r"_(low|high|min|max|se)$")
WHOLE_NAMES = {"seconds": "s", "minutes": "min", "minutes_each": "min", "hours_per_day": "h"}
NUMBER_WORDS = ("Decimal", "float", "Fraction", "Quantity", "Estimate", "Float", "int", "ndarray")

HEAD = """# Nomenclature

Written from the records by `make docs`; do not edit by hand. A field's unit stands in its name; a number without a unit
suffix is a pure number [1] or a count. `_frac` runs from 0 to 1, `_se` is one standard error of the value beside it.
Inside the package lengths are mm, angles rad; degrees appear in files and in what people read. Arrays are `[y, x]`,
y upward, row 0 lowest.
"""


def public_records() -> Iterator[tuple[str, type]]:
    """Folder and class of every public record, in the order of the folders' names."""
    for module in (units, grid):
        yield from _records_of(module.__name__.rpartition(".")[2], vars(module))
    for info in sorted(pkgutil.iter_modules(paneglow.__path__), key=lambda info: info.name):
        if info.ispkg:
            module = importlib.import_module(f"paneglow.{info.name}")
            yield from _records_of(info.name, {name: getattr(module, name) for name in getattr(module, "__all__", ())})


def _records_of(folder: str, names: dict[str, object]) -> Iterator[tuple[str, type]]:
    home = f"paneglow.{folder}"
    for _, value in sorted(names.items()):
        if inspect.isclass(value) and value.__module__.startswith(home) and value is not Record and _is_record(value):
            yield folder, value


def _is_record(value: type) -> bool:
    return dataclasses.is_dataclass(value) or issubclass(value, Record)


def field_rows(record: type) -> list[tuple[str, str, str]]:
    """Name, unit and meaning of every field of one record; the meaning is empty where none is written."""
    described = {name: field.description for name, field in getattr(record, "model_fields", {}).items()}
    names = list(described) or [field.name for field in dataclasses.fields(record)]
    comments = _line_comments(record)
    written = tomllib.loads(MEANINGS.read_text(encoding="utf-8"))
    of_record = written.get(record.__name__, {})
    return [
        (
            name,
            unit_of(name, annotation=str(record.__annotations__.get(name, ""))),
            described.get(name) or comments.get(name) or of_record.get(name) or written["any"].get(name, ""),
        )
        for name in names
    ]


def unit_of(name: str, *, annotation: str) -> str:
    """Unit in the suffix of a field name; 1 for other numbers, nothing for what is no number.

    Examples
    --------
    >>> unit_of("flux_lm_low", annotation="float"), unit_of("evenness", annotation="Estimate")
    ('lm', '1')
    """
    bare = ROLE_SUFFIX.sub("", name)
    if bare in WHOLE_NAMES:
        return WHOLE_NAMES[bare]
    suffixed = next((unit for suffix, unit in UNIT_SUFFIXES if bare.endswith(suffix)), None)
    return suffixed or ("1" if any(word in annotation for word in NUMBER_WORDS) else "")


def _line_comments(record: type) -> dict[str, str]:
    pattern = re.compile(r"^    (\w+): .*?  # (.+)$", re.MULTILINE)
    return dict(pattern.findall(inspect.getsource(record)))


def unexplained_fields() -> list[str]:
    """Fields of public records that no description, comment or entry of docs/meanings.toml explains."""
    return [
        f"{record.__name__}.{name}"
        for _, record in public_records()
        for name, _, meaning in field_rows(record)
        if not meaning
    ]


def unused_meanings() -> list[str]:
    """Entries of docs/meanings.toml that no public record takes its meaning from."""
    taken = {(name, meaning) for _, record in public_records() for name, _, meaning in field_rows(record)}
    written = tomllib.loads(MEANINGS.read_text(encoding="utf-8"))
    return [
        f"{table}.{name}"
        for table, rows in written.items()
        for name, meaning in rows.items()
        if (name, meaning) not in taken
    ]


def nomenclature_page() -> str:
    """Text of the page."""
    lines = [HEAD]
    folder_before = ""
    for folder, record in public_records():
        if folder != folder_before:
            lines.append(f"## {folder}\n")
            folder_before = folder
        summary = (inspect.getdoc(record) or "").partition("\n\n")[0].replace("\n", " ")
        rows = [f"| `{name}` | {unit} | {_cell(meaning)} |" for name, unit, meaning in field_rows(record)]
        lines += [f"### {record.__name__}\n", f"{summary}\n", "| field | unit | meaning |", "|---|---|---|", *rows, ""]
    return "\n".join(lines)


def _cell(meaning: str) -> str:
    sentence = meaning.strip().rstrip(".").replace("|", "\\|")
    return f"{sentence[:1].upper()}{sentence[1:]}."
