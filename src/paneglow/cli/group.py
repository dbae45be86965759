"""The command group that keeps one promise: a person's mistake is one line on stderr and exit code 2, never a trace."""

import sys
from importlib import import_module
from typing import Any, ClassVar

import typer
from typer.core import TyperGroup

from paneglow.cli import EXIT_INTERRUPTED, STOPPED
from paneglow.errors import PaneglowError

EXIT_DONE = 0
EXIT_GOALS_MISSED = 1
EXIT_WRONG_INPUT = 2

# Base of every wrong call (unknown option, missing argument, bad value), whichever parser this typer brings along
WrongCall: type[Exception] = typer.BadParameter.__bases__[0]


def print_problem(problem: object) -> None:
    """Print a problem on stderr, each of its lines led by the name of the command."""
    for line in str(problem).split("\n"):
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
            outcome = EXIT_INTERRUPTED
        if outcome == EXIT_INTERRUPTED:
            typer.echo(STOPPED, err=True)
        if not standalone_mode:
            return outcome
        sys.exit(outcome if isinstance(outcome, int) else EXIT_DONE)


class LateCommands(OneLineErrors):
    """A group whose commands stand in modules of their names beside this one, imported when they are asked for."""

    names: ClassVar[tuple[str, ...]] = ()  # in the order of the help

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002  what the base class passes
        """Names of the commands, in the order of the help."""
        return list(self.names)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002  what the base class passes
        """The command of a name, None where there is none."""
        if cmd_name not in self.names:
            return None
        found = getattr(import_module(f"paneglow.cli.{cmd_name}"), cmd_name)
        if isinstance(found, typer.Typer):
            return typer.main.get_command(found)
        alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        alone.command(cmd_name)(found)
        return typer.main.get_command(alone)
