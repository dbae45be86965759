"""Goals against results, findings with place, reason and remedy, and the usual cautions."""

from paneglow.judge.changes import build_changes
from paneglow.judge.findings import FITTING_KINDS
from paneglow.judge.records import Caution, Finding, GoalResult, Improvement, State, Verdict
from paneglow.judge.verdict import check_board, check_costs, judge, release_blockers

__all__ = [
    "FITTING_KINDS",
    "Caution",
    "Improvement",
    "Finding",
    "GoalResult",
    "State",
    "Verdict",
    "build_changes",
    "check_board",
    "check_costs",
    "judge",
    "release_blockers",
]
