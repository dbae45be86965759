"""Goals met or missed, and defects found."""

from typing import Literal

from paneglow.units import Estimate, FiniteFloat, Record

Severity = Literal["error", "warning", "note"]
Outcome = Literal["met", "missed", "open"]
State = Literal["ready", "not settled", "not ready"]


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


class Improvement(Record):
    """What to do about some findings, or about goals that none speaks of, and what that changes."""

    do: str  # What to do
    effect: str  # What it changes: whether a board can be ordered, and the goals it bears on
    severity: Severity  # Of its findings; of a goal alone, warning where it is missed and note where it is open
    blocks_release: bool  # Whether no board is to be ordered before
    subjects: tuple[str, ...]  # Windows and LEDs concerned, or "board"
    findings: tuple[int, ...]  # Which findings it mends, from 0; none where a goal alone asks for it
    goals: tuple[int, ...]  # Which goals it bears on that are not met, from 0


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
    changes: tuple[Improvement, ...] = ()  # What to do, what matters most first; every finding stands in one of them

    @property
    def state(self) -> State:
        """Ready to order; not ready; or not settled: a goal is open, none is stated, or a finding blocks release."""
        outcomes = {goal.outcome for goal in self.goals}
        if "missed" in outcomes or any(finding.severity == "error" for finding in self.findings):
            return "not ready"
        blocked = any(change.blocks_release for change in self.changes)
        return "ready" if outcomes == {"met"} and not blocked else "not settled"
