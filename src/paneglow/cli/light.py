"""`paneglow light`: the main job."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from paneglow.cli.console import DASH, build_console, build_table, print_changes, print_provisional, text
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.cli.progress import show_progress
from paneglow.cost import WAY_WORDS
from paneglow.drive import DriveResults
from paneglow.judge import GoalResult
from paneglow.look import WindowLook
from paneglow.pipeline import evaluate, is_set, name_of_set
from paneglow.report import (
    life_sentences,
    match_sentence,
    split_windows,
    supply_sentence,
    to_percent_text,
    to_range_text,
    write_report,
)
from paneglow.results import OUT_FOLDER, Device, Quality, Results, build_results, to_json

TRACES_FOLDER = "traces"
OUTCOME_WORST_FIRST = ("missed", "open", "met")
FIGURES = ("cd/m2", "evenness", "bleed", "contrast")


def light(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for the report; the default is glow/ beside the design."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print results.json instead of the table.")] = False,
    quality: Annotated[
        Quality, typer.Option(help="Light traced per LED: more of it takes longer and leaves less noise.")
    ] = "normal",
    device: Annotated[Device, typer.Option(help="Where the light is traced.")] = "auto",
    seed: Annotated[
        int, typer.Option(min=0, max=2**31 - 1, metavar="N", help="The same seed gives the same numbers.")
    ] = 1,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Trace every LED anew; without it, unchanged ones are taken from traces/.")
    ] = False,
) -> None:
    """Trace the light of a design, judge it, and write the report.

    Reads the design, its fabrication and placement files and the catalogue; writes report.html, report-short.html (two
    pages to print), bench.html, results.json, four pictures, and traces/, from which an unchanged LED is taken next
    time. Other files in the folder stay as they are.
    """
    if out is None:
        out = _default_folder(design)
    with show_progress() as listen:
        evaluation = evaluate(
            design,
            quality=quality,
            device=device,
            seed=seed,
            on_progress=listen,
            cache_folder=None if fresh else out / TRACES_FOLDER,
        )
    results = build_results(evaluation)
    page = write_report(evaluation, results=results, out=out)
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        _print_results(results, page=page)
        print_provisional(results.provisional, path=design)
    raise typer.Exit(EXIT_DONE if results.verdict.passed else EXIT_GOALS_MISSED)


def _default_folder(design: Path) -> Path:
    """Beside the design; a fabrication set stays as it is, and gets a folder of its name here."""
    if is_set(design):
        return Path(f"{name_of_set(design)}-{OUT_FOLDER}")
    return (design if design.is_dir() else design.parent) / OUT_FOLDER


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


def _print_results(results: Results, *, page: Path) -> None:
    """Print the verdict, a row per window, the gravest findings and where the report lies, in 80 columns."""
    console = build_console()
    console.print(text(results.name))
    console.print(text(results.summary))
    console.print()
    table = build_table("window", "colour", *FIGURES, "goals", numbers=frozenset(FIGURES))
    meant, others = split_windows(results)
    for window in meant:
        goals = [goal for goal in results.verdict.goals if goal.window == window.name]
        table.add_row(*(text(cell) for cell in _cells(window, goals)))
    console.print(table if meant else text("no window is lit on purpose"))
    if others:
        console.print(text(f"and {len(others)} more that no LED is meant for, in the report"))
    console.print()
    if results.drive is not None:
        _print_drive(console, results.drive)
    if results.how_to_narrow is not None:
        console.print(text(f"{results.assumptions} {results.how_to_narrow}"))
    if results.cost is not None:
        console.print()
        run = results.cost.answer.shown
        unit = str(run.unit) if run.quoted else f"{run.unit_low} to {run.unit_high}"
        cost = f"{unit} {results.cost.currency} each for {run.good}, {WAY_WORDS[run.way]}"
        console.print(text(f"cost: {cost}; more in the report and by paneglow cost"))
    if results.verdict.changes:
        console.print()
        print_changes(console, results.verdict.changes, findings=results.verdict.findings, reasons=True)
        console.print()
        count = len(results.verdict.findings)
        console.print(
            text(f"{count} {'finding' if count == 1 else 'findings'} in all, with their reasons in the report")
        )
    # Never broken over lines, so that it can be copied
    console.print(text(f"report: {page}"), soft_wrap=True)


def _print_drive(console: Console, drive: DriveResults) -> None:
    """Print where currents come from, how long the supply lasts and what matching reached."""
    sentences = [supply_sentence(drive), *(life_sentences(drive.life) if drive.life else ())]
    if drive.match is not None:
        sentences += [match_sentence(drive.match), *drive.match.reasons]
    for sentence in sentences:
        console.print(text(sentence))
    console.print()
