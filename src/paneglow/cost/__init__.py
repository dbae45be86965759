"""What a finished piece costs: optimal buying, assembly fees, own work, yield; every number with its working."""

from paneglow.cost.answer import Answer, VariableCost, WantedPrice, build_answer
from paneglow.cost.charges import Group
from paneglow.cost.curve import MOST_PIECES, BreakEven, Crossover, Curve
from paneglow.cost.demand import DemandResult
from paneglow.cost.figures import Dated, Figure
from paneglow.cost.inputs import dated_tables
from paneglow.cost.minutes import with_led_minutes
from paneglow.cost.money import to_paid
from paneglow.cost.read import COST_FILE, cost_file, read_costs
from paneglow.cost.records import WAY_WORDS, CostFile, Option, Swap, Way
from paneglow.cost.risk import Risk, Sensitivity
from paneglow.cost.sale import SaleLine, SaleResult
from paneglow.cost.statement import (
    Costing,
    CostLine,
    RunCost,
    Statement,
    build_costing,
    build_statement,
    cost_run,
    sum_groups,
)

__all__ = [
    "COST_FILE",
    "MOST_PIECES",
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
    "RunCost",
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
    "cost_run",
    "dated_tables",
    "read_costs",
    "sum_groups",
    "to_paid",
    "with_led_minutes",
]
