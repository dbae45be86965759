"""What the stated ranges leave open: one input at a time, and all of them at once by seeded draws."""

from collections.abc import Sequence
from decimal import Decimal

import numpy as np
from pydantic import Field

from paneglow.cost.figures import Figure
from paneglow.cost.inputs import Path, list_inputs, with_inputs
from paneglow.cost.money import HUNDRED, to_paid
from paneglow.cost.records import Way
from paneglow.cost.statement import Costing, cost_run
from paneglow.units import Fraction, Record

DRAWS = 400  # the 5 % and 95 % ends are then known to about +-2 % of the draws (binomial, two standard errors)
BEST_SHARE, WORST_SHARE = 0.05, 0.95
TENTH = Decimal("1.1")
DRAW_DIGITS = 6


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
    cheapest_frac: Fraction = Field(description="Share of the draws in which this way is the cheapest.")
    draws: int = Field(description="Number of draws.")
    seed: int = Field(description="Seed of the draws.")


def unit_cost(costing: Costing, *, way: Way, good: int) -> Decimal:
    """Exact cost of one good piece, leftovers charged to the run."""
    return cost_run(costing, way=way, good=good).total / good


def build_sensitivity(costing: Costing, *, way: Way, good: int) -> tuple[Sensitivity, ...]:
    """What every input does alone, the widest swing first, then the greatest effect of ten percent more."""
    currency = costing.costs.currency

    def moved(path: Path, value: Decimal) -> Decimal:
        return to_paid(unit_cost(with_inputs(costing, values={path: value}), way=way, good=good), currency=currency)

    stated = to_paid(unit_cost(costing, way=way, good=good), currency=currency)
    rows = [
        Sensitivity(
            way=way,
            what=what,
            value=figure.value,
            low=figure.lowest,
            high=figure.highest,
            unit_at_low=moved(path, figure.lowest) if figure.ranged else stated,
            unit_at_high=moved(path, figure.highest) if figure.ranged else stated,
            unit_at_tenth_more=moved(path, _tenth_more(path, figure)),
        )
        for path, what, figure in list_inputs(costing.costs)
    ]
    felt = [row for row in rows if row.swing or row.unit_at_tenth_more != stated]
    return tuple(sorted(felt, key=lambda row: (-row.swing, -abs(row.unit_at_tenth_more - stated))))


def _tenth_more(path: Path, figure: Figure) -> Decimal:
    """Ten percent above a value; a percentage stops at 100."""
    more = figure.value * TENTH
    return min(more, HUNDRED) if path[2].endswith("_percent") else more


def draw_units(
    costing: Costing, *, ways: Sequence[Way], good: int, seed: int, draws: int = DRAWS
) -> dict[Way, list[Decimal]]:
    """Unit costs of every way in the same draws of all ranged inputs.

    Parameters
    ----------
    costing : Costing
    ways : sequence of {"hand", "mixed", "service"}
    good : int
        Good pieces of the run.
    seed : int
        The same seed gives the same draws.
    draws : int

    Returns
    -------
    dict of list
        By way, one exact unit cost per draw. Each input is drawn on its own from a triangle over its range with the
        peak at its value.
    """
    generator = np.random.default_rng(seed)
    ranged = [(path, figure) for path, _, figure in list_inputs(costing.costs) if figure.ranged]
    units: dict[Way, list[Decimal]] = {way: [] for way in ways}
    for _ in range(draws):
        values = {path: _draw(figure, generator=generator) for path, figure in ranged}
        drawn = with_inputs(costing, values=values)
        for way in ways:
            units[way].append(unit_cost(drawn, way=way, good=good))
    return units


def _draw(figure: Figure, *, generator: np.random.Generator) -> Decimal:
    low, peak, high = (float(number) for number in (figure.lowest, figure.value, figure.highest))
    return Decimal(f"{generator.triangular(low, peak, high):.{DRAW_DIGITS}f}")


def build_risks(costing: Costing, *, ways: Sequence[Way], good: int, seed: int, draws: int = DRAWS) -> tuple[Risk, ...]:
    """Worst, likely and best unit cost of every way, as `draw_units` draws them."""
    currency = costing.costs.currency
    units = draw_units(costing, ways=ways, good=good, seed=seed, draws=draws)
    cheapest = [min(zip(row, ways, strict=True))[1] for row in zip(*(units[way] for way in ways), strict=True)]
    return tuple(
        Risk(
            way=way,
            best=to_paid(quantile(units[way], share=BEST_SHARE), currency=currency),
            likely=to_paid(quantile(units[way], share=0.5), currency=currency),
            worst=to_paid(quantile(units[way], share=WORST_SHARE), currency=currency),
            stated=to_paid(unit_cost(costing, way=way, good=good), currency=currency),
            cheapest_frac=cheapest.count(way) / draws,
            draws=draws,
            seed=seed,
        )
        for way in ways
    )


def quantile(values: Sequence[Decimal], *, share: float) -> Decimal:
    """Value that a share of all values does not exceed; the first one that reaches it.

    Examples
    --------
    >>> quantile([Decimal(n) for n in (5, 1, 4, 2, 3)], share=0.5)
    Decimal('3')
    """
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, int(np.ceil(share * len(ordered))) - 1))]
