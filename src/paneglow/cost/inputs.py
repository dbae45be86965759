"""The numbers a cost rests on, one by one: where each stands, what it is in words, and the cost with it moved."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from paneglow.cost.figures import Dated, Figure, figures_of
from paneglow.cost.prices import build_ladders, postage_by_supplier
from paneglow.cost.records import CostFile
from paneglow.cost.statement import Costing
from paneglow.units import Record

Path = tuple[str, int | None, str]  # table, its number in an array, field
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
    moved = costing.costs
    for (table, number, field), value in values.items():
        moved = moved.model_copy(
            update={table: _with_value(getattr(moved, table), number=number, field=field, to=value)}
        )
    return replace(
        costing, costs=moved, ladders=build_ladders(moved, bill=costing.bill), postage=postage_by_supplier(moved)
    )


def _with_value(held: Any, *, number: int | None, field: str, to: Decimal) -> Any:
    """A table, or an array of tables, with one figure replaced."""
    if number is None:
        return held.model_copy(update={field: Figure.model_construct(value=to)})
    changed = _with_value(held[number], number=None, field=field, to=to)
    return (*held[:number], changed, *held[number + 1 :])
