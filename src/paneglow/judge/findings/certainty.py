"""Rules about how far the result itself can be trusted."""

from collections.abc import Iterable

from paneglow.judge.findings.rule import EVERY_GOAL, SHAPE, BoardContext, Fault, LightContext, Threshold, rule
from paneglow.judge.wording import to_list, to_number, to_share
from paneglow.look import WindowLook

NOISE_MAX_FRAC = Threshold(
    what="two standard errors of a window's mean luminance, over that mean",
    value=0.1,
    unit="1",
    source="assumed: meters disagree by 10 to 15 % (public data sheets), so finer serves no one",
)
EVENNESS_NOISE_MAX = Threshold(
    what="two standard errors of a window's evenness",
    value=0.05,
    unit="1",
    source="assumed: a fifth of the step from 0.5 (acceptable) to 0.75 (even)",
)


@rule("note", bears_on=EVERY_GOAL, settles="laminate")
def laminate_assumed(context: BoardContext) -> Iterable[Fault]:
    """The laminate's optical values are assumed, so every prediction through it is a range.

    No measured transmission or scatter of glass-epoxy laminate was found published; a lot must be measured.
    """
    laminate = context.catalog.laminates.get(context.design.board.laminate)
    if laminate is None or not laminate.assumed:
        return
    yield Fault(
        reason=f"Laminate {laminate.code} is assumed, not measured, so every prediction is a range.",
        remedy="Cut a piece of the laminate lot that you will ship, measure what share of red, green and blue"
        " light it passes, and name it as your own laminate, as docs/parts.md shows; that narrows the ranges.",
    )


@rule("note", thresholds=(NOISE_MAX_FRAC, EVENNESS_NOISE_MAX), bears_on=EVERY_GOAL, settles="noise")
def result_noisy(context: LightContext) -> Iterable[Fault]:
    """The statistical error of a window's luminance or evenness is too large to judge by.

    More photons settle it: four times as many halve the error.
    """
    noisy = [seen for seen in context.look.windows if seen.leds and _is_noisy(seen)]
    if not noisy:
        return
    worst = max(noisy, key=_relative_noise)
    yield Fault(
        reason=f"Two standard errors are above {to_share(NOISE_MAX_FRAC.value)} of the mean luminance or"
        f" {EVENNESS_NOISE_MAX.value:g} of evenness in {to_list(tuple(seen.name for seen in noisy))};"
        f" worst {worst.name}: mean within {to_number(2 * worst.mean_cd_m2.se)} of"
        f" {to_number(worst.mean_cd_m2.value)} cd/m2, evenness within {to_number(2 * worst.evenness.se)}.",
        remedy="Run again with --quality fine.",
    )


def _relative_noise(seen: WindowLook) -> float:
    return 2 * seen.mean_cd_m2.se / seen.mean_cd_m2.value if seen.mean_cd_m2.value > 0 else 0.0


def _is_noisy(seen: WindowLook) -> bool:
    return _relative_noise(seen) > NOISE_MAX_FRAC.value or 2 * seen.evenness.se > EVENNESS_NOISE_MAX.value


@rule("error", bears_on=SHAPE)
def window_dark(context: LightContext) -> Iterable[Fault]:
    """A window has LEDs meant for it that carry current, and yet none of their light arrives.

    Something stands between them: copper, the wrong face, the wrong direction.
    """
    places = {window.name: window.centre_mm for window in context.board.survey.windows}
    carrying = {led.ref for led in context.board.leds if led.current_ma > 0}
    for seen in context.look.windows:
        own_cd_m2 = seen.mean_cd_m2.value * (1.0 - seen.bleed.value)
        if carrying.intersection(seen.leds) and own_cd_m2 <= 0:
            yield Fault(
                subject=seen.name,
                at_mm=places.get(seen.name),
                reason=f"No light of {to_list(seen.leds)} arrives in it.",
                remedy="Check their places, side, direction and the copper between.",
            )
