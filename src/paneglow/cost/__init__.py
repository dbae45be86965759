"""What a finished piece costs: optimal buying, assembly fees, own work, yield; every number with its working."""

from paneglow.cost.answer import VersionCost, build_answer, rests_on_assumed_fees
from paneglow.cost.charges import Group
from paneglow.cost.curve import Curve
from paneglow.cost.money import to_paid
from paneglow.cost.read import cost_file, read_costs
from paneglow.cost.records import WAY_WORDS, CostFile, Option, Swap, Way
from paneglow.cost.risk import dated_tables
from paneglow.cost.run import MOST_RUN
from paneglow.cost.starter import starter_text
from paneglow.cost.statement import Costing, Statement, build_costing, build_statement, cost_runs, sum_groups
from paneglow.cost.work import with_led_minutes

__all__ = [
    "MOST_RUN",
    "WAY_WORDS",
    "VersionCost",
    "CostFile",
    "Costing",
    "Curve",
    "Group",
    "Option",
    "Statement",
    "Swap",
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
