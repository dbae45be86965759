"""Rules about an LED and the window it is meant for: distance, aim, place, copper between."""

import math
from collections.abc import Iterable

from shapely.geometry import Point

from paneglow.board import Board, PlacedLed, Window
from paneglow.judge.findings.rule import (
    CLOSE_STYLES,
    COVER_MAX_FRAC,
    SHAPE,
    BoardContext,
    Fault,
    Threshold,
    led_fault,
    rule,
    window_by_name,
)
from paneglow.judge.geometry import (
    angle_to_window_rad,
    covered_frac,
    distance_to_window_mm,
    emitter_outline,
    emitter_point_mm,
)
from paneglow.judge.wording import to_layer_words, to_number, to_place, to_share

SIDE_REACH_HEIGHTS = Threshold(
    what="distance from a side-view LED, in heights of its luminous centre, beyond which it gives a window little",
    value=3.8,
    unit="1",
    source=(
        "computed: a Lambertian source that shines along the board at height h lights it as d h / (d2 + h2)^2,"
        " which falls to 5 % of its greatest value at d = 3.8 h; one thickness is added for spread in the laminate"
    ),
)
BEHIND_REACH_HEIGHTS = Threshold(
    what="distance from the axis of an LED behind the board, in its distances behind, beyond which it gives little",
    value=1.86,
    unit="1",
    source="computed: cos^4 law of a Lambertian point source, 5 % of the on-axis value; one thickness is added",
)
AIM_MAX_DEG = Threshold(
    what="angle between the axis of a side-view LED and the nearest direction of its window",
    value=60.0,
    unit="deg",
    source="computed: half-intensity angle of a Lambertian source; beyond 90 deg no light goes there directly",
)


@rule("note")
def led_without_window(context: BoardContext) -> Iterable[Fault]:
    """An LED is not meant for any window.

    All of its light then counts as bleed in the windows it reaches.
    """
    for led in context.board.leds:
        if led.window is None and led.current_ma > 0:
            yield led_fault(
                led,
                reason="No window is named for this LED, so its light counts as bleed everywhere.",
                remedy='Say window = "..." in its [[led]], or take it out.',
            )


@rule("warning", thresholds=(SIDE_REACH_HEIGHTS, BEHIND_REACH_HEIGHTS), bears_on=SHAPE)
def led_far_from_window(context: BoardContext) -> Iterable[Fault]:
    """An LED that shines from beside or from a distance sits too far from the window it is meant for.

    The window comes out dim and fades away from the LED.
    """
    for led, window in _meant_for(context.board):
        reach_mm = _reach_mm(led, context)
        distance_mm = distance_to_window_mm(led, window=window)
        if reach_mm is None or distance_mm <= reach_mm:
            continue
        yield led_fault(
            led,
            reason=(
                f"It is {to_number(distance_mm)} mm from window {window.name}, {to_number(distance_mm - reach_mm)} mm"
                f" beyond the {to_number(reach_mm)} mm within which a part of this height and style gives useful light."
            ),
            remedy="Move it toward the window, or name the window it really lights.",
        )


def _meant_for(board: Board) -> Iterable[tuple[PlacedLed, Window]]:
    for led in board.leds:
        window = window_by_name(board, name=led.window)
        if window is not None:
            yield led, window


def _reach_mm(led: PlacedLed, context: BoardContext) -> float | None:
    cover = context.design.board.back_cover
    cover_mm = 0.0 if cover is None else 2 * cover.distance_mm  # there and back
    behind_mm = {
        "side_view": SIDE_REACH_HEIGHTS.value * led.part.emitter_height_mm.value,
        "carrier": None if led.gap_mm is None else BEHIND_REACH_HEIGHTS.value * led.gap_mm,
        "top_view": BEHIND_REACH_HEIGHTS.value * cover_mm if cover else None,
    }.get(led.mounting)
    return None if behind_mm is None else behind_mm + context.board.thickness_mm


@rule("error", "warning", thresholds=(AIM_MAX_DEG,), bears_on=SHAPE)
def side_view_aims_away(context: BoardContext) -> Iterable[Fault]:
    """A side-view LED shines past, or away from, the window it is meant for.

    The usual cause is a rotation counted from another zero or from the other face.
    """
    for led, window in _meant_for(context.board):
        angle_deg = math.degrees(angle_to_window_rad(led, window=window))
        if led.mounting != "side_view" or angle_deg <= AIM_MAX_DEG.value or _sits_in(led, window):
            continue
        yield led_fault(
            led,
            severity="error" if angle_deg > 90.0 else "warning",
            reason=(
                f"It shines {angle_deg:.0f} deg away from the nearest part of window {window.name}"
                f" (rotation {led.rotation_deg:g} deg, counter-clockwise seen from the front)."
            ),
            remedy="Turn it toward the window; check from which zero and which face the placement file counts.",
        )


def _sits_in(led: PlacedLed, window: Window) -> bool:
    return bool(window.polygon.contains(Point(emitter_point_mm(led))))


@rule("error", "warning", thresholds=(COVER_MAX_FRAC,), bears_on=SHAPE)
def led_off_its_window(context: BoardContext) -> Iterable[Fault]:
    """An LED that lies on the laminate is not, or not wholly, under the window it is meant for.

    What lies beside the window is copper: that part of the light is lost.
    """
    for led, window in _meant_for(context.board):
        if led.mounting not in CLOSE_STYLES:
            continue
        emitter = emitter_outline(led)
        outside = 1.0 - emitter.intersection(window.polygon).area / emitter.area
        if outside <= COVER_MAX_FRAC.value:
            continue
        distance_mm = distance_to_window_mm(led, window=window)
        misses = f"{to_number(distance_mm)} mm outside{_elsewhere(led, context.board)}" if distance_mm > 0 else "inside"
        yield led_fault(
            led,
            severity="error" if distance_mm > 0 else "warning",
            reason=f"{to_share(outside)} of its luminous area lies off window {window.name}; its centre is {misses}"
            f"{_behind_words(led, context.board)}.",
            remedy=f"Move it to {to_place(window.centre_mm)}, or widen the window.",
        )


def _elsewhere(led: PlacedLed, board: Board) -> str:
    other = next((window.name for window in board.survey.windows if _sits_in(led, window)), None)
    return "" if other is None else f", under window {other}"


def _behind_words(led: PlacedLed, board: Board) -> str:
    layer, share = max(_copper_over(led, board), key=lambda item: item[1])
    return (
        f", under the {to_layer_words(layer)} over {to_share(share)} of that area"
        if share > COVER_MAX_FRAC.value
        else ""
    )


def _copper_over(led: PlacedLed, board: Board) -> tuple[tuple[str, float], ...]:
    maps = board.maps
    inner = tuple((f"copper_inner_{index + 1}", layer) for index, layer in enumerate(maps.copper_inner))
    layers = (("copper_front", maps.copper_front), *inner, ("copper_back", maps.copper_back))
    emitter = emitter_outline(led)
    return tuple((name, covered_frac(layer, polygon=emitter, grid=maps.grid)) for name, layer in layers)


@rule("error", "warning", thresholds=(COVER_MAX_FRAC,), bears_on=SHAPE)
def led_behind_copper(context: BoardContext) -> Iterable[Fault]:
    """Copper covers the luminous area of an LED that lies on the laminate.

    The LED sits over its window, or has none, and yet copper of some layer stands in its light.
    """
    for led in context.board.leds:
        window = window_by_name(context.board, name=led.window)
        if led.mounting not in CLOSE_STYLES or (window is not None and not _sits_in(led, window)):
            continue
        for layer, share in _copper_over(led, context.board):
            if share > COVER_MAX_FRAC.value:
                yield led_fault(
                    led,
                    severity="error" if share > 0.5 else "warning",
                    reason=f"Of its luminous area, {to_share(share)} lies behind the {to_layer_words(layer)}.",
                    remedy=f"Clear the {to_layer_words(layer)} over the lens, or move the LED.",
                )
