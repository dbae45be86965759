"""What can be adjusted in a wired circuit, and how far: resistors, sinks, or the brightness of scanned LEDs."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.drive.circuit import (
    Circuit,
    LedString,
    OperatingPoint,
    SettingKind,
    Settings,
    peak_limit_ma,
    supply_source,
)
from paneglow.drive.matching.series import LEAST_OHM, MOST_OHM
from paneglow.physics import FluxCurve, junction_slope_v, relative_light, saturation_ma, stacked_curves

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DARK_MA = 1e-9  # less is no current
SINK_HEADROOM = 2.0  # dropout voltages left for a sink: tanh(2) is 96 % of its current
BISECTIONS = 46  # of a logarithm over fifteen decades: to 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveVariable:
    """Strings, or scanned LEDs, that are set together: all light the same windows, or hang on one resistor.

    Its value is the mean current of the strongest of its strings [mA], or the brightness of its LEDs [1].

    Attributes
    ----------
    kind : SettingKind
    names : tuple of str
        What `Settings` calls them: one for each string, or that of the resistor that all share.
    strings : tuple of int
        Into `circuit.strings`.
    pattern : tuple of float
        Mean current of each string over the value [1]; of brightness, that of each LED.
    windows : frozenset of str
    """

    kind: SettingKind
    names: tuple[str, ...]
    strings: tuple[int, ...]
    pattern: tuple[float, ...]
    windows: frozenset[str]

    @property
    def shared(self) -> bool:
        """Whether all its strings hang on one resistor."""
        return len(self.names) < len(self.strings)

    @property
    def named_strings(self) -> tuple[tuple[str, list[int]], ...]:
        """Each of the names, and the strings that it sets."""
        groups = [list(self.strings)] if self.shared else [[number] for number in self.strings]
        return tuple(zip(self.names, groups, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strings:
    """The strings of a circuit at an operating point, as arrays.

    Attributes
    ----------
    string_of : ndarray of int, shape (led,)
        String that each LED of the circuit belongs to.
    saturation_ma, slope_v, series_ohm : ndarray, shape (led,)
        Junctions of all LEDs, as warm as at the operating point.
    flux, junction_c : FluxCurve, ndarray of shape (led,)
    outer_ohm : ndarray, shape (string,)
        Resistance of the pins at both ends [ohm]; 0 between rail and ground.
    on_share_frac : ndarray, shape (string,)
        Share of the cycle in which a string that is not scanned is on [1]: its own PWM, or that of its pin.
    mean_ma : ndarray, shape (string,)
        Mean current [mA].
    rail_v : float
        Voltage of the rail, averaged over the cycle [V].
    """

    string_of: IntArray
    saturation_ma: FloatArray
    slope_v: FloatArray
    series_ohm: FloatArray
    flux: FluxCurve
    junction_c: FloatArray
    outer_ohm: FloatArray
    on_share_frac: FloatArray
    mean_ma: FloatArray
    rail_v: float

    @property
    def on_ma(self) -> FloatArray:
        """Current of every string while it is on [mA], shape (string,)."""
        return self.while_on(self.mean_ma)

    def while_on(self, mean_ma: FloatArray) -> FloatArray:
        """Currents while on of strings with these mean currents [mA], shape (..., string); 0 for one that never is."""
        share = np.broadcast_to(self.on_share_frac, np.shape(mean_ma))
        return np.divide(mean_ma, share, out=np.zeros(np.shape(mean_ma)), where=share > 0.0)

    def voltage_v(self, on_ma: FloatArray) -> FloatArray:
        """Voltage across the LEDs of strings that carry currents while on [V], shape (..., string)."""
        own_ma = on_ma[..., self.string_of]
        own_v = self.slope_v * np.log1p(own_ma / self.saturation_ma) + 1e-3 * self.series_ohm * own_ma
        return np.asarray(own_v @ (self.string_of[:, np.newaxis] == np.arange(len(self.outer_ohm))))

    def light_frac(self, on_ma: FloatArray) -> FloatArray:
        """Mean light of every LED while its string carries a current when on, over that at its test current [1]."""
        light = relative_light(on_ma[..., self.string_of], curve=self.flux, junction_c=self.junction_c)
        return np.asarray(self.on_share_frac[self.string_of] * light)

    def currents_ma(self, resistor_ohm: FloatArray, *, rail_v: FloatArray | float) -> FloatArray:
        """Currents while on of strings behind resistances on a rail [mA], shape (..., string), by bisection."""
        outer_ohm, usable_v = np.broadcast_arrays(self.outer_ohm + resistor_ohm, np.maximum(rail_v, 0.0))
        low, high = np.full(outer_ohm.shape, np.log(DARK_MA)), np.full(outer_ohm.shape, np.log(1e6))
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            on_ma = np.exp(middle)
            over = self.voltage_v(on_ma) + 1e-3 * outer_ohm * on_ma > usable_v
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.where(low > np.log(DARK_MA), np.exp(low), 0.0)


def build_strings(circuit: Circuit, *, point: OperatingPoint) -> Strings:
    """The strings of a circuit at an operating point.

    Parameters
    ----------
    circuit : Circuit
    point : OperatingPoint
        Of that circuit.
    """
    curve = stacked_curves([led.curve for led in circuit.leds])
    place = {ref: number for number, string in enumerate(circuit.strings) for ref in string.refs}
    mean = dict(zip(point.refs, point.mean_current_ma.tolist(), strict=True))
    duties = dict(circuit.phases[0].duties)
    pins = {pin.name: 0.0 if pin.resistor is None else pin.resistor.ohm for pin in circuit.pins}

    def outer_ohm(string: LedString) -> float:
        if circuit.chip is None:
            return 0.0
        ends = ((string.from_terminal, circuit.chip.high_ohm), (string.to_terminal, circuit.chip.low_ohm))
        return sum(own + pins[end] for end, own in ends if end in pins)

    return Strings(
        string_of=np.array([place[ref] for ref in circuit.refs], dtype=np.int64),
        saturation_ma=saturation_ma(curve, junction_c=point.junction_c),
        slope_v=junction_slope_v(curve, junction_c=point.junction_c),
        series_ohm=np.asarray(curve.series_ohm),
        flux=stacked_curves([led.flux for led in circuit.leds]),
        junction_c=point.junction_c,
        outer_ohm=np.array([outer_ohm(string) for string in circuit.strings]),
        on_share_frac=np.array(
            [
                string.duty_frac * min(duties.get(end, 1.0) for end in (string.from_terminal, string.to_terminal))
                for string in circuit.strings
            ]
        ),
        mean_ma=np.array([mean[string.refs[0]] for string in circuit.strings]),
        rail_v=float(point.share_frac @ point.supply_v),
    )


def build_variables(
    circuit: Circuit,
    *,
    strings: Strings,
    window_of: dict[str, str | None],
    chosen: tuple[str, ...],
    scanned: frozenset[str],
) -> tuple[DriveVariable, ...]:
    """Variables of all strings that light a chosen window; strings of one window keep the ratio of their currents.

    Parameters
    ----------
    circuit : Circuit
    strings : Strings
        Of that circuit.
    window_of : dict
        Window that each LED is meant for, by ref.
    chosen : tuple of str
        Windows to be matched.
    scanned : frozenset of str
        Refs that are dimmed by their share of a scan.
    """
    shared = {resistor.name for resistor in circuit.shared}
    lit_by = [
        frozenset(window for ref in string.refs if (window := window_of.get(ref)) is not None)
        for string in circuit.strings
    ]
    groups: dict[tuple[SettingKind, frozenset[str], str], list[int]] = {}
    for number, string in enumerate(circuit.strings):
        kind: SettingKind = "resistor" if string.sink is None else "sink"
        common, windows = "", lit_by[number]
        if string.refs[0] in scanned:
            kind = "brightness"
        elif string.from_terminal in shared:
            common = string.from_terminal
            windows = frozenset().union(
                *(lit for other, lit in zip(circuit.strings, lit_by, strict=True) if other.from_terminal == common)
            )
        if windows & set(chosen):
            groups.setdefault((kind, windows, common), []).append(number)
    variables = []
    for (kind, windows, common), numbers in groups.items():
        own = [circuit.strings[number] for number in numbers]
        names = {
            "brightness": [string.refs[0] for string in own],
            "sink": [string.name for string in own],
            "resistor": [common] if common else [string.resistor.name for string in own if string.resistor is not None],
        }[kind]
        currents_ma = strings.mean_ma[numbers]
        alike = kind == "brightness" or np.any(currents_ma <= DARK_MA)
        pattern = (1.0,) * len(numbers) if alike else tuple((currents_ma / currents_ma.max()).tolist())
        if names:
            variables.append(
                DriveVariable(kind=kind, names=tuple(names), strings=tuple(numbers), pattern=pattern, windows=windows)
            )
    return tuple(variables)


def present_values(variables: tuple[DriveVariable, ...], *, strings: Strings, settings: Settings) -> FloatArray:
    """Values that the variables have in the solved circuit, shape (variable,).

    Parameters
    ----------
    variables : tuple of DriveVariable
    strings : Strings
        Of the solved circuit.
    settings : Settings
        It was wired with.
    """
    return np.array(
        [
            settings.value("brightness", variable.names[0])
            if variable.kind == "brightness"
            else float(strings.mean_ma[list(variable.strings)].max()) / max(variable.pattern)
            for variable in variables
        ]
    )


def greatest_values(variables: tuple[DriveVariable, ...], *, strings: Strings, circuit: Circuit) -> FloatArray:
    """Greatest value of each variable within the limits of LEDs, pins and voltage, shape (variable,).

    Parameters
    ----------
    variables : tuple of DriveVariable
    strings, circuit : Strings, Circuit
        The circuit as it is now.
    """
    mean_ma = np.array([_limit_ma(circuit, string=string) for string in circuit.strings])
    needed_v = np.array(
        [0.0 if string.sink is None else SINK_HEADROOM * string.sink.dropout_v for string in circuit.strings]
    )
    least_ohm = np.array([LEAST_OHM if string.sink is None else 0.0 for string in circuit.strings])
    for variable in variables:
        if variable.shared:
            # What a string sees of the resistor that it shares: all their current flows through it
            own = np.array(variable.pattern) * strings.on_share_frac[list(variable.strings)]
            least_ohm[list(variable.strings)] *= own.sum() / np.maximum(own, DARK_MA)
    by_voltage = strings.currents_ma(least_ohm, rail_v=strings.rail_v - needed_v)
    most_ma = np.minimum(mean_ma, strings.on_share_frac * by_voltage)
    return np.array(
        [
            1.0 if variable.kind == "brightness" else float(np.min(most_ma[list(variable.strings)] / variable.pattern))
            for variable in variables
        ]
    )


def _limit_ma(circuit: Circuit, *, string: LedString) -> float:
    """Greatest mean current of a string that its LEDs and pins may carry [mA]."""
    duties = dict(circuit.phases[0].duties)
    share = string.duty_frac * min(duties.get(end, 1.0) for end in (string.from_terminal, string.to_terminal))
    width_s = np.inf if share >= 1.0 or circuit.cycle_hz is None else share / circuit.cycle_hz
    leds = [led for led in circuit.leds if led.ref in string.refs]
    on_ma = min(peak_limit_ma(led, duty_frac=share, width_s=width_s) for led in leds)
    if circuit.chip is not None and {string.from_terminal, string.to_terminal} & {pin.name for pin in circuit.pins}:
        on_ma = min(on_ma, circuit.chip.pin_max_ma)
    return min(share * on_ma, *(led.current_max_ma for led in leds))


def settings_for(
    value: FloatArray,
    *,
    variables: tuple[DriveVariable, ...],
    strings: Strings,
    circuit: Circuit,
    point: OperatingPoint,
    settings: Settings,
) -> Settings:
    """Resistors, sinks and brightness that give the variables these values on the rail as it will then be.

    Parameters
    ----------
    value : ndarray, shape (variable,)
    variables : tuple of DriveVariable
    strings, circuit, point, settings
        The circuit as it is now.
    """
    now = present_values(variables, strings=strings, settings=settings)
    mean_ma, more_ma = strings.mean_ma.copy(), 0.0
    for variable, new, old in zip(variables, value, now, strict=True):
        if variable.kind != "brightness":
            more_ma += float((new - old) * sum(variable.pattern))
            mean_ma[list(variable.strings)] = new * np.array(variable.pattern)
    source = supply_source(circuit.supply, depth_frac=point.depth_frac)
    rail_v = strings.rail_v - 1e-3 * (source.fast_ohm + source.slow_ohm) * more_ma
    on_ma = strings.while_on(mean_ma)
    left_v = rail_v - strings.voltage_v(np.maximum(on_ma, DARK_MA))
    wanted_v = left_v - 1e-3 * strings.outer_ohm * on_ma
    for variable, new in zip(variables, value, strict=True):
        values = {}
        for name, numbers in variable.named_strings:
            total_ma = float(on_ma[numbers].sum())
            ohm = _bounded_ohm(float(wanted_v[numbers].mean()), total_ma=total_ma)
            values[name] = {"brightness": float(new), "sink": total_ma, "resistor": ohm}[variable.kind]
        settings = settings.changed(variable.kind, values)
    return settings


def _bounded_ohm(drop_v: float, *, total_ma: float) -> float:
    """Resistance that drops a voltage at a current [ohm], within what can be bought."""
    return min(max(1e3 * drop_v / total_ma, LEAST_OHM), MOST_OHM) if total_ma > DARK_MA else MOST_OHM
