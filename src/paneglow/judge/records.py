"""Goals met or missed, and defects found."""

from typing import Literal

from paneglow.units import Estimate, FiniteFloat, Record

Severity = Literal["error", "warning", "note"]
Outcome = Literal["met", "missed", "open"]


class GoalResult(Record):
    """One goal against one window; `open` where the range or the error straddles the goal."""

    goal: str  # field of [goals]
    window: str  # Name of the window
    required: FiniteFloat  # What the design asks, in the unit of the goal
    found: Estimate  # What the window shows
    margin: FiniteFloat  # positive where met, in the goal's own unit
    outcome: Outcome  # Met, missed, or open where range or error lie on both sides
    sentence: str  # The same in one sentence


class Finding(Record):
    """A defect with its place, reason and remedy."""

    code: str  # stable kebab-case name of the rule
    severity: Severity  # Error, warning or note
    subject: str  # window name, LED ref or "board"
    at_mm: tuple[float, float] | None  # Place (x, y) on the board, seen from the front
    reason: str  # Why, with the measured amount
    remedy: str  # What to do about it


class Caution(Record):
    """A usual caution shown beside the result; defers to local rules and qualified advice."""

    code: str  # Stable code of the caution
    text: str  # The text as shown
    source: str  # Whose usual advice it is


class Verdict(Record):
    """Everything judged."""

    passed: bool  # every stated goal met (not open) and no finding of severity error
    goals: tuple[GoalResult, ...]  # Every stated goal against every window that is named or lit
    findings: tuple[Finding, ...]  # Defects found, the gravest first
    cautions: tuple[Caution, ...]  # Usual cautions that apply
