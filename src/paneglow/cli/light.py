"""`paneglow light`: the main job."""

from pathlib import Path
from typing import Annotated

import typer

from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.cli.light_text import print_results
from paneglow.cli.progress import show_progress
from paneglow.pipeline import evaluate
from paneglow.report import write_report
from paneglow.results import Device, Quality, build_results, to_json

OUT_FOLDER = "glow"
TRACES_FOLDER = "traces"


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

    Reads the design, its fabrication and placement files and the catalogue; writes report.html, results.json, four
    pictures, and traces/, from which an unchanged LED is taken next time. Other files in the folder stay as they are.
    """
    if out is None:
        out = (design if design.is_dir() else design.parent) / OUT_FOLDER
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
        print_results(results, page=page)
    raise typer.Exit(EXIT_DONE if results.verdict.passed else EXIT_GOALS_MISSED)
