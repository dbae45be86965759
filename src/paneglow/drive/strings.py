"""Strings of LEDs at an operating point, all at once: voltage, light and current, warm as their junctions are."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.records import GROUND, RAIL, Circuit, LedString, OperatingPoint
from paneglow.physics import FluxCurve, Junctions, build_junctions, relative_lights, shockley_current_ma

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DARK_MA = 1e-9  # less is no current
# Newton's method on a convex function gains digits twofold each time; a string needs about eight steps
STEPS_MOST = 100
SETTLED_FRAC = 1e-14  # a few units in the last place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StringTable:
    """Strings and their LEDs as arrays; an LED of a string that stands here twice stands here twice too.

    Attributes
    ----------
    string_of : ndarray of int, shape (led,)
        String that each LED belongs to; LEDs of a string stand together, strings in order.
    leds : ndarray of int, shape (led,)
        Each LED's place in the circuit.
    junctions : Junctions
        Of shape (led,), as warm as at the operating point.
    flux, junction_c : tuple of FluxCurve, ndarray of shape (led,)
    pin_ohm : ndarray, shape (string,)
        Resistance of the pins at both ends [ohm]; 0 between rail and ground.
    on_share_frac : ndarray, shape (string,)
        Share of the cycle in which a string that is not scanned is on [1]: its own PWM, or that of its pin.
    """

    string_of: IntArray
    leds: IntArray
    junctions: Junctions
    flux: tuple[FluxCurve, ...]
    junction_c: FloatArray
    pin_ohm: FloatArray
    on_share_frac: FloatArray

    @property
    def strings(self) -> int:
        """Number of strings."""
        return len(self.pin_ohm)


def build_string_table(circuit: Circuit, *, point: OperatingPoint, numbers: Sequence[int] | None = None) -> StringTable:
    """Strings of a circuit at an operating point.

    Parameters
    ----------
    circuit, point : Circuit, OperatingPoint
    numbers : sequence of int, optional
        Which of its strings, in this order; one may be named more than once. All of them where absent.
    """
    strings = circuit.strings if numbers is None else tuple(circuit.strings[number] for number in numbers)
    order = {ref: number for number, ref in enumerate(circuit.refs)}
    leds = np.array([order[ref] for string in strings for ref in string.refs], dtype=np.int64)
    loads = [circuit.leds[number] for number in leds]
    junction_c = point.junction_c[leds]
    return StringTable(
        string_of=np.repeat(np.arange(len(strings)), [len(string.refs) for string in strings]),
        leds=leds,
        junctions=build_junctions([load.curve for load in loads], junction_c=junction_c),
        flux=tuple(load.flux for load in loads),
        junction_c=junction_c,
        pin_ohm=np.array([_pin_ohm(circuit, string=string) for string in strings]),
        on_share_frac=np.array([_on_share_frac(circuit, string=string) for string in strings]),
    )


def string_voltages_v(table: StringTable, *, on_ma: FloatArray) -> FloatArray:
    """Voltage across the LEDs of strings that carry currents [V], shape (string,)."""
    return _summed(table, _led_v(table, on_ma=on_ma))


def string_lights(table: StringTable, *, on_ma: FloatArray) -> FloatArray:
    """Mean light of every LED while its string carries a current when on, over that at its test current [1], (led,)."""
    lights = relative_lights(on_ma[table.string_of], curves=table.flux, junction_c=table.junction_c)
    return np.asarray(table.on_share_frac[table.string_of] * lights)


def strings_on_ma(table: StringTable, *, resistor_ohm: npt.ArrayLike, rail_v: npt.ArrayLike) -> FloatArray:
    """Currents of strings of LEDs and a resistor on a rail while they are on [mA], shape (string,).

    Parameters
    ----------
    table : StringTable
    resistor_ohm, rail_v : array_like, shape (string,) or ()
        The resistor of each string without that of its pins [ohm], at least 0, and the rail it stands on [V].

    Notes
    -----
    One LED and a resistor are a diode of more series resistance, which has a closed form. It also bounds a longer
    string from above, were it one of its LEDs alone; from there Newton's method on the logarithm of the current, in
    which the voltage of a string is convex, falls to the current and never below it.
    """
    rail = np.broadcast_to(np.asarray(rail_v, dtype=np.float64), table.strings)
    outer_ohm = table.pin_ohm + np.asarray(resistor_ohm, dtype=np.float64)
    lit = _left_v(table, DARK_MA, rail_v=rail, outer_ohm=outer_ohm) > 0.0
    on_ma = np.where(lit, _bound_ma(table, rail_v=rail, outer_ohm=outer_ohm), 0.0)
    longer = lit & (np.bincount(table.string_of, minlength=table.strings) > 1)
    return _fallen_ma(table, on_ma, rail_v=rail, outer_ohm=outer_ohm, moved=longer) if longer.any() else on_ma


def _bound_ma(table: StringTable, *, rail_v: FloatArray, outer_ohm: FloatArray) -> FloatArray:
    """Least current that one LED of each string alone would carry on all resistance of the string, shape (string,)."""
    string, junctions = table.string_of, table.junctions
    series_ohm = _summed(table, junctions.series_ohm) + outer_ohm
    alone_ma = shockley_current_ma(
        rail_v[string], saturation_ma=junctions.saturation_ma, slope_v=junctions.slope_v, series_ohm=series_ohm[string]
    )
    least_ma = np.full(table.strings, np.inf)
    np.minimum.at(least_ma, string, alone_ma)
    return least_ma


def _fallen_ma(
    table: StringTable,
    on_ma: FloatArray,
    *,
    rail_v: FloatArray,
    outer_ohm: FloatArray,
    moved: npt.NDArray[np.bool_],
) -> FloatArray:
    """Currents that fell from upper bounds to what flows, where `moved`."""
    junctions, string = table.junctions, table.string_of
    for _ in range(STEPS_MOST):
        left_v = _left_v(table, on_ma, rail_v=rail_v, outer_ohm=outer_ohm)
        own_ma = on_ma[string]
        # dV / d ln I of every LED
        steepness_v = junctions.slope_v * own_ma / (own_ma + junctions.saturation_ma) + 1e-3 * (
            junctions.series_ohm * own_ma
        )
        slope_v = _summed(table, steepness_v) + 1e-3 * outer_ohm * on_ma
        step = np.divide(left_v, slope_v, out=np.zeros_like(left_v), where=moved)
        on_ma = on_ma * np.exp(np.minimum(step, 0.0))
        if np.all(step >= -SETTLED_FRAC):
            break
    return on_ma


def _left_v(table: StringTable, on_ma: npt.ArrayLike, *, rail_v: FloatArray, outer_ohm: FloatArray) -> FloatArray:
    """Voltage of the rail that strings at these currents leave over [V], shape (string,)."""
    current = np.broadcast_to(np.asarray(on_ma, dtype=np.float64), table.strings)
    return np.asarray(rail_v - string_voltages_v(table, on_ma=current) - 1e-3 * outer_ohm * current)


def _led_v(table: StringTable, *, on_ma: FloatArray) -> FloatArray:
    junctions, current = table.junctions, on_ma[table.string_of]
    return np.asarray(
        junctions.slope_v * np.log1p(current / junctions.saturation_ma) + 1e-3 * junctions.series_ohm * current
    )


def _summed(table: StringTable, per_led: FloatArray) -> FloatArray:
    """Sums over the LEDs of each string, shape (string,)."""
    sums = np.zeros(table.strings)
    np.add.at(sums, table.string_of, per_led)
    return sums


def _on_share_frac(circuit: Circuit, *, string: LedString) -> float:
    duties = dict(circuit.phases[0].duties)
    by_pin = min(duties.get(end, 1.0) for end in (string.from_terminal, string.to_terminal))
    return string.duty_frac * by_pin


def _pin_ohm(circuit: Circuit, *, string: LedString) -> float:
    if circuit.chip is None:
        return 0.0
    behind = {pin.name: pin.resistor_ohm for pin in circuit.pins}
    ohm = 0.0
    for end, own in ((string.from_terminal, circuit.chip.high_ohm), (string.to_terminal, circuit.chip.low_ohm)):
        ohm += 0.0 if end in (RAIL, GROUND) else own + behind[end]
    return ohm
