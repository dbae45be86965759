"""The few sentences that put a result into words; they restate numbers and compute none."""

from paneglow.board import Board
from paneglow.catalog import AbsorptionTable, Catalog, Laminate, Part
from paneglow.design import Design
from paneglow.errors import CatalogError
from paneglow.judge import GoalResult, Verdict, release_blockers
from paneglow.units import Quantity

GOAL_WORDS: dict[str, str] = {
    "evenness_min": "evenness",
    "luminance_min_cd_m2": "mean luminance",
    "luminance_max_cd_m2": "mean luminance",
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


def build_summary(verdict: Verdict, *, provisional: bool = False) -> str:
    """Put the verdict into one sentence: what is missed, what is open, what must be mended.

    A design that was drafted from fabrication files alone says so first.

    Returns
    -------
    str
        One sentence that starts with the answer.
    """
    missed = [goal for goal in verdict.goals if goal.outcome == "missed"]
    unsettled = [goal for goal in verdict.goals if goal.outcome == "open"]
    errors = [finding for finding in verdict.findings if finding.severity == "error"]
    blockers = len(release_blockers(verdict.findings)) - len(errors)
    total = len(verdict.goals)
    clauses: list[str] = []
    lead = "Provisional, drafted from fabrication files alone. " if provisional else ""
    if missed:
        are = "is" if len(missed) == 1 else "are"
        clauses.append(f"{len(missed)} of {_count(total, 'goal', 'goals')} {are} missed ({_worst(missed)})")
    if unsettled:
        straddle = "its range straddles the limit" if len(unsettled) == 1 else "their ranges straddle the limits"
        clauses.append(f"{_count(len(unsettled), 'goal is', 'goals are')} open ({straddle})")
    if errors:
        clauses.append(f"{_count(len(errors), 'defect', 'defects')} must be mended")
    if blockers:
        clauses.append(f"{_count(blockers, 'more finding blocks', 'more findings block')} release")
    if total == 0:
        clauses.append("no goals are stated, so nothing tells whether it glows well enough")
    if verdict.state != "ready":
        return f"{lead}{verdict.state.capitalize()}: {'; '.join(clauses)}."
    state = "Not settled" if provisional else "Ready"
    return f"{lead}{state}: {'the goal is' if total == 1 else f'all {total} goals are'} met and nothing must be mended."


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


def stated_light(part: Part) -> Quantity:
    """Light of a part as its record states it: total flux or on-axis intensity, whichever it gives."""
    light = part.flux_lm if part.flux_lm is not None else part.intensity_mcd
    if light is None:
        raise CatalogError(f"part {part.code} states neither flux_lm nor intensity_mcd; add one of them")
    return light


def _uncertain_parts(board: Board) -> list[Part]:
    """Parts on the board whose light is a range, the widest first."""
    parts = {led.part.code: led.part for led in board.leds}.values()
    ranged = [part for part in parts if stated_light(part).lowest < stated_light(part).highest]
    return sorted(ranged, key=lambda part: -_ratio(part))


def _ratio(part: Part) -> float:
    light = stated_light(part)
    return light.highest / light.lowest


def _laminate_clause(laminate: Laminate) -> str:
    traits = " and ".join(_assumed_traits(laminate))
    return f'the laminate "{laminate.code}" was assumed, not measured ({traits})'


def _parts_clause(parts: list[Part]) -> str:
    others = "" if len(parts) == 1 else f" and {_count(len(parts) - 1, 'other order code', 'other order codes')}"
    return f"the light of {parts[0].code}{others} is only known within a factor of up to {_ratio(parts[0]):.2g}"


def build_assumptions(*, design: Design, board: Board, catalog: Catalog) -> str:
    """Say in one sentence what the ranges rest on, or that nothing was assumed.

    Returns
    -------
    str
        One sentence.
    """
    laminate = catalog.laminates.get(design.board.laminate)
    parts = _uncertain_parts(board)
    clauses = [_laminate_clause(laminate)] if laminate is not None and laminate.assumed else []
    clauses += [_parts_clause(parts)] if parts else []
    if not clauses:
        return "Laminate and LEDs are stated lots, so predictions are single numbers with their sampling error."
    sentence = " and ".join(clauses)
    return f"{sentence[0].upper()}{sentence[1:]}, so predictions are ranges over these ends."


def build_how_to_narrow(*, design: Design, board: Board, catalog: Catalog) -> str | None:
    """Say how to narrow the ranges, a sentence for each thing to do; None where nothing is assumed."""
    laminate = catalog.laminates.get(design.board.laminate)
    steps: list[str] = []
    if laminate is not None and laminate.assumed:
        steps.append(
            "To narrow the ranges, measure what share of red, green and blue light crosses a bare offcut of your own"
            " lot, write it as a [[laminate]] with a code of its own in parts/*.toml, and name that code under"
            f' [board] instead of "{laminate.code}" (docs/parts.md shows how).'
        )
    if _uncertain_parts(board):
        lead = "Also enter" if steps else "To narrow the ranges, enter"
        steps.append(f"{lead} the flux of your exact order codes in parts/*.toml beside the design.")
    return " ".join(steps) or None
