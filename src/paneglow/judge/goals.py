"""Goals of the design against what every window shows."""

from dataclasses import dataclass

from paneglow.design import Design
from paneglow.judge.records import GoalResult, Outcome
from paneglow.judge.wording import to_number, to_range
from paneglow.look import Look, WindowLook
from paneglow.units import Estimate

SIGMAS = 2.0  # standard errors that an outcome must clear; about 1 in 22 falls outside by chance alone


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalKind:
    """A field of `[goals]`, the field of a window it judges, and how to say it."""

    field: str
    of_window: str
    words: str
    unit: str
    at_least: bool
    remedy: str  # what to do where nothing else speaks of it

    def found(self, seen: WindowLook) -> Estimate:
        """What the window shows of this goal."""
        estimate: Estimate = getattr(seen, self.of_window)
        return estimate


GOAL_KINDS = (
    GoalKind(field="evenness_min", of_window="evenness", words="evenness", unit="", at_least=True,
             remedy="Spread its light: a diffuser, the LED farther behind, or a second LED."),
    GoalKind(field="luminance_min_cd_m2", of_window="mean_cd_m2", words="luminance", unit="cd/m2", at_least=True,
             remedy="Give it more light: more current, a brighter order code, or a second LED."),
    GoalKind(field="luminance_max_cd_m2", of_window="mean_cd_m2", words="luminance", unit="cd/m2", at_least=False,
             remedy="Give it less light: less current or a dimmer order code."),
    GoalKind(field="bleed_max", of_window="bleed", words="bleed", unit="", at_least=False,
             remedy="Move the LEDs of other windows away, or put a row of plated vias between as a wall."),
    GoalKind(field="contrast_min", of_window="contrast", words="contrast", unit="", at_least=True,
             remedy="Give it more light, or show it in a darker room."),
)  # fmt: skip
LIGHT_GOALS = ("luminance_min_cd_m2", "luminance_max_cd_m2")  # in proportion to the light


def judge_goals(design: Design, *, look: Look) -> tuple[GoalResult, ...]:
    """Every stated goal against every window that the design names or lights, window by window."""
    named = {window.name for window in design.window}
    judged = [seen for seen in look.windows if seen.leds or seen.name in named]
    stated = [(kind, getattr(design.goals, kind.field)) for kind in GOAL_KINDS]
    return tuple(
        judge_goal(kind, seen=seen, required=required)
        for seen in judged
        for kind, required in stated
        if required is not None
    )


def judge_goal(kind: GoalKind, *, seen: WindowLook, required: float) -> GoalResult:
    """One goal against one window.

    Met where the worst end of the assumed range, less two of its own standard errors, still reaches the goal; missed
    where not even the best end, plus two, does; open in between. The margin is that of the nominal value, positive
    where met.
    """
    found = kind.found(seen)
    margin = found.value - required if kind.at_least else required - found.value
    outcome = _outcome(found, required=required, at_least=kind.at_least)
    bound = "at least" if kind.at_least else "at most"
    unit = f" {kind.unit}" if kind.unit else ""
    head = f"{seen.name}: {kind.words} {to_range(found, unit=kind.unit)}, goal {bound} {to_number(required)}{unit}"
    return GoalResult(
        goal=kind.field,
        window=seen.name,
        required=required,
        found=found,
        margin=margin,
        outcome=outcome,
        sentence=f"{head}: {_ending(outcome, margin_words=f'{to_number(abs(margin))}{unit}')}",
    )


def judge_outcome(found: Estimate, *, goal: GoalResult) -> Outcome:
    """What a goal would come to if its window showed this instead."""
    kind = next(kind for kind in GOAL_KINDS if kind.field == goal.goal)
    return _outcome(found, required=goal.required, at_least=kind.at_least)


def _outcome(found: Estimate, *, required: float, at_least: bool) -> Outcome:
    low, high = found.low - SIGMAS * found.low_se, found.high + SIGMAS * found.high_se
    worst, best, needed = (low, high, required) if at_least else (-high, -low, -required)
    if worst >= needed:
        return "met"
    return "missed" if best < needed else "open"


def _ending(outcome: Outcome, *, margin_words: str) -> str:
    endings = {
        "met": f"met with {margin_words} to spare",
        "missed": f"missed by {margin_words}",
        "open": "open, the range and its error lie on both sides",
    }
    return endings[outcome]
