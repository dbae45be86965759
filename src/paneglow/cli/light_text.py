"""The result of `paneglow light` as a compact table for the terminal."""

from pathlib import Path

from rich.text import Text

from paneglow.cli.console import DASH, build_console, build_table, print_findings
from paneglow.cli.drive_text import print_drive
from paneglow.cost import WAY_WORDS
from paneglow.judge import GoalResult
from paneglow.look import WindowLook
from paneglow.report import sort_findings, split_windows, to_percent_text, to_range_text
from paneglow.results import Results

SHORT_LIST = 5  # findings printed here; the report has them all
OUTCOME_WORST_FIRST = ("missed", "open", "met")
FIGURES = ("cd/m2", "evenness", "bleed", "contrast")


def _outcome(goals: list[GoalResult]) -> str:
    if not goals:
        return DASH
    return min((goal.outcome for goal in goals), key=OUTCOME_WORST_FIRST.index)


def _cells(window: WindowLook, goals: list[GoalResult]) -> tuple[str, ...]:
    return (
        window.name,
        window.colour_word,
        to_range_text(window.mean_cd_m2, floor=0.001, dash=DASH),
        to_range_text(window.evenness, floor=0.01, dash=DASH),
        to_percent_text(window.bleed, dash=DASH),
        to_range_text(window.contrast, dash=DASH),
        _outcome(goals),
    )


def print_results(results: Results, *, page: Path) -> None:
    """Print the verdict, a row per window, the gravest findings and where the report lies, in 80 columns."""
    console = build_console()
    console.print(Text(results.name))
    console.print(Text(results.summary))
    console.print()
    table = build_table("window", "colour", *FIGURES, "goals", numbers=frozenset(FIGURES))
    meant, others = split_windows(results)
    for window in meant:
        goals = [goal for goal in results.verdict.goals if goal.window == window.name]
        table.add_row(*(Text(cell) for cell in _cells(window, goals)))
    console.print(table if meant else Text("no window is lit on purpose"))
    if others:
        console.print(Text(f"and {len(others)} more that no LED is meant for, in the report"))
    console.print()
    if results.drive is not None:
        print_drive(console, results.drive)
    ordered = sort_findings(results.verdict.findings)
    print_findings(console, ordered[:SHORT_LIST])
    if len(ordered) > SHORT_LIST:
        console.print(Text(f"and {len(ordered) - SHORT_LIST} more in the report"))
    if results.how_to_narrow is not None:
        console.print()
        console.print(Text(f"{results.assumptions} {results.how_to_narrow}"))
    if results.cost is not None:
        console.print()
        run = min(results.cost.answer.statements, key=lambda row: row.total)
        cost = f"{run.unit} {results.cost.currency} each for {run.good}, {WAY_WORDS[run.way]}"
        console.print(Text(f"cost: {cost}; more in the report and by paneglow cost"))
    console.print()
    # Never broken over lines, so that it can be copied
    console.print(Text(f"report: {page}"), soft_wrap=True)
