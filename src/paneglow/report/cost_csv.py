"""What a piece costs as comma-separated tables: every line of every statement, and the curve."""

import csv
import io
from collections.abc import Iterable

from paneglow.cost import Statement
from paneglow.results import CostResults

LINE_HEADINGS = ("way", "good_pieces", "group", "what", "working", "kind", "amount", "per_piece", "currency")
CURVE_HEADINGS = ("way", "good_pieces", "unit_cost", "unit_cost_leftovers_carried", "currency")


def to_lines_csv(results: CostResults) -> str:
    """Every line of every statement, then its totals; amounts of lines add up to the total below them."""
    rows = (row for statement in results.answer.statements for row in _rows(statement, currency=results.currency))
    return _to_csv(LINE_HEADINGS, rows)


def to_curve_csv(results: CostResults) -> str:
    """Unit cost of every way against quantity."""
    rows = (
        (curve.way, good, unit, carried, results.currency)
        for curve in results.answer.curves
        for good, unit, carried in zip(curve.good, curve.unit, curve.unit_carried, strict=True)
    )
    return _to_csv(CURVE_HEADINGS, rows)


def _rows(statement: Statement, *, currency: str) -> Iterable[tuple[object, ...]]:
    way, good = statement.way, statement.good
    for line in statement.lines:
        yield way, good, line.group, line.what, line.working, line.kind, line.amount, line.per_piece, currency
    yield way, good, "total", "total", "", "total", statement.total, statement.unit, currency
    carried = "total if leftovers are carried"
    yield way, good, "total", carried, "", "carried", statement.total_carried, statement.unit_carried, currency


def _to_csv(headings: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows(rows)
    return text.getvalue()
