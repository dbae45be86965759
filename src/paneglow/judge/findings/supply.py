"""Rules about what drives the board: can the supply give the voltage and the current."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from paneglow.board import PlacedLed
from paneglow.catalog import Part
from paneglow.design import Supply
from paneglow.judge.findings.rule import BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.wording import to_list, to_number

COIN_CELL_OPEN_V = Threshold(
    what="open-circuit voltage of a fresh lithium coin cell",
    value=3.0,
    unit="V",
    source="encyc.org/wiki/CR2032 (second hand): 3 V, 220 to 235 mAh to 2.0 V",
)
COIN_CELL_OHM_LOW = Threshold(
    what="internal resistance of a fresh coin cell",
    value=10.0,
    unit="ohm",
    source="sv.htfbw.com 1012018911 (second hand): 10 to 40 ohm typical",
)
COIN_CELL_OHM_HIGH = Threshold(
    what="internal resistance of a used coin cell",
    value=40.0,
    unit="ohm",
    source="sv.htfbw.com 1012018911 (second hand): 10 to 40 ohm typical, rising with use",
)
COIN_CELL_RATED_MA = Threshold(
    what="current at which a coin cell gives its rated capacity",
    value=0.2,
    unit="mA",
    source="encyc.org/wiki/CR2032 (second hand): 220 to 235 mAh at 0.2 mA",
)
COIN_CELL_CONTINUOUS_MA = Threshold(
    what="greatest continuous current of a coin cell",
    value=3.0,
    unit="mA",
    source="encyc.org/wiki/CR2032 (second hand): 3 mA continuous, 15 mA in pulses",
)
COIN_CELL_PULSE_MA = Threshold(
    what="greatest pulse current of a coin cell",
    value=15.0,
    unit="mA",
    source="encyc.org/wiki/CR2032 (second hand): 3 mA continuous, 15 mA in pulses",
)
COIN_CELL_CAPACITY_MAH = Threshold(
    what="capacity of a coin cell at its rated current; less at more",
    value=220.0,
    unit="mAh",
    source="encyc.org/wiki/CR2032 (second hand): 220 to 235 mAh at 0.2 mA, low end",
)
USB_OPEN_V = Threshold(what="voltage of a USB port", value=5.0, unit="V", source="USB 2.0, nominal: from memory")
USB_CONTINUOUS_MA = Threshold(
    what="current a USB port must give after it has been asked", value=500.0, unit="mA", source="USB 2.0: from memory"
)
THERMAL_V = Threshold(
    what="kT/q at 300 K", value=0.02585, unit="V", source="SI Brochure, 9th ed., 2019, exact k and q; 300 K assumed"
)
IDEALITY_LOW = Threshold(
    what="diode ideality, low end", value=1.0, unit="1", source="assumed: 1 is the ideal diode, the least there is"
)
IDEALITY_HIGH = Threshold(
    what="diode ideality, high end", value=3.0, unit="1", source="assumed: series resistance included; no source"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drive:
    """What a supply gives, within its rating: least and greatest voltage [V], and its words."""

    low_v: float
    high_v: float
    words: str


def total_current_ma(leds: tuple[PlacedLed, ...]) -> float:
    """Sum of the currents of all LEDs [mA]; each is taken as its own branch of the supply."""
    return sum(led.current_ma for led in leds)


def forward_voltage_v(part: Part, *, current_ma: float) -> tuple[float, float]:
    """Least and greatest forward voltage of a part at a current [V].

    The catalogue's range at the test current is shifted by n kT/q ln(I / I_test), with the ideality n from 1 to 3 so
    that the range stays honest; series resistance beyond that is not modelled.
    """
    e_folds = math.log(current_ma / part.test_current_ma)
    shifts_v = [ideality.value * THERMAL_V.value * e_folds for ideality in (IDEALITY_LOW, IDEALITY_HIGH)]
    return part.forward_voltage_v.lowest + min(shifts_v), part.forward_voltage_v.highest + max(shifts_v)


def cell_voltage_v(open_v: float, *, load_ma: float) -> tuple[float, float]:
    """Least and greatest voltage of a coin cell under load [V], over the range of its internal resistance."""
    drops_v = [ohm.value * load_ma / 1000 for ohm in (COIN_CELL_OHM_HIGH, COIN_CELL_OHM_LOW)]
    return max(0.0, open_v - drops_v[0]), max(0.0, open_v - drops_v[1])


def _estimated(context: BoardContext) -> tuple[PlacedLed, ...]:
    """LEDs of which only the design's current is known; those of a solved circuit have rules of their own."""
    return tuple(led for led in context.board.leds if led.ref not in context.solved_refs)


def _open_v(supply: Supply) -> float | None:
    known = {"coin-cell": COIN_CELL_OPEN_V.value, "usb": USB_OPEN_V.value}
    return supply.voltage_v if supply.voltage_v is not None else known.get(supply.kind)


def _drive(context: BoardContext) -> _Drive | None:
    supply = context.design.supply
    open_v = None if supply is None else _open_v(supply)
    if supply is None or open_v is None:
        return None
    if supply.kind != "coin-cell":
        return _Drive(low_v=open_v, high_v=open_v, words=f"{open_v:.2f} V")
    # More than its rating is a finding of its own; here it must not make every red LED look out of reach
    load_ma = min(total_current_ma(_estimated(context)), COIN_CELL_CONTINUOUS_MA.value)
    low_v, high_v = cell_voltage_v(open_v, load_ma=load_ma)
    return _Drive(
        low_v=low_v, high_v=high_v, words=f"{low_v:.2f} to {high_v:.2f} V at {to_number(load_ma)} mA, used to fresh"
    )


@rule(
    "error",
    "warning",
    thresholds=(
        COIN_CELL_OPEN_V,
        COIN_CELL_OHM_LOW,
        COIN_CELL_OHM_HIGH,
        USB_OPEN_V,
        THERMAL_V,
        IDEALITY_LOW,
        IDEALITY_HIGH,
    ),
)
def forward_voltage_too_high(context: BoardContext) -> Iterable[Fault]:
    """An LED needs more forward voltage than the supply gives.

    It is dimmer than computed from the first day, and on a cell it fades first: blue, white and green before red. An
    error where not even the least voltage of the part's range is reached. LEDs of one order code and current share one
    finding.
    """
    drive = _drive(context)
    lit = [led for led in _estimated(context) if led.current_ma > 0]
    if drive is None:
        return
    for key in dict.fromkeys((led.part.code, led.current_ma) for led in lit):
        alike = [led for led in lit if (led.part.code, led.current_ma) == key]
        low_v, high_v = forward_voltage_v(alike[0].part, current_ma=alike[0].current_ma)
        if high_v > drive.low_v:
            yield _voltage_finding(alike, drive=drive, low_v=low_v, high_v=high_v)


def _voltage_finding(alike: list[PlacedLed], *, drive: _Drive, low_v: float, high_v: float) -> Fault:
    first = alike[0]
    others = f", as {to_list(tuple(led.ref for led in alike[1:]))}" if alike[1:] else ""
    return led_fault(
        first,
        severity="error" if low_v > drive.high_v else "warning",
        reason=(
            f"It needs {low_v:.2f} to {high_v:.2f} V forward voltage at {to_number(first.current_ma)} mA"
            f" ({first.part.code}{others}), up to {high_v - drive.low_v:.2f} V above what the supply gives,"
            f" {drive.words}: it fades first."
        ),
        remedy="Use a supply of higher voltage, a part of lower forward voltage (red, orange, amber), or less current.",
    )


@rule("error", "warning", thresholds=(COIN_CELL_CONTINUOUS_MA, COIN_CELL_PULSE_MA, USB_CONTINUOUS_MA))
def supply_current_too_high(context: BoardContext) -> Iterable[Fault]:
    """The LEDs together ask more current than the supply is rated for.

    A coin cell then gives less than its capacity and its voltage sinks; above its pulse rating it is an error.
    """
    supply = context.design.supply
    load_ma = total_current_ma(_estimated(context))
    limits = {
        "coin-cell": (COIN_CELL_CONTINUOUS_MA.value, COIN_CELL_PULSE_MA.value),
        "usb": (USB_CONTINUOUS_MA.value, USB_CONTINUOUS_MA.value),
    }
    if supply is None or supply.kind not in limits:
        return
    warning_ma, error_ma = limits[supply.kind]
    if load_ma > warning_ma:
        sag = _sag_words(supply, load_ma=load_ma)
        yield Fault(
            severity="error" if load_ma > error_ma else "warning",
            reason=f"The LEDs take {to_number(load_ma)} mA in all, {to_number(load_ma - warning_ma)} mA above the"
            f" {warning_ma:g} mA that a {supply.kind} gives continuously{sag}.",
            remedy="Lower the currents, light fewer LEDs at a time, or use a stronger supply.",
        )


def _sag_words(supply: Supply, *, load_ma: float) -> str:
    open_v = _open_v(supply)
    if supply.kind != "coin-cell" or open_v is None:
        return ""
    low_v, high_v = cell_voltage_v(open_v, load_ma=load_ma)
    return (
        f"; through {COIN_CELL_OHM_LOW.value:g} to {COIN_CELL_OHM_HIGH.value:g} ohm inside it, {high_v:.2f} down to"
        f" {low_v:.2f} V would be left"
    )


@rule("note", thresholds=(COIN_CELL_RATED_MA, COIN_CELL_CAPACITY_MAH))
def cell_empties_soon(context: BoardContext) -> Iterable[Fault]:
    """The LEDs take more than the current at which a coin cell gives its rated capacity.

    States the most hours a fresh cell can last: capacity over current, before any loss.
    """
    supply = context.design.supply
    load_ma = total_current_ma(_estimated(context))
    if supply is None or supply.kind != "coin-cell" or load_ma <= COIN_CELL_RATED_MA.value:
        return
    hours = COIN_CELL_CAPACITY_MAH.value / load_ma
    yield Fault(
        reason=f"At {to_number(load_ma)} mA a {COIN_CELL_CAPACITY_MAH.value:g} mAh coin cell lasts at most"
        f" {to_number(hours)} hours; it is rated at {COIN_CELL_RATED_MA.value:g} mA.",
        remedy="Add a switch or a timer, lower the currents, or use larger cells.",
    )
