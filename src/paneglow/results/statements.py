"""The few sentences that put a result into words; they restate numbers and compute none."""

from paneglow.catalog import AbsorptionTable, Catalog, Laminate
from paneglow.design import Design
from paneglow.judge import GoalResult, Verdict
from paneglow.units import Quantity

GOAL_WORDS: dict[str, str] = {
    "evenness_min": "evenness",
    "luminance_min_cd_m2": "least luminance",
    "luminance_max_cd_m2": "greatest luminance",
    "bleed_max": "bleed",
    "contrast_min": "contrast",
}


def _count(number: int, singular: str, plural: str) -> str:
    return f"{number} {singular if number == 1 else plural}"


def _relative_margin(goal: GoalResult) -> float:
    return goal.margin / abs(goal.required) if goal.required else goal.margin


def _worst(goals: list[GoalResult]) -> str:
    goal = min(goals, key=_relative_margin)
    return f'the worst is the {GOAL_WORDS.get(goal.goal, goal.goal)} of "{goal.window}"'


def build_summary(verdict: Verdict) -> str:
    """Put the verdict into one sentence: what is missed, what is open, what must be mended.

    Returns
    -------
    str
        One sentence that starts with the answer.
    """
    missed = [goal for goal in verdict.goals if goal.outcome == "missed"]
    unsettled = [goal for goal in verdict.goals if goal.outcome == "open"]
    errors = [finding for finding in verdict.findings if finding.severity == "error"]
    total = len(verdict.goals)
    clauses: list[str] = []
    if missed:
        are = "is" if len(missed) == 1 else "are"
        clauses.append(f"{len(missed)} of {_count(total, 'goal', 'goals')} {are} missed ({_worst(missed)})")
    if unsettled:
        clauses.append(f"{_count(len(unsettled), 'goal is', 'goals are')} open (its range straddles the limit)")
    if errors:
        clauses.append(f"{_count(len(errors), 'defect', 'defects')} must be mended")
    if clauses:
        lead = "Not ready" if missed or errors else "Not settled"
        return f"{lead}: {'; '.join(clauses)}."
    if total == 0:
        return "No goals were stated, and nothing was found that must be mended."
    return f"Ready: {'the goal is' if total == 1 else f'all {total} goals are'} met and nothing must be mended."


def _span(quantity: Quantity) -> str:
    if quantity.lowest == quantity.highest:
        return f"{quantity.value:g}"
    return f"{quantity.lowest:g} to {quantity.highest:g}"


def _absorption_span(table: AbsorptionTable) -> str:
    lowest, highest = min(table.absorb_per_mm), max(table.absorb_per_mm)
    factors = f"{table.low_factor:g} to {table.high_factor:g}"
    return f"absorption {lowest:g} to {highest:g} per mm over the colours, times {factors}"


def _assumed_traits(laminate: Laminate) -> list[str]:
    traits: list[str] = []
    if laminate.reduced_scatter_per_mm.origin == "assumed":
        traits.append(f"reduced scattering {_span(laminate.reduced_scatter_per_mm)} per mm")
    if laminate.absorption.origin == "assumed":
        traits.append(_absorption_span(laminate.absorption))
    return traits


def build_assumptions(*, design: Design, catalog: Catalog) -> str:
    """Say in one sentence what of the laminate was assumed, or that nothing was.

    Returns
    -------
    str
        One sentence.
    """
    name = design.board.laminate
    laminate = catalog.laminates.get(name)
    if laminate is None or not laminate.assumed:
        return f'The laminate "{name}" is a stated lot, so its predictions are single numbers with a sampling error.'
    traits = " and ".join(_assumed_traits(laminate))
    return f'The laminate "{name}" was assumed, not measured ({traits}), so every prediction is a range over its ends.'


def build_how_to_narrow(*, design: Design, catalog: Catalog) -> str | None:
    """Say in one sentence how to narrow the ranges; None where the laminate is not assumed."""
    laminate = catalog.laminates.get(design.board.laminate)
    if laminate is None or not laminate.assumed:
        return None
    return (
        "To narrow the ranges, measure how much red, green and blue light crosses a bare offcut of your own delivery "
        f'and name that lot under [board] instead of "{laminate.code}".'
    )
