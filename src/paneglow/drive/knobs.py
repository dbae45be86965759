"""What can be turned in a wired circuit, and how far: groups of strings by window, or scanned LEDs by brightness."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from paneglow.drive.records import GROUND, RAIL, Circuit, LedString, OperatingPoint
from paneglow.physics import diode_voltage_v, relative_light

FloatArray = npt.NDArray[np.float64]
KnobKind = Literal["resistor", "sink", "brightness"]

LEAST_RESISTOR_OHM = 1.0  # the least of the preferred values
SINK_HEADROOM = 2.0  # knee voltages left for a sink: tanh(2) is 96 % of its current
DARK_MA = 1e-9  # less is no current


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """Strings, or scanned LEDs, that are turned together: all light the same windows.

    Attributes
    ----------
    kind : KnobKind
    strings : tuple of int
        Into `circuit.strings`.
    pattern : tuple of float
        Mean current of each string over the knob's value [1]; of brightness, that of each LED.
    windows : frozenset of str
    """

    kind: KnobKind
    strings: tuple[int, ...]
    pattern: tuple[float, ...]
    windows: frozenset[str]


def build_knobs(
    circuit: Circuit,
    *,
    point: OperatingPoint,
    window_of: dict[str, str | None],
    chosen: Sequence[str],
    scanned: frozenset[str],
) -> tuple[Knob, ...]:
    """Knobs of all strings that light a chosen window; strings of one window keep the ratio of their currents."""
    groups: dict[tuple[KnobKind, frozenset[str]], list[int]] = {}
    for number, string in enumerate(circuit.strings):
        lit = frozenset(window for ref in string.refs if (window := window_of.get(ref)) is not None)
        if lit & set(chosen):
            groups.setdefault((_kind(string, scanned=scanned), lit), []).append(number)
    currents = string_currents_ma(circuit, point=point)
    return tuple(
        Knob(kind=kind, strings=tuple(numbers), pattern=_pattern(currents[numbers], kind=kind), windows=lit)
        for (kind, lit), numbers in groups.items()
    )


def string_currents_ma(circuit: Circuit, *, point: OperatingPoint) -> FloatArray:
    """Mean current of every string [mA], shape (string,): that of its first LED."""
    mean = dict(zip(point.refs, point.mean_current_ma, strict=True))
    return np.array([mean[string.refs[0]] for string in circuit.strings])


def on_share_frac(circuit: Circuit, *, string: LedString) -> float:
    """Share of the cycle in which a string that is not scanned is on: its own PWM, or that of its pin."""
    duties = dict(circuit.phases[0].duties)
    by_pin = min(duties.get(end, 1.0) for end in (string.from_terminal, string.to_terminal))
    return string.duty_frac * by_pin


def pin_ohm(circuit: Circuit, *, string: LedString) -> float:
    """Resistance of the pins at both ends of a string [ohm]; 0 between rail and ground."""
    if circuit.chip is None:
        return 0.0
    behind = {pin.name: pin.resistor_ohm for pin in circuit.pins}
    ohm = 0.0
    for end, own in ((string.from_terminal, circuit.chip.high_ohm), (string.to_terminal, circuit.chip.low_ohm)):
        ohm += 0.0 if end in (RAIL, GROUND) else own + behind[end]
    return ohm


def string_voltage_v(circuit: Circuit, *, string: LedString, on_ma: float, point: OperatingPoint) -> float:
    """Voltage across the LEDs of a string that carries a current [V], warm as they are at a point."""
    order = {ref: number for number, ref in enumerate(point.refs)}
    return sum(
        float(diode_voltage_v(on_ma, curve=circuit.leds[order[ref]].curve, junction_c=point.junction_c[order[ref]]))
        for ref in string.refs
    )


def string_light(circuit: Circuit, *, string: LedString, on_ma: float, point: OperatingPoint) -> FloatArray:
    """Light of each LED of a string that carries a current, over that at its test current [1], shape (ref,)."""
    order = {ref: number for number, ref in enumerate(point.refs)}
    share = on_share_frac(circuit, string=string)
    return np.array(
        [
            share
            * float(relative_light(on_ma, curve=circuit.leds[order[ref]].flux, junction_c=point.junction_c[order[ref]]))
            for ref in string.refs
        ]
    )


def string_on_ma(
    circuit: Circuit, *, string: LedString, resistor_ohm: float, rail_v: float, point: OperatingPoint
) -> float:
    """Current of a string of LEDs and a resistor on a rail while it is on [mA]."""
    ohm = resistor_ohm + pin_ohm(circuit, string=string)

    def left_v(on_ma: float) -> float:
        return rail_v - string_voltage_v(circuit, string=string, on_ma=on_ma, point=point) - 1e-3 * ohm * on_ma

    most_ma = 1e3 * rail_v / max(ohm, LEAST_RESISTOR_OHM)
    return float(brentq(left_v, 0.0, most_ma, xtol=1e-9)) if left_v(DARK_MA) > 0.0 else 0.0


def most_mean_ma(circuit: Circuit, *, string: LedString, rail_v: float, point: OperatingPoint) -> float:
    """Greatest mean current of a string within the limits of its LEDs and pins and the voltage there is [mA]."""
    share = on_share_frac(circuit, string=string)
    leds = [led for led in circuit.leds if led.ref in string.refs]
    on_ma = min(*(led.peak_current_max_ma for led in leds), min(led.current_max_ma for led in leds) / share)
    if circuit.chip is not None and {string.from_terminal, string.to_terminal} - {RAIL, GROUND}:
        on_ma = min(on_ma, circuit.chip.pin_max_ma)
    usable_v = rail_v if string.sink is None else rail_v - SINK_HEADROOM * string.sink.knee_v
    least_ohm = LEAST_RESISTOR_OHM if string.sink is None else 0.0
    if usable_v <= 0.0:
        return 0.0
    by_voltage = string_on_ma(circuit, string=string, resistor_ohm=least_ohm, rail_v=usable_v, point=point)
    return share * min(on_ma, by_voltage)


def _kind(string: LedString, *, scanned: frozenset[str]) -> KnobKind:
    if string.refs[0] in scanned:
        return "brightness"
    return "resistor" if string.sink is None else "sink"


def _pattern(currents_ma: FloatArray, *, kind: KnobKind) -> tuple[float, ...]:
    if kind == "brightness" or np.any(currents_ma <= DARK_MA):
        return (1.0,) * len(currents_ma)
    return tuple(float(share) for share in currents_ma / currents_ma.max())
