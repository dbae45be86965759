"""Rules about what drives the board: can the supply give the voltage and the current."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from paneglow.board import PlacedLed
from paneglow.catalog import Part
from paneglow.design import Supply
from paneglow.drive import CellSupply, build_design_supply, loaded_voltage_v
from paneglow.judge.findings.rule import LIGHT, BoardContext, Fault, Threshold, led_fault, rule
from paneglow.judge.wording import to_list, to_number

COIN_CELL_RATED_MA = Threshold(
    what="current at which a coin cell gives its rated capacity",
    value=0.2,
    unit="mA",
    source="secondary page seen: 220 to 235 mAh at 0.2 mA (docs/sources.md)",
)
HALF_EMPTY = 0.5  # share of the charge drawn at which a used cell is judged; our choice
THERMAL_V = Threshold(
    what="kT/q at 300 K", value=0.02585, unit="V", source="SI Brochure, 9th ed., 2019, exact k and q; 300 K assumed"
)
IDEALITY_LOW = Threshold(
    what="diode ideality, low end", value=1.0, unit="1", source="assumed: 1 is the ideal diode, the least there is"
)
IDEALITY_HIGH = Threshold(
    what="diode ideality, high end", value=3.0, unit="1", source="assumed: series resistance included; no source"
)


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


def _estimated(context: BoardContext) -> tuple[PlacedLed, ...]:
    """LEDs of which only the design's current is known; those of a solved circuit have rules of their own."""
    return tuple(led for led in context.lit if led.ref not in context.solved_refs and led.part.logic is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRange:
    """What a supply gives under a load: least and greatest voltage [V], and its words."""

    low_v: float
    high_v: float
    words: str


def supply_range_v(supply: Supply, *, load_ma: float) -> SupplyRange:
    """Voltage of a supply under a lasting load, from the weakest of its kind, half empty, to the strongest, fresh.

    Parameters
    ----------
    supply : Supply
    load_ma : float
        Lasting load [mA]; more than its rating counts as the rating, since that is a finding of its own and must not
        make every red LED look out of reach.
    """
    ends = ((build_design_supply(supply, end="low"), HALF_EMPTY), (build_design_supply(supply, end="high"), 0.0))
    held_ma = min(load_ma, build_design_supply(supply).continuous_max_ma)
    low_v, high_v = (loaded_voltage_v(known, depth_frac=depth, load_ma=held_ma) for known, depth in ends)
    state = ", half empty to fresh" if isinstance(ends[0][0], CellSupply) else ""
    return SupplyRange(
        low_v=low_v, high_v=high_v, words=f"{low_v:.2f} to {high_v:.2f} V at {to_number(held_ma)} mA{state}"
    )


@rule("error", "warning", thresholds=(THERMAL_V, IDEALITY_LOW, IDEALITY_HIGH), bears_on=LIGHT)
def forward_voltage_too_high(context: BoardContext) -> Iterable[Fault]:
    """An LED needs more forward voltage than the supply gives.

    It is dimmer than computed from the first day, and on a cell it fades first: blue, white and green before red. An
    error where not even the least voltage of the part's range is reached. The supply is what the circuits are solved
    with (drive.md): from the weakest of its kind, half empty, to the strongest, fresh. LEDs of one order code and
    current share one finding.
    """
    lit = [led for led in _estimated(context) if led.current_ma > 0]
    if context.design.supply is None or not lit:
        return
    supply_v = supply_range_v(context.design.supply, load_ma=total_current_ma(tuple(lit)))
    for key in dict.fromkeys((led.part.code, led.current_ma) for led in lit):
        alike = [led for led in lit if (led.part.code, led.current_ma) == key]
        low_v, high_v = forward_voltage_v(alike[0].part, current_ma=alike[0].current_ma)
        if high_v > supply_v.low_v:
            yield _voltage_finding(alike, supply_v=supply_v, low_v=low_v, high_v=high_v)


def _voltage_finding(alike: list[PlacedLed], *, supply_v: SupplyRange, low_v: float, high_v: float) -> Fault:
    first = alike[0]
    others = f", as {to_list(tuple(led.ref for led in alike[1:]))}" if alike[1:] else ""
    return led_fault(
        first,
        severity="error" if low_v > supply_v.high_v else "warning",
        reason=(
            f"It needs {low_v:.2f} to {high_v:.2f} V forward voltage at {to_number(first.current_ma)} mA"
            f" ({first.part.code}{others}), up to {high_v - supply_v.low_v:.2f} V above what the supply gives,"
            f" {supply_v.words}: it fades first."
        ),
        remedy="Use a supply of higher voltage, a part of lower forward voltage (red, orange, amber), or less current.",
    )


@rule("error", "warning")
def supply_current_too_high(context: BoardContext) -> Iterable[Fault]:
    """The LEDs together ask more current than the supply is rated for.

    A cell then gives less than its capacity and its voltage sinks; above its pulse rating it is an error. USB gives one
    unit load, 100 mA, to a device that has agreed on nothing with the host.
    """
    supply = context.design.supply
    load_ma = total_current_ma(_estimated(context))
    if supply is None:
        return
    known = build_design_supply(supply)
    if load_ma > known.continuous_max_ma:
        supply_v = supply_range_v(supply, load_ma=load_ma)
        yield Fault(
            severity="error" if load_ma > known.pulse_max_ma else "warning",
            reason=f"The LEDs take {to_number(load_ma)} mA in all, {to_number(load_ma - known.continuous_max_ma)} mA"
            f" above the {known.continuous_max_ma:g} mA that the supply ({known.name}) gives continuously;"
            f" {supply_v.low_v:.2f} to {supply_v.high_v:.2f} V would be left.",
            remedy="Lower the currents, light fewer LEDs at a time, or use a stronger supply.",
        )


@rule("note", thresholds=(COIN_CELL_RATED_MA,))
def cell_empties_soon(context: BoardContext) -> Iterable[Fault]:
    """The LEDs take more than the current at which a coin cell gives its rated capacity.

    States the most hours a fresh cell can last: capacity over current, before any loss.
    """
    supply = context.design.supply
    load_ma = total_current_ma(_estimated(context))
    if supply is None or supply.kind != "coin-cell" or load_ma <= COIN_CELL_RATED_MA.value:
        return
    known = build_design_supply(supply)
    if isinstance(known, CellSupply):
        capacity_mah = known.curve.capacity_mah
        yield Fault(
            reason=f"At {to_number(load_ma)} mA a {capacity_mah:g} mAh coin cell lasts at most"
            f" {to_number(capacity_mah / load_ma)} hours; it is rated at {COIN_CELL_RATED_MA.value:g} mA.",
            remedy="Add a switch or a timer, lower the currents, or use larger cells.",
        )
