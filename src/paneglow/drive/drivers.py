"""Ways to drive LEDs, as strings, pins and scan phases; together with a supply they make a circuit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, permutations
from typing import Literal

from paneglow.drive.records import (
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
    Sink,
)
from paneglow.drive.steps import check_circuit
from paneglow.errors import DesignError

IdleState = Literal["float", "opposite"]
STEADY = (Phase(share_frac=1.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """What is wired and how it is switched; independent of supply, parts and chip."""

    strings: tuple[LedString, ...]  # What is wired between which terminals
    pins: tuple[Pin, ...] = ()  # Pins in use
    phases: tuple[Phase, ...] = STEADY  # Steps of the scan, one after the other


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
    return Wiring(
        strings=tuple(string for wiring in wirings for string in wiring.strings),
        pins=tuple(pin for wiring in wirings for pin in wiring.pins),
        phases=tuple(_with_beside(phase, beside=beside) for phase in (scans[0].phases if scans else STEADY)),
    )


def rail_strings(strings: Sequence[Sequence[str]], *, resistor_ohm: Sequence[float], duty_frac: float = 1.0) -> Wiring:
    """A resistor and one or several LEDs in series, each string between rail and ground."""
    return Wiring(
        strings=tuple(
            LedString(refs=tuple(refs), resistor_ohm=ohm, duty_frac=duty_frac)
            for refs, ohm in zip(strings, resistor_ohm, strict=True)
        )
    )


def sink_strings(
    strings: Sequence[Sequence[str]], *, current_ma: float, knee_v: float, duty_frac: float = 1.0
) -> Wiring:
    """LEDs in series from the rail into constant-current sinks, dimmed by PWM of all sinks together."""
    sink = Sink(current_ma=current_ma, knee_v=knee_v)
    return Wiring(strings=tuple(LedString(refs=tuple(refs), sink=sink, duty_frac=duty_frac) for refs in strings))


def pin_strings(
    strings: Mapping[str, Sequence[str]],
    *,
    resistor_ohm: Mapping[str, float],
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
    duties : mapping, optional
        PWM by pin, 0 to 1; full on where absent.
    """
    state: PinState = "low" if sinking else "high"
    return Wiring(
        strings=tuple(
            LedString(
                refs=tuple(refs),
                from_terminal=RAIL if sinking else name,
                to_terminal=name if sinking else GROUND,
                resistor_ohm=resistor_ohm[name],
            )
            for name, refs in strings.items()
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
    phases = []
    for active, line in zip(rows, grid, strict=True):
        lit = {pin.name: ref for pin, ref in zip(columns, line, strict=True) if ref and duty.get(ref, 1.0) > 0.0}
        row_states: list[tuple[str, PinState]] = [(pin.name, "high" if pin is active else idle_row) for pin in rows]
        column_states: list[tuple[str, PinState]] = [
            (pin.name, "low" if pin.name in lit else idle_column) for pin in columns
        ]
        phases.append(
            Phase(
                share_frac=1.0 / len(rows),
                pins=(*row_states, *column_states),
                duties=tuple((name, duty[ref]) for name, ref in lit.items() if ref in duty),
                lights=tuple(lit.values()),
            )
        )
    strings = tuple(
        LedString(refs=(ref,), from_terminal=row.name, to_terminal=column.name)
        for row, line in zip(rows, grid, strict=True)
        for column, ref in zip(columns, line, strict=True)
        if ref is not None
    )
    return Wiring(strings=strings, pins=(*rows, *columns), phases=tuple(phases))


def charlieplex_pairs(pins: Sequence[Pin]) -> tuple[tuple[Pin, Pin], ...]:
    """Every (anode pin, cathode pin) that n pins can tell apart: n (n - 1) of them, by anode pin."""
    return tuple(permutations(pins, 2))


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
        Refs in the order of `charlieplex_pairs`; None, or a short list, where there is no LED.
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
    pairs = charlieplex_pairs(pins)
    if len(refs) > len(pairs):
        raise DesignError(f"{len(pins)} pins tell {len(pairs)} LEDs apart, not {len(refs)}; add a pin")
    wired = [(ref, anode.name, cathode.name) for ref, (anode, cathode) in zip(refs, pairs, strict=False) if ref]
    groups = [[led for led in wired if led[1] == pin.name] for pin in pins]
    turns = [[led] for led in wired] if scan == "led" else [group for group in groups if group]
    return Wiring(
        strings=tuple(LedString(refs=(ref,), from_terminal=a, to_terminal=c) for ref, a, c in wired),
        pins=tuple(pins),
        phases=tuple(_turn(turn, share_frac=1.0 / len(turns), duty=brightness or {}) for turn in turns),
    )


def _turn(turn: list[tuple[str, str, str]], *, share_frac: float, duty: Mapping[str, float]) -> Phase:
    lit = [led for led in turn if duty.get(led[0], 1.0) > 0.0]
    low: list[tuple[str, PinState]] = [(cathode, "low") for _, _, cathode in lit]
    high: list[tuple[str, PinState]] = [(turn[0][1], "high")]
    return Phase(
        share_frac=share_frac,
        pins=(*high, *low),
        duties=tuple((cathode, duty[ref]) for ref, _, cathode in lit if ref in duty),
        lights=tuple(ref for ref, _, _ in lit),
    )


def _with_beside(phase: Phase, *, beside: Sequence[Wiring]) -> Phase:
    """A phase with the pins and lights of all that is not scanned."""
    standing = [wiring.phases[0] for wiring in beside]
    lit = tuple(ref for wiring in beside for string in wiring.strings for ref in string.refs)
    return replace(
        phase,
        pins=(*phase.pins, *chain.from_iterable(other.pins for other in standing)),
        duties=(*phase.duties, *chain.from_iterable(other.duties for other in standing)),
        lights=None if phase.lights is None else (*phase.lights, *lit),
    )
