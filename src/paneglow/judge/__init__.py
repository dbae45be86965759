"""Goals against results, findings with place, reason and remedy, and the usual cautions."""

from paneglow.judge.records import Caution, Finding, GoalResult, Verdict
from paneglow.judge.verdict import check_board, check_costs, judge

__all__ = ["Caution", "Finding", "GoalResult", "Verdict", "check_board", "check_costs", "judge"]
