"""Writes the pages that are generated from the code: docs/cli.md and docs/results.schema.json.

Run it after a change of an option or of a result record; a test fails while pages and code differ.
"""

import json
from pathlib import Path

from typer.testing import CliRunner

from paneglow.cli import app
from paneglow.results import Results

DOCS = Path(__file__).parent
COMMANDS = ((), ("light",), ("windows",), ("demo",))
INTRODUCTION = """# Command line

Generated from `--help` by `docs/write_pages.py`.

Every mistake in a file or in the call is told in one line on stderr that starts with `paneglow:`, and ends with exit
code 2. `Ctrl-C` ends with exit code 130 and leaves no half-written file. `--json` prints to stdout exactly the bytes of
`results.json`, whose schema is [results.schema.json](results.schema.json). Progress is drawn on stderr, and only where
that is a terminal.

`paneglow light` writes into `glow/` beside the design unless `--out` names another folder; only its own files there
are replaced: `report.html`, `results.json` and four pictures (`glow-*.png`).
"""


def build_cli_page() -> str:
    """Return the page: the help of the program and of each command, as an 80-column terminal shows it."""
    runner = CliRunner(env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"})
    sections = [INTRODUCTION]
    for command in COMMANDS:
        words = " ".join(("paneglow", *command))
        shown = runner.invoke(app, [*command, "--help"], prog_name="paneglow").output.rstrip()
        sections.append(f"## {words}\n\n```text\n{shown}\n```\n")
    return "\n".join(sections)


def build_schema_page() -> str:
    """Return the JSON Schema of results.json."""
    return json.dumps(Results.model_json_schema(), indent=2) + "\n"


if __name__ == "__main__":
    (DOCS / "cli.md").write_text(build_cli_page(), encoding="utf-8")
    (DOCS / "results.schema.json").write_text(build_schema_page(), encoding="utf-8")
