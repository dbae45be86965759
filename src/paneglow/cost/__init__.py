"""What a finished piece costs: optimal buying, assembly fees, own work, yield; every number with its working."""

from paneglow.cost.answer import Answer, VariableCost, WantedPrice, build_answer, rests_on_assumed_fees
from paneglow.cost.charges import Group
from paneglow.cost.curve import BreakEven, Crossover, Curve
from paneglow.cost.demand import DemandResult
from paneglow.cost.money import to_paid
from paneglow.cost.read import COST_FILE, cost_file, read_costs
from paneglow.cost.records import WAY_WORDS, CostFile, Dated, Figure, Option, Swap, Way
from paneglow.cost.risk import Risk, Sensitivity, dated_tables
from paneglow.cost.run import MOST_RUN
from paneglow.cost.sale import SaleLine, SaleResult
from paneglow.cost.starter import starter_text
from paneglow.cost.statement import (
    Costing,
    CostLine,
    Statement,
    build_costing,
    build_statement,
    cost_runs,
    sum_groups,
)
from paneglow.cost.work import with_led_minutes

__all__ = [
    "COST_FILE",
    "MOST_RUN",
    "WAY_WORDS",
    "Answer",
    "BreakEven",
    "CostFile",
    "CostLine",
    "Costing",
    "Crossover",
    "Curve",
    "Dated",
    "DemandResult",
    "Figure",
    "Group",
    "Option",
    "Risk",
    "SaleLine",
    "SaleResult",
    "Sensitivity",
    "Statement",
    "Swap",
    "VariableCost",
    "WantedPrice",
    "Way",
    "build_answer",
    "build_costing",
    "build_statement",
    "cost_file",
    "cost_runs",
    "dated_tables",
    "read_costs",
    "rests_on_assumed_fees",
    "starter_text",
    "sum_groups",
    "to_paid",
    "with_led_minutes",
]
