"""More supply never means less light: in no window, under no driver, as long as every LED is within its limits.

Far beyond its limits an LED may get so hot that it gives less light for more current; that is outside the promise.
"""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from boards_under_drive import CHIP, led, rail
from paneglow.drive.circuit import (
    Pin,
    Resistor,
    build_circuit,
    charlieplex,
    circuit_loads,
    matrix_scan,
    pin_strings,
    rail_strings,
    sink_strings,
    solve_point,
)
from paneglow.drive.life import WindowLight

COLOURS = ("red", "orange", "amber", "yellow", "green", "blue", "white")
SETTLED_FRAC = 2e-4  # a junction is settled to 0.01 K, its light to 1.5 % of that in each of the two solutions


def refs(count):
    return [f"D{number}" for number in range(1, count + 1)]


def pins(names, *, ohm):
    return [Pin(name=name, port="A", resistor=Resistor(ohm=ohm)) for name in names]


def on_rail(ohm, duty):
    return rail_strings(
        [[ref] for ref in refs(6)], resistor_ohm=[ohm * (1 + number) for number in range(6)], duty_frac=duty
    )


def in_series(ohm, duty):
    return rail_strings([["D1"], ["D2", "D3"], ["D4", "D5", "D6"]], resistor_ohm=[ohm] * 3, duty_frac=duty)


def on_sinks(ohm, duty):
    return sink_strings(
        [["D1"], ["D2"], ["D3", "D4"], ["D5", "D6"]], current_ma=1e3 / ohm, dropout_v=0.3, duty_frac=duty
    )


def on_pins(ohm, duty):
    names = [f"P{number}" for number in range(6)]
    strings = {name: [ref] for name, ref in zip(names, refs(6), strict=True)}
    return pin_strings(strings, resistor_ohm=dict.fromkeys(names, ohm), duties=dict.fromkeys(names[:3], duty))


def scanned(ohm, duty):
    return matrix_scan(
        [["D1", "D2", "D3"], ["D4", "D5", "D6"]],
        rows=pins(["R1", "R2"], ohm=0.0),
        columns=pins(["C1", "C2", "C3"], ohm=ohm),
        brightness={"D2": duty, "D5": 0.0},
        idle="float",
    )


def charlieplexed(ohm, duty):
    return charlieplex(refs(6), pins=pins(["P1", "P2", "P3"], ohm=ohm), scan="led", brightness={"D3": duty})


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    wire=st.sampled_from([on_rail, in_series, on_sinks, on_pins, scanned, charlieplexed]),
    colours=st.lists(st.sampled_from(COLOURS), min_size=6, max_size=6),
    ohm=st.floats(min_value=47.0, max_value=5000.0),
    duty=st.floats(min_value=0.05, max_value=1.0),
    voltage_v=st.floats(min_value=1.6, max_value=6.0),
    raise_v=st.floats(min_value=0.01, max_value=2.0),
    source_ohm=st.floats(min_value=0.01, max_value=50.0),
    seed=st.integers(min_value=0, max_value=2**31),
)
def test_raising_the_supply_never_dims_a_window(wire, colours, ohm, duty, voltage_v, raise_v, source_ohm, seed):
    leds = tuple(led(f"D{number}", colour) for number, colour in enumerate(colours, start=1))
    light = WindowLight(
        names=("one", "two", "three"),
        luminance_cd_m2=np.random.default_rng(seed).uniform(0.0, 10.0, size=(3, 6)),
        goal_cd_m2=np.zeros(3),
    )
    low, high = (
        build_circuit(wire(ohm, duty), leds=leds, supply=rail(volts, resistance_ohm=source_ohm), chip=CHIP)
        for volts in (voltage_v, voltage_v + raise_v)
    )
    before, after = solve_point(low), solve_point(high)
    assume(not any(use.exceeded for use in circuit_loads(high, point=after) if use.kind == "led"))
    dimmer = light.at(before)
    brighter = light.at(after)
    assert np.all(brighter >= dimmer * (1.0 - SETTLED_FRAC) - 1e-9)
