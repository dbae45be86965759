"""The judge: goals, findings and cautions brought together."""

from collections.abc import Iterable
from datetime import date

from paneglow.assembly import Assembled
from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.cost import CostFile, VersionCost
from paneglow.design import Design
from paneglow.drive import SolvedBoard
from paneglow.judge.cautions import CautionContext, build_cautions
from paneglow.judge.changes import SEVERITY_ORDER, build_changes, is_blocking
from paneglow.judge.findings import (
    BOARD_RULES,
    CIRCUIT_RULES,
    COST_RULES,
    LIGHT_RULES,
    BoardContext,
    CircuitContext,
    CostContext,
    LightContext,
)
from paneglow.judge.goals import judge_goals
from paneglow.judge.records import Finding, Verdict
from paneglow.look import Look
from paneglow.scene import Scene
from paneglow.transport import Tally


def check_board(
    design: Design,
    *,
    board: Board,
    catalog: Catalog,
    assembled: Assembled,
    drive: SolvedBoard | None = None,
    unpriced: str = "",
) -> tuple[Finding, ...]:
    """Findings that need no light: windows, LED places, parts, supply and circuit, the gravest first.

    Parameters
    ----------
    design : Design
        What the user wrote.
    board : Board
        What will be made, built from that design.
    catalog : Catalog
        Parts, laminates and coats that the design names.
    assembled : Assembled
        How that board is built.
    drive : SolvedBoard, optional
        What flows, where the design wires a circuit and its currents come from it.
    unpriced : str
        What has no price, where a cost file lies beside the design and lacks it.

    Returns
    -------
    tuple of Finding
        Empty where nothing was found.
    """
    solved = frozenset() if drive is None else frozenset(drive.circuit.refs)
    context = BoardContext(
        design=design,
        board=board.soldered,
        dice=board.leds if board.bodies else (),
        catalog=catalog,
        polarity=assembled.polarity,
        building=assembled.building,
        solved_refs=solved,
        unpriced=unpriced,
    )
    of_board = [finding for rule in BOARD_RULES for finding in rule.find(context)]
    if drive is None:
        return _in_order(of_board)
    wired = CircuitContext(design=design, board=board, drive=drive)
    return _in_order([*of_board, *(finding for rule in CIRCUIT_RULES for finding in rule.find(wired))])


def check_costs(
    costs: CostFile, *, answer: VersionCost, good: int, on: date, left_out: tuple[tuple[str, str], ...] = ()
) -> tuple[Finding, ...]:
    """Findings about money, the gravest first.

    Parameters
    ----------
    costs : CostFile
    answer : VersionCost
        Built from it.
    good : int
        Good pieces of the run that is judged; the answer holds its statements.
    on : date
        Day on which the ages of prices are judged.
    left_out : tuple of (str, str)
        Versions that could not be set beside the design: name and reason.
    """
    context = CostContext(costs=costs, answer=answer, good=good, on=on, left_out=left_out)
    return _in_order(finding for rule in COST_RULES for finding in rule.find(context))


def release_blockers(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings that must be gone before any board is ordered: errors, and those whose rule blocks release.

    Parameters
    ----------
    findings : iterable of Finding
        As `check_board` or a verdict gives them.
    """
    return tuple(finding for finding in findings if is_blocking(finding))


def judge(
    *,
    design: Design,
    board: Board,
    catalog: Catalog,
    assembled: Assembled,
    scene: Scene,
    tally: Tally,
    look: Look,
    drive: SolvedBoard | None = None,
    unpriced: str = "",
) -> Verdict:
    """Verdict on a lit board: goals with margins, findings, what to change first, cautions.

    It passes where every stated goal is met (open is not met) and no finding has severity error.

    Parameters
    ----------
    design, board, catalog, assembled, drive, unpriced
        As for `check_board`.
    scene, tally
        Emitters at the design's currents, and their light per lumen in the same order.
    look : Look
        What the windows show.
    """
    context = LightContext(design=design, board=board, catalog=catalog, scene=scene, tally=tally, look=look)
    by_light = [finding for rule in LIGHT_RULES for finding in rule.find(context)]
    of_board = check_board(design, board=board, catalog=catalog, assembled=assembled, drive=drive, unpriced=unpriced)
    findings = _in_order([*of_board, *by_light])
    goals = judge_goals(design, look=look)
    leds = tuple((led.ref, led.mounting, led.part.colour) for led in board.leds)
    return Verdict(
        passed=all(goal.outcome == "met" for goal in goals)
        and not any(finding.severity == "error" for finding in findings),
        changes=build_changes(findings, goals=goals, board=board),
        goals=goals,
        findings=findings,
        cautions=build_cautions(CautionContext(design=design, leds=leds, scene=scene)),
    )


def _in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    # Stable, so that findings of one severity keep the order of the rule tables
    return tuple(sorted(findings, key=lambda finding: SEVERITY_ORDER.index(finding.severity)))
