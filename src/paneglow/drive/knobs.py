"""What can be turned in a wired circuit, and how far: groups of strings by window, or scanned LEDs by brightness."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.drive.records import GROUND, RAIL, Circuit, LedString, OperatingPoint
from paneglow.drive.strings import DARK_MA, StringTable, strings_on_ma

FloatArray = npt.NDArray[np.float64]
KnobKind = Literal["resistor", "sink", "brightness"]

LEAST_RESISTOR_OHM = 1.0  # the least of the preferred values
SINK_HEADROOM = 2.0  # knee voltages left for a sink: tanh(2) is 96 % of its current


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


def most_mean_ma(circuit: Circuit, *, table: StringTable, rail_v: float) -> FloatArray:
    """Greatest mean current of every string within the limits of its LEDs and pins and the voltage there is [mA].

    Parameters
    ----------
    circuit : Circuit
    table : StringTable
        All its strings.
    rail_v : float
        Voltage of the rail [V].
    """
    headroom_v = np.array([0.0 if string.sink is None else string.sink.knee_v for string in circuit.strings])
    least_ohm = np.array([LEAST_RESISTOR_OHM if string.sink is None else 0.0 for string in circuit.strings])
    usable_v = rail_v - SINK_HEADROOM * headroom_v
    by_voltage = strings_on_ma(table, resistor_ohm=least_ohm, rail_v=usable_v)
    share, limits = table.on_share_frac, np.array([_limits_ma(circuit, string=string) for string in circuit.strings])
    mean_ma = np.divide(limits[:, 1], share, out=np.full_like(share, np.inf), where=share > 0.0)
    on_ma = np.minimum(np.minimum(limits[:, 0], mean_ma), by_voltage)
    return np.where(usable_v > 0.0, share * on_ma, 0.0)


def _limits_ma(circuit: Circuit, *, string: LedString) -> tuple[float, float]:
    """Greatest current of a string while on, and averaged over its time on and off [mA]."""
    leds = [led for led in circuit.leds if led.ref in string.refs]
    on_ma = min(led.peak_current_max_ma for led in leds)
    if circuit.chip is not None and {string.from_terminal, string.to_terminal} - {RAIL, GROUND}:
        on_ma = min(on_ma, circuit.chip.pin_max_ma)
    return on_ma, min(led.current_max_ma for led in leds)


def _kind(string: LedString, *, scanned: frozenset[str]) -> KnobKind:
    if string.refs[0] in scanned:
        return "brightness"
    return "resistor" if string.sink is None else "sink"


def _pattern(currents_ma: FloatArray, *, kind: KnobKind) -> tuple[float, ...]:
    if kind == "brightness" or np.any(currents_ma <= DARK_MA):
        return (1.0,) * len(currents_ma)
    return tuple(float(share) for share in currents_ma / currents_ma.max())
