"""The result of `paneglow cost` as text for a terminal of 80 columns."""

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from paneglow.cli.console import DASH, build_console, build_table, print_findings
from paneglow.cost import WAY_WORDS, Answer, Statement, Way
from paneglow.report import sort_findings, to_range_text
from paneglow.results import CostResults, OptionResult

SHORT_LIST = 5  # inputs named here; the JSON has more


def _print_rows(
    console: Console, headings: Sequence[str], rows: Sequence[Sequence[str]], *, words: Sequence[str] = ("way",)
) -> None:
    """Print a table; all columns but those of words are numbers."""
    table = build_table(*headings, numbers=frozenset(heading for heading in headings if heading not in words))
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console.print(table)
    console.print()


def _print_ways(console: Console, answer: Answer) -> None:
    rows = [
        (WAY_WORDS[row.way], str(row.good), str(row.unit), str(row.unit_carried), str(row.total),
         f"{row.minutes / row.good:.1f}", str(row.started))
        for row in answer.statements
    ]  # fmt: skip
    _print_rows(console, ("way", "pieces", "unit cost", "carried", "run", "min each", "boards"), rows)
    console.print(Text("Leftovers: charged to this run in unit cost, kept for a later one in carried."))
    for found in answer.crossovers:
        cheaper, than = WAY_WORDS[found.cheaper], WAY_WORDS[found.than]
        console.print(Text(f"From {found.good} pieces on, {cheaper} is cheaper than {than}."))
    console.print()


def _print_prices(console: Console, answer: Answer) -> None:
    if not answer.sales and not answer.wanted:
        return
    sales = {row.way: row for row in answer.sales}
    wanted = {row.way: row for row in answer.wanted}
    pays = {row.way: str(row.good) for row in reversed(answer.break_even) if row.pays}
    rows = []
    for way in dict.fromkeys((*sales, *wanted)):
        sale, want = sales.get(way), wanted.get(way)
        figures = (DASH,) * 3 if sale is None else (str(sale.price), str(sale.profit), f"{sale.margin_percent:.1f} %")
        price = DASH if want is None or want.price is None else str(want.price)
        rows.append((WAY_WORDS[way], *figures, pays.get(way, DASH), price))
    margin = f"for {answer.wanted[0].margin_percent} %" if answer.wanted else "wanted"
    _print_rows(console, ("way", "price", "left each", "margin", "pays from", margin), rows)


def _print_risk(console: Console, answer: Answer, *, way: Way) -> None:
    rows = [
        (WAY_WORDS[row.way], str(row.best), str(row.likely), str(row.worst), f"{100 * row.cheapest_frac:.0f} %")
        for row in answer.risks
    ]
    _print_rows(console, ("way", "best", "likely", "worst", "cheapest in"), rows)
    swings = [row for row in answer.sensitivity if row.way == way and row.swing][:SHORT_LIST]
    if swings:
        console.print(Text(f"What moves the unit cost most, {WAY_WORDS[way]}:"))
        _print_rows(
            console,
            ("input", "from", "to", "unit cost", "to "),
            [(row.what, *(str(n) for n in (row.low, row.high, row.unit_at_low, row.unit_at_high))) for row in swings],
            words=("input",),
        )


def _print_demand(console: Console, answer: Answer, *, way: Way, currency: str) -> None:
    for row in answer.demand:
        if row.way == way:
            text = f"For the stated demand, make {row.good} ({WAY_WORDS[way]}):"
            profit = f"expected profit {row.expected_profit:.2f} {currency}, {row.expected_sold:.0f} sold;"
            plain = f"without fixed costs {row.critical_good:.0f} ({100 * row.critical_ratio:.0f} % chance)"
            console.print(Text(f"{text} {profit} {plain}."))
            console.print()


def _option_cells(row: OptionResult) -> tuple[str, ...]:
    figures = ("best" if row.best else "", row.name, row.way, str(row.unit), f"{row.minutes:.1f}")
    if row.light is None:
        return (*figures, DASH, DASH, row.light_state)
    verdict = "passes" if row.light.passed else f"{100 * row.light.goals_met_frac:.0f} % of goals"
    luminance, evenness = (to_range_text(figure, dash=DASH) for figure in (row.light.mean_cd_m2, row.light.evenness))
    return (*figures, luminance, evenness, verdict)


def _print_options(console: Console, results: CostResults) -> None:
    words = ("", "version", "way", "light")
    headings = ("", "version", "way", "cost", "min", "cd/m2", "even", "light")
    _print_rows(console, headings, [_option_cells(row) for row in results.options], words=words)


def print_statement(console: Console, statement: Statement, *, currency: str) -> None:
    """Print every line of a statement with its working; the lines add up to the total."""
    console.print(Text(f"{WAY_WORDS[statement.way]}, {statement.good} good pieces, in {currency}:"))
    lines = [(str(line.amount), str(line.per_piece), f"{line.what}: {line.working}") for line in statement.lines]
    totals = [
        (str(statement.total), str(statement.unit), "total"),
        (str(statement.total_carried), str(statement.unit_carried), "total if leftovers are carried"),
    ]
    _print_rows(console, ("run", "a piece", "for"), [*lines, *totals], words=("for",))


def print_costs(results: CostResults, *, way: Way | None) -> None:
    """Print the ways side by side, prices, risk, versions, one way line by line, and what was found.

    Parameters
    ----------
    results : CostResults
    way : {"hand", "mixed", "service"} or None
        Whose lines are printed; None for the cheapest of the first run.
    """
    console, answer = build_console(), results.answer
    first = [row for row in answer.statements if row.good == answer.statements[0].good]
    chosen = min(first, key=lambda row: (row.way != way, row.total))
    console.print(Text(f"{results.name}: what a good piece costs, in {results.currency}"))
    console.print()
    _print_ways(console, answer)
    _print_prices(console, answer)
    _print_risk(console, answer, way=chosen.way)
    _print_demand(console, answer, way=chosen.way, currency=results.currency)
    _print_options(console, results)
    print_statement(console, chosen, currency=results.currency)
    rates = results.inputs.rates
    if rates is not None:
        worths = ", ".join(f"1 {currency} = {worth} {results.currency}" for currency, worth in rates.worth.items())
        console.print(Text(f"{worths} ({rates.dated})"))
    console.print()
    print_findings(console, sort_findings(results.findings))
