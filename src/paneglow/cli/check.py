"""`paneglow check`: the defects that show without tracing light."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from paneglow.cli.building_text import print_building
from paneglow.cli.console import build_console, print_findings
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.cli.polarity_text import print_polarity
from paneglow.pipeline import check_design
from paneglow.report import sort_findings
from paneglow.results import CheckResults, build_check_results, to_json


def _print_check(results: CheckResults) -> None:
    """Print every finding, gravest first, in 80 columns."""
    console = build_console()
    errors = sum(finding.severity == "error" for finding in results.findings)
    counted = f"{len(results.findings)} findings, {errors} of them errors" if results.findings else "nothing found"
    console.print(Text(f"{results.name}: {results.leds} LEDs, {results.windows} windows, {counted}"))
    print_polarity(console, results.polarity)
    print_building(console, results.building)
    if results.findings:
        console.print()
        print_findings(console, sort_findings(results.findings))
    for note in results.notes:
        console.print(Text(f"note: {note}"))


def check(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the text.")] = False,
) -> None:
    """Find defects of a design in seconds, without tracing light.

    Looks at windows and what shadows them, LEDs and where they stand, which way round they are by copper, mark and
    placement file, lands, copper and holes in their way, how they are built, the supply and the currents. How it will
    look, and with it every goal, takes paneglow light.

    Exit code 1 where a finding is an error.
    """
    found = check_design(design)
    results = build_check_results(found.board, assembled=found.assembled, findings=found.findings)
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        _print_check(results)
    grave = any(finding.severity == "error" for finding in found.findings)
    raise typer.Exit(EXIT_GOALS_MISSED if grave else EXIT_DONE)
