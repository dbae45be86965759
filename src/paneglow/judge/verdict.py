"""The judge: goals, findings and cautions brought together."""

from collections.abc import Iterable

from paneglow.assembly import build_polarity
from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.judge.cautions import CautionContext, build_cautions
from paneglow.judge.findings import BOARD_RULES, LIGHT_RULES, BoardContext, LightContext
from paneglow.judge.goals import judge_goals
from paneglow.judge.records import Finding, Verdict
from paneglow.look import Look
from paneglow.scene import Scene
from paneglow.transport import Tally

SEVERITY_ORDER = ("error", "warning", "note")


def check_board(design: Design, *, board: Board, catalog: Catalog) -> tuple[Finding, ...]:
    """Findings that need no light: windows, LED places, parts and supply, the gravest first.

    Parameters
    ----------
    design : Design
        What the user wrote.
    board : Board
        What will be made, built from that design.
    catalog : Catalog
        Parts, laminates and coats that the design names.

    Returns
    -------
    tuple of Finding
        Empty where nothing was found.
    """
    polarity = build_polarity(design, board=board)
    context = BoardContext(design=design, board=board, catalog=catalog, polarity=polarity)
    return _in_order(finding for rule in BOARD_RULES for finding in rule.find(context))


def judge(*, design: Design, board: Board, catalog: Catalog, scene: Scene, tally: Tally, look: Look) -> Verdict:
    """Verdict on a lit board: goals with margins, findings the gravest first, cautions.

    It passes where every stated goal is met (open is not met) and no finding has severity error.

    Parameters
    ----------
    design, board, catalog
        As for `check_board`.
    scene, tally
        Emitters at the design's currents, and their light per lumen in the same order.
    look : Look
        What the windows show.
    """
    context = LightContext(design=design, board=board, catalog=catalog, scene=scene, tally=tally, look=look)
    by_light = [finding for rule in LIGHT_RULES for finding in rule.find(context)]
    findings = _in_order([*check_board(design, board=board, catalog=catalog), *by_light])
    goals = judge_goals(design, look=look)
    leds = tuple((led.ref, led.mounting, led.part.colour) for led in board.leds)
    return Verdict(
        passed=all(goal.outcome == "met" for goal in goals)
        and not any(finding.severity == "error" for finding in findings),
        goals=goals,
        findings=findings,
        cautions=build_cautions(CautionContext(design=design, leds=leds, scene=scene)),
    )


def _in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    # Stable, so that findings of one severity keep the order of the rule tables
    return tuple(sorted(findings, key=lambda finding: SEVERITY_ORDER.index(finding.severity)))
