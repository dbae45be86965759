"""Tables and lines for a terminal of 80 columns."""

import sys
from collections.abc import Sequence
from pathlib import Path

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from paneglow.errors import to_plain_text
from paneglow.judge import Finding, Improvement
from paneglow.report import CHANGES_SHOWN, to_subjects_text, with_signs

WIDTH = 80
DASH = "-"  # plain, so that every terminal shows it


def build_console(*, stderr: bool = False) -> Console:
    """Return a console that never writes wider than 80 columns and adds no styling of its own to words."""
    return Console(
        file=sys.stderr if stderr else sys.stdout,
        width=WIDTH,
        highlight=False,
        markup=False,
        emoji=False,
        soft_wrap=False,
    )


def text(words: str) -> Text:
    """Words for the terminal: nothing in them steers it, and units stand with their signs where it can show them."""
    shown = with_signs(to_plain_text(words))
    try:
        shown.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        shown = shown.replace("\N{SUPERSCRIPT TWO}", "2").replace("\N{PLUS-MINUS SIGN}", "+-")
    return Text(shown)


def build_table(*headings: str, numbers: frozenset[str] = frozenset(), whole: frozenset[str] = frozenset()) -> Table:
    """Return an empty table; columns in `numbers` are set flush right, and they and those in `whole` never broken."""
    table = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 2, 0, 0),
        collapse_padding=True,
        show_edge=False,
        header_style="",
    )
    for heading in headings:
        flush_right = heading in numbers
        # Long names fold, so that the numbers beside them stay whole
        table.add_column(
            text(heading),
            justify="right" if flush_right else "left",
            no_wrap=flush_right or heading in whole,
            overflow="fold",
        )
    return table


def print_indented(console: Console, words: str, *, lead: str) -> None:
    """Print a text behind a lead, its further lines indented by as much."""
    grid = Table.grid(padding=0)
    grid.add_column(no_wrap=True)
    grid.add_column()
    grid.add_row(text(lead), text(words))
    console.print(grid)


def print_findings(console: Console, findings: Sequence[Finding], *, changes: Sequence[Improvement] = ()) -> None:
    """Print findings with their reason and remedy: in the order of the changes where given, equal ones together."""
    groups = [([findings[number] for number in change.findings], change.do) for change in changes if change.findings]
    for alike, remedy in groups or [([finding], finding.remedy) for finding in findings]:
        for finding in alike:
            print_indented(console, f"{finding.subject}: {finding.reason}", lead=f"{finding.severity:<8} ")
        print_indented(console, remedy, lead="      -> ")


def print_changes(
    console: Console, changes: Sequence[Improvement], *, findings: Sequence[Finding], reasons: bool = False
) -> None:
    """Print the few changes that matter most, each with its effect and, if asked, why it is needed."""
    if not changes:
        return
    console.print(text("What to change first:" if len(changes) > 1 else "What to change:"))
    for number, change in enumerate(changes[:CHANGES_SHOWN], start=1):
        subjects = to_subjects_text(change.subjects)
        why = f"{findings[change.findings[0]].reason} " if reasons and change.findings else ""
        print_indented(console, f"{subjects}{': ' if subjects else ''}{why}{change.do}", lead=f"{number}. ")
        print_indented(console, change.effect, lead="   = ")


def print_provisional(assumptions: Sequence[str], *, path: Path) -> None:
    """Print what a drafted design rests on, and the command that makes a design of it."""
    if not assumptions:
        return
    console = build_console()
    console.print()
    console.print(text("Provisional: no design says the following, it was assumed."))
    for sentence in assumptions:
        print_indented(console, sentence, lead="- ")
    console.print(text(f"To make a design of it and set this right: paneglow start {path}"), soft_wrap=True)
