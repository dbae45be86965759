"""Rules about the colour a window shows."""

import math
from collections.abc import Iterable

from paneglow.judge.findings.rule import Fault, LightContext, Threshold, rule, window_by_name
from paneglow.judge.light import chromaticity_uv, chromaticity_uv_from_xy, emitted_xyz, window_xyz
from paneglow.judge.wording import to_list, to_number
from paneglow.look import WindowLook

DRIFT_MAX_UV = Threshold(
    what="distance in CIE 1976 u', v' between a window and its own LEDs",
    value=0.02,
    unit="1",
    source="assumed: many times a just visible step side by side, plain to see against the LED itself; no source",
)


@rule("note", thresholds=(DRIFT_MAX_UV,))
def colour_drifts(context: LightContext) -> Iterable[Fault]:
    """A window shows another colour than the LEDs meant for it.

    Laminate and mask take more of the blue than of the red; or light of other LEDs mixes in. Which of the two it is
    follows from the light of the window's own LEDs alone.
    """
    places = {window.name: window.centre_mm for window in context.board.survey.windows}
    for seen in context.look.windows:
        shown = _shown_uv(seen)
        own = tuple(emitter for emitter in context.scene.emitters if emitter.window == seen.name)
        emitted = chromaticity_uv(emitted_xyz(own))
        if shown is None or emitted is None:
            continue
        drift = math.dist(shown, emitted)
        if drift > DRIFT_MAX_UV.value:
            tint = _tint(seen, context, emitted=emitted)
            yield _drift_finding(seen, at_mm=places.get(seen.name), drift=drift, tint=tint)


def _shown_uv(seen: WindowLook) -> tuple[float, float] | None:
    if seen.chromaticity_x is None or seen.chromaticity_y is None:
        return None
    return chromaticity_uv_from_xy(seen.chromaticity_x, seen.chromaticity_y)


def _tint(seen: WindowLook, context: LightContext, *, emitted: tuple[float, float]) -> float:
    """Drift of the window's own LEDs alone: what laminate and coats do [u', v']."""
    window = window_by_name(context.board, name=seen.name)
    if window is None:
        return 0.0
    by_led = window_xyz(window, scene=context.scene, tally=context.tally)
    own = [index for index, emitter in enumerate(context.scene.emitters) if emitter.window == seen.name]
    through = chromaticity_uv(by_led[own].sum(axis=0))
    return 0.0 if through is None else math.dist(through, emitted)


def _drift_finding(seen: WindowLook, *, at_mm: tuple[float, float] | None, drift: float, tint: float) -> Fault:
    by_tint = tint >= drift / 2
    cause = "laminate and mask tint it" if by_tint else "light of other LEDs mixes in"
    remedy = (
        "Take a paler laminate, open the mask, or choose an LED whose colour still fits after the tint."
        if by_tint
        else "Keep the light of the other LEDs out: see window-bleeds."
    )
    return Fault(
        subject=seen.name,
        at_mm=at_mm,
        reason=f"It looks {seen.colour_word}, {to_number(drift)} in u'v' from its own {to_list(seen.leds)}"
        f" ({to_number(drift - DRIFT_MAX_UV.value)} beyond the limit): {cause}, {to_number(tint)} of it by tint.",
        remedy=remedy,
    )
