"""Loads of an operating point against what LEDs, pins, ports, chip, supply and resistors may carry."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from paneglow.drive.circuit.records import Circuit, DriveLed, FloatArray, Load, LoadKind, LoadUnit, OperatingPoint

LIT_FRAC = 0.5  # a step belongs to a pulse where the current is above this share of its peak; our choice


def circuit_loads(circuit: Circuit, *, point: OperatingPoint) -> tuple[Load, ...]:
    """Every load that has a limit, used against allowed.

    Parameters
    ----------
    circuit : Circuit
    point : OperatingPoint
        Of that circuit.

    Notes
    -----
    Pins are held to their peak, since they are rated for a lasting current whichever pin it is at the time. A port and
    the chip are held to the greater of what all their pins source together and what they sink together, in any step.
    """
    return (*_of_leds(circuit, point=point), *_of_chip(circuit, point=point), *_of_rest(circuit, point=point))


def peak_limit_ma(led: DriveLed, *, duty_frac: float, width_s: float) -> float:
    """Greatest peak current of an LED in pulses [mA].

    Parameters
    ----------
    led : DriveLed
    duty_frac : float
        Share of the time that it is on [1], 0 to 1.
    width_s : float
        Length of a pulse [s]; infinite for a lasting current.

    Notes
    -----
    Up to the duty and the length that the part's pulse current is stated for it is that current. For longer pulses it
    is the lasting one: no data sheet of a chip LED says more. Between the stated duty and 1 the limit is a straight
    line between logarithms, from the one to the other (our choice: there the mean current decides anyway).
    """
    rare_frac = led.pulse_duty_frac
    if width_s > led.pulse_width_s * (1.0 + 1e-9) or duty_frac >= 1.0 or rare_frac >= 1.0:
        return led.current_max_ma
    share = max(math.log(max(duty_frac, 1e-9) / rare_frac) / math.log(1.0 / rare_frac), 0.0)
    return float(led.peak_current_max_ma ** (1.0 - share) * led.current_max_ma**share)


def pulses(current_ma: FloatArray, *, share_frac: FloatArray, cycle_hz: float | None) -> tuple[float, float]:
    """Share of the cycle that a current flows [1], and the longest time without a pause [s].

    Parameters
    ----------
    current_ma, share_frac : ndarray, shape (step,)
        Current of each step of the cycle [mA], and the share of the step [1].
    cycle_hz : float or None
        Repetition of the cycle [Hz].
    """
    on = current_ma > LIT_FRAC * current_ma.max()
    duty_frac = float(share_frac[on].sum())
    if on.all() or not on.any() or cycle_hz is None:
        return duty_frac, 0.0 if not on.any() else math.inf
    # Begin right after a pause, so that a pulse over the end of the cycle counts as one
    ordered = np.roll(np.arange(on.size), -int(np.flatnonzero(~on)[0]))
    longest = run = 0.0
    for step in ordered:
        run = run + float(share_frac[step]) if on[step] else 0.0
        longest = max(longest, run)
    return duty_frac, longest / cycle_hz


def _of_leds(circuit: Circuit, *, point: OperatingPoint) -> Iterator[Load]:
    for number, led in enumerate(circuit.leds):
        current_ma = np.maximum(point.led_current_ma[:, number], 0.0)
        duty_frac, width_s = pulses(current_ma, share_frac=point.share_frac, cycle_hz=circuit.cycle_hz)
        peak_ma, peak_max_ma = current_ma.max(), peak_limit_ma(led, duty_frac=duty_frac, width_s=width_s)
        yield _load("led", led.ref, "mean current", used=float(point.share_frac @ current_ma), limit=led.current_max_ma)
        if point.share_frac.size > 1:  # else the mean says it
            yield _load("led", led.ref, "peak current", used=peak_ma, limit=peak_max_ma)
        if led.reverse_voltage_max_v is not None:
            used_v = -point.led_voltage_v[:, number].min()
            yield _load("led", led.ref, "reverse voltage", used=used_v, limit=led.reverse_voltage_max_v, unit="V")


def _of_chip(circuit: Circuit, *, point: OperatingPoint) -> Iterator[Load]:
    chip, pins = circuit.chip, circuit.pins
    if chip is None or not pins:
        return
    for number, pin in enumerate(pins):
        peak_ma = np.abs(point.pin_current_ma[:, number]).max()
        yield _load("pin", pin.name, "peak current", used=peak_ma, limit=chip.pin_max_ma)
    for port in dict.fromkeys(pin.port for pin in pins):
        members = [number for number, pin in enumerate(pins) if pin.port == port]
        yield _load("port", port, "peak current", used=_together_ma(point, members), limit=chip.port_max_ma)
    every_ma = _together_ma(point, range(len(pins)))
    yield _load("chip", chip.name, "peak current", used=every_ma, limit=chip.chip_max_ma)


def _together_ma(point: OperatingPoint, pins: Sequence[int]) -> float:
    """Greater of what pins source together and what they sink together, in any step [mA]."""
    currents_ma = point.pin_current_ma[:, list(pins)]
    return float(max(np.maximum(sign * currents_ma, 0.0).sum(axis=1).max() for sign in (1.0, -1.0)))


def _of_rest(circuit: Circuit, *, point: OperatingPoint) -> Iterator[Load]:
    supply, peak_ma = circuit.supply, point.supply_current_ma.max()
    yield _load("supply", supply.name, "mean current", used=point.mean_supply_ma, limit=supply.continuous_max_ma)
    yield _load("supply", supply.name, "peak current", used=peak_ma, limit=supply.pulse_max_ma)
    for resistor, power_mw in zip(circuit.resistors, point.resistor_power_mw.tolist(), strict=True):
        if resistor.power_max_mw is not None and resistor.ohm > 0.0:
            yield _load("resistor", resistor.name, "power", used=power_mw, limit=resistor.power_max_mw, unit="mW")


def _load(  # noqa: PLR0913 - one argument per field
    kind: LoadKind, name: str, quantity: str, *, used: float, limit: float, unit: LoadUnit = "mA"
) -> Load:
    return Load(kind=kind, name=name, quantity=quantity, used=max(float(used), 0.0), limit=limit, unit=unit)
