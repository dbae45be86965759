"""Rules about light in the wrong window."""

from collections.abc import Iterable

import numpy as np

from paneglow.board import Board, Window
from paneglow.judge.findings.rule import Fault, LightContext, Threshold, rule, window_by_name
from paneglow.judge.geometry import distance_to_window_mm
from paneglow.judge.light import window_xyz
from paneglow.judge.wording import to_number, to_range, to_share

BLEED_MAX_FRAC = Threshold(
    what="bleed share of a lit window from which it is reported where the design states no goal",
    value=0.1,
    unit="1",
    source="assumed: no published limit for decorative windows was found",
)
GUIDED_REACH_MM = Threshold(
    what="distance to which light guided inside the laminate has been seen",
    value=15.0,
    unit="mm",
    source="common practice: seen in public material, to about 15 mm in FR-4",
)
CULPRIT_MIN_FRAC = Threshold(
    what="share of a window's light from which a foreign LED is named",
    value=0.02,
    unit="1",
    source="assumed: about the statistical error of a share",
)


@rule("warning", thresholds=(BLEED_MAX_FRAC, GUIDED_REACH_MM, CULPRIT_MIN_FRAC), bears_on=("bleed_max",))
def window_bleeds(context: LightContext) -> Iterable[Fault]:
    """Too much of a window's light comes from LEDs meant for other windows.

    The window takes on the wrong colour, and glows when it should be dark. The LEDs that cause it are named with their
    shares of the window's mean luminance.
    """
    goal = context.design.goals.bleed_max
    limit = BLEED_MAX_FRAC.value if goal is None else goal
    for seen in context.look.windows:
        window = window_by_name(context.board, name=seen.name)
        if window is None or not seen.leds or seen.bleed.value <= limit:
            continue
        culprits = _culprits(window, context)
        yield Fault(
            subject=seen.name,
            at_mm=window.centre_mm,
            reason=f"Bleed {to_range(seen.bleed)} is {to_number(seen.bleed.value - limit)} above {to_number(limit)}"
            f"{_culprit_words(culprits, window=window, board=context.board)}.",
            remedy=_remedy(culprits, window=window, board=context.board),
        )


def _culprits(window: Window, context: LightContext) -> list[tuple[str, float]]:
    """Foreign LEDs with their share of the window's light, greatest first; the greatest even when small."""
    luminance = window_xyz(window, scene=context.scene, tally=context.tally)[:, 1]
    total = float(luminance.sum())
    shares = luminance / total if total > 0 else np.zeros_like(luminance)
    foreign = sorted(
        (
            (emitter.ref, float(share))
            for emitter, share in zip(context.scene.emitters, shares, strict=True)
            if emitter.window != window.name and share > 0
        ),
        key=lambda item: -item[1],
    )
    return [item for index, item in enumerate(foreign[:3]) if index == 0 or item[1] >= CULPRIT_MIN_FRAC.value]


def _culprit_words(culprits: list[tuple[str, float]], *, window: Window, board: Board) -> str:
    words = []
    for ref, share in culprits:
        led = next(led for led in board.leds if led.ref == ref)
        meant = f", meant for {led.window}" if led.window else ""
        distance_mm = distance_to_window_mm(led, window=window)
        words.append(f"{ref} gives {to_share(share)} from {to_number(distance_mm)} mm away{meant}")
    return f": {'; '.join(words)}" if words else ""


def _remedy(culprits: list[tuple[str, float]], *, window: Window, board: Board) -> str:
    if not culprits:
        return "Look for an LED that no window is named for."
    led = next(led for led in board.leds if led.ref == culprits[0][0])
    near = distance_to_window_mm(led, window=window) < GUIDED_REACH_MM.value
    apart = f", move {led.ref} up to {GUIDED_REACH_MM.value:g} mm away from it" if near else ""
    return f"Put a row of plated vias between {led.ref} and the window as a wall{apart}, or lower its current."
