"""The numbers a cost rests on, one by one: where each stands, what it is in words, and the cost with it moved."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from paneglow.cost.figures import Dated, Figure, figures_of
from paneglow.cost.prices import build_market
from paneglow.cost.records import CostFile
from paneglow.cost.statement import Costing
from paneglow.units import Record

Path = tuple[str, int | None, str]  # table, its number in an array, field
PRICED = frozenset(("board", "offer", "supplier"))  # tables that prices come from
NAMING = ("item", "name", "way")  # fields that say what a table is about


def dated_tables(costs: CostFile) -> Iterator[tuple[str, Dated]]:
    """Every table that has a date, with what it is about."""
    for table, held in costs:
        rows = held if isinstance(held, tuple) else (held,)
        for row in rows:
            if isinstance(row, Dated):
                yield subject_of(table, row), row


def subject_of(table: str, row: Record) -> str:
    """What a table is about, in words: its kind and its name."""
    name = next((str(value) for field, value in row if field in NAMING), "")
    words = table.replace("_", " ")
    return words if name in ("", table) else f"{words} {name}"


def list_inputs(costs: CostFile) -> Iterator[tuple[Path, str, Figure]]:
    """Every figure that enters a unit cost and is not zero: where it stands, in words, and itself."""
    for table in ("board", "offer", "supplier", "stock", "operation", "quality", "one_off"):
        for number, row in enumerate(getattr(costs, table)):
            subject = next(str(value) for name, value in row if name in NAMING)
            more = f" {row.form} of {row.supplier}" if table == "offer" else ""
            for field, figure in figures_of(row):
                if figure.value:
                    yield (table, number, field), f"{subject}{more}: {_words(field)}", figure
    for table in ("assembly", "labour"):
        record = getattr(costs, table)
        for field, figure in figures_of(record) if record is not None else ():
            if figure.value:
                yield (table, None, field), f"{table}: {_words(field)}", figure


def _words(field: str) -> str:
    return field.removesuffix("_percent").replace("_", " ")


def with_inputs(costing: Costing, *, values: Mapping[Path, Decimal]) -> Costing:
    """The same costing with some figures replaced by single values."""
    by_table: dict[str, dict[int | None, dict[str, Decimal]]] = {}
    for (table, number, field), value in values.items():
        by_table.setdefault(table, {}).setdefault(number, {})[field] = value
    held = {table: _with_rows(getattr(costing.costs, table), rows=rows) for table, rows in by_table.items()}
    moved = costing.costs.model_copy(update=held)
    # The market keeps what it has worked out, for as long as no price moves
    market = build_market(moved, bill=costing.bill) if PRICED.intersection(by_table) else costing.market
    return replace(costing, costs=moved, market=market)


def _with_rows(held: Any, *, rows: Mapping[int | None, Mapping[str, Decimal]]) -> Any:
    """A table, or an array of tables, with figures of some rows replaced."""
    if None in rows:
        return _with_values(held, values=rows[None])
    return tuple(_with_values(row, values=rows[number]) if number in rows else row for number, row in enumerate(held))


def _with_values(row: Record, *, values: Mapping[str, Decimal]) -> Record:
    return row.model_copy(update={field: Figure.model_construct(value=value) for field, value in values.items()})
