"""The circuit of a board and its operating point; no work is done here.

Every driver is a set of strings between two terminals and a scan that says which pins stand where for what share of
the time. A terminal is "rail", "ground", the name of a pin, or that of a resistor that several strings share:

    resistor per LED from a rail      rail - resistor - LED - ground
    one resistor for parallel LEDs    rail - shared resistor - LED - ground
    series string                     rail - resistor - LED - LED - ground
    constant-current sink             rail - LED - LED - sink - ground
    pin that sources, pin that sinks  pin - resistor - LED - ground, rail - resistor - LED - pin
    row-column scan                   row pin - LED - column pin, one phase per row
    charlieplex                       pin - LED - pin both ways round, one phase per driven pin
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from pydantic import Field

from paneglow.physics import CellCurve, DiodeCurve, FluxCurve
from paneglow.units import FiniteFloat, Fraction, NonNegativeFloat, Origin, PositiveFloat, Record

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Origins = tuple[tuple[str, Origin], ...]  # (which value and from where, its origin), for the report

RAIL = "rail"
GROUND = "ground"
PinState = Literal["high", "low", "float"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveLed:
    """One LED as the circuit meets it: its curves and its limits."""

    ref: str  # Designator of the LED
    curve: DiodeCurve  # Voltage against current
    flux: FluxCurve  # Light against current
    current_max_ma: float  # greatest continuous current; also the greatest mean current of a pulsed LED
    peak_current_max_ma: float  # greatest current within a pulse as short and as rare as the next two say
    pulse_duty_frac: float  # Share of the time that the peak current may flow
    pulse_width_s: float  # Longest pulse of the peak current
    reverse_voltage_max_v: float | None  # None where the part does not say
    thermal_k_per_w: float  # junction to surroundings
    origins: Origins = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CellSupply:
    """A cell, or several in series, that runs down."""

    name: str  # What it is, in a few words
    curve: CellCurve  # How it runs down
    continuous_max_ma: float  # Greatest lasting current
    pulse_max_ma: float  # Greatest current in a pulse
    origins: Origins = ()  # Which figure and its source, with its origin


@dataclass(frozen=True, slots=True, kw_only=True)
class RailSupply:
    """A supply that does not run down: USB or a regulated rail."""

    name: str  # What it is, in a few words
    voltage_v: float  # Voltage without load
    resistance_ohm: float  # of source, cable and connector
    continuous_max_ma: float  # Greatest lasting current
    pulse_max_ma: float  # Greatest current in a pulse
    origins: Origins = ()  # Which figure and its source, with its origin


DriveSupply = CellSupply | RailSupply


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor:
    """A resistor, the name it goes by, and the heat it may turn power into (None where nobody says)."""

    ohm: float  # Resistance
    name: str = ""  # Its name; none for one that nobody asks for
    power_max_mw: float | None = None  # Heat that it may take


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """An output of the chip, and the resistor between it and everything wired to it."""

    name: str  # Name of the pin
    port: str  # Port it belongs to
    resistor: Resistor | None = None  # Resistor between the pin and everything wired to it


@dataclass(frozen=True, slots=True, kw_only=True)
class Chip:
    """A microcontroller: how its outputs bend under load, what they may carry, what it uses and needs itself."""

    name: str  # What it is, in a few words
    high_ohm: float  # output resistance to the rail
    low_ohm: float  # output resistance to ground
    pin_max_ma: float  # Greatest current of a pin
    port_max_ma: float  # Greatest sum over the pins of a port, sourced or sunk
    chip_max_ma: float  # Greatest sum over all pins, sourced or sunk
    standing_ma: float  # what the chip uses itself
    voltage_least_v: float  # below it the chip stops, and with it all light
    origins: Origins = ()  # Which figure and its source, with its origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Sink:
    """A constant-current sink at the far end of a string, off in the phases in which its string is off.

    Its current rises with the voltage left for it and is 76 % of `current_ma` at `dropout_v` (tanh law, our choice).
    """

    current_ma: float  # Current that it holds
    dropout_v: float  # Voltage left for it at which it carries 76 % of its current


@dataclass(frozen=True, slots=True, kw_only=True)
class LedString:
    """LEDs in series, first anode toward `from_terminal`, with an optional resistor and an optional sink."""

    refs: tuple[str, ...]  # LEDs in series, by designator
    from_terminal: str = RAIL  # Where the first anode leads
    to_terminal: str = GROUND  # Where the last cathode leads
    resistor: Resistor | None = None  # In series with the LEDs
    sink: Sink | None = None  # At the far end, where there is one
    duty_frac: float = 1.0  # PWM of the string's own switch within a phase; 1 where it has none

    @property
    def name(self) -> str:
        """Its refs, joined."""
        return "-".join(self.refs)


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
    shared: tuple[Resistor, ...] = ()  # from the rail to all strings that start at its name
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

    @property
    def resistors(self) -> tuple[Resistor, ...]:
        """Every resistor: the shared ones, those of the strings, those of the pins."""
        own = (*(string.resistor for string in self.strings), *(pin.resistor for pin in self.pins))
        return (*self.shared, *(resistor for resistor in own if resistor is not None))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OperatingPoint:
    """What flows at one state of the supply. A step is a part of the cycle in which no switch moves.

    Attributes
    ----------
    refs, pin_names : tuple of str
        Order of the LED and pin axes. String axis: order of `circuit.strings`; resistor axis: of `circuit.resistors`.
    share_frac : ndarray, shape (step,)
        Share of the cycle [1]; sums to 1.
    meant : ndarray, shape (step, led), bool
        Whether the LED is meant to be lit in that step.
    led_current_ma, led_voltage_v : ndarray, shape (step, led)
        Anode to cathode [mA, V]; below 0 is reverse.
    pin_current_ma : ndarray, shape (step, pin)
        Out of the pin [mA]; below 0 it sinks.
    resistor_power_mw : ndarray, shape (resistor,)
        Mean over the cycle [mW].
    supply_v, supply_current_ma : ndarray, shape (step,)
        At the terminals of the supply [V, mA].
    junction_c : ndarray, shape (led,)
        Temperature of each junction [deg C].
    light_frac : ndarray, shape (led,)
        Mean light of each LED over its light at the part's test current, pulsed and warm as it is [1].
    open_circuit_v, depth_frac : float
        State of the supply: its voltage without load [V], and how far it is drawn down, 0 fresh to 1 empty [1].
    node_v : ndarray, shape (node,)
        Voltages of all nodes of all steps, as the solver numbers them [V]: where a near state can start from.
    steps_taken, residual_ma : int, float
        Newton steps of the last solve, and the greatest current that is left unbalanced at a node [mA].
    """

    refs: tuple[str, ...]
    pin_names: tuple[str, ...]
    share_frac: FloatArray
    meant: BoolArray
    led_current_ma: FloatArray
    led_voltage_v: FloatArray
    pin_current_ma: FloatArray
    resistor_power_mw: FloatArray
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

    @property
    def light_by_ref(self) -> dict[str, float]:
        """Light of every LED by ref, over that at its test current [1]."""
        return dict(zip(self.refs, self.light_frac.tolist(), strict=True))


LoadKind = Literal["led", "pin", "port", "chip", "supply", "resistor"]
LoadUnit = Literal["mA", "V", "mW"]


class Load(Record):
    """One load against its limit; `used` above `limit` is too much."""

    kind: LoadKind  # What carries the load
    name: str = Field(description="Ref, pin, port, chip, supply or resistor.")
    quantity: str = Field(description="mean current, peak current, reverse voltage or power.")
    used: NonNegativeFloat  # The load
    limit: PositiveFloat  # What is allowed
    unit: LoadUnit  # Unit of load and limit

    @property
    def exceeded(self) -> bool:
        """Whether the limit is passed."""
        return self.used > self.limit


class LedDrive(Record):
    """One wired LED on a fresh supply."""

    ref: str  # Designator of the LED
    mean_ma: NonNegativeFloat = Field(description="Over the cycle [mA].")
    mean_max_ma: PositiveFloat = Field(description="Greatest lasting current of the part [mA].")
    peak_ma: NonNegativeFloat = Field(description="Within the cycle [mA].")
    peak_max_ma: PositiveFloat = Field(description="Greatest peak for pulses as long and as frequent as these [mA].")
    forward_v: FiniteFloat = Field(description="Greatest voltage across it within the cycle [V].")
    reverse_v: NonNegativeFloat = Field(description="Greatest reverse voltage within the cycle [V].")
    ghost_ma: NonNegativeFloat = Field(description="Mean current while it is not meant to be lit [mA].")
    light_frac: NonNegativeFloat = Field(description="Light over that at the part's test current [1].")
    weak_light_frac: NonNegativeFloat = Field(
        description="Light on the weakest supply at the highest forward voltages, over the usual light [1]."
    )
    modulation_frac: Fraction = Field(description="Of its light within the cycle [1].")
    junction_c: FiniteFloat = Field(description="Junction temperature [deg C].")
