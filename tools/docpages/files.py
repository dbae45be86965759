"""What stands in the files a person writes or reads: docs/design-file.md, parts-file.md, cost-file.md, results.md."""

import re
import types
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, Any, Union, get_args, get_origin

from docpages.fields import field_texts
from paneglow.catalog import Film, Laminate, Part, Surface, Timing
from paneglow.cost import CostFile
from paneglow.design import Design
from paneglow.results import (
    CheckResults,
    Choices,
    CostResults,
    PlacementResults,
    Results,
    StartResults,
    SurveyResults,
    WrittenResults,
)
from paneglow.units import Record

Roots = Mapping[str, type[Record]]

LIMITS = (
    ("exclusiveMinimum", "above {}"),
    ("minimum", "at least {}"),
    ("exclusiveMaximum", "below {}"),
    ("maximum", "at most {}"),
)
PLAIN = {"string": "text", "integer": "whole number", "number": "number", "boolean": "true or false", "null": "null"}
FORMATS = {"date": "date", "path": "path"}

COMMON = """
Written from the records by `make docs`; do not edit by hand. A field's unit is stated or stands in its name; a number
with neither is a pure number or a count, and `_frac` runs from 0 to 1. Places are seen from the front of the board,
x to the right and y up [mm].
"""
DESIGN = f"""# The design file, `design.toml`
{COMMON}
`[name]` is a table, `[[name]]` one of several. A field with a dash under *if left out* must be there.
"""
PARTS = f"""# Files of your own parts, `parts/*.toml`
{COMMON}
They lie in the folder `parts` beside the design. `like = "<code>"` starts a record from another one, `[sources]` gives
short words for texts used as `source` in the same file; [parts.md](parts.md) shows both, and how marks are read. A
field with a dash under *if left out* must be there, or come from `like`.
"""
COST = f"""# The cost file, `cost.toml`
{COMMON}
It lies beside the design; [cost.md](cost.md) shows a whole one and how it is counted. An amount of money is in the
currency of its table; amounts, percentages and minutes may be a number or `{{ value = 18, low = 15, high = 24 }}`.
"""
RESULTS = f"""# Results

What `paneglow light`, `check` and `cost` write as JSON; [results.schema.json](results.schema.json) is the schema of
`results.json`.
{COMMON}
`windows[]` is one of a list, `null` stands where a value is not known or not asked for.
"""


PART_TABLES = {"part[]": Part, "laminate[]": Laminate, "film[]": Film, "surface[]": Surface, "timing[]": Timing}
RESULT_FILES = {"results.json": Results, "windows --json": SurveyResults, "check --json": CheckResults,
                "cost --json": CostResults, "parts --json": Choices, "start --json": StartResults,
                "placement --json": PlacementResults, "demo --json": WrittenResults}  # fmt: skip


def design_page() -> str:
    """Text of the page."""
    return _page(DESIGN, {"": Design}, written=True)


def parts_page() -> str:
    """Text of the page."""
    return _page(PARTS, PART_TABLES, written=True)


def cost_page() -> str:
    """Text of the page."""
    return _page(COST, {"": CostFile}, written=True)


def results_page() -> str:
    """Text of the page; what a design or a cost file holds is explained on their own pages."""
    return _page(RESULTS, RESULT_FILES, elsewhere={"design-file.md": {"": Design}, "cost-file.md": {"": CostFile}})


def page_records() -> list[type[Record]]:
    """Every record that a page shows."""
    pages: list[Roots] = [{"": Design}, PART_TABLES, {"": CostFile}, RESULT_FILES]
    return list(dict.fromkeys(record for roots in pages for _, record in _sections(roots)))


def records_in(annotation: Any) -> Iterator[type[Record]]:
    """Every record inside an annotation."""
    if isinstance(annotation, type) and get_origin(annotation) is None:
        if issubclass(annotation, Record):
            yield annotation
    else:
        for part in get_args(annotation):
            yield from records_in(part)


def _is_many(annotation: Any) -> bool:
    if get_origin(annotation) in (Union, types.UnionType, Annotated):
        return any(_is_many(part) for part in get_args(annotation))
    return get_origin(annotation) in (tuple, list)


def _sections(roots: Roots, *, without: Iterable[type[Record]] = ()) -> list[tuple[str, type[Record]]]:
    """Place and record of every table, in reading order; those that stand at many places come last, by their names."""
    places: dict[type[Record], list[str]] = {}

    def walk(place: str, record: type[Record]) -> None:
        places.setdefault(record, []).append(place)
        if len(places[record]) > 1:
            return
        within = "" if place in roots and not place.endswith("[]") else f"{place}."
        for name, field in record.model_fields.items():
            for inner in records_in(field.annotation):
                if inner not in without:
                    walk(f"{within}{name}{'[]' if _is_many(field.annotation) else ''}", inner)

    for place, root in roots.items():
        walk(place, root)
    tops = set(roots.values())
    alone = [(at[0], record) for record, at in places.items() if len(at) == 1 or record in tops]
    shared = sorted((record.__name__, record) for record, at in places.items() if len(at) > 1 and record not in tops)
    return alone + shared


def tables_of(root: type[Record]) -> list[tuple[str, type[Record]]]:
    """Heading and record of every table of a file that a person writes, in reading order."""
    return [(_title(place, written=True), record) for place, record in _sections({"": root})]


def _page(
    head: str, roots: Roots, *, written: bool = False, elsewhere: Mapping[str, Roots] = MappingProxyType({})
) -> str:
    shown_elsewhere = {record: (page, place) for page, of in elsewhere.items() for place, record in _sections(of)}
    sections = _sections(roots, without=shown_elsewhere)
    titles = {record: ("", _title(place, written=written)) for place, record in sections}
    titles |= {record: (page, _title(place, written=True)) for record, (page, place) in shown_elsewhere.items()}
    lines = [head]
    for _, record in sections:
        title = titles[record][1]
        lines += [f"## {title}\n"] if title else []
        lines += [re.sub(r"\s+", " ", (record.__doc__ or "").strip().partition("\n\n")[0]) + "\n"]
        columns = ("field", "what", "if left out", "meaning") if written else ("field", "what", "meaning")
        lines += [f"| {' | '.join(columns)} |", "|---" * len(columns) + "|"]
        schema = record.model_json_schema()
        for row in field_texts(record):
            held = records_in(record.model_fields[row.name].annotation)
            links = {inner.__name__: _link(*titles[inner]) for inner in held}
            unit = f" [{row.unit}]" if row.unit not in ("", "1") and f"[{row.unit}]" not in row.meaning else ""
            cells = [
                f"`{row.name}`",
                allowed_words(schema["properties"][row.name], links=links) + unit,
                _cell(row.meaning),
            ]
            cells[2:2] = [default_words(record, row.name)] if written else []
            lines.append(f"| {' | '.join(cells)} |")
        lines.append("")
    return "\n".join(lines)


def _title(place: str, *, written: bool) -> str:
    """Heading of a table: as it is written in TOML, or as a path into JSON."""
    if place[:1].isupper():
        return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", place).capitalize()
    if not written or not place:
        return place
    many = place.endswith("[]")
    inner = place.replace("[]", "")
    return f"[[{inner}]]" if many else f"[{inner}]"


def _anchor(title: str) -> str:
    return re.sub(r"[^\w\- ]", "", title).strip().lower().replace(" ", "-")


def _link(page: str, title: str) -> str:
    anchor = f"#{_anchor(title)}" if title else ""
    words = re.sub(r"([\[\]|])", r"\\\1", title or page.replace("-file.md", ".toml"))
    return f"[{words}]({page}{anchor})"


def allowed_words(schema: dict[str, Any], *, links: Mapping[str, str] = MappingProxyType({})) -> str:  # noqa: PLR0911 - one answer per kind
    """What may stand in a field, in words, from its JSON schema."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return next((link for record, link in links.items() if name.endswith(record)), name)
    if "anyOf" in schema or "oneOf" in schema:
        kinds = [allowed_words(kind, links=links) for kind in schema.get("anyOf", schema.get("oneOf"))]
        return " or ".join(dict.fromkeys(kind for kind in kinds if kind != "null"))
    if "const" in schema:
        return f"`{schema['const']}`"
    if "enum" in schema:
        return ", ".join(f"`{word}`" for word in schema["enum"])
    kind = schema.get("type", "anything")
    if kind == "array":
        if "prefixItems" in schema:
            inner = [allowed_words(item, links=links) for item in schema["prefixItems"]]
            return f"{len(inner)} of: {inner[0]}" if len(set(inner)) == 1 else ", ".join(inner)
        return f"list of {allowed_words(schema.get('items', {}), links=links)}"
    if kind == "object":
        return f"table of {allowed_words(schema.get('additionalProperties', {}), links=links)}"
    limits = [form.format(f"{schema[key]:g}") for key, form in LIMITS if key in schema]
    if "minimum" in schema and "maximum" in schema:
        limits = [f"{schema['minimum']:g} to {schema['maximum']:g}"]
    plain = FORMATS.get(schema.get("format", ""), PLAIN.get(kind, kind))
    return " ".join([plain, *[", ".join(limits)][: len(limits)]])


def default_words(record: type[Record], name: str) -> str:
    """What stands for a field that is left out; a dash where it must be there."""
    field = record.model_fields[name]
    if field.is_required():
        return "-"
    default = field.get_default(call_default_factory=True)
    if default is None or default in ((), "", {}):
        return ""
    if isinstance(default, bool):
        return str(default).lower()
    if isinstance(default, Record):
        value = getattr(default, "value", None)
        return "" if value is None else f"{value:g}"
    if isinstance(default, tuple):
        return ", ".join(f"`{part}`" for part in default)
    return f"`{default}`" if isinstance(default, str) else f"{default:g}"


def _cell(meaning: str) -> str:
    sentence = re.sub(r" ?\[1\]$", "", meaning.strip().rstrip(".")).replace("|", "\\|").replace("<", "\\<")
    starts_with_name = re.match(r"\w*_", sentence)
    return f"{sentence}." if starts_with_name else f"{sentence[:1].upper()}{sentence[1:]}."
