"""The sentences of a result say what its numbers say."""

import pytest

from paneglow.judge import Verdict
from paneglow.results import build_results
from paneglow.results.statements import build_summary
from sample_evaluation import make_evaluation, make_verdict

FULL = make_verdict()


def verdict_of(*outcomes: str, errors: bool = False) -> Verdict:
    by_outcome = {goal.outcome: goal for goal in FULL.goals}
    findings = tuple(finding for finding in FULL.findings if errors or finding.severity != "error")
    return Verdict(
        passed=set(outcomes) <= {"met"} and not errors,
        goals=tuple(by_outcome[outcome] for outcome in outcomes),
        findings=findings,
        cautions=(),
    )


@pytest.mark.parametrize(
    ("verdict", "start", "part"),
    [
        (verdict_of("met", "met"), "Ready:", "all 2 goals are met"),
        (verdict_of("met"), "Ready:", "the goal is met"),
        (verdict_of("met", "missed"), "Not ready:", "1 of 2 goals is missed"),
        (verdict_of("missed", "missed"), "Not ready:", "2 of 2 goals are missed"),
        (verdict_of("met", "open"), "Not settled:", "1 goal is open"),
        (verdict_of("met", errors=True), "Not ready:", "1 defect must be mended"),
        (verdict_of(), "Not settled:", "no goals are stated"),
    ],
)
def test_the_summary_starts_with_the_answer(verdict, start, part):
    summary = build_summary(verdict)
    assert summary.startswith(start)
    assert part in summary
    assert summary.count(". ") == 0
    assert summary.endswith(".")


def test_the_summary_names_the_goal_that_is_missed_by_most():
    assert 'the evenness of "wave"' in build_summary(FULL)


def test_assumed_laminate_and_leds_are_named_with_their_ranges_and_a_way_to_narrow_them():
    results = build_results(make_evaluation())
    assert "0.5 to 3 per mm" in results.assumptions
    assert "factor of up to 2.9" in results.assumptions  # 120 to 350 mcd, as put into the sample
    assert results.assumptions.count(". ") == 0
    assert results.how_to_narrow is not None
    assert "fr4-unknown" in results.how_to_narrow
    assert "parts/*.toml" in results.how_to_narrow


def test_a_measured_laminate_still_leaves_the_leds_to_narrow():
    results = build_results(make_evaluation(origin="measured"))
    assert "fr4-unknown" not in results.assumptions
    assert results.how_to_narrow is not None
    assert "offcut" not in results.how_to_narrow


def test_nothing_assumed_needs_no_narrowing():
    results = build_results(make_evaluation(origin="measured", light_range=(200.0, 200.0)))
    assert not results.assumed
    assert results.how_to_narrow is None
    assert "single numbers" in results.assumptions
