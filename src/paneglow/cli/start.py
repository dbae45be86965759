"""`paneglow start`: from fabrication files to a first design."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from paneglow.cli.console import build_console, build_table, print_indented, text
from paneglow.cli.group import print_problem
from paneglow.drafting import Draft, FoundLed, Question, check_answer
from paneglow.errors import DesignError
from paneglow.pipeline import begin, check_design, check_free, name_of_set, write_start
from paneglow.report import to_digits, to_refs_text
from paneglow.results import StartResults, to_json


def start(
    fabrication: Annotated[
        Path, typer.Argument(metavar="FABRICATION", help="Folder or .zip of Gerber and drill files.")
    ],
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="DIR", help="Folder for the design; one named after the set, where it is left out."),
    ] = None,
    *,
    placement: Annotated[
        Path | None,
        typer.Option("--placement", metavar="FILE", help="Placement file; else one beside the set is looked for."),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Ask nothing; assume what no file says.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print JSON; the text and the questions go to stderr.")
    ] = False,
) -> None:
    """Draft a design from fabrication files, and say what is assumed.

    Writes DIR/design.toml with a comment on every value, and checks it. What no file says is asked for, and assumed
    where you press Enter. Nothing that is already there is overwritten.
    """
    folder = Path(name_of_set(fabrication)) if folder is None else folder
    check_free(folder)  # before anything is asked
    beginning = begin(fabrication, placement=placement)
    survey = beginning.board.survey
    console = build_console(stderr=as_json)
    windows = sum(window.use != "clearance" for window in survey.windows)
    area = to_digits(survey.outline_area_mm2 / 100, digits=3)
    console.print(text(f"{beginning.board.name}: {area} cm2, {windows} windows, {len(beginning.leds)} LEDs"))
    for note in beginning.notes:
        print_indented(console, note, lead="note: ")
    _print_leds(console, beginning.leds, order=[window.name for window in survey.windows])
    answers = {} if yes else {question.key: _ask(question, err=as_json) for question in beginning.questions}
    path, draft = write_start(beginning, folder=folder, answers=answers)
    _print_draft(console, path, draft=draft, questions=beginning.questions)
    found = check_design(path)
    errors = sum(finding.severity == "error" for finding in found.findings)
    console.print(
        text(f"Checked: {len(found.findings)} findings, {errors} of them errors; see paneglow check {path.parent}")
    )
    console.print(text(f"Now run: paneglow light {path.parent}"))
    if as_json:
        assumed = (question for question in beginning.questions if question.key in draft.assumed)
        results = StartResults(
            file=str(path),
            leds=len(beginning.leds),
            windows=windows,
            assumed=tuple(f"{question.words}: {question.default}" for question in assumed),
            notes=beginning.notes,
            findings=len(found.findings),
            errors=errors,
        )
        typer.echo(to_json(results), nl=False)


def _print_leds(console: Console, leds: Sequence[FoundLed], *, order: Sequence[str]) -> None:
    """Print a row per kind of LED: where they are and what that makes them."""
    table = build_table("LEDs", "value, package", "side", "style", "windows")
    alike: dict[tuple[str, str, str], list[FoundLed]] = {}
    for led in leds:
        alike.setdefault((led.words or "proposed", led.side, led.mounting.replace("_", " ")), []).append(led)
    for (words, side, style), same in alike.items():
        refs = [led.ref for led in same if led.ref is not None]
        windows = to_refs_text([name for name in order if name in {led.window for led in same}]) or "none near"
        table.add_row(*(text(cell) for cell in (to_refs_text(refs) if refs else "-", words, side, style, windows)))
    console.print()
    console.print(table)
    console.print()


def _ask(question: Question, *, err: bool) -> str:
    """Ask until the answer can be one; an empty one takes the default."""
    allowed = f" ({', '.join(question.allowed)})" if question.allowed else ""
    while True:
        words = typer.prompt(f"{question.words}{allowed} [{question.default}]", default="", show_default=False, err=err)
        try:
            check_answer(question, words=words)
        except DesignError as problem:
            print_problem(problem)
            continue
        return str(words)


def _print_draft(console: Console, path: Path, *, draft: Draft, questions: Sequence[Question]) -> None:
    console.print(text(f"wrote {path}"))
    assumed = [question for question in questions if question.key in draft.assumed]
    if assumed:
        for question in assumed:
            print_indented(console, f"{question.words}: {question.default}", lead="assumed: ")
