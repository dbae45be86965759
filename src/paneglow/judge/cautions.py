"""Usual cautions that stand beside the result; each defers to local rules and qualified advice."""

from collections.abc import Callable
from dataclasses import dataclass

from paneglow.design import Design, Mounting
from paneglow.judge.findings.circuit import flash_rate_hz
from paneglow.judge.records import Caution
from paneglow.judge.wording import to_list, to_number
from paneglow.scene import Emitter, Scene

BARE_LENS_MAX_CD_M2 = 1e4  # below it IEC 62471 asks no detailed measurement (seen in public material)
FLASH_MAX_HZ = 3.0  # W3C, WCAG 2.3.1: no more than three flashes in any second
FLASH_BAND_HZ = (3.0, 30.0)  # Wilkins, Emmett, Harding, researchgate 7686482: band that provokes seizures
HAND_STYLES: tuple[Mounting, ...] = ("lens_down", "cutout")  # common practice, no source: soldered by hand
BARE_STYLES: tuple[Mounting, ...] = ("through_hole", "cutout", "side_view")  # lens seen directly, or from the side
BLUE_COLOURS = ("blue", "white")  # hold light of the blue hazard band, 400 to 500 nm: CIE S 017:2020, 17-26-055
MM2_PER_M2 = 1e6

LITHIUM_CELL = "li-ion"  # its code among the supplies

DEFER = "Local rules and qualified advice come first."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CautionContext:
    """What a caution depends on: the design, the LEDs as (ref, mounting, colour), and their light."""

    design: Design
    leds: tuple[tuple[str, Mounting, str], ...]
    scene: Scene


def bare_luminance_cd_m2(emitter: Emitter) -> float:
    """Luminance of a bare luminous area along its axis at the design's current [cd/m2]: intensity over area."""
    on_axis_cd = emitter.flux_lm * float(emitter.intensity_table[emitter.cos_table.argmax()])
    area_mm2 = emitter.size_mm[0] * emitter.size_mm[1]
    return on_axis_cd / area_mm2 * MM2_PER_M2


def _button_cell(context: CautionContext) -> str | None:
    supply = context.design.supply
    if supply is None or supply.kind != "coin-cell":
        return None
    reach = "Children may get hold of this piece. " if supply.child_reach else ""
    return (
        f"{reach}A swallowed button or coin cell can burn through the gullet within two hours: seek emergency help"
        " at once. Rules ask for a compartment that opens only with a tool or by two independent movements, captive"
        f" screws, abuse tests and warnings; an open clip holder does not obviously comply. {DEFER}"
    )


def _small_cells(context: CautionContext) -> str | None:
    supply = context.design.supply
    if supply is None or supply.kind != "battery" or supply.cell == LITHIUM_CELL:
        return None
    reach = "Children may get hold of this piece: close the holder so that only a tool opens it. " if (
        supply.child_reach
    ) else ""  # fmt: skip
    return (
        f"{reach}Cells that are left in when empty leak and eat the board; mixed old and new ones, or one put in the"
        f" wrong way round, leak or burst. Take them out for storage, and do not recharge alkaline ones. {DEFER}"
    )


def _lithium_cell(context: CautionContext) -> str | None:
    supply = context.design.supply
    if supply is None or supply.cell != LITHIUM_CELL:
        return None
    reach = "Children may get hold of this piece. " if supply.child_reach else ""
    return (
        f"{reach}A lithium-ion cell that is crushed, pierced, bent, shorted or wrongly charged can burn. Use one with"
        " protection and a certified charger, guard it from the pins of the board, and follow the rules for posting"
        f" it. {DEFER}"
    )


def _bright_bare_lens(context: CautionContext) -> str | None:
    styles = {ref: (mounting, colour) for ref, mounting, colour in context.leds}
    bright = [
        (emitter.ref, bare_luminance_cd_m2(emitter))
        for emitter in context.scene.emitters
        if styles[emitter.ref][0] in BARE_STYLES and bare_luminance_cd_m2(emitter) > BARE_LENS_MAX_CD_M2
    ]
    if not bright:
        return None
    worst, luminance = max(bright, key=lambda item: item[1])
    names = to_list(tuple(ref for ref, _ in bright))
    blue = any(styles[ref][1] in BLUE_COLOURS for ref, _ in bright)
    hazard = " Blue and white LEDs hold light of the blue hazard band, the harmful one." if blue else ""
    return (
        f"The bare lens of {names} can be seen directly, through its hole or from the side and back, and is brighter"
        f" than {to_number(BARE_LENS_MAX_CD_M2)} cd/m2 ({worst}: about {to_number(luminance)} cd/m2), below which no"
        f" detailed eye-safety measurement is asked.{hazard} Do not look into it close up; keep it from"
        f" children's eyes. {DEFER}"
    )


def _flashing(context: CautionContext) -> str | None:
    rate_hz = flash_rate_hz(context.design)
    if rate_hz <= FLASH_MAX_HZ:
        return None
    low, high = FLASH_BAND_HZ
    band = " That lies in the band that provokes seizures in people who are liable." if rate_hz <= high else ""
    return (
        f"{rate_hz:g} flashes per second are more than {FLASH_MAX_HZ:g} in any second.{band} Flash more slowly, avoid"
        f" saturated red, and warn; {low:g} to {high:g} Hz is the band to keep out of. Small areas may flash faster at"
        f" arm's length, but a piece that is held close fills the view. {DEFER}"
    )


def _hot_glue(context: CautionContext) -> str | None:
    if not any(group.diffuser == "hot-glue" for group in context.design.led):
        return None
    return (
        "Hot glue leaves the gun at 120 to 190 C and burns skin; it creeps in a hot car or on a warm board, so it does"
        f" not hold anything that must not fall off. {DEFER}"
    )


def _hand_soldering(context: CautionContext) -> str | None:
    names = tuple(ref for ref, mounting, _ in context.leds if mounting in HAND_STYLES)
    if not names:
        return None
    return (
        f"{to_list(names)} must be soldered by hand. Solder fume is a leading cause of occupational asthma: use fume"
        " extraction. LEDs stand 350 C for 3 to 5 s, once; green, blue and white ones are damaged by static charge:"
        f" earth yourself. {DEFER}"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionKind:
    """One caution: its stable code, its text where it applies, and where it comes from."""

    code: str
    text: Callable[[CautionContext], str | None]
    source: str


CAUTION_KINDS = (
    CautionKind(
        code="button-cell",
        text=_button_cell,
        source="16 CFR 1263 and ANSI/UL 4200A-2023 (88 FR 65274, 21 Sep 2023); open holder: common practice, no source",
    ),
    CautionKind(code="small-cells", text=_small_cells, source="common practice, no source"),
    CautionKind(code="lithium-cell", text=_lithium_cell, source="common practice, no source"),
    CautionKind(
        code="bright-bare-lens",
        text=_bright_bare_lens,
        source="IEC 62471, 10^4 cd/m2 as seen in public material; luminance computed as intensity over luminous area",
    ),
    CautionKind(
        code="flashing",
        text=_flashing,
        source="W3C, WCAG 2.3.1; sensitive band: Wilkins, Emmett, Harding, researchgate 7686482",
    ),
    CautionKind(code="hot-glue", text=_hot_glue, source="common practice, no source"),
    CautionKind(
        code="hand-soldering",
        text=_hand_soldering,
        source="heat limits as printed on public data sheets; fume and static: common practice, no source",
    ),
)


def build_cautions(context: CautionContext) -> tuple[Caution, ...]:
    """Cautions that apply, in the order of the table."""
    texts = ((kind, kind.text(context)) for kind in CAUTION_KINDS)
    return tuple(Caution(code=kind.code, text=text, source=kind.source) for kind, text in texts if text is not None)
