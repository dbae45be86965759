"""The commands and the entry point."""

import sys
from typing import Annotated

import typer

import paneglow
from paneglow.cli.check import check
from paneglow.cli.cost import cost
from paneglow.cli.demo import demo
from paneglow.cli.group import OneLineErrors
from paneglow.cli.light import light
from paneglow.cli.part import part
from paneglow.cli.placement import placement
from paneglow.cli.windows import windows

app = typer.Typer(
    name="paneglow",
    cls=OneLineErrors,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
app.command()(light)
app.command()(check)
app.command()(placement)
app.command()(windows)
app.command()(cost)
app.command()(demo)
app.add_typer(part)


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


def main() -> None:
    """Run the command line and exit."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a letter of someone's file name gets a stand-in, not a failure
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    app(prog_name="paneglow")
