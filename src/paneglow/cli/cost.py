"""`paneglow cost`: what a finished piece costs."""

from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from paneglow.cli.cost_text import print_costs
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.cli.light import OUT_FOLDER
from paneglow.cost import MOST_PIECES, Way
from paneglow.pipeline import cost_design
from paneglow.report import to_curve_csv, to_lines_csv
from paneglow.results import RESULTS_FILE, to_json
from paneglow.writing import write_whole


def cost(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    quantity: Annotated[
        list[int] | None,
        typer.Option(
            min=1,
            max=MOST_PIECES,
            metavar="N",
            help="Good pieces of a run; may be given several times. The default is the run of the design.",
        ),
    ] = None,
    way: Annotated[
        Way | None, typer.Option(help="Way whose lines are printed; the default is the cheapest.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the tables.")] = False,
    csv: Annotated[
        Path | None,
        typer.Option("--csv", metavar="FILE", help="Also write every line into FILE, and the curve beside it."),
    ] = None,
    seed: Annotated[
        int, typer.Option(min=0, max=2**31 - 1, metavar="N", help="The same seed gives the same draws.")
    ] = 1,
    on: Annotated[
        datetime | None,
        typer.Option("--on", formats=["%Y-%m-%d"], metavar="DATE", help="Day to judge ages on; the default is today."),
    ] = None,
) -> None:  # fmt: skip
    """Tell what one finished piece costs, line by line, for every way to build it.

    Reads cost.toml beside the design: prices, fees, minutes and yields of your own, each with its date and origin.
    What it leaves out comes from assumed ranges. The light of an earlier paneglow light is set beside the cost.

    Exit code 1 where a finding is an error.
    """
    folder = design if design.is_dir() else design.parent
    results = cost_design(
        design,
        on=date.today() if on is None else on.date(),
        quantities=tuple(quantity or ()),
        seed=seed,
        light=folder / OUT_FOLDER / RESULTS_FILE,
    )
    if csv is not None:
        curve = f"{csv.stem}-curve{csv.suffix}"
        write_whole(
            csv.parent, contents={csv.name: to_lines_csv(results).encode(), curve: to_curve_csv(results).encode()}
        )
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        print_costs(results, way=way)
    grave = any(finding.severity == "error" for finding in results.findings)
    raise typer.Exit(EXIT_GOALS_MISSED if grave else EXIT_DONE)
