"""Goals against results, and findings."""

from paneglow.judge.records import Caution, Finding, GoalResult, Verdict

__all__ = ["Caution", "Finding", "GoalResult", "Verdict"]
