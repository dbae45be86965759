"""What a finished piece costs: optimal buying, assembly fees, own work, yield; every number with its working."""

from paneglow.cost.bill import Bill, BillRow, build_bill, count_rows, swap_parts
from paneglow.cost.read import COST_FILE, cost_file, read_costs
from paneglow.cost.records import WAY_WORDS, CostFile, Way
from paneglow.cost.statement import Costing, CostLine, RunCost, Statement, build_costing, build_statement, cost_run

__all__ = [
    "COST_FILE",
    "WAY_WORDS",
    "Bill",
    "BillRow",
    "CostFile",
    "CostLine",
    "Costing",
    "RunCost",
    "Statement",
    "Way",
    "build_bill",
    "build_costing",
    "build_statement",
    "cost_file",
    "cost_run",
    "count_rows",
    "read_costs",
    "swap_parts",
]
