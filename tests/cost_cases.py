"""A plain cost file for tests: every number is round, so that each result can be worked out on paper."""

import tomllib
from datetime import date
from decimal import Decimal

from paneglow.assembly import Bill, BillRow
from paneglow.cost import CostFile, Costing, build_costing, cost_runs
from paneglow.design import parse_record

D = Decimal
STAMP = 'origin = "quote"\ndated = 2026-11-01\nsource = "invented for this test"\n'
TODAY = date(2026, 11, 25)

PLAIN = f"""
currency = "EUR"

[[board]]
supplier = "board house"
size_mm = [100, 100]
finish = "plain"
price_breaks = [{{ at = 1, each = 2.00 }}, {{ at = 100, each = 1.00 }}]
{STAMP}
[[offer]]
item = "led"
supplier = "shop"
price_breaks = [{{ at = 1, each = 0.20 }}, {{ at = 100, each = 0.10 }}]
{STAMP}
[assembly]
setup_per_side = 10
stencil_per_side = 2
per_joint = 0.01
per_part_type = 2
{STAMP}
[labour]
rate_per_hour = 15
{STAMP}
[[operation]]
name = "solder"
per = "led"
minutes = 0.75
{STAMP}
"""
PERFECT = "".join(
    f'[[process_yield]]\nway = "{way}"\ngood_percent = 100\n{STAMP}\n' for way in ("hand", "mixed", "service")
)


def make_costs(text: str = PLAIN + PERFECT) -> CostFile:
    """A cost file of exactly what is written, nothing filled in."""
    record, problems = parse_record(CostFile, tomllib.loads(text, parse_float=Decimal))
    assert problems == []
    assert record is not None
    return record


def make_bill(count: int = 8, *, mounting: str = "lens_down", **others: int) -> Bill:
    """So many LEDs on the back of a board of 60 x 80 mm, and other parts by name."""
    built_by = "hand" if mounting == "lens_down" else "machine"
    rows = [BillRow(item="led", count=count, side="back", built_by=built_by, mounting=mounting)]
    rows += [BillRow(item=item, count=number, side="back", built_by="machine") for item, number in others.items()]
    return Bill(rows=tuple(rows), size_mm=(60.0, 80.0))


def make_costing(text: str = PLAIN + PERFECT, *, bill: Bill | None = None) -> Costing:
    return build_costing(make_costs(text), bill=make_bill() if bill is None else bill)


def run_total(costing: Costing, *, way: str = "hand", good: int = 1) -> Decimal:
    """Exact cost of one run."""
    total: Decimal = cost_runs(costing, way=way, good=[good]).total[0]
    return total
