"""Rules about how a window is lit from end to end."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from paneglow.board import Window
from paneglow.judge.findings.rule import LIGHT, SHAPE, Fault, LightContext, Threshold, rule, window_by_name
from paneglow.judge.geometry import pixels_inside
from paneglow.judge.wording import to_heading, to_number, to_place, to_range, to_share
from paneglow.look import WindowLook

STOPS_MAX = Threshold(
    what="brightest over darkest part of a window",
    value=2.0,
    unit="stops",
    source="assumed: evenness 0.25, half of the 0.5 proposed as acceptable; no published limit for decorative windows",
)
BRIGHT_FRAC = Threshold(
    what="share of a window's pixels taken as its brightest place",
    value=0.1,
    unit="1",
    source="assumed: large enough that noise of single pixels averages out",
)
RIM_FADE_FRAC = Threshold(
    what="distance between brightest and darkest place, over the window's size, below which it fades all round",
    value=0.15,
    unit="1",
    source="assumed",
)
CONTRAST_MIN = Threshold(
    what="luminance of a lit window over its surround in room light",
    value=1.2,
    unit="1",
    source="assumed: ten times the 0.02 Weber fraction, matkovic node16 (cg.tuwien.ac.at), for a glow seen at a glance",
)

Point = tuple[float, float]


@rule("warning", thresholds=(STOPS_MAX, BRIGHT_FRAC, RIM_FADE_FRAC), bears_on=SHAPE)
def window_uneven(context: LightContext) -> Iterable[Fault]:
    """A window has a hot spot or a faded end: more than two stops from brightest to darkest.

    One LED behind a wide window is uneven by many stops; a camera that clips hides it, the eye does not.
    """
    for seen in context.look.windows:
        window = window_by_name(context.board, name=seen.name)
        dark = seen.mean_cd_m2.value <= 0
        if window is None or not seen.leds or dark or seen.evenness_stops.value <= STOPS_MAX.value:
            continue
        fade = _find_fade(window, seen=seen, context=context)
        reason, remedy = _fade_words(window, fade=fade)
        yield Fault(
            subject=seen.name,
            at_mm=fade.bright_mm,
            reason=f"{reason} ({to_range(seen.evenness_stops, unit='stops')} in all).",
            remedy=remedy,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fade:
    """Middle of the brightest place, middle of all that is too dark beside it [mm], and the share of the latter [1]."""

    bright_mm: Point
    faded_mm: Point
    faded_frac: float


def _find_fade(window: Window, *, seen: WindowLook, context: LightContext) -> _Fade:
    grid = context.look.grid
    rows, columns = pixels_inside(window.polygon, grid=grid)
    luminance = context.look.luminance_cd_m2[rows, columns]
    x_mm, y_mm = grid.x_centres_mm()[columns], grid.y_centres_mm()[rows]
    order = np.argsort(luminance, kind="stable")
    bright = order[-max(1, round(BRIGHT_FRAC.value * order.size)) :]
    # Not the darkest few pixels: where most of a window is dark, noise would pick them anywhere in it
    faded = np.flatnonzero(luminance < seen.peak_cd_m2.value / 2**STOPS_MAX.value)
    faded = faded if faded.size else order[:1]
    return _Fade(
        bright_mm=(float(x_mm[bright].mean()), float(y_mm[bright].mean())),
        faded_mm=(float(x_mm[faded].mean()), float(y_mm[faded].mean())),
        faded_frac=faded.size / order.size,
    )


def _fade_words(window: Window, *, fade: _Fade) -> tuple[str, str]:
    x_min, y_min, x_max, y_max = window.bbox_mm
    size_mm = float(np.hypot(x_max - x_min, y_max - y_min))
    apart_mm = math.dist(fade.bright_mm, fade.faded_mm)
    start = f"Brightest at {to_place(fade.bright_mm)}"
    dark = f"{to_share(fade.faded_frac)} of the window is darker than a quarter of its brightest place"
    if apart_mm < RIM_FADE_FRAC.value * size_mm:
        reason = f"{start}; it fades toward the rim on all sides, and {dark}"
        return reason, "Add a diffuser (hot glue, a film), or set the LED farther behind."
    heading = to_heading(fade.bright_mm, end_mm=fade.faded_mm)
    reason = f"{start}; the {heading} end, about {to_number(apart_mm)} mm away, fades, and {dark}"
    return (
        reason,
        f"Set a second LED near {to_place(fade.faded_mm)}; a diffuser (hot glue, a film), or the LED farther away, also"
        " evens it.",
    )


@rule("note", thresholds=(CONTRAST_MIN,), bears_on=LIGHT)
def lost_in_room_light(context: LightContext) -> Iterable[Fault]:
    """A lit window hardly stands out from the board in the room light of the design.

    It glows in the dark and disappears by day.
    """
    for seen in context.look.windows:
        window = window_by_name(context.board, name=seen.name)
        if window is None or not seen.leds or seen.contrast.value >= CONTRAST_MIN.value:
            continue
        yield Fault(
            subject=seen.name,
            at_mm=window.centre_mm,
            reason=f"{to_range(seen.contrast)} times as bright as its surround in"
            f" {context.design.view.ambient_lx:g} lx, with {to_range(seen.mean_cd_m2, unit='cd/m2')} of its own.",
            remedy="Raise its current, move the LED nearer, open the mask, or take a thinner or paler laminate.",
        )
