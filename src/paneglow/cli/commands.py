"""The commands and the entry point."""

import gc
import sys
import warnings
from types import MappingProxyType
from typing import Annotated

import typer

import paneglow
from paneglow.cli.group import EXIT_DONE, LateCommands, print_problem
from paneglow.errors import PaneglowNote

YOUNG_OBJECTS_MOST = 50_000  # some 10 MB; our choice
# In the order of the help. A command's module, of its own name, is only imported when that command is asked for: the
# whole of paneglow takes longer to import than a small command takes to run
COMMANDS = ("start", "light", "check", "placement", "windows", "cost", "demo", "parts")


class _Commands(LateCommands):
    names = COMMANDS
    older = MappingProxyType({"part": "parts"})


app = typer.Typer(
    name="paneglow",
    cls=_Commands,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"paneglow {paneglow.__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def _start(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """Predict how a decorative circuit board will glow.

    Light of LEDs on the back is traced through the laminate to the windows, and judged as an eye would see it.

    Exit codes: 0 done and goals met; 1 done, goals missed or a defect found; 2 the input or the call is wrong.
    """
    del version  # its callback has already acted
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def _print_note(message: Warning | str, category: type[Warning], *place: object) -> None:
    """Print what Python would warn of; notes of ours as one line like any other."""
    if issubclass(category, PaneglowNote):
        print_problem(f"note: {message}")
    else:
        _usual_warning(message, category, *place)  # type: ignore[arg-type]


_usual_warning = warnings.showwarning


def run() -> int:
    """Run the command line and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a letter of someone's file name gets a stand-in, not a failure
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    # A run makes many lasting records and hardly a cycle: looking for cycles less often saves some 4 % of its time
    gc.set_threshold(YOUNG_OBJECTS_MOST)
    warnings.showwarning = _print_note  # type: ignore[assignment]
    try:
        app(prog_name="paneglow")
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else EXIT_DONE
    return EXIT_DONE
