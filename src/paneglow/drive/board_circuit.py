"""The circuit of a board, from what the design says of it: groups to strings, pins and phases, parts to loads."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

from paneglow.board import PlacedLed
from paneglow.design import ChipDesign, CircuitGroup, Design, Supply
from paneglow.drive.chips import build_chip
from paneglow.drive.data_files import End
from paneglow.drive.drivers import (
    Wiring,
    build_circuit,
    charlieplex,
    joined_wirings,
    matrix_scan,
    pin_strings,
    rail_strings,
    sink_strings,
)
from paneglow.drive.leds import build_drive_led
from paneglow.drive.records import Chip, Circuit, DriveSupply, LedString, Pin
from paneglow.drive.supplies import build_supply
from paneglow.errors import DesignError
from paneglow.units import Origin

USUAL_SUPPLY = {"coin-cell": "coin-2032", "battery": "alkaline-aa-pair", "usb": "usb", "regulated": "regulated"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What may be turned in a wired circuit: where a value stands here, it replaces the design's.

    Resistors and sinks go by the refs of their string; `brightness` is the PWM of an LED within its phase of a scan.
    """

    resistor_ohm: Mapping[tuple[str, ...], float] = field(default_factory=dict)
    """Resistors, by the refs of their string."""
    sink_ma: Mapping[tuple[str, ...], float] = field(default_factory=dict)  # Sink currents, by the refs of their string
    brightness: Mapping[str, float] = field(default_factory=dict)
    """PWM of scanned LEDs within their phase, by ref, 0 to 1."""


AS_DESIGNED = Settings()


def build_design_supply(supply: Supply, *, end: End = "nominal") -> DriveSupply:
    """The supply that a design states.

    Raises
    ------
    DesignError
        If its code is not known.
    """
    return build_supply(supply_code(supply), voltage_v=supply.voltage_v, end=end)


def supply_code(supply: Supply | None) -> str:
    """Code of the supply that a design states, or of the usual one of its kind.

    Raises
    ------
    DesignError
        If the design states none.
    """
    if supply is None:
        raise DesignError('circuit: [supply] is missing; give it, such as kind = "coin-cell"')
    return supply.cell if supply.cell is not None else USUAL_SUPPLY[supply.kind]


def build_board_circuit(
    design: Design,
    *,
    leds: Sequence[PlacedLed],
    settings: Settings = AS_DESIGNED,
    voltage: End = "nominal",
    end: End = "nominal",
) -> Circuit | None:
    """The circuit that a design wires.

    Parameters
    ----------
    design : Design
    leds : sequence of PlacedLed
        Of the board built from that design.
    settings : Settings
        Values that replace the design's.
    voltage, end : "nominal", "low" or "high"
        Ends of the forward voltages and of the supply.

    Returns
    -------
    Circuit or None
        None where the design wires nothing.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written, or its supply is not known.
    """
    if not design.circuit or design.supply is None:
        return None
    return wire_board(design, leds=leds, voltage=voltage, end=end)(settings)


def wire_board(
    design: Design, *, leds: Sequence[PlacedLed], voltage: End = "nominal", end: End = "nominal"
) -> Callable[[Settings], Circuit]:
    """The circuit of a design as a function of its settings, with every part fitted once.

    Raises
    ------
    DesignError
        If the design wires nothing, or its supply or chip is not known.
    """
    if not design.circuit or design.supply is None:
        raise DesignError("circuit: nothing is wired; add a [[circuit]] and a [supply]")
    loads = [build_drive_led(led.ref, led.part, voltage=voltage) for led in leds]
    supply, chip = build_design_supply(design.supply, end=end), _chip(design, end=end)

    def wire(settings: Settings) -> Circuit:
        circuit = build_circuit(
            joined_wirings(*(_WIRINGS[group.driver](group, settings) for group in design.circuit)),
            leds=loads,
            supply=supply,
            chip=chip,
            cycle_hz=_cycle_hz(design.circuit),
            standing_ma=design.drive.standing_ma,
            ambient_c=design.drive.ambient_c,
        )
        return replace(circuit, strings=tuple(_set(string, settings=settings) for string in circuit.strings))

    return wire


def resistor_limits_mw(design: Design) -> dict[tuple[str, ...], float]:
    """What the resistor of each string may warm by, by the refs of the string [mW]."""
    return {refs: group.resistor_max_mw for group in design.circuit for refs in _strings(group)}


def _set(string: LedString, *, settings: Settings) -> LedString:
    ohm = settings.resistor_ohm.get(string.refs, string.resistor_ohm)
    if string.sink is None:
        return replace(string, resistor_ohm=ohm)
    current_ma = settings.sink_ma.get(string.refs, string.sink.current_ma)
    return replace(string, resistor_ohm=ohm, sink=replace(string.sink, current_ma=current_ma))


def _strings(group: CircuitGroup) -> Iterable[tuple[str, ...]]:
    return group.strings or tuple((ref,) for ref in group.wired)


def _chip(design: Design, *, end: End) -> Chip | None:
    needs = any(group.driver in ("pin", "matrix", "charlieplex") for group in design.circuit)
    if design.chip is None and not needs:
        return None
    stated = ChipDesign() if design.chip is None else design.chip
    known = stated.model_dump(exclude={"kind"}, exclude_none=True)
    chip = build_chip(stated.kind, end=end)
    origins = tuple(row for row in chip.origins if row[0].partition(":")[0] not in known)
    measured: tuple[tuple[str, Origin], ...] = tuple((f"{name}: the design", "sourced") for name in known)
    return replace(chip, **known, origins=(*measured, *origins))


def _cycle_hz(groups: Iterable[CircuitGroup]) -> float | None:
    """The slowest repetition of all: the one that is seen first."""
    return min((group.cycle_hz for group in groups if group.cycle_hz is not None), default=None)


def _ohms(group: CircuitGroup, *, count: int) -> tuple[float, ...]:
    return group.resistor_ohm * count if len(group.resistor_ohm) == 1 else group.resistor_ohm


def _rail(group: CircuitGroup, settings: Settings) -> Wiring:  # noqa: ARG001  strings are set afterwards
    ohms = _ohms(group, count=len(group.strings))
    return rail_strings(group.strings, resistor_ohm=ohms, duty_frac=group.duty_frac)


def _pin(group: CircuitGroup, settings: Settings) -> Wiring:  # noqa: ARG001  strings are set afterwards
    ohms = _ohms(group, count=len(group.strings))
    dimmed = dict.fromkeys(group.pins, group.duty_frac) if group.duty_frac < 1.0 else None
    return pin_strings(
        dict(zip(group.pins, group.strings, strict=True)),
        resistor_ohm=dict(zip(group.pins, ohms, strict=True)),
        duties=dimmed,
        sinking=group.sinking,
        port=group.port,
    )


def _sink(group: CircuitGroup, settings: Settings) -> Wiring:  # noqa: ARG001  strings are set afterwards
    if group.current_ma is None:
        raise DesignError("circuit: a sink needs current_ma")
    return sink_strings(group.strings, current_ma=group.current_ma, knee_v=group.knee_v, duty_frac=group.duty_frac)


def _matrix(group: CircuitGroup, settings: Settings) -> Wiring:
    ohms = _ohms(group, count=len(group.columns))
    return matrix_scan(
        [[ref or None for ref in line] for line in group.grid],
        rows=[Pin(name=name, port=group.port) for name in group.rows],
        columns=[
            Pin(name=name, port=group.port, resistor_ohm=ohm) for name, ohm in zip(group.columns, ohms, strict=True)
        ],
        brightness=_brightness(group, settings=settings),
        idle=group.idle,
    )


def _charlieplex(group: CircuitGroup, settings: Settings) -> Wiring:
    ohms = _ohms(group, count=len(group.pins))
    return charlieplex(
        [ref or None for ref in group.refs],
        pins=[Pin(name=name, port=group.port, resistor_ohm=ohm) for name, ohm in zip(group.pins, ohms, strict=True)],
        scan=group.scan,
        brightness=_brightness(group, settings=settings),
    )


def _brightness(group: CircuitGroup, *, settings: Settings) -> dict[str, float]:
    duties = {ref: settings.brightness.get(ref, group.duty_frac) for ref in group.wired}
    return {ref: duty for ref, duty in duties.items() if duty < 1.0}


_WIRINGS: dict[str, Callable[[CircuitGroup, Settings], Wiring]] = {
    "rail": _rail,
    "pin": _pin,
    "sink": _sink,
    "matrix": _matrix,
    "charlieplex": _charlieplex,
}


def scanned_refs(design: Design) -> frozenset[str]:
    """LEDs that are lit in turn, and so dimmed by their share of the cycle."""
    scans = (group for group in design.circuit if group.driver in ("matrix", "charlieplex"))
    return frozenset(chain.from_iterable(group.wired for group in scans))
