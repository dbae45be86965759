"""Rules about what flows in a wired board: limits, supply, ghosts, heat, flicker and flashes."""

from collections.abc import Iterable, Iterator

from paneglow.catalog import Logic
from paneglow.design import Design
from paneglow.drive import (
    FLASH_AREA_SR,
    FLASHES_PER_S_MOST,
    Load,
    flashes_exceed,
    flicker_band,
    solid_angle_sr,
)
from paneglow.judge.findings.rule import LIGHT, BoardContext, CircuitContext, Fault, Threshold, led_fault, rule
from paneglow.judge.records import Severity
from paneglow.judge.wording import to_list, to_number, to_share
from paneglow.units import Quantity

SEEN_TURN_HZ = 50.0  # up to here single turns are seen as flashes: `SEEN_TURN`

STARVED_FRAC = Threshold(
    what="least light of an LED of high forward voltage on a weak supply, over its usual light",
    value=0.5,
    unit="1",
    source="assumed: half the light is one stop, plainly seen beside others",
)
DARK_FRAC = Threshold(
    what="the same, below which it is taken as dark",
    value=0.05,
    unit="1",
    source="assumed: a twentieth of the light beside full light reads as unlit",
)
GHOST_FRAC = Threshold(
    what="current of an LED while it is not meant to be lit, over its current while it is",
    value=0.01,
    unit="1",
    source="assumed: a hundredth of the light is seen in the dark; no source",
)
GHOST_MA = Threshold(
    what="the same current, below which nothing is seen",
    value=0.001,
    unit="mA",
    source="assumed: a thousandth of what lights a window dimly",
)
JUNCTION_WARM_C = Threshold(
    what="junction temperature above which an LED ages fast",
    value=85.0,
    unit="deg C",
    source="greatest operating temperature on a public data sheet of small LEDs, seen",
)
JUNCTION_HOT_C = Threshold(
    what="junction temperature above which an LED is not to be run",
    value=110.0,
    unit="deg C",
    source="maximum on a public data sheet of small LEDs, seen; 95 to 125 deg C elsewhere, from memory",
)
FLICKER_SOURCE = "IEEE 1789-2015, from memory: 0.025 f % below 90 Hz, 0.08 f % below 1250 Hz, free above"
LOW_RISK_FREE_HZ = Threshold(
    what="frequency above which light that goes fully on and off is of low risk", value=1250.0, unit="Hz",
    source=FLICKER_SOURCE,
)  # fmt: skip
FLASHES = Threshold(
    what="flashes in any second", value=FLASHES_PER_S_MOST, unit="1/s", source="WCAG 2.3.1 (docs/sources.md)"
)
SEEN_TURN = Threshold(
    what="repetition of a scan or PWM up to which its turns count as flashes",
    value=SEEN_TURN_HZ,
    unit="Hz",
    source="chosen below the 60 to 90 Hz above which most people see no flicker (B. Lehman et al., IEEE ECCE 2011)",
)
FLASH_AREA = Threshold(
    what="solid angle of what flashes, below which it may flash faster",
    value=FLASH_AREA_SR,
    unit="sr",
    source="WCAG 2.3.1: a quarter of any 10 degrees of the field (docs/sources.md)",
)
STRONG_WORDS = "with a strong supply and LEDs of low forward voltage "
LIMIT_REMEDIES = {
    "led": "Raise its resistor, shorten its pulses where it has any, or share the light between two LEDs.",
    "pin": "Raise the resistor, drive fewer LEDs from this pin, or put a transistor behind it.",
    "port": "Spread the LEDs over more ports, light fewer at a time, or raise the resistors.",
    "chip": "Light fewer LEDs at a time, raise the resistors, or drive them by transistors.",
    "supply": "Raise the resistors, light fewer LEDs at a time, or use a stronger supply.",
}


@rule("error", "warning")
def led_limit_passed(context: CircuitContext) -> Iterable[Fault]:
    """An LED carries more current in its circuit than it may, on average or within a pulse.

    It ages fast or dies. An error with the usual supply and parts; a warning where only a strong supply and LEDs of low
    forward voltage do it.
    """
    for use, severity, reason in _passed(context):
        if use.kind == "led" and use.unit == "mA":
            yield _at_led(context, use.name, severity=severity, reason=reason,
                          remedy=LIMIT_REMEDIES["led"])  # fmt: skip


@rule("error", "warning")
def reverse_voltage_too_high(context: CircuitContext) -> Iterable[Fault]:
    """An LED is held in reverse, while others of a scan are lit, by more than it may bear."""
    for use, severity, reason in _passed(context):
        if use.kind == "led" and use.unit == "V":
            yield _at_led(
                context,
                use.name,
                severity=severity,
                reason=reason,
                remedy="Lower the supply, let idle pins float, or put a diode in series.",
            )


@rule("error", "warning")
def pin_limit_passed(context: CircuitContext) -> Iterable[Fault]:
    """A pin, a port or the whole chip carries more than it may."""
    for use, severity, reason in _passed(context):
        if use.kind in ("pin", "port", "chip"):
            yield Fault(severity=severity, reason=reason, remedy=LIMIT_REMEDIES[use.kind])


@rule("error", "warning")
def supply_limit_passed(context: CircuitContext) -> Iterable[Fault]:
    """The board draws more from its supply than that is rated for, on average or within a pulse.

    A cell then gives less than its charge, warms, and its voltage sinks.
    """
    for use, severity, reason in _passed(context):
        if use.kind == "supply":
            yield Fault(severity=severity, reason=reason, remedy=LIMIT_REMEDIES["supply"])


@rule("error", "warning", thresholds=(STARVED_FRAC, DARK_FRAC))
def led_starved(context: CircuitContext) -> Iterable[Fault]:
    """An LED gives far less light than usual where its forward voltage is high and the supply weak.

    Such parts and supplies are within specification, so some boards will look like this from day one. An error where it
    stays dark, which some do even with usual values. LEDs of one order code share one finding.
    """
    placed = {led.ref: led for led in context.board.leds}
    off = {ref for group in context.design.circuit if group.duty_frac == 0.0 for ref in group.wired}
    dark = [placed[led.ref] for led in context.drive.leds if led.light_frac <= 0.0 and led.ref not in off]
    for code in dict.fromkeys(led.part.code for led in dark):
        refs = tuple(led.ref for led in dark if led.part.code == code)
        yield _at_led(
            context,
            refs[0],
            severity="error",
            reason=f"No light comes from {to_list(refs)} ({code}) even with usual values and a fresh supply, whose"
            f" voltage does not reach their forward voltage: {placed[refs[0]].part.forward_voltage_v.value:g} V at the"
            " test current.",
            remedy="Use a supply of higher voltage, fewer LEDs in series, or a part of lower forward voltage; where the"
            " forward voltage was misread, correct it in parts/*.toml.",
        )
    starved: dict[str, list[tuple[float, str]]] = {}
    for led in context.drive.leds:
        if led.light_frac > 0.0 and led.weak_light_frac < STARVED_FRAC.value:
            starved.setdefault(placed[led.ref].part.code, []).append((led.weak_light_frac, led.ref))
    for code, alike in starved.items():
        share, worst = min(alike)
        others = tuple(ref for _, ref in alike if ref != worst)
        yield _at_led(
            context,
            worst,
            severity="error" if share < DARK_FRAC.value else "warning",
            reason=f"In the worst case (weakest supply, highest forward voltage) it ({code}) gives only"
            f" {to_share(share)} of its usual light{f'; {to_list(others)} as little or a bit more' if others else ''}.",
            remedy="Use a supply of higher voltage, or a part or bin of lower forward voltage.",
        )


@rule("error", bears_on=LIGHT)
def chip_starved(context: CircuitContext) -> Iterable[Fault]:
    """The supply under load is below what the chip needs, so that it stops and all goes dark."""
    chip, least_v = context.drive.circuit.chip, float(context.drive.point.supply_v.min())
    if chip is not None and least_v < chip.voltage_least_v:
        yield Fault(
            reason=f"A fresh supply stands at {to_number(least_v)} V under load,"
            f" {to_number(chip.voltage_least_v - least_v)} V below what the {chip.name} needs.",
            remedy="Use a supply of higher voltage or lower resistance, or light fewer LEDs at a time.",
        )


@rule("warning", thresholds=(GHOST_FRAC, GHOST_MA))
def ghost_light(context: CircuitContext) -> Iterable[Fault]:
    """An LED glows while others are meant to be lit: current finds a way round over floating or shared pins."""
    for led in context.drive.leds:
        ghost_ma, own_ma = led.ghost_ma, led.mean_ma - led.ghost_ma
        if ghost_ma > max(GHOST_FRAC.value * own_ma, GHOST_MA.value):
            share = to_share(ghost_ma / own_ma) if own_ma > 0.0 else "all"
            yield _at_led(
                context,
                led.ref,
                reason=f"While it is not meant to be lit it carries {to_number(ghost_ma)} mA on average,"
                f" {share} of what it carries while it is.",
                remedy="Lower the supply below twice the lowest forward voltage, group LEDs of like forward voltage, or"
                " hold idle pins instead of floating them.",
            )


@rule("error", "warning")
def resistor_too_warm(context: CircuitContext) -> Iterable[Fault]:
    """A resistor turns more power into heat than it may."""
    for use, severity, reason in _passed(context):
        if use.kind == "resistor":
            yield Fault(
                severity=severity,
                reason=reason,
                remedy="Use a larger resistor body, two in series, or more LEDs in series on the same voltage.",
            )


@rule("warning")
def leds_share_resistor(context: CircuitContext) -> Iterable[Fault]:
    """LEDs in parallel share one resistor, so that current divides between them by forward voltage.

    The LED of the lowest forward voltage takes most, and even LEDs of one order code differ: brightness then differs
    from board to board.
    """
    parts = {led.ref: led.part for led in context.board.leds}
    current_ma = {led.ref: led.mean_ma for led in context.drive.leds}
    for resistor in context.drive.circuit.shared:
        strings = [string for string in context.drive.circuit.strings if string.from_terminal == resistor.name]
        first = [string.refs[0] for string in strings]
        shares_ma = [current_ma[ref] for ref in first]
        spread_v = max(
            sum(parts[ref].forward_voltage_v.highest - parts[ref].forward_voltage_v.lowest for ref in string.refs)
            for string in strings
        )
        yield Fault(
            reason=f"{to_list(tuple(string.name for string in strings))} share {resistor.name}: current divides by"
            f" forward voltage, here {to_number(min(shares_ma))} to {to_number(max(shares_ma))} mA each, and pieces of"
            f" one order code differ by up to {to_number(spread_v)} V.",
            remedy="Give every LED, or every string, a resistor of its own.",
        )


@rule("error", "warning", thresholds=(JUNCTION_WARM_C, JUNCTION_HOT_C))
def junction_too_warm(context: CircuitContext) -> Iterable[Fault]:
    """The junction of an LED gets so warm by its own power that it ages fast, or is destroyed."""
    air_c = context.drive.circuit.ambient_c
    for led in context.drive.leds:
        if led.junction_c > JUNCTION_WARM_C.value:
            yield _at_led(
                context,
                led.ref,
                severity="error" if led.junction_c > JUNCTION_HOT_C.value else "warning",
                reason=f"Its junction stands at {led.junction_c:.0f} deg C in air of {air_c:g} deg C.",
                remedy="Lower its current, or give its pads more copper.",
            )


@rule("warning", "note", thresholds=(LOW_RISK_FREE_HZ,))
def light_flickers(context: CircuitContext) -> Iterable[Fault]:
    """Scan or PWM is so slow that its flicker is above low risk, or of low risk but may be noticed.

    Eyes and heads differ; some people are bothered by what others never see.
    """
    rate_hz = context.drive.circuit.cycle_hz
    if rate_hz is None or not context.drive.circuit.leds:
        return
    worst = max(context.drive.leds, key=lambda led: led.modulation_frac)
    depth = worst.modulation_frac
    severities: dict[str, Severity] = {"above low risk": "warning", "low risk": "note"}
    band = flicker_band(depth, frequency_hz=rate_hz)
    if band in severities:
        yield Fault(
            severity=severities[band],
            reason=f"{worst.ref} goes up and down by {to_share(depth)} at"
            f" {to_number(rate_hz)} Hz: {band} by IEEE 1789-2015.",
            remedy="Repeat at 1250 Hz or faster (low risk), 3000 Hz or faster (no observable effect).",
        )


def flash_rate_hz(design: Design) -> float:
    """Flashes per second [Hz]: as the design says, or by a scan or PWM whose turns are seen; 0 for steady light."""
    stated_hz = 0.0 if design.supply is None else design.supply.flash_hz
    turns_hz = (group.cycle_hz for group in design.circuit if group.cycle_hz is not None)
    return max([stated_hz, *(rate_hz for rate_hz in turns_hz if rate_hz <= SEEN_TURN_HZ)])


@rule("error", thresholds=(FLASHES, FLASH_AREA, SEEN_TURN))
def flashes_too_fast(context: BoardContext) -> Iterable[Fault]:
    """The board flashes more than three times a second over more than a small part of the field of view.

    It can provoke seizures in people who are sensitive to it. A scan or PWM so slow that its turns are seen counts too.
    """
    rate_hz = flash_rate_hz(context.design)
    if rate_hz <= 0.0:
        return
    lit = {led.window for led in context.board.leds}
    area_mm2 = sum(window.area_mm2 for window in context.board.survey.windows if window.name in lit)
    view = context.design.view
    area_sr = solid_angle_sr(area_mm2=area_mm2, distance_mm=view.distance_mm, angle_deg=view.angle_deg)
    if flashes_exceed(rate_hz, area_sr=area_sr):
        yield Fault(
            reason=f"{to_number(rate_hz)} flashes a second over {to_number(area_sr)} sr at"
            f" {view.distance_mm:g} mm; allowed are {FLASHES.value:g}, or less than {FLASH_AREA.value:g} sr.",
            remedy="Flash no more than three times in any second.",
        )


def _passed(context: CircuitContext) -> Iterator[tuple[Load, Severity, str]]:
    """Loads above their limits with their words: as usual an error, only at the strong end of all ranges a warning."""
    for use, extreme in zip(context.drive.loads, context.drive.strong_loads, strict=True):
        if use.exceeded:
            yield use, "error", _words(use, where="")
        elif extreme.used > use.limit:
            strong = extreme.model_copy(update={"limit": use.limit})
            usual = f" Usually it is {to_number(use.used)} {use.unit}."
            yield strong, "warning", _words(strong, where=STRONG_WORDS) + usual


def _words(use: Load, *, where: str) -> str:
    # What is told above the limit is what the reader finds by subtracting, where that leaves anything
    above = float(to_number(use.used)) - use.limit if float(to_number(use.used)) > use.limit else use.used - use.limit
    over = f"{to_number(above)} {use.unit} above the {to_number(use.limit)} {use.unit} that is allowed"
    owners = {"led": "its", "supply": "the supply's", "chip": "the chip's", "resistor": f"{use.name}'s"}
    owner = owners.get(use.kind, f"{use.kind} {use.name}'s")
    sentence = f"{where}{owner} {use.quantity} is {to_number(use.used)} {use.unit}, {over}."
    return f"{sentence[0].upper()}{sentence[1:]}"


def _at_led(context: CircuitContext, ref: str, *, severity: Severity | None = None, reason: str, remedy: str) -> Fault:
    led = next(led for led in context.board.leds if led.ref == ref)
    return led_fault(led, severity=severity, reason=reason, remedy=remedy)


def _logic_of(context: CircuitContext) -> dict[str, Logic]:
    """Logic inside the LEDs that circuits of driver "data" name, by designator of the body."""
    named = {ref for group in context.design.circuit if group.driver == "data" for ref in group.wired}
    return {
        led.body_ref: led.part.logic
        for led in context.board.leds
        if led.body_ref in named and led.part.logic is not None
    }


@rule("error")
def logic_supply_outside(context: CircuitContext) -> Iterable[Fault]:
    """The supply is below or above what the logic inside LEDs bears.

    Below, it forgets or distorts its data; above, it is destroyed.
    """
    low_v, high_v = float(context.drive.point.supply_v.min()), float(context.drive.point.supply_v.max())
    wrong = [
        ref for ref, logic in _logic_of(context).items() if low_v < logic.supply_min_v or high_v > logic.supply_max_v
    ]
    if wrong:
        logic = _logic_of(context)[wrong[0]]
        yield Fault(
            reason=f"The supply gives {to_number(low_v)} to {to_number(high_v)} V; {to_list(tuple(wrong))} need"
            f" {to_number(logic.supply_min_v)} to {to_number(logic.supply_max_v)} V.",
            remedy="Choose a supply within these limits, or parts that run on this one.",
        )


@rule("error", "warning", "note")
def logic_level_low(context: CircuitContext) -> Iterable[Fault]:
    """The high level of the data is below what the first LED of a string reads as high.

    It depends on the supply of the LEDs: the higher that is, the higher the level must be. Between the ends of the
    assumed range some pieces work and others do not; a level that the design does not state cannot be judged.
    """
    supply_v, logic_of = float(context.drive.point.supply_v.max()), _logic_of(context)
    for group in (group for group in context.design.circuit if group.driver == "data"):
        first = group.strings[0][0]
        needed = [frac * supply_v for logic in (logic_of[first],) for frac in _ends_of(logic.logic_high_frac)]
        if group.level_v is None:
            yield Fault(
                subject=first,
                severity="note",
                reason=f"Its data needs a high level of {to_number(needed[1])} V; what sends it is not stated.",
                remedy="Give level_v in this [[circuit]].",
            )
        elif group.level_v < needed[1]:
            yield Fault(
                subject=first,
                severity="error" if group.level_v < needed[0] else "warning",
                reason=f"Data arrives with {to_number(group.level_v)} V; on {to_number(supply_v)} V it reads"
                f" {to_number(needed[0])} to {to_number(needed[1])} V and more as high.",
                remedy="Put a level shifter before it, or lower the supply of the LEDs.",
            )


def _ends_of(quantity: Quantity) -> tuple[float, float]:
    return quantity.lowest, quantity.highest
