"""Goals met or missed, and defects found."""

from typing import Literal

from paneglow.units import Estimate, FiniteFloat, Record

Severity = Literal["error", "warning", "note"]
Outcome = Literal["met", "missed", "open"]


class GoalResult(Record):
    """One goal against one window; `open` where the range or the error straddles the goal."""

    goal: str  # field of [goals]
    window: str
    required: FiniteFloat
    found: Estimate
    margin: FiniteFloat  # positive where met, in the goal's own unit
    outcome: Outcome
    sentence: str


class Finding(Record):
    """A defect with its place, reason and remedy."""

    code: str  # stable kebab-case name of the rule
    severity: Severity
    subject: str  # window name, LED ref or "board"
    at_mm: tuple[float, float] | None
    reason: str
    remedy: str


class Caution(Record):
    """A usual caution shown beside the result; defers to local rules and qualified advice."""

    code: str
    text: str
    source: str


class Verdict(Record):
    """Everything judged."""

    passed: bool  # every stated goal met (not open) and no finding of severity error
    goals: tuple[GoalResult, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
