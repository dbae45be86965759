"""What of a result comes first: the gravest findings, and the windows somebody means to light."""

from collections.abc import Iterable

from paneglow.judge import Finding
from paneglow.look import WindowLook
from paneglow.results import Results

SEVERITY_ORDER = {"error": 0, "warning": 1, "note": 2}


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Order findings by severity, errors first; within one severity as the judge listed them."""
    return tuple(sorted(findings, key=lambda finding: SEVERITY_ORDER[finding.severity]))


def split_windows(results: Results) -> tuple[tuple[WindowLook, ...], tuple[WindowLook, ...]]:
    """Part the windows into those that are meant to be lit and the rest, each in the order of the result.

    Returns
    -------
    tuple of two tuples of WindowLook
        A window is meant to be lit where an LED is meant for it, the design names it, or a goal was judged on it; all
        are where that holds for none. Boards drawn by an artist have hundreds of others.
    """
    named = {window.name for window in results.design.window} | {goal.window for goal in results.verdict.goals}
    meant = tuple(window for window in results.windows if window.leds or window.name in named)
    if not meant:
        return results.windows, ()
    return meant, tuple(window for window in results.windows if window not in meant)
