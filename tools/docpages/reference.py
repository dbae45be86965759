"""docs/design-reference.md: every key of design.toml in one table, to print on two pages."""

import re
from collections.abc import Iterator

from docpages.fields import field_texts
from docpages.files import allowed_words, default_words, records_in, tables_of
from paneglow.design import Design
from paneglow.units import Record

# Room light that falls on the front of a board that stands or hangs upright
ROOM_LIGHTS = (
    ("night, lights out", "1", "common practice, no source"),
    ("dusk by the window, no lamp on", "10", "common practice, no source"),
    ("evening by one lamp across the room", "30", "common practice, no source"),
    ("living room with its lights on", "150", "common practice, no source; the default"),
    ("wall of an office", "75 and more", "EN 12464-1, walls of work places (a secondary page, seen)"),
    ("desk in an office", "500", "EN 12464-1, writing and screen work (secondary pages, seen)"),
    ("by the window on an overcast day", "1000", "common practice, no source"),
)
HEAD = """# design.toml on two pages

Written from the records by `make docs`; do not edit by hand. A key with a dash under *left out* must be there.
`[name]` is a table, `[[name]]` one of several; places are seen from the front, x right and y up, in mm. More words on
each: [design-file.md](design-file.md); names of parts, laminates, masks: [choices.md](choices.md).

| key | allowed | left out | meaning |
|---|---|---|---|"""


def reference_page() -> str:
    """Text of the page."""
    lights = "\n".join(f"| {where} | {lux} | {source} |" for where, lux, source in ROOM_LIGHTS)
    return "\n".join(
        [
            HEAD,
            *_rows(),
            "\n## Room light\n",
            "`ambient_lx` of `[view]` is the light that falls on the front of the board. Measure it with a light meter",
            "held where the board will be, facing as the board does; without one:\n",
            "| where the board is | lx | from |\n|---|---|---|",
            lights,
            "",
        ]
    )


def _rows() -> Iterator[str]:
    for title, record in tables_of(Design):
        yield f"| **{title or 'at the top'}** | | | |"
        schema = record.model_json_schema()
        for row in field_texts(record):
            if any(issubclass(inner, Record) for inner in records_in(record.model_fields[row.name].annotation)):
                continue  # a table of its own, which follows
            unit = f" {row.unit}" if row.unit not in ("", "1") else ""
            allowed = allowed_words(schema["properties"][row.name]).replace("2 of: number", "[x, y]")
            allowed = re.sub(r"(?<!whole )number (?=\d|a[tb])", "", allowed)
            cells = (f"`{row.name}`", allowed + unit, default_words(record, row.name), _short(row.meaning))
            yield f"| {' | '.join(cells)} |"


def _short(meaning: str) -> str:
    """The first clause of a meaning, without the unit that stands beside it already."""
    clause = re.split(r"; |\. ", re.sub(r" ?\[[^\]]*\](?!\])", "", meaning.strip()))[0].rstrip(".")
    return (clause[:1].upper() + clause[1:]).replace("<", "\\<")
