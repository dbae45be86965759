"""docs/cli.md: the help of the program and of each command, as an 80-column terminal shows it."""

from typer.testing import CliRunner

from paneglow.cli import app

COMMANDS = (
    (),
    ("light",),
    ("check",),
    ("placement",),
    ("windows",),
    ("cost",),
    ("demo",),
    ("part",),
    ("part", "new"),
    ("part", "import"),
    ("part", "export"),
)
INTRODUCTION = """# Command line

Written from `--help` by `make docs`; do not edit by hand.

Every mistake in a file or in the call is told in one line on stderr that starts with `paneglow:`, and ends with exit
code 2. `Ctrl-C` ends with exit code 130 and leaves no half-written file. `--json` prints to stdout exactly the bytes of
`results.json`, whose schema is [results.schema.json](results.schema.json). Progress is drawn on stderr, and only where
that is a terminal.

`paneglow light` writes into `glow/` beside the design unless `--out` names another folder; only its own files there
are replaced: `report.html`, `results.json` and four pictures (`glow-*.png`).
"""


def cli_page() -> str:
    """Text of the page."""
    runner = CliRunner(env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"})
    sections = [INTRODUCTION]
    for command in COMMANDS:
        words = " ".join(("paneglow", *command))
        shown = runner.invoke(app, [*command, "--help"], prog_name="paneglow").output.rstrip()
        sections.append(f"## {words}\n\n```text\n{shown}\n```\n")
    return "\n".join(sections)
