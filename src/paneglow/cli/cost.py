"""`paneglow cost`: what a finished piece costs."""

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from paneglow.cli.cost_text import print_costs
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.pipeline import cost as cost_design
from paneglow.results import to_json

MOST_PIECES = 10_000


def cost(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    quantity: Annotated[
        list[int] | None,
        typer.Option(
            "--quantity", "-q", min=1, max=MOST_PIECES, metavar="N",
            help="Good pieces of a run; may be given several times. The default is the run of the design.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the tables.")] = False,
) -> None:  # fmt: skip
    """Tell what one finished piece costs, line by line, for every way to build it.

    Reads cost.toml beside the design: prices, fees, minutes and yields of your own, each with its date and origin.
    What it leaves out comes from assumed ranges.

    Exit code 1 where a finding is an error.
    """
    results = cost_design(design, quantities=tuple(quantity or ()), on=date.today())
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        print_costs(results)
    grave = any(finding.severity == "error" for finding in results.findings)
    raise typer.Exit(EXIT_GOALS_MISSED if grave else EXIT_DONE)
