"""Loads of an operating point against what LEDs, pins, ports, chip and supply may carry."""

from collections.abc import Iterator

import numpy as np

from paneglow.drive.records import Circuit, LimitKind, LimitUse, OperatingPoint


def limit_uses(circuit: Circuit, *, point: OperatingPoint) -> tuple[LimitUse, ...]:
    """Every load that has a limit, used against allowed.

    Notes
    -----
    Pins are held to their peak, since they are rated for a lasting current whichever pin it is at the time. A port and
    the chip are held to the greater of what all their pins source together and what they sink together, in any step.
    """
    return (*_of_leds(circuit, point=point), *_of_chip(circuit, point=point), *_of_supply(circuit, point=point))


def _of_leds(circuit: Circuit, *, point: OperatingPoint) -> Iterator[LimitUse]:
    mean_ma, peak_ma, reverse_v = point.mean_current_ma, point.peak_current_ma, point.reverse_voltage_v
    for number, led in enumerate(circuit.leds):
        yield _use_ma("led", led.ref, quantity="mean current", used=mean_ma[number], limit=led.current_max_ma)
        yield _use_ma("led", led.ref, quantity="peak current", used=peak_ma[number], limit=led.peak_current_max_ma)
        if led.reverse_voltage_max_v is not None:
            yield LimitUse(
                kind="led",
                name=led.ref,
                quantity="reverse voltage",
                used=float(reverse_v[number]),
                limit=led.reverse_voltage_max_v,
                unit="V",
            )


def _of_chip(circuit: Circuit, *, point: OperatingPoint) -> Iterator[LimitUse]:
    chip = circuit.chip
    if chip is None or not circuit.pins:
        return
    for number, pin in enumerate(circuit.pins):
        peak_ma = np.max(np.abs(point.pin_current_ma[:, number]))
        yield _use_ma("pin", pin.name, quantity="peak current", used=peak_ma, limit=chip.pin_max_ma)
    for port in dict.fromkeys(pin.port for pin in circuit.pins):
        members = [number for number, pin in enumerate(circuit.pins) if pin.port == port]
        yield _sum_use(chip.port_max_ma, kind="port", name=port, point=point, members=members)
    every = list(range(len(circuit.pins)))
    yield _sum_use(chip.chip_max_ma, kind="chip", name=chip.name, point=point, members=every)


def _sum_use(limit_ma: float, *, kind: LimitKind, name: str, point: OperatingPoint, members: list[int]) -> LimitUse:
    currents_ma = point.pin_current_ma[:, members]
    sourced_ma = np.maximum(currents_ma, 0.0).sum(axis=1).max()
    sunk_ma = np.maximum(-currents_ma, 0.0).sum(axis=1).max()
    return _use_ma(kind, name, quantity="peak current", used=max(sourced_ma, sunk_ma), limit=limit_ma)


def _of_supply(circuit: Circuit, *, point: OperatingPoint) -> Iterator[LimitUse]:
    supply = circuit.supply
    mean_ma, peak_ma = point.mean_supply_ma, np.max(point.supply_current_ma)
    yield _use_ma("supply", supply.name, quantity="mean current", used=mean_ma, limit=supply.continuous_max_ma)
    yield _use_ma("supply", supply.name, quantity="peak current", used=peak_ma, limit=supply.pulse_max_ma)


def _use_ma(kind: LimitKind, name: str, *, quantity: str, used: float, limit: float) -> LimitUse:
    return LimitUse(kind=kind, name=name, quantity=quantity, used=float(used), limit=limit, unit="mA")
