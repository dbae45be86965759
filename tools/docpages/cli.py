"""docs/cli.md: the help of the program and of each command, as an 80-column terminal shows it."""

from collections.abc import Iterator
from typing import Any

import typer
from typer.testing import CliRunner

from paneglow.cli import app

INTRODUCTION = """# Command line

Written from `--help` by `make docs`; do not edit by hand.

Every mistake in a file or in the call is told in one line on stderr that starts with `paneglow:`, and ends with exit
code 2; a mistyped command or option is answered with the nearest one. `Ctrl-C` ends with exit code 130 and leaves no
half-written file. Every command takes `--json`: stdout then holds one JSON record and nothing else
([results.md](results.md)); that of `light` is exactly the bytes of `results.json`, whose schema is
[results.schema.json](results.schema.json). Progress is drawn on stderr, and only where that is a terminal.

`paneglow --install-completion` teaches your shell to complete commands and options with the Tab key.

`paneglow light` writes into `glow/` beside the design unless `--out` names another folder; only its own files there
are replaced: `report.html`, `results.json` and four pictures (`glow-*.png`).
"""


def commands() -> list[tuple[str, ...]]:
    """Every command as its words, the program itself first, in the order of its help."""

    def below(group: Any, words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        yield words
        context = typer.Context(group)
        for name in getattr(group, "list_commands", lambda _: ())(context):
            yield from below(group.get_command(context, name), (*words, name))

    return list(below(typer.main.get_command(app), ()))


def cli_page() -> str:
    """Text of the page."""
    runner = CliRunner(env={"COLUMNS": "80", "TERMINAL_WIDTH": "80"})
    sections = [INTRODUCTION]
    for command in commands():
        words = " ".join(("paneglow", *command))
        shown = runner.invoke(app, [*command, "--help"], prog_name="paneglow").output.rstrip()
        sections.append(f"## {words}\n\n```text\n{shown}\n```\n")
    return "\n".join(sections)
