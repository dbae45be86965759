"""docs/design-reference.md: it fits two printed pages and holds every key."""

import textwrap
from pathlib import Path

from docpages.files import records_in, tables_of
from paneglow.design import Design

PAGE = (Path(__file__).parents[2] / "docs" / "design-reference.md").read_text(encoding="utf-8")
LINES_OF_A_PAGE, LETTERS_OF_A_LINE = 80, 130  # A4, 8 points, lines 9.5 points apart, margins of 13 mm


def test_it_fits_two_printed_pages():
    lines = [part for line in PAGE.splitlines() for part in textwrap.wrap(line, LETTERS_OF_A_LINE) or [""]]
    assert len(lines) <= 2 * LINES_OF_A_PAGE


def test_it_holds_every_table_with_its_keys_in_order():
    rows = [line.split(" | ")[0].strip("| *`") for line in PAGE.splitlines() if line.startswith("| ")]
    for title, record in tables_of(Design):
        start = rows.index(title or "at the top") + 1
        held = [name for name, field in record.model_fields.items() if not list(records_in(field.annotation))]
        assert rows[start : start + len(held)] == held, title


def test_room_light_is_said_with_its_source():
    for words in ("dusk by the window", "evening by one lamp", "EN 12464-1", "common practice, no source"):
        assert words in PAGE
