"""Supplies by name: cells that run down, USB and regulated rails, every figure with its origin."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Self

from pydantic import Field, model_validator

from paneglow.checks import check_between
from paneglow.design import nearest
from paneglow.drive.data_files import End, other_end, quantity_at, quantity_origins, read_data
from paneglow.drive.records import CellSupply, DriveSupply, RailSupply
from paneglow.errors import DesignError
from paneglow.physics import CellCurve, cell_open_circuit_v, cell_resistance_ohm, cells_in_series
from paneglow.units import Fraction, NonNegativeFloat, Origin, PositiveFloat, Quantity, Record

HOURS_PER_YEAR = 8766.0  # mean Julian year, exact


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A supply at one state: voltage behind a resistance of which the slow part only feels the mean current."""

    voltage_v: float
    fast_ohm: float
    slow_ohm: float
    depth_frac: float


class RunDown(Record):
    """How voltage and resistance of one cell go with the charge drawn from it."""

    depth_frac: tuple[Fraction, ...] = Field(min_length=2, description="Charge drawn over capacity, from 0 to 1 [1].")
    open_circuit_v: tuple[PositiveFloat, ...] = Field(description="After rest [V].")
    resistance_ohm: tuple[NonNegativeFloat, ...] = Field(description="To a current that lasts for seconds [ohm].")
    voltage_spread_v: NonNegativeFloat = Field(description="Every voltage may lie this far to either side [V].")
    resistance_low_factor: Annotated[float, Field(gt=0, le=1)]
    resistance_high_factor: Annotated[float, Field(ge=1, le=10)]
    origin: Origin
    source: str


class CellRecord(Record):
    """One kind of cell, and how many stand in series."""

    code: str
    words: str = Field(description="What it is, in a person's words.")
    in_series: Annotated[int, Field(ge=1, le=20)] = 1
    capacity_mah: Quantity
    run_down: RunDown
    fast_frac: Quantity = Field(description="Share of the resistance that acts within a pulse [1].")
    near_frac: Quantity = Field(description="Share of the charge that is at hand at once [1].")
    levelling_per_h: Quantity = Field(description="Rate at which the rest follows [1/h].")
    self_discharge_per_year_frac: Quantity = Field(description="Lost on the shelf [1/year].")
    cutoff_v: Quantity | None = Field(default=None, description="Protection opens below this voltage of one cell [V].")
    continuous_max_ma: Quantity
    pulse_max_ma: Quantity


class RailRecord(Record):
    """One kind of supply that does not run down."""

    code: str
    words: str
    voltage_v: Quantity
    resistance_ohm: Quantity = Field(description="Source, cable and connector together [ohm].")
    continuous_max_ma: Quantity
    pulse_max_ma: Quantity


class SupplyFile(Record):
    """The supplies of the starting catalogue."""

    cell: tuple[CellRecord, ...]
    rail: tuple[RailRecord, ...]

    @model_validator(mode="after")
    def _check_codes(self) -> Self:
        codes = [cell.code for cell in self.cell] + [rail.code for rail in self.rail]
        if len(set(codes)) != len(codes):
            raise ValueError("a code stands twice")
        return self


@cache
def read_supplies() -> Mapping[str, CellRecord | RailRecord]:
    """The supplies of the starting catalogue, by code."""
    content = read_data("supplies.toml", model=SupplyFile)
    cells: dict[str, CellRecord | RailRecord] = {record.code: record for record in content.cell}
    return cells | {record.code: record for record in content.rail}


def build_supply(code: str, *, voltage_v: float | None = None, end: End = "nominal") -> DriveSupply:
    """A supply of the starting catalogue, or one that differs from it by its voltage.

    Parameters
    ----------
    code : str
        See `read_supplies`.
    voltage_v : float, optional
        Open-circuit voltage when fresh [V]; all voltages of a cell are scaled with it.
    end : "nominal", "low" or "high"
        The usual one, or the weakest or strongest that the ranges allow.

    Raises
    ------
    DesignError
        If there is no such supply; the nearest code is named.
    """
    known = read_supplies()
    if code not in known:
        raise DesignError(
            f"supply {code!r} is not known; nearest is {nearest(code, known) or 'none'}; known are {', '.join(known)}"
        )
    record = known[code]
    supply: DriveSupply = _cell(record, end=end) if isinstance(record, CellRecord) else _rail(record, end=end)
    return supply if voltage_v is None else _at_voltage(supply, voltage_v=voltage_v)


def supply_source(supply: DriveSupply, *, depth_frac: float) -> Source:
    """A supply as voltage and resistance, at a depth of the charge near its terminals."""
    check_between("depth_frac", depth_frac, lower=0.0, upper=1.0)
    if isinstance(supply, RailSupply):
        return Source(voltage_v=supply.voltage_v, fast_ohm=supply.resistance_ohm, slow_ohm=0.0, depth_frac=0.0)
    ohm = float(cell_resistance_ohm(supply.curve, depth_frac))
    return Source(
        voltage_v=float(cell_open_circuit_v(supply.curve, depth_frac)),
        fast_ohm=supply.curve.fast_frac * ohm,
        slow_ohm=(1.0 - supply.curve.fast_frac) * ohm,
        depth_frac=depth_frac,
    )


def _cell(record: CellRecord, *, end: End) -> CellSupply:
    table, sign = record.run_down, {"nominal": 0.0, "low": -1.0, "high": 1.0}[end]
    # The weakest cell has the lowest voltage and the *highest* resistance, and loses most on the shelf
    factor = {"nominal": 1.0, "low": table.resistance_high_factor, "high": table.resistance_low_factor}[end]
    curve = CellCurve(
        capacity_mah=quantity_at(record.capacity_mah, end=end),
        depth_frac=table.depth_frac,
        open_circuit_v=tuple(volt + sign * table.voltage_spread_v for volt in table.open_circuit_v),
        resistance_ohm=tuple(factor * ohm for ohm in table.resistance_ohm),
        fast_frac=record.fast_frac.value,
        near_frac=quantity_at(record.near_frac, end=end),
        levelling_per_h=quantity_at(record.levelling_per_h, end=end),
        self_discharge_per_h=quantity_at(record.self_discharge_per_year_frac, end=other_end(end)) / HOURS_PER_YEAR,
        cutoff_v=None if record.cutoff_v is None else quantity_at(record.cutoff_v, end=other_end(end)),
    )
    return CellSupply(
        name=record.words,
        curve=cells_in_series(curve, record.in_series),
        continuous_max_ma=quantity_at(record.continuous_max_ma, end=end),
        pulse_max_ma=quantity_at(record.pulse_max_ma, end=end),
        origins=(*quantity_origins(record), (f"run_down: {table.source}", table.origin)),
    )


def _rail(record: RailRecord, *, end: End) -> RailSupply:
    return RailSupply(
        name=record.words,
        voltage_v=quantity_at(record.voltage_v, end=end),
        resistance_ohm=quantity_at(record.resistance_ohm, end=other_end(end)),
        continuous_max_ma=quantity_at(record.continuous_max_ma, end=end),
        pulse_max_ma=quantity_at(record.pulse_max_ma, end=end),
        origins=quantity_origins(record),
    )


def _at_voltage(supply: DriveSupply, *, voltage_v: float) -> DriveSupply:
    check_between("voltage_v", voltage_v, lower=0.1, upper=60.0)
    if isinstance(supply, RailSupply):
        return replace(supply, voltage_v=voltage_v)
    factor = voltage_v / supply.curve.open_circuit_v[0]
    curve = replace(supply.curve, open_circuit_v=tuple(factor * volt for volt in supply.curve.open_circuit_v))
    return replace(supply, curve=curve)
