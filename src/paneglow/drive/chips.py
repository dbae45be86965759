"""Microcontrollers by their kind of output, and constant-current sinks, every figure with its origin."""

from collections.abc import Mapping
from functools import cache

from pydantic import Field

from paneglow.design import nearest
from paneglow.drive.data_files import End, other_end, quantity_at, quantity_origins, read_data
from paneglow.drive.records import Chip
from paneglow.errors import DesignError
from paneglow.units import Quantity, Record


class ChipRecord(Record):
    """One kind of microcontroller."""

    code: str
    words: str = Field(description="What it is, in a person's words.")
    high_ohm: Quantity = Field(description="Output resistance to the rail [ohm].")
    low_ohm: Quantity = Field(description="Output resistance to ground [ohm].")
    pin_max_ma: Quantity
    port_max_ma: Quantity
    chip_max_ma: Quantity
    standing_ma: Quantity = Field(description="What it uses itself, awake [mA].")
    voltage_least_v: Quantity = Field(description="Lowest supply at which it runs [V].")


class SinkRecord(Record):
    """One kind of constant-current sink."""

    code: str
    words: str
    knee_v: Quantity = Field(description="Voltage left for it at which it carries 76 % of its current [V].")


class ChipFile(Record):
    """The chips and sinks of the starting catalogue."""

    chip: tuple[ChipRecord, ...]
    sink: tuple[SinkRecord, ...]


@cache
def read_chips() -> Mapping[str, ChipRecord]:
    """The microcontrollers of the starting catalogue, by code."""
    return {record.code: record for record in _chip_file().chip}


def build_chip(code: str, *, end: End = "nominal") -> Chip:
    """A microcontroller of the starting catalogue.

    Parameters
    ----------
    code : str
        See `read_chips`.
    end : "nominal", "low" or "high"
        The usual one, or the weakest (soft outputs, low limits, hungry) or strongest that the ranges allow.

    Raises
    ------
    DesignError
        If there is no such chip; the nearest code is named.
    """
    known = read_chips()
    if code not in known:
        raise DesignError(
            f"chip {code!r} is not known; nearest is {nearest(code, known) or 'none'}; known are {', '.join(known)}"
        )
    record = known[code]
    weak_when_high = other_end(end)
    return Chip(
        name=record.words,
        high_ohm=quantity_at(record.high_ohm, end=weak_when_high),
        low_ohm=quantity_at(record.low_ohm, end=weak_when_high),
        pin_max_ma=quantity_at(record.pin_max_ma, end=end),
        port_max_ma=quantity_at(record.port_max_ma, end=end),
        chip_max_ma=quantity_at(record.chip_max_ma, end=end),
        standing_ma=quantity_at(record.standing_ma, end=weak_when_high),
        voltage_least_v=quantity_at(record.voltage_least_v, end=weak_when_high),
        origins=quantity_origins(record),
    )


def sink_knee_v() -> Quantity:
    """Voltage left for a usual constant-current sink at which it carries 76 % of its current [V]."""
    return _chip_file().sink[0].knee_v


@cache
def _chip_file() -> ChipFile:
    return read_data("chips.toml", model=ChipFile)
