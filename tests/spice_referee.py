"""A second solution of a circuit: written as a netlist from the circuit record alone, solved by ngspice.

None of our network, steps or solver is used. Junctions stand at the netlist's one temperature of 25 deg C, where the
diode law of both sides is the same Shockley law; circuits to compare therefore have no thermal resistance. Every step
of a scan is its own operating point (the supplies compared have no slow resistance, so steps do not meet); one circuit
with a slow resistance is run as a transient with a large capacitor in its place.
"""

import math
import shutil
import subprocess
import tempfile
from pathlib import Path

from paneglow.drive.circuit import GROUND, RAIL

NGSPICE = shutil.which("ngspice")
THERMAL_V = 1.380649e-23 / 1.602176634e-19 * 298.15
OPTIONS = ".options temp=25 tnom=25 gmin=1e-16 abstol=1e-15 reltol=1e-7 vntol=1e-10 itl1=2000"


def solve_step(circuit, *, voltage_v, resistance_ohm, pins, standing_ma=0.0):
    """LED currents [mA] by ref with the pins standing as given: {name: "high", "low" or "float"}."""
    lines = [f"VS src 0 {voltage_v!r}", f"RS src {RAIL} {max(resistance_ohm, 1e-3)!r}"]
    if standing_ma:
        lines.append(f"BST {RAIL} 0 I = {standing_ma * 1e-3!r} * tanh(max(V({RAIL}), 0) / 0.2)")
    lines += [*_pins(circuit, pins=pins), *_strings(circuit)]
    queries = [f"print @d{led.ref.lower()}[id]" for led in circuit.leds]
    text = _run([*lines, OPTIONS, ".control", "op", *queries, ".endc", ".end"])
    return {led.ref: _value(text, f"@d{led.ref.lower()}[id]") * 1e3 for led in circuit.leds}


def mean_pulsed_ma(circuit, *, voltage_v, slow_ohm, fast_ohm, duty_frac, period_s=1e-3):
    """Mean LED currents [mA] where a switch in the ground line closes for a share of every period."""
    # The capacitor holds the slow drop steady over a period, and settles within twenty of its time constants
    farad = 100.0 * period_s / slow_ohm
    end_s = 20.0 * slow_ohm * farad
    lines = [
        f"VS src 0 {voltage_v!r}",
        f"RSLOW src mid {slow_ohm!r}",
        f"CSLOW mid 0 {farad!r} IC={voltage_v!r}",
        f"RFAST mid {RAIL} {fast_ohm!r}",
        f"VP gate 0 PULSE(0 1 0 1n 1n {duty_frac * period_s!r} {period_s!r})",
        "SW1 foot 0 gate 0 switch",
        ".model switch SW(VT=0.5 VH=0.1 RON=1e-3 ROFF=1e12)",
        *(line.replace(" 0 ", " foot ") if line.startswith("D") else line for line in _strings(circuit)),
    ]
    last = f"from={end_s - 10 * period_s!r} to={end_s!r}"
    queries = [f"meas tran i{led.ref.lower()} AVG @d{led.ref.lower()}[id] {last}" for led in circuit.leds]
    saves = ".save all " + " ".join(f"@d{led.ref.lower()}[id]" for led in circuit.leds)
    tran = f"tran {period_s / 50!r} {end_s!r} {end_s - 12 * period_s!r} {period_s / 50!r} uic"
    text = _run([*lines, OPTIONS, saves, ".control", tran, *queries, ".endc", ".end"])
    return {led.ref: _value(text, f"i{led.ref.lower()}") * 1e3 for led in circuit.leds}


def _pins(circuit, *, pins):
    for pin in circuit.pins:
        pad = f"{pin.name}_pad" if pin.resistor else pin.name
        state = pins.get(pin.name, "float")
        if state == "high":
            yield f"RH{pin.name} {RAIL} {pad} {circuit.chip.high_ohm!r}"
        elif state == "low":
            yield f"RL{pin.name} {pad} 0 {circuit.chip.low_ohm!r}"
        yield f"RX{pin.name} {pad} 0 1e9"
        if pin.resistor:
            yield f"RP{pin.name} {pad} {pin.name} {pin.resistor.ohm!r}"


def _strings(circuit):
    leds = {led.ref: led for led in circuit.leds}
    for resistor in circuit.shared:
        yield f"R{resistor.name} {RAIL} {resistor.name} {resistor.ohm!r}"
    for number, string in enumerate(circuit.strings):
        here = _node(string.from_terminal)
        end = _node(string.to_terminal)
        if string.resistor and string.resistor.ohm:
            yield f"R{number} {here} r{number} {string.resistor.ohm!r}"
            here = f"r{number}"
        if string.sink is not None:
            yield f"B{number} k{number} {end} I = {string.sink.current_ma * 1e-3!r} * tanh(max(V(k{number},{end}), 0) / {string.sink.dropout_v!r})"  # noqa: E501
            yield f"RK{number} k{number} {end} 1e9"
            end = f"k{number}"
        for place, ref in enumerate(string.refs):
            there = end if place == len(string.refs) - 1 else f"n{number}_{place}"
            yield from _led(leds[ref], here, there)
            here = there


def _led(led, anode, cathode):
    curve = led.curve
    slope_v = curve.ideality * THERMAL_V
    junction_v = curve.reference_v - curve.reference_ma * curve.series_ohm * 1e-3
    least_a = curve.reference_ma * 1e-3 / math.expm1(junction_v / slope_v)
    yield f"D{led.ref} {anode} {cathode} M{led.ref}"
    yield f".model M{led.ref} D(IS={least_a!r} N={curve.ideality!r} RS={curve.series_ohm!r} BV=1000)"
    yield f"RD{led.ref} {anode} {cathode} 1e9"


def _node(terminal):
    return "0" if terminal == GROUND else terminal


def _run(lines):
    with tempfile.TemporaryDirectory() as folder:
        netlist = Path(folder) / "board.cir"
        netlist.write_text("\n".join(["* board", *lines, ""]), encoding="ascii")
        done = subprocess.run(
            [NGSPICE, "-b", str(netlist)], capture_output=True, text=True, timeout=60, check=False, cwd=folder
        )
    return done.stdout + done.stderr


def _value(text, name):
    for line in text.splitlines():
        words = line.replace("=", " ").split()
        if len(words) >= 2 and words[0] == name:
            return float(words[1])
    raise AssertionError(f"ngspice says nothing of {name}:\n{text[-2000:]}")
