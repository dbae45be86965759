"""What each field of a public record means, and its unit: read beside the field, never kept in a second place.

The meaning is, whichever is there: the description of a pydantic field, the comment on the field's line, the string
below the field, or its entry under `Attributes` in the record's docstring. Two of them at one field are a mistake. The
unit is the one in brackets in the meaning; else the one that the field's name ends with; else, for a number, 1.
"""

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

import paneglow
from paneglow import grid, units
from paneglow.units import Record

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
    ("_per_lm", "1/lm"),
    ("_bytes", "byte"),
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
    ("_v", "V"),
    ("_frac", "1"),
    ("_mib", "MiB"),
    ("_percent", "%"),
    ("_mg", "mg"),
    ("_c", "degree Celsius"),
    ("minutes", "min"),
    ("hours_per_day", "h"),
)
STATED_UNITS = {unit for _, unit in UNIT_SUFFIXES} | {"1/sr", "cd/m2 per lm"}
# What may follow a unit: which end of a range, a standard error, a role
ROLE_SUFFIX = re.compile(r"_(low|high|min|max|se)$")
NUMBER_WORDS = ("Decimal", "float", "Fraction", "Quantity", "Estimate", "Float", "int", "ndarray")
ATTRIBUTE = re.compile(r"^(\w+(?:, \w+)*) : .*$", re.MULTILINE)


@dataclasses.dataclass(frozen=True)
class FieldText:
    """One field of one record, as a page shows it."""

    name: str
    unit: str
    meaning: str


def public_records() -> Iterator[type]:
    """Every record that a folder of the package, or one of its two files of types, shows to others."""
    modules = [units, grid]
    modules += [importlib.import_module(f"paneglow.{info.name}") for info in pkgutil.iter_modules(paneglow.__path__)]
    for module in modules:
        for name in getattr(module, "__all__", vars(module)):
            value = getattr(module, name)
            is_ours = inspect.isclass(value) and value.__module__.startswith("paneglow.") and value is not Record
            if is_ours and (dataclasses.is_dataclass(value) or issubclass(value, Record)):
                yield value


def field_names(record: type) -> list[str]:
    """Names of the fields of one record, those of its bases included."""
    return list(getattr(record, "model_fields", ())) or [field.name for field in dataclasses.fields(record)]


def field_texts(record: type) -> list[FieldText]:
    """Name, unit and meaning of every field of one record; the meaning is empty where none is written."""
    rows = []
    for name in field_names(record):
        home = next(base for base in record.__mro__ if name in base.__dict__.get("__annotations__", {}))
        meaning = next(iter(_written(home).get(name, ())), "")
        rows.append(
            FieldText(name, unit_of(name, annotation=str(home.__annotations__[name]), meaning=meaning), meaning)
        )
    return rows


def unit_of(name: str, *, annotation: str, meaning: str = "") -> str:
    """Unit stated in the meaning, or by the name; 1 for other numbers, nothing for what is no number.

    Examples
    --------
    >>> unit_of("flux_lm_low", annotation="float"), unit_of("evenness", annotation="Estimate")
    ('lm', '1')
    >>> unit_of("xyz", annotation="ndarray", meaning="Tristimulus maps [cd/m2]")
    'cd/m2'
    """
    stated = next((words for words in re.findall(r"\[([^\][]+)\]", meaning) if words in STATED_UNITS), None)
    if stated is not None:
        return stated
    bare = ROLE_SUFFIX.sub("", name)
    suffixed = next((unit for suffix, unit in UNIT_SUFFIXES if f"_{bare}".endswith(suffix)), None)
    return suffixed or ("1" if any(word in annotation for word in NUMBER_WORDS) else "")


@cache
def _written(record: Any) -> dict[str, list[str]]:
    """Every meaning that is written beside a field, in the class that has the field itself."""
    source = textwrap.dedent(inspect.getsource(record))
    lines = source.splitlines()
    (node,) = ast.parse(source).body
    assert isinstance(node, ast.ClassDef)
    described = {name: field.description for name, field in getattr(record, "model_fields", {}).items()}
    attributes = _attributes(record)
    found = {}
    for statement, below in zip(node.body, [*node.body[1:], None], strict=True):
        if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
            name = statement.target.id
            comment = lines[(statement.end_lineno or 0) - 1].encode()[statement.end_col_offset :].decode()
            string = below.value.value if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant) else ""
            texts = (described.get(name), comment.lstrip(" #"), string, attributes.get(name))
            found[name] = [re.sub(r"\s+", " ", text).strip() for text in texts if text]
    return found


def _attributes(record: type) -> dict[str, str]:
    """Entries under `Attributes` of a record's docstring."""
    _, _, section = (inspect.getdoc(record) or "").partition("Attributes\n----------\n")
    section = re.split(r"\n\n?\w[\w ]*\n-+\n", section)[0]
    parts = ATTRIBUTE.split(section)[1:]
    return {name: text for names, text in zip(parts[::2], parts[1::2], strict=True) for name in names.split(", ")}


def faults_of(records: Iterable[type]) -> list[str]:
    """Fields with no meaning beside them, or with two."""
    faults = []
    for record in dict.fromkeys(records):
        for name in field_names(record):
            home = next(base for base in record.__mro__ if name in base.__dict__.get("__annotations__", {}))
            count = len(_written(home).get(name, ()))
            if count != 1:
                faults.append(f"{record.__module__}.{record.__name__}.{name} has {count or 'no'} meanings")
    return faults
