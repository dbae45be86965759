"""Rules about the windows themselves: what stands in them and what lights them."""

from collections import Counter
from collections.abc import Iterable

from paneglow.board import FaceCover, Shadow, Window
from paneglow.judge.findings.rule import LIGHT, SHAPE, BoardContext, Fault, Threshold, rule, used_windows
from paneglow.judge.records import Severity
from paneglow.judge.wording import to_layer_words, to_list, to_number, to_place, to_share

MASKED_FACE_FRAC = Threshold(
    what="share of one face of a lit window under mask from which it counts as closed",
    value=0.5,
    unit="1",
    source="assumed: half of the face; the survey reports the exact share",
)
SHADOW_WARNING_FRAC = Threshold(
    what="share of the window in shadow from which copper, traces or vias are a warning instead of a note",
    value=0.01,
    unit="1",
    source="assumed: a 0.15 mm trace across a 5 mm window is 3 %, a stray pixel row far below 1 %",
)

SHADOW_REMEDY = {
    "copper sliver": "Clear the {layer} out of the window.",
    "trace": "Route the trace in the {layer} around the window.",
    "via": "Move the via out of the window.",
    "ink": "Clear the {layer} from the window, unless it is drawn there as a soft diffuser or as art.",
    "mask": "Open the {layer} over the whole window, unless the tint is wanted.",
}
SHADOW_PLURAL = {
    "copper sliver": "copper slivers",
    "trace": "traces",
    "via": "vias",
    "ink": "areas of ink",
    "mask": "areas of mask",
}
LIGHT_STOPPERS = ("copper sliver", "trace", "via")  # ink and mask only dim or tint


@rule("warning", "note", thresholds=(SHADOW_WARNING_FRAC,), bears_on=SHAPE)
def window_shadowed(context: BoardContext) -> Iterable[Fault]:
    """Copper, a trace, a via or ink stands in a window that is to be lit.

    Whatever stops light in a window shows as a line or a hard shadow from the front.
    """
    windows = used_windows(context)
    # What lies between two windows that are both meant to be lit divides them: a wall, not a shadow
    seen_in = Counter(shadow for window in windows for shadow in set(window.shadows))
    for window in windows:
        own = [shadow for shadow in window.shadows if seen_in[shadow] == 1]
        for kind in dict.fromkeys(shadow.kind for shadow in own):
            yield _shadow_finding(window, [shadow for shadow in own if shadow.kind == kind])


def _shadow_finding(window: Window, shadows: list[Shadow]) -> Fault:
    largest = max(shadows, key=lambda shadow: shadow.area_mm2)
    layers = sorted({shadow.layer for shadow in shadows})
    # Layers lie over each other, so what they stop together is at least what the worst of them stops
    area_mm2 = max(sum(shadow.area_mm2 for shadow in shadows if shadow.layer == layer) for layer in layers)
    stops_light = largest.kind in LIGHT_STOPPERS
    # Copper has already been taken out of the window's area; coats lie on it
    share = area_mm2 / (window.area_mm2 + area_mm2 if stops_light else window.area_mm2)
    severe = stops_light and share >= SHADOW_WARNING_FRAC.value
    severity: Severity = "warning" if severe else "note"
    what = f"1 {largest.kind}" if len(shadows) == 1 else f"{len(shadows)} {SHADOW_PLURAL[largest.kind]}"
    where = " and ".join(to_layer_words(layer) for layer in layers)
    return Fault(
        severity=severity,
        subject=window.name,
        at_mm=largest.at_mm,
        reason=(
            f"{what} in the window ({where}): {to_number(area_mm2)} mm2, {to_share(share)} of it,"
            f" the largest at {to_place(largest.at_mm)}."
        ),
        remedy=SHADOW_REMEDY[largest.kind].format(layer=where),
    )


@rule("warning", "note", thresholds=(MASKED_FACE_FRAC,), bears_on=LIGHT)
def window_under_mask(context: BoardContext) -> Iterable[Fault]:
    """Solder mask closes one face, or both, of a window that is to be lit.

    Mask tints and dims the light; white mask also diffuses, matt black blocks.
    """
    film = context.catalog.films.get(context.design.board.mask)
    passing = (
        ""
        if film is None
        else f"; {film.code} mask lets {to_share(min(film.transmittance))} to {to_share(max(film.transmittance))}"
        f" through per pass, by colour ({film.origin})"
    )
    for window in used_windows(context):
        covers = [(name, face.masked_frac) for name, face in _faces(window) if face.masked_frac > 0]
        closed = [name for name, face in _faces(window) if face.masked_frac >= MASKED_FACE_FRAC.value]
        if not closed:
            continue
        shares = " and ".join(f"{to_share(share)} of the {name}" for name, share in covers)
        yield Fault(
            severity="warning" if len(closed) == 2 else "note",
            subject=window.name,
            at_mm=window.centre_mm,
            reason=f"Mask covers {shares} of the window{passing}.",
            remedy=f"Open the mask on the {' and the '.join(closed)} a little larger than the copper opening,"
            " unless the tint is wanted.",
        )


def _faces(window: Window) -> tuple[tuple[str, FaceCover], ...]:
    return (("front", window.front), ("back", window.back))


@rule("warning", bears_on=SHAPE)
def window_unlit(context: BoardContext) -> Iterable[Fault]:
    """A window that the design names has no LED meant for it, or only LEDs at zero current.

    It stays dark, or glows only with what bleeds over from its neighbours.
    """
    lit = {led.window for led in context.board.leds if led.current_ma > 0}
    named = {window.name for window in context.design.window}
    for window in context.board.survey.windows:
        if window.name in named and window.name not in lit:
            yield Fault(
                subject=window.name,
                at_mm=window.centre_mm,
                reason=f"No LED that carries current is meant for this window of {to_number(window.area_mm2)} mm2.",
                remedy=f"Say window = '{window.name}' in an [[led]], or take the window out of the design.",
            )


@rule("note")
def windows_not_in_design(context: BoardContext) -> Iterable[Fault]:
    """The fabrication files hold windows that the design neither names nor lights.

    They can glow with stray light, or be windows whose LED was forgotten.
    """
    used = {window.name for window in used_windows(context)}
    unused = [window for window in context.board.survey.windows if window.name not in used]
    if not unused:
        return
    # Gaps round pads say nothing of a forgotten LED
    told = [window for window in unused if window.use != "clearance"] or unused
    largest = sorted(told, key=lambda window: -window.area_mm2)
    count = "1 window" if len(told) == 1 else f"{len(told)} windows"
    if told[0].use == "clearance":
        count = f"{len(told)} narrow clearances"
    elif len(unused) > len(told):
        count += f" (and {len(unused) - len(told)} narrow clearances)"
    names = to_list(tuple(f"{window.name} {to_number(window.area_mm2)} mm2" for window in largest))
    yield Fault(
        at_mm=largest[0].centre_mm,
        reason=f"Light can also cross where no LED is meant for it, {count}: {names}.",
        remedy="Name and light them with [[window]] and [[led]], close them with copper or mask, or leave them dark.",
    )
