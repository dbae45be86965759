"""The page of the command line reads well in a terminal; that it agrees with the code is told in tests/promises."""

from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def test_help_fits_80_columns():
    page = (DOCS / "cli.md").read_text(encoding="utf-8")
    shown = [block.split("```")[0] for block in page.split("```text")[1:]]
    assert len(shown) == 8
    assert max(len(line) for block in shown for line in block.splitlines()) <= 80
