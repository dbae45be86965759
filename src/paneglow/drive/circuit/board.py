"""A board from what its design says of circuits: wired, solved as usual and at the ends of all ranges."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Literal

import numpy as np

from paneglow.board import Board, PlacedLed
from paneglow.design import ChipDesign, CircuitGroup, CurrentSource, Design, Supply
from paneglow.drive.circuit.flicker import led_modulation_frac
from paneglow.drive.circuit.limits import circuit_loads, peak_limit_ma, pulses
from paneglow.drive.circuit.parts import End, build_chip, build_drive_led, build_supply, read_supplies
from paneglow.drive.circuit.records import (
    Chip,
    Circuit,
    DriveSupply,
    LedDrive,
    LedString,
    Load,
    OperatingPoint,
    Pin,
    Resistor,
)
from paneglow.drive.circuit.solve import solve_point
from paneglow.drive.circuit.wiring import (
    Wiring,
    build_circuit,
    charlieplex,
    joined_wirings,
    matrix_scan,
    pin_strings,
    rail_strings,
    sink_strings,
)
from paneglow.errors import DesignError

USUAL_SUPPLY = {"coin-cell": "coin-2032", "battery": "alkaline-aa-pair", "usb": "usb", "regulated": "regulated"}


SettingKind = Literal["resistor", "sink", "brightness"]
SETTING_FIELDS: dict[SettingKind, str] = {"resistor": "resistor_ohm", "sink": "sink_ma", "brightness": "brightness"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What may be adjusted in a wired circuit: where a value stands here, it replaces the design's.

    Resistors go by their names, sinks by the names of their strings; `brightness` is the PWM of an LED within its phase
    of a scan, by ref.
    """

    resistor_ohm: Mapping[str, float] = field(default_factory=dict)
    sink_ma: Mapping[str, float] = field(default_factory=dict)
    brightness: Mapping[str, float] = field(default_factory=dict)

    def changed(self, kind: SettingKind, values: Mapping[str, float]) -> "Settings":
        """These settings with other values of one kind."""
        name = SETTING_FIELDS[kind]
        return replace(self, **{name: {**getattr(self, name), **values}})

    def value(self, kind: SettingKind, name: str) -> float:
        """One of them."""
        return float(getattr(self, SETTING_FIELDS[kind])[name])


AS_DESIGNED = Settings()


def build_design_supply(supply: Supply, *, end: End = "nominal") -> DriveSupply:
    """The supply that a design states, or the usual one of its kind.

    Parameters
    ----------
    supply : Supply
    end : "nominal", "low" or "high"
        The usual one, or the weakest or strongest that the ranges allow.

    Raises
    ------
    DesignError
        If its code is not known, or is of another kind.
    """
    code = supply.cell if supply.cell is not None else USUAL_SUPPLY[supply.kind]
    known = read_supplies().get(code)
    if known is not None and known.kind != supply.kind:
        raise DesignError(
            f"[supply] kind is {supply.kind!r}, but {code} is {known.words}, of kind {known.kind!r}; cautions go by the"
            f' kind: write kind = "{known.kind}", or another cell'
        )
    return build_supply(code, voltage_v=supply.voltage_v, end=end)


def wire_board(
    design: Design, *, leds: Sequence[PlacedLed], voltage: End = "nominal", end: End = "nominal"
) -> Callable[[Settings], Circuit]:
    """The circuit of a design as a function of its settings, with every part fitted once.

    Parameters
    ----------
    design : Design
    leds : sequence of PlacedLed
        Of the board built from that design.
    voltage, end : "nominal", "low" or "high"
        Ends of the forward voltages and of the supply.

    Raises
    ------
    DesignError
        If the design wires nothing, or its supply or chip is not known; the function raises it where the circuit cannot
        be wired as it is written.
    """
    if not design.circuit or design.supply is None:
        raise DesignError("circuit: nothing is wired; add a [[circuit]] and a [supply]")
    loads = [build_drive_led(led.ref, led.part, voltage=voltage) for led in leds]
    supply, chip = build_design_supply(design.supply, end=end), _chip(design, end=end)
    rates_hz = [group.cycle_hz for group in design.circuit if group.cycle_hz is not None]
    inside = _logic_leds(design, leds=leds)
    rates_hz += [led.part.logic.pwm_hz.value for led in inside if led.part.logic is not None]
    idle_ma = {led.body_ref: led.part.logic.idle_ma.value for led in inside if led.part.logic is not None}
    data = _data_wiring(design, leds=inside)

    def wire(settings: Settings) -> Circuit:
        circuit = build_circuit(
            joined_wirings(
                *(_wiring(group, settings=settings) for group in design.circuit if group.driver != "data"), *data
            ),
            leds=loads,
            supply=supply,
            chip=chip,
            cycle_hz=min(rates_hz, default=None),  # the slowest of all is seen first
            standing_ma=design.drive.standing_ma + sum(idle_ma.values()),
            ambient_c=design.drive.ambient_c,
        )

        def adjusted(resistor: Resistor) -> Resistor:
            return replace(resistor, ohm=settings.resistor_ohm.get(resistor.name, resistor.ohm))

        def string_set(string: LedString) -> LedString:
            sink = string.sink
            if sink is not None:
                sink = replace(sink, current_ma=settings.sink_ma.get(string.name, sink.current_ma))
            return replace(string, sink=sink, resistor=None if string.resistor is None else adjusted(string.resistor))

        return replace(
            circuit,
            strings=tuple(string_set(string) for string in circuit.strings),
            shared=tuple(adjusted(resistor) for resistor in circuit.shared),
        )

    return wire


def _logic_leds(design: Design, *, leds: Sequence[PlacedLed]) -> tuple[PlacedLed, ...]:
    """Dice that logic inside drives, of the bodies that circuits of driver "data" name."""
    named = {ref for group in design.circuit if group.driver == "data" for ref in group.wired}
    found = tuple(led for led in leds if led.body_ref in named)
    plain = named - {led.body_ref for led in found if led.part.logic is not None}
    if plain:
        raise DesignError(
            f"circuit: {min(plain)} has no logic inside, so no data drives it; wire it in another circuit"
        )
    return found


def _data_wiring(design: Design, *, leds: Sequence[PlacedLed]) -> tuple[Wiring, ...]:
    """Each die that is lit, in its own constant-current sink, on for its share of the time."""
    duties = {
        ref: group.die_duty_frac for number, group in enumerate(design.led, start=1)
        for ref in group.refs or (f"led-{number}",)
    }  # fmt: skip
    wirings = []
    for led in leds:
        (die,), logic = led.part.dice, led.part.logic
        duty_frac = duties.get(led.body_ref, {}).get(die.name, 1.0)
        if duty_frac > 0.0 and logic is not None and die.drive_ma is not None:
            wirings.append(
                sink_strings(
                    [[led.ref]], current_ma=die.drive_ma.value, dropout_v=logic.dropout_v.value, duty_frac=duty_frac
                )
            )
    return tuple(wirings)


def full_data_ma(design: Design, *, leds: Sequence[PlacedLed]) -> float:
    """Current of all LEDs with logic inside, every die fully on, at the high end of their ranges [mA].

    Parameters
    ----------
    design : Design
        Its circuits of driver "data" name the LEDs.
    leds : sequence of PlacedLed
        One per die.
    """
    inside = _logic_leds(design, leds=leds)
    idle_ma = {led.body_ref: led.part.logic.idle_ma.highest for led in inside if led.part.logic is not None}
    return sum(idle_ma.values()) + sum(die.drive_ma.highest for led in inside for die in led.part.dice if die.drive_ma)


def _chip(design: Design, *, end: End) -> Chip | None:
    needs = any(group.driver in ("pin", "matrix", "charlieplex") for group in design.circuit)
    if design.chip is None and not needs:
        return None
    stated = ChipDesign() if design.chip is None else design.chip
    known = stated.model_dump(exclude={"kind"}, exclude_none=True)
    chip = build_chip(stated.kind, end=end)
    origins = tuple(row for row in chip.origins if row[0].partition(":")[0] not in known)
    return replace(chip, **known, origins=(*((f"{name}: the design", "sourced") for name in known), *origins))


def _wiring(group: CircuitGroup, *, settings: Settings) -> Wiring:
    """Strings, pins and phases of one table of the design; resistors and sinks are set afterwards."""
    power_mw, names = group.resistor_max_mw, group.resistor_names
    if group.driver == "rail":
        return rail_strings(
            group.strings,
            resistor_ohm=group.ohms,
            names=names,
            power_max_mw=power_mw,
            duty_frac=group.duty_frac,
        )
    if group.driver == "sink":
        if group.current_ma is None:
            raise DesignError("circuit: a sink needs current_ma")
        return sink_strings(
            group.strings, current_ma=group.current_ma, dropout_v=group.dropout_v, duty_frac=group.duty_frac
        )
    if group.driver == "pin":
        return pin_strings(
            dict(zip(group.pins, group.strings, strict=True)),
            resistor_ohm=dict(zip(group.pins, group.ohms, strict=True)),
            names=None if names is None else dict(zip(group.pins, names, strict=True)),
            power_max_mw=power_mw,
            duties=dict.fromkeys(group.pins, group.duty_frac),
            sinking=group.sinking,
            port=group.port,
        )
    held = group.columns if group.driver == "matrix" else group.pins
    pins = [
        Pin(
            name=pin,
            port=group.port,
            resistor=Resistor(ohm=ohm, name=name or f"the resistor of pin {pin}", power_max_mw=power_mw),
        )
        for pin, ohm, name in zip(held, group.ohms, names or [""] * len(held), strict=True)
    ]
    brightness = {ref: settings.brightness.get(ref, group.duty_frac) for ref in group.wired}
    if group.driver == "charlieplex":
        return charlieplex([ref or None for ref in group.refs], pins=pins, scan=group.scan, brightness=brightness)
    return matrix_scan(
        [[ref or None for ref in line] for line in group.grid],
        rows=[Pin(name=name, port=group.port) for name in group.rows],
        columns=pins,
        brightness=brightness,
        idle=group.idle,
    )


def current_source(design: Design) -> CurrentSource:
    """Where the currents of wired LEDs come from; all others have the design's.

    Parameters
    ----------
    design : Design
    """
    if design.drive.currents is not None:
        return design.drive.currents
    return "circuit" if design.circuit else "design"


def scanned_refs(design: Design) -> frozenset[str]:
    """LEDs that are lit in turn, and so dimmed by their share of the cycle.

    Parameters
    ----------
    design : Design
    """
    scans = (group for group in design.circuit if group.driver in ("matrix", "charlieplex"))
    return frozenset(chain.from_iterable(group.wired for group in scans))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SolvedBoard:
    """A wired board on its fresh supply.

    Attributes
    ----------
    settings : Settings
        What differs from the design's own values.
    circuit, point : Circuit, OperatingPoint
        Nominal.
    leds : tuple of LedDrive
        Each LED, in the order of the circuit.
    loads : tuple of Load
        Nominal loads against limits.
    strong_loads : tuple of Load
        The same on the strongest supply, every LED at the low end of its forward voltage: the greatest currents.
    """

    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    leds: tuple[LedDrive, ...]
    loads: tuple[Load, ...]
    strong_loads: tuple[Load, ...]


def solve_board(design: Design, *, board: Board, settings: Settings = AS_DESIGNED) -> SolvedBoard | None:
    """What flows on a board; None where the design wires nothing.

    Parameters
    ----------
    design, board : Design, Board
    settings : Settings
        Values that replace the design's.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written.
    """
    if not design.circuit or design.supply is None:
        return None
    circuit = wire_board(design, leds=board.leds)(settings)
    strong = wire_board(design, leds=board.leds, voltage="low", end="high")(settings)
    weak = wire_board(design, leds=board.leds, voltage="high", end="low")(settings)
    point = solve_point(circuit)
    full_ma, supply = full_data_ma(design, leds=board.leds), circuit.supply
    words = "current with every die full"
    full = [
        Load(kind="supply", name=supply.name, quantity=words, used=full_ma, limit=supply.continuous_max_ma, unit="mA")
    ]
    full = full if full_ma > 0.0 else []
    return SolvedBoard(
        settings=settings,
        circuit=circuit,
        point=point,
        leds=tuple(_led_drives(circuit, point=point, weak=solve_point(weak))),
        loads=(*circuit_loads(circuit, point=point), *full),
        strong_loads=(*circuit_loads(strong, point=solve_point(strong)), *full),
    )


def _led_drives(circuit: Circuit, *, point: OperatingPoint, weak: OperatingPoint) -> Iterable[LedDrive]:
    modulation = led_modulation_frac(circuit, point=point)
    weak_frac = np.divide(
        weak.light_frac, point.light_frac, out=np.zeros_like(weak.light_frac), where=point.light_frac > 0.0
    )
    columns = (
        point.mean_current_ma, point.peak_current_ma, point.led_voltage_v.max(axis=0), point.reverse_voltage_v,
        point.ghost_current_ma, point.light_frac, weak_frac, modulation, point.junction_c,
    )  # fmt: skip
    for number, (led, row) in enumerate(zip(circuit.leds, np.array(columns).T.tolist(), strict=True)):
        mean_ma, peak_ma, forward_v, reverse_v, ghost_ma, light, weak_light, modulation_frac, junction_c = row
        current_ma = np.maximum(point.led_current_ma[:, number], 0.0)
        duty_frac, width_s = pulses(current_ma, share_frac=point.share_frac, cycle_hz=circuit.cycle_hz)
        yield LedDrive(
            ref=led.ref,
            mean_ma=mean_ma,
            mean_max_ma=led.current_max_ma,
            peak_ma=peak_ma,
            peak_max_ma=peak_limit_ma(led, duty_frac=duty_frac, width_s=width_s),
            forward_v=forward_v,
            reverse_v=reverse_v,
            ghost_ma=ghost_ma,
            light_frac=light,
            weak_light_frac=weak_light,
            modulation_frac=modulation_frac,
            junction_c=junction_c,
        )
