"""What the stated ranges leave open: one input at a time, and all of them at once by seeded draws."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
from pydantic import Field

from paneglow.cost.money import HUNDRED, Exact, to_paid
from paneglow.cost.offers import build_offers
from paneglow.cost.records import CostFile, Dated, RangedNumber, Way, figures_of
from paneglow.cost.statement import Costing, cost_runs
from paneglow.units import Fraction, Record

DRAWS = 400  # the 5 % and 95 % ends are then known to about +-2 % of the draws (binomial, two standard errors)
BEST_SHARE, WORST_SHARE = 0.05, 0.95
TENTH = Decimal("1.1")
DRAW_DIGITS = 6

Path = tuple[str, int | None, str]  # table, its number in an array, field
PRICED = frozenset(("board", "offer", "supplier"))  # tables that prices come from
NAMING = ("item", "name", "way")  # fields that say what a table is about
FIELD_WORDS = {  # fields whose own name does not say enough
    "good_percent": "boards good at first test, %",
    "rework_percent": "bad boards that rework saves, %",
    "attrition_percent": "parts lost while placing, %",
    "joint_defects_ppm": "bad joints in a million",
    "overhead_percent": "overhead on own work, %",
    "duty_percent": "import duty, %",
    "learning_percent": "time left at each doubling, %",
    "spares_percent": "spares of each part, %",
    "own_parts_percent": "handling of your own parts, %",
    "own_parts_least": "minimum charge for handling your own parts",
    "floor_per_board": "minimum charge per board",
    "second_side_percent": "more for the second side, %",
    "hand_setup": "set-up for hand work",
}


class Sensitivity(Record):
    """What one input does to the unit cost when it alone moves."""

    way: Way = Field(description="Way to build.")
    what: str = Field(description="The input: its table, what it is for, and the field.")
    value: Decimal = Field(description="Its stated value.")
    low: Decimal = Field(description="Lower end of its range.")
    high: Decimal = Field(description="Upper end of its range.")
    unit_at_low: Decimal = Field(description="Unit cost where the input is at its lower end.")
    unit_at_high: Decimal = Field(description="Unit cost where the input is at its upper end.")
    unit_at_tenth_more: Decimal = Field(description="Unit cost where the input is ten percent above its value.")

    @property
    def swing(self) -> Decimal:
        """How far the unit cost moves over the range."""
        return abs(self.unit_at_high - self.unit_at_low)


class Risk(Record):
    """Unit cost of one way when every ranged input is drawn from its range."""

    way: Way = Field(description="Way to build.")
    best: Decimal = Field(description="Unit cost that one draw in twenty stays below.")
    likely: Decimal = Field(description="Unit cost in the middle of the draws.")
    worst: Decimal = Field(description="Unit cost that one draw in twenty goes beyond.")
    stated: Decimal = Field(description="Unit cost at the stated values.")
    cheapest_frac: Fraction | None = Field(
        description="Share of the draws in which this way is the cheapest; absent where a fee was not quoted [1]."
    )
    draws: int = Field(description="Number of draws.")
    seed: int = Field(description="Seed of the draws.")


def dated_tables(costs: CostFile) -> Iterator[tuple[str, Dated]]:
    """Every table that has a date, with what it is about."""
    for table, held in costs:
        for row in held if isinstance(held, tuple) else (held,):
            if isinstance(row, Dated):
                name = next((str(value) for field, value in row if field in NAMING), "")
                words = table.replace("_", " ")
                yield words if name in ("", table) else f"{words} {name}", row


def list_inputs(costs: CostFile) -> Iterator[tuple[Path, str, RangedNumber]]:
    """Every figure that enters a unit cost and is not zero: where it stands, in words, and itself."""
    for table in ("board", "offer", "supplier", "stock", "operation", "process_yield", "one_off"):
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
    return FIELD_WORDS.get(field, field.replace("_", " "))


def with_inputs(costing: Costing, *, values: Mapping[Path, Exact]) -> Costing:
    """The same costing with some figures replaced by values of several runs, one entry per run."""
    by_table: dict[str, dict[int | None, dict[str, Exact]]] = {}
    for (table, number, field), value in values.items():
        by_table.setdefault(table, {}).setdefault(number, {})[field] = value
    held = {table: _with_rows(getattr(costing.costs, table), rows=rows) for table, rows in by_table.items()}
    moved = costing.costs.model_copy(update=held)
    offers = build_offers(moved, bill=costing.bill) if PRICED.intersection(by_table) else costing.offers
    return replace(costing, costs=moved, offers=offers)


def _with_rows(held: Any, *, rows: Mapping[int | None, Mapping[str, Exact]]) -> Any:
    """A table, or an array of tables, with figures of some rows replaced."""

    def moved(row: Record, values: Mapping[str, Any]) -> Record:
        # Unchecked on purpose: a figure of several runs at once, which every formula takes like one number
        return row.model_copy(
            update={field: RangedNumber.model_construct(value=value) for field, value in values.items()}
        )

    if None in rows:
        return moved(held, rows[None])
    return tuple(moved(row, rows[number]) if number in rows else row for number, row in enumerate(held))


def build_sensitivity(costing: Costing, *, way: Way, good: int) -> tuple[Sensitivity, ...]:
    """What every input does alone, the widest swing first, then the greatest effect of ten percent more.

    Parameters
    ----------
    costing : Costing
        With the stated ranges.
    way : {"hand", "mixed", "service"}
        Way to build.
    good : int
        Good pieces of the run.
    """
    currency, inputs = costing.costs.currency, list(list_inputs(costing.costs))
    # Run 0 is the stated one; every input has three of its own: at its low end, its high end, ten percent above
    runs = 1 + 3 * len(inputs)
    values = {path: np.full(runs, figure.value, dtype=object) for path, _, figure in inputs}
    for place, (path, _, figure) in enumerate(inputs):
        more = figure.value * TENTH
        more = min(more, HUNDRED) if path[2].endswith("_percent") else more
        values[path][1 + 3 * place : 4 + 3 * place] = figure.lowest, figure.highest, more
    totals = cost_runs(with_inputs(costing, values=values), way=way, good=[good] * runs).total
    units = [to_paid(total / good, currency=currency) for total in totals]
    rows = [
        Sensitivity(
            way=way,
            what=what,
            value=figure.value,
            low=figure.lowest,
            high=figure.highest,
            unit_at_low=units[1 + 3 * place],
            unit_at_high=units[2 + 3 * place],
            unit_at_tenth_more=units[3 + 3 * place],
        )
        for place, (_, what, figure) in enumerate(inputs)
    ]
    stated = units[0]
    felt = [row for row in rows if row.swing or row.unit_at_tenth_more != stated]
    return tuple(sorted(felt, key=lambda row: (-row.swing, -abs(row.unit_at_tenth_more - stated))))


def draw_units(costing: Costing, *, ways: Sequence[Way], good: int, seed: int, draws: int = DRAWS) -> dict[Way, Exact]:
    """Unit costs of every way in the same draws of all ranged inputs.

    Parameters
    ----------
    costing : Costing
        With the stated ranges.
    ways : sequence of {"hand", "mixed", "service"}
        Ways to build.
    good : int
        Good pieces of the run.
    seed : int
        The same seed gives the same draws.
    draws : int
        How many.

    Returns
    -------
    dict of ndarray, shape (draw,)
        By way, one exact unit cost per draw. Each input is drawn on its own from a triangle over its range with the
        peak at its value.
    """
    generator = np.random.default_rng(seed)
    values = {}
    for path, _, figure in list_inputs(costing.costs):
        if figure.ranged:
            low, peak, high = (float(number) for number in (figure.lowest, figure.value, figure.highest))
            drawn = generator.triangular(low, peak, high, size=draws)
            values[path] = np.array([Decimal(f"{number:.{DRAW_DIGITS}f}") for number in drawn], dtype=object)
    drawn_costing = with_inputs(costing, values=values)
    return {way: cost_runs(drawn_costing, way=way, good=[good] * draws).total / good for way in ways}


def build_risks(
    costing: Costing, *, ways: Sequence[Way], compared: Sequence[Way], good: int, seed: int, draws: int = DRAWS
) -> tuple[Risk, ...]:
    """Worst, likely and best unit cost of every way.

    Parameters
    ----------
    costing, ways, good, seed, draws
        As for `draw_units`.
    compared : sequence of {"hand", "mixed", "service"}
        Ways whose fees somebody quoted; where that is not all of them, none is called the cheapest.
    """
    currency = costing.costs.currency
    units = draw_units(costing, ways=ways, good=good, seed=seed, draws=draws)
    cheapest = [min(zip(row, compared, strict=True))[1] for row in zip(*(units[way] for way in compared), strict=True)]
    return tuple(
        Risk(
            way=way,
            best=to_paid(quantile(units[way], share=BEST_SHARE), currency=currency),
            likely=to_paid(quantile(units[way], share=0.5), currency=currency),
            worst=to_paid(quantile(units[way], share=WORST_SHARE), currency=currency),
            stated=to_paid(cost_runs(costing, way=way, good=[good]).total[0] / good, currency=currency),
            cheapest_frac=cheapest.count(way) / draws if way in compared and len(compared) == len(ways) else None,
            draws=draws,
            seed=seed,
        )
        for way in ways
    )


def quantile(values: Sequence[Decimal] | Exact, *, share: float) -> Decimal:
    """Value that a share of all values does not exceed; the first one that reaches it.

    Examples
    --------
    >>> quantile([Decimal(n) for n in (5, 1, 4, 2, 3)], share=0.5)
    Decimal('3')
    """
    ordered: list[Decimal] = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, int(np.ceil(share * len(ordered))) - 1))]
