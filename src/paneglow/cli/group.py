"""The command group that keeps one promise: a person's mistake is one line on stderr and exit code 2, never a trace."""

import sys
from typing import Any

import typer
from typer.core import TyperGroup

from paneglow.errors import PaneglowError

EXIT_DONE = 0
EXIT_GOALS_MISSED = 1
EXIT_WRONG_INPUT = 2
EXIT_INTERRUPTED = 130  # 128 + SIGINT, the habit of shells

# Base of every wrong call (unknown option, missing argument, bad value), whichever parser this typer brings along
WrongCall: type[Exception] = typer.BadParameter.__bases__[0]


def print_problem(problem: object) -> None:
    """Print a problem on stderr, each of its lines led by the name of the command."""
    for line in str(problem).splitlines() or [""]:
        typer.echo(f"paneglow: {line}", err=True)


class OneLineErrors(TyperGroup):
    """Turns errors of ours, wrong calls and Ctrl-C into one line and an exit code."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command; errors of ours and Ctrl-C end it."""
        try:
            return super().invoke(ctx)
        except PaneglowError as problem:
            print_problem(problem)
            raise typer.Exit(EXIT_WRONG_INPUT) from None
        except KeyboardInterrupt:
            print_problem("stopped; no half-written file was left")
            raise typer.Exit(EXIT_INTERRUPTED) from None

    def main(self, args: Any = None, *rest: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Parse and run; a wrong call is told in one line."""
        extra["standalone_mode"] = False
        try:
            outcome = super().main(args, *rest, **extra)
        except WrongCall as problem:
            print_problem(f"{problem.format_message()} (see paneglow --help)")  # type: ignore[attr-defined]
            outcome = EXIT_WRONG_INPUT
        except typer.Abort:
            print_problem("stopped; no half-written file was left")
            outcome = EXIT_INTERRUPTED
        if not standalone_mode:
            return outcome
        sys.exit(outcome if isinstance(outcome, int) else EXIT_DONE)
