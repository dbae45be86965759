"""What of a result comes first: how many changes, and which windows somebody means to light."""

from paneglow.look import WindowLook
from paneglow.results import Results

CHANGES_SHOWN = 3  # first of all, on every face (our choice)
SHORT_WINDOWS = 18  # in the short report, so that it fits two pages


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
