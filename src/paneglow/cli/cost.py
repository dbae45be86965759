"""`paneglow cost`: what a finished piece costs."""

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from paneglow.cli.console import DASH, build_console, build_table, print_findings, text
from paneglow.cli.group import EXIT_DONE, EXIT_GOALS_MISSED
from paneglow.cost import MOST_RUN, WAY_WORDS, Statement, VersionCost, Way
from paneglow.pipeline import cost_design, write_starter_costs
from paneglow.report import cost_sentences, to_both, to_curve_csv, to_lines_csv, to_range_text
from paneglow.results import OUT_FOLDER, RESULTS_FILE, CostResults, OptionResult, to_json
from paneglow.writing import write_together

SHORT_LIST = 5  # inputs named here; the JSON has more


def cost(
    design: Annotated[Path, typer.Argument(metavar="DESIGN", help="A design.toml, or the folder that holds it.")],
    *,
    quantity: Annotated[
        list[int] | None,
        typer.Option(
            min=1,
            max=MOST_RUN,
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
    """Tell what one finished board costs, line by line, in every way.

    Reads cost.toml beside the design: prices, fees, minutes and yields of your own, each with its date and origin.
    What it leaves out comes from assumed ranges; where there is no file, one of such ranges is written to start from.
    The light of an earlier paneglow light is set beside the cost.

    Exit code 1 where a finding is an error.
    """
    folder = design if design.is_dir() else design.parent
    day = date.today() if on is None else on.date()
    starter = write_starter_costs(design, on=day)
    if starter is not None:
        typer.echo(f"{starter}: written, since there was none; every number in it is an assumed range", err=True)
    results = cost_design(
        design,
        on=day,
        quantities=tuple(quantity or ()),
        seed=seed,
        light=folder / OUT_FOLDER / RESULTS_FILE,
    )
    if csv is not None:
        curve = f"{csv.stem}-curve{csv.suffix}"
        write_together(
            csv.parent, contents={csv.name: to_lines_csv(results).encode(), curve: to_curve_csv(results).encode()}
        )
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        _print_costs(results, way=way)
    grave = any(finding.severity == "error" for finding in results.findings)
    raise typer.Exit(EXIT_GOALS_MISSED if grave else EXIT_DONE)


def _print_rows(
    console: Console, headings: Sequence[str], rows: Sequence[Sequence[str]], *, words: Sequence[str] = ("way",)
) -> None:
    """Print a table; all columns but those of words are numbers."""
    table = build_table(*headings, numbers=frozenset(heading for heading in headings if heading not in words))
    for row in rows:
        table.add_row(*(text(cell) for cell in row))
    console.print(table)
    console.print()


def _print_ways(console: Console, results: CostResults) -> None:
    rows = []
    for row in results.answer.statements:
        money = (str(row.unit), str(row.unit_carried), str(row.total))
        if not row.quoted:
            money = (f"{row.unit_low}-{row.unit_high}", DASH, DASH)
        rows.append((WAY_WORDS[row.way], str(row.good), *money, f"{row.minutes / row.good:.1f}", str(row.started)))
    _print_rows(console, ("way", "pieces", "unit cost", "carried", "run", "min each", "boards"), rows)
    console.print(text("'unit cost' charges leftover parts to this run; 'carried' leaves them for the next."))
    for sentence in cost_sentences(results):
        console.print(text(sentence))
    console.print()


def _print_prices(console: Console, answer: VersionCost) -> None:
    if not answer.sales and not answer.wanted:
        return
    pays = {row.way: row for row in answer.break_even}
    if answer.sales:
        rows = [
            (
                WAY_WORDS[row.way],
                str(row.price),
                to_both(row.profit, row.profit_carried, dash=DASH),
                f"{row.margin_percent:.1f} %",
                to_both(pays[row.way].good, pays[row.way].good_carried, dash=DASH),
            )
            for row in answer.sales
        ]
        _print_rows(console, ("way", "price", "profit a piece", "margin", "break-even run"), rows)
    if answer.wanted:
        wanted = {(row.good, row.way): row for row in answer.wanted}
        ways = list(dict.fromkeys(row.way for row in answer.wanted))
        console.print(text(f"Price for {answer.wanted[0].margin_percent} % margin, by pieces of the run:"))
        by_size: list[tuple[str, ...]] = [
            (
                str(good),
                *(to_both(row.price, row.price_carried, dash=DASH) for row in (wanted[good, way] for way in ways)),
            )
            for good in dict.fromkeys(row.good for row in answer.wanted)
        ]
        _print_rows(console, ("pieces", *(WAY_WORDS[way] for way in ways)), by_size, words=())
        reason = answer.wanted[0].reason
        if reason:
            console.print(text(f"{reason[:1].upper()}{reason[1:]}."))
    console.print(text("In brackets: with leftovers carried to the next run."))
    console.print()


def _print_risk(console: Console, answer: VersionCost, *, way: Way) -> None:
    rows = [
        (
            WAY_WORDS[row.way],
            str(row.best),
            str(row.likely),
            str(row.worst),
            DASH if row.cheapest_frac is None else f"{100 * row.cheapest_frac:.0f} %",
        )
        for row in answer.risks
    ]
    _print_rows(console, ("way", "best", "likely", "worst", "share of draws in which cheapest"), rows)
    swings = [row for row in answer.sensitivity if row.way == way and row.swing][:SHORT_LIST]
    if swings:
        console.print(text(f"What moves the unit cost most, {WAY_WORDS[way]}:"))
        _print_rows(
            console,
            ("input", "from", "to", "unit cost", "to "),
            [(row.what, *(str(n) for n in (row.low, row.high, row.unit_at_low, row.unit_at_high))) for row in swings],
            words=("input",),
        )


def _print_leds(console: Console, results: CostResults) -> None:
    if not results.leds:
        return
    rows = []
    for row in results.leds:
        light = DASH if row.mean_cd_m2 is None else to_range_text(row.mean_cd_m2, dash=DASH)
        rows.append((row.part, str(row.count), str(row.each_board), light))
        for swap in row.instead:
            words = "more" if swap.more_each_board > 0 else "less"
            rows.append((f"  {swap.by} instead", "", f"{abs(swap.more_each_board)} {words}", ""))
    console.print(text(f"What each LED costs a board, {WAY_WORDS[results.leds[0].way]}:"))
    _print_rows(console, ("LED", "on a board", "cost a board", "cd/m²"), rows, words=("LED",))


def _option_cells(row: OptionResult) -> tuple[str, ...]:
    figures = (
        "best" if row.best else "",
        row.name,
        row.way,
        str(row.unit),
        f"{row.more:+}" if row.more else DASH,
        f"{row.minutes:.1f}",
    )
    if row.light is None:
        return (*figures, DASH, DASH, row.light_state)
    verdict = "passes" if row.light.passed else f"{100 * row.light.goals_met_frac:.0f} % met"
    luminance, evenness = (to_range_text(figure, dash=DASH) for figure in (row.light.mean_cd_m2, row.light.evenness))
    return (*figures, luminance, evenness, verdict)


def _print_options(console: Console, results: CostResults) -> None:
    words = ("", "version", "way", "goals")
    headings = ("", "version", "way", "cost", "more", "min", "cd/m²", "even", "goals")
    _print_rows(console, headings, [_option_cells(row) for row in results.options], words=words)


def _print_statement(console: Console, statement: Statement, *, currency: str) -> None:
    """Print every line of a statement with its working; the lines add up to the total."""
    console.print(text(f"{WAY_WORDS[statement.way]}, {statement.good} good pieces, in {currency}:"))
    lines = [(str(line.amount), str(line.per_piece), f"{line.what}: {line.working}") for line in statement.lines]
    totals = [
        (str(statement.total), str(statement.unit), "total"),
        (str(statement.total_carried), str(statement.unit_carried), "total if leftovers are carried"),
    ]
    _print_rows(console, ("run", "a piece", "for"), [*lines, *totals], words=("for",))


def _print_costs(results: CostResults, *, way: Way | None) -> None:
    """Print the ways side by side, prices, risk, versions, one way line by line, and what was found.

    Parameters
    ----------
    results : CostResults
    way : {"hand", "mixed", "service"} or None
        Whose lines are printed; None for the cheapest of the first run.
    """
    console, answer = build_console(), results.answer
    first = [row for row in answer.statements if row.good == answer.shown.good]
    chosen = next((row for row in first if row.way == way), answer.shown)
    console.print(text(f"{results.name}: what a good piece costs, in {results.currency}"))
    console.print()
    _print_ways(console, results)
    _print_prices(console, answer)
    _print_risk(console, answer, way=chosen.way)
    _print_leds(console, results)
    _print_options(console, results)
    _print_statement(console, chosen, currency=results.currency)
    rates = results.inputs.rates
    if rates is not None:
        worths = ", ".join(f"1 {currency} = {worth} {results.currency}" for currency, worth in rates.worth.items())
        console.print(text(f"{worths} ({rates.dated})"))
    console.print()
    print_findings(console, results.findings)
