"""Small circuits that the tests of the drive room share."""

import functools
from dataclasses import replace

from paneglow.catalog import read_catalog
from paneglow.drive.circuit import Chip, RailSupply, build_drive_led

CHIP = Chip(
    name="controller",
    high_ohm=35.0,
    low_ohm=25.0,
    pin_max_ma=20.0,
    port_max_ma=100.0,
    chip_max_ma=200.0,
    standing_ma=1.0,
    voltage_least_v=1.8,
)


@functools.lru_cache
def parts():
    return read_catalog().parts


def led(ref, colour, *, thermal_k_per_w=None, **changes):
    """A chip LED of the neutral catalogue as a load."""
    built = build_drive_led(ref, parts()[f"tv-0603-{colour}"])
    warm = built.thermal_k_per_w if thermal_k_per_w is None else thermal_k_per_w
    return replace(built, thermal_k_per_w=warm, **changes)


def cold_leds(colours):
    """LEDs D1, D2... of these colours whose junctions stay at the air's temperature."""
    return tuple(led(f"D{number}", colour, thermal_k_per_w=0.0) for number, colour in enumerate(colours, start=1))


def rail(voltage_v, *, resistance_ohm=0.5):
    return RailSupply(
        name="rail", voltage_v=voltage_v, resistance_ohm=resistance_ohm, continuous_max_ma=500.0, pulse_max_ma=500.0
    )
