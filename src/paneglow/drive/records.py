"""Drive records: the circuit of a board, its operating point, and how long a supply lasts; no work is done here.

Every driver of this room is a set of strings between two terminals and a scan that says which pins stand where for
what share of the time. A terminal is "rail", "ground" or the name of a pin:

    resistor per LED from a rail      rail - resistor - LED - ground
    series string                     rail - resistor - LED - LED - ground
    constant-current sink             rail - LED - LED - sink - ground
    pin that sources, pin that sinks  pin - resistor - LED - ground, rail - resistor - LED - pin
    row-column scan                   row pin - LED - column pin, one phase per row
    charlieplex                       pin - LED - pin both ways round, one phase per driven pin

Records become answers through `build_drive_led` (part -> DriveLed), `read_supplies` (name -> DriveSupply), the wirings
of `drivers.py` (-> Circuit), `solve_point` (Circuit, depth -> OperatingPoint), `limit_uses` (-> LimitUse) and
`build_life` (Circuit, WindowLight, DailyUse -> LifeAnswer).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from paneglow.physics import CellCurve, DiodeCurve, FluxCurve
from paneglow.units import Origin

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

RAIL = "rail"
GROUND = "ground"
PinState = Literal["high", "low", "float"]
LimitKind = Literal["led", "pin", "port", "chip", "supply", "resistor"]
LifeEnd = Literal["window below goal", "supply cut off", "supply empty", "not reached", "never met"]
LifeStage = Literal["fresh", "half", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveLed:
    """One LED as the circuit meets it: its curves and its limits."""

    ref: str  # Designator of the LED
    curve: DiodeCurve  # Voltage against current
    flux: FluxCurve  # Light against current
    current_max_ma: float  # greatest continuous current; also the greatest mean current of a pulsed LED
    peak_current_max_ma: float  # greatest current within a pulse
    reverse_voltage_max_v: float | None  # None where the part does not say
    thermal_k_per_w: float  # junction to surroundings
    origins: tuple[tuple[str, Origin], ...] = ()  # (which value and from where, its origin), for the report


@dataclass(frozen=True, slots=True, kw_only=True)
class CellSupply:
    """A cell, or several in series, that runs down."""

    name: str  # Code of the supply
    curve: CellCurve  # How it runs down
    continuous_max_ma: float  # Greatest lasting current
    pulse_max_ma: float  # Greatest current in a pulse
    origins: tuple[tuple[str, Origin], ...] = ()  # Which figure and its source, with its origin


@dataclass(frozen=True, slots=True, kw_only=True)
class RailSupply:
    """A supply that does not run down: USB or a regulated rail."""

    name: str  # Code of the supply
    voltage_v: float  # Voltage without load
    resistance_ohm: float  # of source, cable and connector
    continuous_max_ma: float  # Greatest lasting current
    pulse_max_ma: float  # Greatest current in a pulse
    origins: tuple[tuple[str, Origin], ...] = ()  # Which figure and its source, with its origin


DriveSupply = CellSupply | RailSupply


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """An output of the chip, and the resistor between it and everything wired to it."""

    name: str  # Name of the pin
    port: str  # Port it belongs to
    resistor_ohm: float = 0.0  # Resistor between the pin and everything wired to it; 0 for none


@dataclass(frozen=True, slots=True, kw_only=True)
class Chip:
    """A microcontroller: how its outputs bend under load, what they may carry, what it uses and needs itself."""

    name: str  # Code of the chip
    high_ohm: float  # output resistance to the rail
    low_ohm: float  # output resistance to ground
    pin_max_ma: float  # Greatest current of a pin
    port_max_ma: float  # Greatest sum over the pins of a port, sourced or sunk
    chip_max_ma: float  # Greatest sum over all pins, sourced or sunk
    standing_ma: float  # what the chip uses itself
    voltage_least_v: float  # below it the chip stops, and with it all light
    origins: tuple[tuple[str, Origin], ...] = ()  # Which figure and its source, with its origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Sink:
    """A constant-current sink at the far end of a string, off in the phases in which its string is off.

    Its current rises with the voltage left for it and is 76 % of `current_ma` at `knee_v` (tanh law).
    """

    current_ma: float  # Current that it holds
    knee_v: float  # Voltage left for it at which it carries 76 % of its current


@dataclass(frozen=True, slots=True, kw_only=True)
class LedString:
    """LEDs in series, first anode toward `from_terminal`, with an optional resistor and an optional sink."""

    refs: tuple[str, ...]  # LEDs in series, by designator
    from_terminal: str = RAIL  # Where the first anode leads: rail, ground or a pin
    to_terminal: str = GROUND  # Where the last cathode leads
    resistor_ohm: float = 0.0  # Resistor in series; 0 for none
    sink: Sink | None = None  # Constant-current sink at its far end, where there is one
    duty_frac: float = 1.0  # PWM of the string's own switch within a phase; 1 where it has none


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A step of the scan: its share of the cycle, the state of every pin, and which LEDs it is meant to light.

    Pins that are not named float. `duties` dims pins by PWM inside the phase: the pin stands as stated for this share
    of the phase and floats for the rest; all channels start together, as counters do.
    """

    share_frac: float  # Share of the cycle
    pins: tuple[tuple[str, PinState], ...] = ()  # State of each driven pin
    duties: tuple[tuple[str, float], ...] = ()  # Share of the phase for which a pin stands so, by pin
    lights: tuple[str, ...] | None = None  # refs meant to be lit; None for all whose ends are driven


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """All that carries current on one board."""

    supply: DriveSupply  # What drives it
    leds: tuple[DriveLed, ...]  # The LEDs
    strings: tuple[LedString, ...]  # What is wired between which terminals
    chip: Chip | None = None  # The microcontroller, where there is one
    pins: tuple[Pin, ...] = ()  # Its outputs in use
    phases: tuple[Phase, ...] = (Phase(share_frac=1.0),)  # Steps of the scan, one after the other
    cycle_hz: float | None = None  # repetition of the scan or of the PWM; None where the light is steady
    standing_ma: float = 0.0  # what else hangs on the rail beside the chip's own
    ambient_c: float = 25.0  # air round the board

    @property
    def refs(self) -> tuple[str, ...]:
        """Designators of the LEDs, the order of every LED axis below."""
        return tuple(led.ref for led in self.leds)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OperatingPoint:
    """What flows at one state of the supply. A step is a part of the cycle in which no switch moves.

    Attributes
    ----------
    refs, pin_names : tuple of str
        Order of the LED and pin axes. String axis: order of `circuit.strings`.
    share_frac : ndarray, shape (step,)
        Share of the cycle [1]; sums to 1.
    meant : ndarray, shape (step, led), bool
        Whether the LED is meant to be lit in that step.
    led_current_ma, led_voltage_v : ndarray, shape (step, led)
        Anode to cathode; below 0 is reverse.
    pin_current_ma : ndarray, shape (step, pin)
        Out of the pin; below 0 it sinks.
    resistor_power_mw : ndarray, shape (string,)
        Mean over the cycle in the resistor of the string; 0 where there is none.
    pin_resistor_power_mw : ndarray, shape (pin,)
    supply_v, supply_current_ma : ndarray, shape (step,)
        At the terminals of the supply.
    junction_c : ndarray, shape (led,)
    light_frac : ndarray, shape (led,)
        Mean light of each LED over its light at the part's test current, pulsed and warm as it is [1].
    open_circuit_v, depth_frac : float
        State of the supply: its voltage without load, and how far it is drawn down, 0 fresh to 1 empty.
    node_v : ndarray, shape (node,)
        Voltages of all nodes of all steps, as the solver numbers them: where a near state can start from.
    steps_taken, residual_ma : int, float
        Newton steps of the last solve, and the greatest current that is left unbalanced at a node.
    """

    refs: tuple[str, ...]
    pin_names: tuple[str, ...]
    share_frac: FloatArray
    meant: BoolArray
    led_current_ma: FloatArray
    led_voltage_v: FloatArray
    pin_current_ma: FloatArray
    resistor_power_mw: FloatArray
    pin_resistor_power_mw: FloatArray
    supply_v: FloatArray
    supply_current_ma: FloatArray
    junction_c: FloatArray
    light_frac: FloatArray
    open_circuit_v: float
    depth_frac: float
    node_v: FloatArray
    steps_taken: int
    residual_ma: float

    @property
    def mean_current_ma(self) -> FloatArray:
        """Forward current of each LED averaged over the cycle [mA], shape (led,)."""
        return np.asarray(self.share_frac @ np.maximum(self.led_current_ma, 0.0))

    @property
    def peak_current_ma(self) -> FloatArray:
        """Greatest forward current of each LED in any step [mA], shape (led,)."""
        return np.asarray(np.maximum(self.led_current_ma, 0.0).max(axis=0))

    @property
    def ghost_current_ma(self) -> FloatArray:
        """Mean forward current of each LED in the steps in which it is not meant to be lit [mA], shape (led,)."""
        stray = np.where(self.meant, 0.0, np.maximum(self.led_current_ma, 0.0))
        return np.asarray(self.share_frac @ stray)

    @property
    def reverse_voltage_v(self) -> FloatArray:
        """Greatest reverse voltage across each LED in any step [V], shape (led,); 0 where there is none."""
        return np.asarray(np.maximum(-self.led_voltage_v, 0.0).max(axis=0))

    @property
    def mean_supply_ma(self) -> float:
        """Current drawn from the supply, averaged over the cycle [mA]."""
        return float(self.share_frac @ self.supply_current_ma)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitUse:
    """One load against one limit; `used` and `limit` in the unit named, `used` above `limit` is too much."""

    kind: LimitKind  # What carries the load
    name: str  # ref, pin, port, chip or supply
    quantity: str  # "mean current", "peak current", "reverse voltage"
    used: float  # What is loaded
    limit: float  # What is allowed
    unit: Literal["mA", "V"]  # Unit of both

    @property
    def exceeded(self) -> bool:
        """Whether the limit is passed."""
        return self.used > self.limit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowLight:
    """What windows get from LEDs, as traced, and the least that each must show.

    Attributes
    ----------
    names : tuple of str
        Windows.
    luminance_cd_m2_per_ma : ndarray, shape (window, led)
        Per mA at the test current of each part, LEDs in the order of `circuit.leds`.
    goal_cd_m2 : ndarray, shape (window,)
        Least mean luminance; 0 where nothing is asked.
    """

    names: tuple[str, ...]
    luminance_cd_m2_per_ma: FloatArray
    goal_cd_m2: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyUse:
    """How long the piece shines each day; the rest of the day only the standing current flows where `idle_ma` says."""

    hours_per_day: float = 24.0  # Hours of light each day
    idle_ma: float = 0.0  # Current that flows while it is dark


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LifePoint:
    """The board at one stage of the supply's life."""

    stage: LifeStage  # Fresh, half or end
    lit_h: float  # hours of light so far
    point: OperatingPoint  # What flows
    luminance_cd_m2: FloatArray  # [window]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LifeAnswer:
    """How long a supply keeps every window at or above its goal.

    Attributes
    ----------
    end : LifeEnd
        What ended it: "not reached" is a supply that does not run down, or light beyond the longest time looked at;
        "never met" is a goal missed already when fresh.
    limiting_window : str or None
        The first window to drop below its goal.
    lit_h, calendar_h : float
        Hours of light, and hours since it was first switched on, until then; infinite where not reached.
    window_lit_h : ndarray, shape (window,)
        Hours of light until each window drops below its goal; infinite for one without a goal or that outlasts all.
    stages : tuple of LifePoint
        Fresh, at half of `lit_h`, and at the end; only fresh where the supply does not run down.
    time_h, drawn_mah, supply_v : ndarray, shape (time,)
        The run: calendar hours, charge drawn by load, terminal voltage while lit (least within the cycle).
    luminance_cd_m2 : ndarray, shape (time, window)
        While lit.
    """

    end: LifeEnd
    limiting_window: str | None
    lit_h: float
    calendar_h: float
    window_lit_h: FloatArray
    stages: tuple[LifePoint, ...]
    time_h: FloatArray
    drawn_mah: FloatArray
    supply_v: FloatArray
    luminance_cd_m2: FloatArray
