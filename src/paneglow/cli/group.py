"""The command group that keeps one promise: a person's mistake is one line on stderr and exit code 2, never a trace."""

import difflib
import sys
from collections.abc import Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any, ClassVar

import typer
from typer.core import TyperGroup

from paneglow.cli import EXIT_INTERRUPTED, STOPPED
from paneglow.errors import PaneglowError

EXIT_DONE = 0
EXIT_GOALS_MISSED = 1
EXIT_WRONG_INPUT = 2
LONGEST_SENTENCE = 400  # letters; no help has a first sentence as long, so none is cut

# Base of every wrong call (unknown option, missing argument, bad value), whichever parser this typer brings along
WrongCall: type[Exception] = typer.BadParameter.__bases__[0]


def print_problem(problem: object) -> None:
    """Print a problem on stderr, each of its lines led by the name of the command."""
    for line in str(problem).split("\n"):
        typer.echo(f"paneglow: {line}", err=True)


def _wrong_call_text(problem: Any) -> str:
    """What is wrong with a call, the nearest option where there is one, and the help of the command at hand."""
    words = problem.format_message().replace("Value error, ", "").replace("argument(s) ", "")
    near = getattr(problem, "possibilities", None)
    if near:
        words = f"{problem.message}; did you mean {_nearest(problem.option_name, known=near)}?"
    at = "paneglow" if problem.ctx is None else problem.ctx.command_path
    return f"{words.rstrip('.')} (see {at} --help)"


def _nearest(word: str, *, known: Any) -> str | None:
    """The word of those known that is most like the one that was written, None where none is alike."""
    return next(iter(difflib.get_close_matches(word, known, n=1, cutoff=0.6)), None)


class OneLineErrors(TyperGroup):
    """Turns errors of ours, wrong calls and Ctrl-C into one line and an exit code; its help cuts no sentence short."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command that is asked for; one that is not there is told with the nearest."""
        if not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            near = _nearest(args[0], known=(known := self.list_commands(ctx)))
            hint = f"did you mean {near}?" if near else f"the commands are {', '.join(known)}"
            ctx.fail(f"no command {args[0]!r}; {hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """List the commands, each with the first sentence of its help."""
        commands = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [
            (name, command.get_short_help_str(LONGEST_SENTENCE)) for name, command in commands if command is not None
        ]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

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
            print_problem(_wrong_call_text(problem))
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
    older: ClassVar[Mapping[str, str]] = MappingProxyType({})  # names that still answer, with what stands for them now

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002  what the base class passes
        """Names of the commands, in the order of the help."""
        return list(self.names)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002  what the base class passes
        """The command of a name, None where there is none."""
        cmd_name = self.older.get(cmd_name, cmd_name)
        if cmd_name not in self.names:
            return None
        found = getattr(import_module(f"paneglow.cli.{cmd_name}"), cmd_name)
        if isinstance(found, typer.Typer):
            return typer.main.get_command(found)
        alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        alone.command(cmd_name)(found)
        return typer.main.get_command(alone)
