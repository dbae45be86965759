"""Pages that are generated from the code agree with it."""

import runpy
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
MODULE = runpy.run_path(str(DOCS / "write_pages.py"))


@pytest.mark.parametrize(
    ("name", "build"), [("cli.md", "build_cli_page"), ("results.schema.json", "build_schema_page")]
)
def test_a_generated_page_is_what_the_code_says(name, build):
    assert (DOCS / name).read_text(encoding="utf-8") == MODULE[build](), "run python docs/write_pages.py"


def test_help_fits_80_columns():
    page = (DOCS / "cli.md").read_text(encoding="utf-8")
    shown = [block.split("```")[0] for block in page.split("```text")[1:]]
    assert len(shown) == 4
    assert max(len(line) for block in shown for line in block.splitlines()) <= 80
