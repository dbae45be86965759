"""Ways to drive LEDs, as strings, pins and scan phases; together with a supply they make a circuit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, permutations
from typing import Literal

from paneglow.drive.circuit.records import (
    GROUND,
    RAIL,
    Chip,
    Circuit,
    DriveLed,
    DriveSupply,
    LedString,
    Phase,
    Pin,
    PinState,
    Resistor,
    Sink,
)
from paneglow.drive.circuit.steps import check_circuit
from paneglow.errors import DesignError

IdleState = Literal["float", "opposite"]
STEADY = (Phase(share_frac=1.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """What is wired and how it is switched; independent of supply, parts and chip."""

    strings: tuple[LedString, ...]
    shared: tuple[Resistor, ...] = ()
    pins: tuple[Pin, ...] = ()
    phases: tuple[Phase, ...] = STEADY


def build_circuit(
    wiring: Wiring,
    *,
    leds: Sequence[DriveLed],
    supply: DriveSupply,
    chip: Chip | None = None,
    cycle_hz: float | None = None,
    standing_ma: float = 0.0,
    ambient_c: float = 25.0,
) -> Circuit:
    """A checked circuit; only the LEDs that are wired stay in it, in the order given.

    Parameters
    ----------
    wiring : Wiring
    leds : sequence of DriveLed
    supply : DriveSupply
    chip : Chip, optional
        Whose pins the wiring uses.
    cycle_hz : float, optional
        Repetition of the scan or of the PWM [Hz].
    standing_ma : float
        Drawn from the rail beside LEDs and chip [mA].
    ambient_c : float
        Air round the board [deg C].

    Raises
    ------
    DesignError
        If it cannot be wired.
    """
    wired = {ref for string in wiring.strings for ref in string.refs}
    circuit = Circuit(
        supply=supply,
        leds=tuple(led for led in leds if led.ref in wired),
        strings=wiring.strings,
        shared=wiring.shared,
        chip=chip,
        pins=wiring.pins,
        phases=wiring.phases,
        cycle_hz=cycle_hz,
        standing_ma=standing_ma,
        ambient_c=ambient_c,
    )
    check_circuit(circuit)
    return circuit


def joined_wirings(*wirings: Wiring) -> Wiring:
    """Several wirings on one board: any number of unscanned ones, and one scan among them.

    Pins that are not scanned stand as they do in every phase of the scan; their PWM starts anew with each phase.

    Raises
    ------
    DesignError
        If more than one of them scans: two scans on one chip have no common cycle that could be known here.
    """
    scans = [wiring for wiring in wirings if len(wiring.phases) > 1]
    if len(scans) > 1:
        raise DesignError("circuit: more than one scan; put all LEDs that are scanned into one")
    beside = [wiring for wiring in wirings if len(wiring.phases) == 1]
    unscanned = tuple(ref for wiring in beside for string in wiring.strings for ref in string.refs)
    standing = [wiring.phases[0] for wiring in beside]
    return Wiring(
        strings=tuple(chain.from_iterable(wiring.strings for wiring in wirings)),
        shared=tuple(chain.from_iterable(wiring.shared for wiring in wirings)),
        pins=tuple(chain.from_iterable(wiring.pins for wiring in wirings)),
        phases=tuple(
            replace(
                phase,
                pins=(*phase.pins, *chain.from_iterable(other.pins for other in standing)),
                duties=(*phase.duties, *chain.from_iterable(other.duties for other in standing)),
                lights=None if phase.lights is None else (*phase.lights, *unscanned),
            )
            for phase in (scans[0].phases if scans else STEADY)
        ),
    )


def rail_strings(
    strings: Sequence[Sequence[str]],
    *,
    resistor_ohm: Sequence[float],
    names: Sequence[str] | None = None,
    power_max_mw: float | None = None,
    duty_frac: float = 1.0,
) -> Wiring:
    """A resistor and one or several LEDs in series, each string between rail and ground.

    Parameters
    ----------
    strings : sequence of sequence of str
        Refs in series, by string.
    resistor_ohm : sequence of float
        Of each string [ohm]; 0 is a wire.
    names : sequence of str, optional
        Of the resistors; strings that name the same one share it. Each string has its own where absent.
    power_max_mw : float, optional
        Heat that each resistor may take [mW].
    duty_frac : float
        PWM of every string [1].
    """
    names = [_resistor_name(refs) for refs in strings] if names is None else names
    resistors = {
        name: Resistor(ohm=ohm, name=name, power_max_mw=power_max_mw)
        for name, ohm in zip(names, resistor_ohm, strict=True)
    }
    shared = [name for name in resistors if list(names).count(name) > 1]
    return Wiring(
        strings=tuple(
            LedString(refs=tuple(refs), from_terminal=name, duty_frac=duty_frac)
            if name in shared
            else LedString(refs=tuple(refs), resistor=resistors[name], duty_frac=duty_frac)
            for refs, name in zip(strings, names, strict=True)
        ),
        shared=tuple(resistors[name] for name in shared),
    )


def sink_strings(
    strings: Sequence[Sequence[str]], *, current_ma: float, dropout_v: float, duty_frac: float = 1.0
) -> Wiring:
    """LEDs in series from the rail into constant-current sinks.

    Parameters
    ----------
    strings : sequence of sequence of str
        Refs in series, by string.
    current_ma, dropout_v : float
        Of each sink, see `Sink` [mA, V].
    duty_frac : float
        PWM of all sinks together [1].
    """
    sink = Sink(current_ma=current_ma, dropout_v=dropout_v)
    return Wiring(strings=tuple(LedString(refs=tuple(refs), sink=sink, duty_frac=duty_frac) for refs in strings))


def pin_strings(
    strings: Mapping[str, Sequence[str]],
    *,
    resistor_ohm: Mapping[str, float],
    names: Mapping[str, str] | None = None,
    power_max_mw: float | None = None,
    duties: Mapping[str, float] | None = None,
    sinking: bool = False,
    port: str = "A",
) -> Wiring:
    """LEDs in series on a pin each, to ground (the pin sources) or from the rail (the pin sinks).

    Parameters
    ----------
    strings : mapping
        Refs in series, by the name of their pin.
    resistor_ohm : mapping
        Series resistance by pin [ohm].
    names, power_max_mw
        Of the resistors, by pin; see `rail_strings`.
    duties : mapping, optional
        PWM by pin, 0 to 1; full on where absent.
    sinking : bool
        Whether the strings run from the rail into the pins.
    port : str
        Port of the chip that all the pins belong to.
    """
    state: PinState = "low" if sinking else "high"
    return Wiring(
        strings=tuple(
            LedString(
                refs=tuple(refs),
                from_terminal=RAIL if sinking else pin,
                to_terminal=pin if sinking else GROUND,
                resistor=Resistor(
                    ohm=resistor_ohm[pin], name=(names or {}).get(pin, _resistor_name(refs)), power_max_mw=power_max_mw
                ),
            )
            for pin, refs in strings.items()
        ),
        pins=tuple(Pin(name=name, port=port) for name in strings),
        phases=(
            Phase(
                share_frac=1.0,
                pins=tuple((name, state) for name in strings),
                duties=tuple((duties or {}).items()),
            ),
        ),
    )


def _resistor_name(refs: Sequence[str]) -> str:
    return f"the resistor of {'-'.join(refs)}"


def matrix_scan(
    grid: Sequence[Sequence[str | None]],
    *,
    rows: Sequence[Pin],
    columns: Sequence[Pin],
    brightness: Mapping[str, float] | None = None,
    idle: IdleState = "opposite",
) -> Wiring:
    """Anodes of a row on its row pin, cathodes of a column on its column pin; one row at a time, each for 1/rows.

    Parameters
    ----------
    grid : sequence of sequence
        Ref of the LED at [row][column], None where there is none.
    rows, columns : sequence of Pin
        Resistors belong to the column pins: one LED of a column is lit at a time.
    brightness : mapping, optional
        PWM of an LED within its row's phase, by ref, 0 to 1; full on where absent, dark at 0.
    idle : "float" or "opposite"
        What pins do that light nothing: float, or stand so that their LEDs are held in reverse.

    Raises
    ------
    DesignError
        If the grid does not have as many rows and columns as there are pins.
    """
    if len(grid) != len(rows) or any(len(line) != len(columns) for line in grid):
        raise DesignError(f"a matrix of {len(rows)} row pins and {len(columns)} column pins needs a grid of that size")
    duty = brightness or {}
    idle_row: PinState = "float" if idle == "float" else "low"
    idle_column: PinState = "float" if idle == "float" else "high"
    phases, strings = [], []
    for active, line in zip(rows, grid, strict=True):
        wired = {pin.name: ref for pin, ref in zip(columns, line, strict=True) if ref}
        lit = {name: ref for name, ref in wired.items() if duty.get(ref, 1.0) > 0.0}
        row_states = {pin.name: idle_row for pin in rows} | {active.name: "high"}
        column_states = {pin.name: idle_column for pin in columns} | dict.fromkeys(lit, "low")
        strings += [LedString(refs=(ref,), from_terminal=active.name, to_terminal=name) for name, ref in wired.items()]
        phases.append(
            Phase(
                share_frac=1.0 / len(rows),
                pins=(*row_states.items(), *column_states.items()),
                duties=tuple((name, duty[ref]) for name, ref in lit.items() if ref in duty),
                lights=tuple(lit.values()),
            )
        )
    return Wiring(strings=tuple(strings), pins=(*rows, *columns), phases=tuple(phases))


def charlieplex(
    refs: Sequence[str | None],
    *,
    pins: Sequence[Pin],
    scan: Literal["row", "led"] = "row",
    brightness: Mapping[str, float] | None = None,
) -> Wiring:
    """An LED from every pin to every other, both ways round.

    Parameters
    ----------
    refs : sequence
        Refs by anode pin, then by cathode pin, n (n - 1) of them for n pins; None, or a short list, where there is no
        LED.
    pins : sequence of Pin
        Each with its resistor.
    scan : "row" or "led"
        One pin high at a time with all its LEDs lit, each for 1/pins of the cycle; or one LED at a time.
    brightness : mapping, optional
        PWM of an LED within its phase, by ref, 0 to 1; full on where absent, dark at 0.

    Raises
    ------
    DesignError
        If there are more refs than pairs of pins.

    Notes
    -----
    All other pins float, so current can also take a way round over a third pin through two LEDs in series: the solved
    ghost currents tell how much.
    """
    pairs, duty = tuple(permutations(pins, 2)), brightness or {}
    if len(refs) > len(pairs):
        raise DesignError(f"{len(pins)} pins tell {len(pairs)} LEDs apart, not {len(refs)}; add a pin")
    wired = [(ref, anode.name, cathode.name) for ref, (anode, cathode) in zip(refs, pairs, strict=False) if ref]
    groups = [[led for led in wired if led[1] == pin.name] for pin in pins]
    turns = [[led] for led in wired] if scan == "led" else [group for group in groups if group]
    phases = []
    for turn in turns:
        lit = [(ref, cathode) for ref, _, cathode in turn if duty.get(ref, 1.0) > 0.0]
        phases.append(
            Phase(
                share_frac=1.0 / len(turns),
                pins=((turn[0][1], "high"), *((cathode, "low") for _, cathode in lit)),
                duties=tuple((cathode, duty[ref]) for ref, cathode in lit if ref in duty),
                lights=tuple(ref for ref, _ in lit),
            )
        )
    return Wiring(
        strings=tuple(LedString(refs=(ref,), from_terminal=a, to_terminal=c) for ref, a, c in wired),
        pins=tuple(pins),
        phases=tuple(phases),
    )
