"""The result of `paneglow cost` as text for a terminal of 80 columns."""

from rich.console import Console
from rich.text import Text

from paneglow.cli.console import build_console, build_table, print_findings, print_indented
from paneglow.cost import WAY_WORDS, Statement
from paneglow.report import sort_findings
from paneglow.results import CostResults

NUMBERS = ("pieces", "unit cost", "carried", "run", "min/piece", "boards")


def _print_ways(console: Console, results: CostResults) -> None:
    table = build_table("way", *NUMBERS, numbers=frozenset(NUMBERS))
    for row in results.statements:
        minutes = f"{row.minutes / row.good:.1f}"
        figures = (str(row.good), str(row.unit), str(row.unit_carried), str(row.total), minutes, str(row.started))
        table.add_row(*(Text(cell) for cell in (WAY_WORDS[row.way], *figures)))
    console.print(table)
    print_indented(console, "unit cost: leftovers charged to this run; carried: kept for a later one", lead="")


def print_statement(console: Console, statement: Statement, *, currency: str) -> None:
    """Print every line of a statement with its working; the lines add up to the total."""
    console.print(Text(f"{WAY_WORDS[statement.way]}, {statement.good} good pieces, in {currency}"))
    console.print()
    numbers = ("run", "a piece")
    table = build_table(*numbers, "for", numbers=frozenset(numbers))
    for line in statement.lines:
        table.add_row(Text(str(line.amount)), Text(str(line.per_piece)), Text(f"{line.what}: {line.working}"))
    table.add_row(Text(str(statement.total)), Text(str(statement.unit)), Text("total"))
    carried = "total if leftovers are carried"
    table.add_row(Text(str(statement.total_carried)), Text(str(statement.unit_carried)), Text(carried))
    console.print(table)


def print_costs(results: CostResults) -> None:
    """Print the ways side by side, the usual one line by line, and what was found."""
    console = build_console()
    console.print(Text(f"{results.name}: cost of a good piece, {results.currency}"))
    console.print()
    _print_ways(console, results)
    console.print()
    print_statement(console, results.statements[0], currency=results.currency)
    console.print()
    print_findings(console, sort_findings(results.findings))
