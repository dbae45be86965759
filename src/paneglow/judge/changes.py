"""What to change, ordered by its effect on the goals: equal findings together, and goals that no finding speaks of."""

import re
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from paneglow.board import Board
from paneglow.judge.findings import (
    BOARD_RULES,
    CIRCUIT_RULES,
    LIGHT_RULES,
    BoardContext,
    CircuitContext,
    LightContext,
    Rule,
)
from paneglow.judge.goals import GOAL_KINDS, LIGHT_GOALS, judge_outcome
from paneglow.judge.records import Finding, GoalResult, Improvement, Severity
from paneglow.judge.wording import to_list, to_number, to_range, to_share
from paneglow.units import Estimate

RULES: Mapping[str, Rule[BoardContext] | Rule[CircuitContext] | Rule[LightContext]] = {
    **{rule.code: rule for rule in BOARD_RULES},
    **{rule.code: rule for rule in CIRCUIT_RULES},
    **{rule.code: rule for rule in LIGHT_RULES},
}
SEVERITY_ORDER: tuple[Severity, ...] = ("error", "warning", "note")
EVENNESS_FLOOR = 0.01  # below it a window is uneven beyond any use (our choice)
SETTLED_IF = {
    "laminate": "if a measured laminate turns out like the usual one",
    "noise": "without the noise of the trace",
}
NAMED_GOALS = 3  # of a change; the rest are counted
WORDS_AND_DIGITS = re.compile(r"(\D*)(\d*)")
NUMBER = re.compile(r"-?\d[\d.]*")
KINDS = {kind.field: kind for kind in GOAL_KINDS}


def is_blocking(finding: Finding) -> bool:
    """Whether it must be gone before any board is ordered: an error, or found by a rule that blocks release."""
    rule = RULES.get(finding.code)
    return finding.severity == "error" or (rule is not None and rule.blocks_release)


def build_changes(
    findings: Sequence[Finding], *, goals: Sequence[GoalResult], board: Board, stated: Collection[str] = ()
) -> tuple[Improvement, ...]:
    """Every finding and every goal that is not met, as what to do about it; what matters most stands first.

    Parameters
    ----------
    findings : sequence of Finding
        Those that ask for the same are one change.
    goals : sequence of GoalResult
        Empty where no light was traced.
    board : Board
        Says which window an LED is meant for.
    stated : collection of str
        Fields of `[goals]` that the design states; used where no goal was judged.

    Returns
    -------
    tuple of Improvement
        What blocks release, then by the goals that are missed, by those that are open, by severity, and by how
        many windows and LEDs are concerned.
    """
    meant_for = {led.ref: led.window for led in board.leds}
    alike: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for number, finding in enumerate(findings):
        asked = NUMBER.sub("0", finding.remedy.replace(finding.subject, "it"))
        alike[finding.code, finding.severity, asked].append(number)
    changes = [
        _mend(
            [findings[number] for number in numbers], numbers=numbers, goals=goals, meant_for=meant_for, stated=stated
        )
        for numbers in alike.values()
    ]
    spoken_of = {number for change in changes for number in change.goals}
    changes += _reach(goals, spoken_of=spoken_of)
    # Stable, so that changes of equal weight keep the order of the findings
    return tuple(sorted(changes, key=lambda change: _weight(change, goals)))


def _weight(change: Improvement, goals: Sequence[GoalResult]) -> tuple[bool, int, int, int, int]:
    outcomes = [goals[number].outcome for number in change.goals]
    severity = SEVERITY_ORDER.index(change.severity)
    return (
        not change.blocks_release,
        -outcomes.count("missed"),
        -outcomes.count("open"),
        severity,
        -len(change.subjects),
    )


def _by_number(name: str) -> tuple[tuple[str, int], ...]:
    """Order in which D2 stands before D10."""
    return tuple((words, int(digits or 0)) for words, digits in WORDS_AND_DIGITS.findall(name))


def _mend(
    findings: Sequence[Finding],
    *,
    numbers: Sequence[int],
    goals: Sequence[GoalResult],
    meant_for: Mapping[str, str | None],
    stated: Collection[str],
) -> Improvement:
    """One change for findings that ask for the same."""
    first = findings[0]
    rule = RULES.get(first.code)
    settles = "" if rule is None else rule.settles
    subjects = tuple(sorted({finding.subject for finding in findings}, key=_by_number))
    windows = {meant_for.get(subject, subject) for subject in subjects}
    fields = () if rule is None else rule.bears_on
    borne = tuple(
        number
        for number, goal in enumerate(goals)
        if goal.outcome in (("open",) if settles else ("missed", "open"))
        and goal.goal in fields
        and (windows == {"board"} or goal.window in windows)
    )
    blocking = any(is_blocking(finding) for finding in findings)
    lit = tuple(sorted((window for window in windows if window not in (None, "board")), key=_by_number))
    clauses = []
    if blocking:
        at_stake = f", and what {to_list(lit)} will show is not known" if lit else ""
        clauses.append(f"Until it is mended no board can be ordered{at_stake}.")
    if settles and borne:
        clauses.append(_settled_words([goals[number] for number in borne], what=settles))
    elif borne:
        clauses.append(_goal_words([goals[number] for number in borne]))
    elif not goals and lit and (named := [KINDS[field].words for field in fields if field in stated or not stated]):
        clauses.append(f"It bears on the {' and '.join(dict.fromkeys(named))} of {to_list(lit)}.")
    if not clauses:
        clears = f"a {first.severity}" if len(findings) == 1 else f"{len(findings)} {first.severity}s"
        clauses.append(f"It clears {clears}{'; no stated goal hangs on it' if goals else ''}.")
    alike = all(finding.remedy == first.remedy for finding in findings)
    others = () if alike else tuple(subject for subject in subjects if subject != first.subject)
    return Improvement(
        do=first.remedy + (f" Likewise for {to_list(others)}." if others else ""),
        effect=" ".join(clauses),
        severity=first.severity,
        blocks_release=blocking,
        subjects=subjects,
        findings=tuple(numbers),
        goals=borne,
    )


def _reach(goals: Sequence[GoalResult], *, spoken_of: set[int]) -> list[Improvement]:
    """Changes for goals that are not met and that no finding speaks of: by window where missed, by goal where open."""
    alike: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, goal in enumerate(goals):
        if goal.outcome != "met" and number not in spoken_of:
            alike[goal.goal, goal.window if goal.outcome == "missed" else ""].append(number)
    return [
        Improvement(
            do=KINDS[field].remedy,
            effect=_goal_words([goals[number] for number in numbers]),
            severity="warning" if window else "note",
            blocks_release=False,
            subjects=tuple(goals[number].window for number in numbers),
            findings=(),
            goals=tuple(numbers),
        )
        for (field, window), numbers in alike.items()
    ]


def _goal_words(goals: Sequence[GoalResult]) -> str:
    """The goals that a change bears on, missed ones first, with what is found and asked."""
    sentences = []
    for outcome, lead in (("missed", "missed"), ("open", "open")):
        those = [goal for goal in goals if goal.outcome == outcome]
        if those:
            count = f"1 {lead} goal" if len(those) == 1 else f"{len(those)} {lead} goals"
            rest = f" and {len(those) - NAMED_GOALS} more" if len(those) > NAMED_GOALS else ""
            sentences.append(f"It bears on {count}: {'; '.join(_said(goal) for goal in those[:NAMED_GOALS])}{rest}.")
    return " ".join(sentences)


def _said(goal: GoalResult) -> str:
    kind = KINDS[goal.goal]
    bound = "at least" if kind.at_least else "at most"
    if kind.field == "evenness_min" and goal.found.widened[1] < EVENNESS_FLOOR:
        found, asked = f"below {EVENNESS_FLOOR:g}", to_number(goal.required)
    elif kind.field == "bleed_max":
        found = f"{to_share(goal.found.low)} to {to_share(goal.found.high)}"
        asked = to_share(goal.required)
    else:
        found = to_range(goal.found, unit=kind.unit)
        asked = f"{to_number(goal.required)}{f' {kind.unit}' if kind.unit else ''}"
    more = ""
    if goal.goal in LIGHT_GOALS and goal.outcome == "missed" and goal.found.value > 0 and kind.at_least:
        more = f": needs {to_number(goal.required / goal.found.value, digits=2)} times the light"
    return f"{goal.window} {kind.words} {found}, asked {bound} {asked}{more}"


def _settled_words(goals: Sequence[GoalResult], *, what: str) -> str:
    """How many open goals would be settled if one cause of their ranges, or the noise of the trace, were gone."""
    settled = [judge_outcome(_known(goal.found, what), goal=goal) for goal in goals if goal.outcome == "open"]
    unsettled = settled.count("open")
    are = "1 goal is" if len(settled) == 1 else f"{len(settled)} goals are"
    told = [(settled.count("met"), "met"), (settled.count("missed"), "missed"), (unsettled, "still open")]
    words = to_list(tuple(f"{count} {word}" for count, word in told if count))
    return f"{are} open; {SETTLED_IF[what]}: {words}."


def _known(found: Estimate, what: str) -> Estimate:
    if what == "noise":
        return found.model_copy(update={"low_se": 0.0, "high_se": 0.0})
    if found.known is None:
        return found
    low, high = found.known.laminate
    return found.model_copy(update={"low": low, "high": high, "low_se": found.se, "high_se": found.se})
