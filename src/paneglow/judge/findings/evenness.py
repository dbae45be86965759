"""Rules about how a window is lit from end to end."""

from collections.abc import Iterable

import numpy as np

from paneglow.board import Window
from paneglow.judge.findings.rule import LightContext, Threshold, window_by_name
from paneglow.judge.geometry import pixels_inside
from paneglow.judge.records import Finding
from paneglow.judge.wording import to_heading, to_number, to_place, to_range

STOPS_MAX = Threshold(
    what="brightest over darkest part of a window",
    value=2.0,
    unit="stops",
    source="assumed: evenness 0.25, half of the 0.5 proposed as acceptable; no published limit for decorative windows",
)
END_FRAC = Threshold(
    what="share of a window's pixels taken as its brightest and as its darkest place",
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
    what="luminance of a lit window over its surround in the lit room",
    value=1.2,
    unit="1",
    source="assumed: ten times the 0.02 Weber fraction, matkovic node16 (cg.tuwien.ac.at), for a glow seen at a glance",
)

Point = tuple[float, float]


def window_uneven(context: LightContext) -> Iterable[Finding]:
    """A window has a hot spot or a faded end: more than two stops from brightest to darkest.

    One LED behind a wide window is uneven by many stops; a camera that clips hides it, the eye does not.
    """
    for seen in context.look.windows:
        window = window_by_name(context.board, name=seen.name)
        dark = seen.mean_cd_m2.value <= 0
        if window is None or not seen.leds or dark or seen.evenness_stops.value <= STOPS_MAX.value:
            continue
        bright_mm, faded_mm = _ends_mm(window, context)
        reason, remedy = _fade_words(window, bright_mm=bright_mm, faded_mm=faded_mm)
        yield Finding(
            code="window-uneven",
            severity="warning",
            subject=seen.name,
            at_mm=bright_mm,
            reason=f"{to_range(seen.evenness_stops, unit='stops')} from brightest to darkest, evenness"
            f" {to_range(seen.evenness)}: {reason}",
            remedy=remedy,
        )


def _ends_mm(window: Window, context: LightContext) -> tuple[Point, Point]:
    """Centroids of the brightest and of the darkest tenth of the window's pixels [mm]."""
    grid = context.look.grid
    rows, columns = pixels_inside(window.polygon, grid=grid)
    order = np.argsort(context.look.luminance_cd_m2[rows, columns], kind="stable")
    count = max(1, round(END_FRAC.value * order.size))
    x_mm, y_mm = grid.x_centres_mm()[columns], grid.y_centres_mm()[rows]
    bright, faded = order[-count:], order[:count]
    return (
        (float(x_mm[bright].mean()), float(y_mm[bright].mean())),
        (float(x_mm[faded].mean()), float(y_mm[faded].mean())),
    )


def _fade_words(window: Window, *, bright_mm: Point, faded_mm: Point) -> tuple[str, str]:
    x_min, y_min, x_max, y_max = window.bbox_mm
    size_mm = float(np.hypot(x_max - x_min, y_max - y_min))
    apart_mm = float(np.hypot(faded_mm[0] - bright_mm[0], faded_mm[1] - bright_mm[1]))
    soften = "a diffuser (hot glue, a film), or the LED farther behind or beside the window, evens it"
    if apart_mm < RIM_FADE_FRAC.value * size_mm:
        return f"brightest at {to_place(bright_mm)}, faded toward its rim on all sides", soften
    heading = to_heading(bright_mm, end_mm=faded_mm)
    reason = (
        f"brightest at {to_place(bright_mm)}, faded {to_number(apart_mm)} mm from there, at its {heading} end near"
        f" {to_place(faded_mm)}"
    )
    return reason, f"a second LED near {to_place(faded_mm)} lifts the faded end; {soften}"


def lost_in_room_light(context: LightContext) -> Iterable[Finding]:
    """A lit window hardly stands out from the board in the room light of the design.

    It glows in the dark and disappears by day.
    """
    for seen in context.look.windows:
        window = window_by_name(context.board, name=seen.name)
        if window is None or not seen.leds or seen.contrast.value >= CONTRAST_MIN.value:
            continue
        yield Finding(
            code="lost-in-room-light",
            severity="note",
            subject=seen.name,
            at_mm=window.centre_mm,
            reason=f"{to_range(seen.contrast)} times as bright as its surround in"
            f" {context.design.view.ambient_lx:g} lx, with {to_range(seen.mean_cd_m2, unit='cd/m2')} of its own",
            remedy="raise its current, move the LED nearer, open the mask, or take a thinner or paler laminate",
        )
