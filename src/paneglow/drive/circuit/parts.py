"""What the catalogues say of LEDs, supplies and chips, as parts of a circuit, at any end of their ranges."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib import resources
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import Field, model_validator

from paneglow.catalog import Part
from paneglow.checks import check_between
from paneglow.design import SupplyKind, nearest, parse_record, parse_toml
from paneglow.drive.circuit.records import CellSupply, Chip, DriveLed, DriveSupply, Origins, RailSupply
from paneglow.errors import CatalogError, DesignError
from paneglow.physics import (
    CellCurve,
    cell_open_circuit_v,
    cell_resistance_ohm,
    cells_in_series,
    fit_diode,
    fit_flux,
)
from paneglow.units import Fraction, NonNegativeFloat, Origin, PositiveFloat, Quantity, Record

End = Literal["nominal", "low", "high"]
OTHER_END: dict[End, End] = {"nominal": "nominal", "low": "high", "high": "low"}  # where more is worse
AnyRecord = TypeVar("AnyRecord", bound=Record)

HOURS_PER_YEAR = 8766.0  # mean Julian year, exact
DEVIATIONS_IN_RANGE = 4.0  # an assumed range is read as two standard deviations to either side; our choice
FACTOR_LEAST = 1.05  # a quantity without a range still leaves the fit this much room; our choice
# What a greatest pulse current holds for where a part does not say: printed so on public data sheets of chip LEDs
PULSE_DUTY_FRAC = 0.1
PULSE_WIDTH_S = 1e-4


def quantity_at(quantity: Quantity, *, end: End) -> float:
    """The value, or an end of its range.

    Parameters
    ----------
    quantity : Quantity
    end : "nominal", "low" or "high"
    """
    return {"nominal": quantity.value, "low": quantity.lowest, "high": quantity.highest}[end]


def _origins(values: Iterable[tuple[str, Any]]) -> Origins:
    return tuple((f"{name}: {value.source}", value.origin) for name, value in values if isinstance(value, Quantity))


# LEDs


def build_drive_led(ref: str, part: Part, *, voltage: End = "nominal") -> DriveLed:
    """One LED as a load of the circuit.

    Parameters
    ----------
    ref : str
        Its designator.
    part : Part
        Of a catalogue that was read, which gives every part the electrical values usual for its colour.
    voltage : "nominal", "low" or "high"
        End of the range of forward voltage at the test current: the whole curve is shifted to it, since a voltage bin
        is a shift of the junction.

    Raises
    ------
    CatalogError
        If the part says nothing of itself as a load, or its points do not make a curve.
    """
    return replace(_fitted_led(part, voltage), ref=ref)


@lru_cache(maxsize=1024)
def _fitted_led(part: Part, voltage: End) -> DriveLed:
    """The part as a load without a designator; a board has many of one part, and matching solves it many times."""
    electrical, ratings = part.electrical, part.ratings
    if electrical is None:
        raise CatalogError(f"part {part.code!r} has no electrical values; start it `like` the nearest code")
    points = electrical.forward_curve
    # With printed points these say more than the one value at the test current, and contain it
    current_ma, voltage_v = (
        ((part.test_current_ma,), (part.forward_voltage_v.value,))
        if points is None
        else (points.current_ma, points.voltage_v)
    )
    curve = fit_diode(
        current_ma,
        voltage_v,
        reference_ma=part.test_current_ma,
        v_per_k=electrical.forward_v_per_k.value,
        ideality=_usual_with_deviation(electrical.ideality),
        series_ohm=_usual_with_deviation(electrical.series_ohm),
    )
    shift_v = quantity_at(part.forward_voltage_v, end=voltage) - part.forward_voltage_v.value
    flux = fit_flux(
        () if points is None or not points.relative_flux else points.current_ma,
        () if points is None else points.relative_flux,
        reference_ma=part.test_current_ma,
        loss_per_k_frac=electrical.light_loss_per_k_frac.value,
        peak_ma=_usual_with_factor(electrical.peak_efficiency_ma),
        quality=_usual_with_factor(electrical.efficiency_quality),
    )
    rated = None if ratings is None else ratings.pulse_current_max_ma
    pulse = electrical.pulse_current_max_ma if rated is None else rated
    printed: Origins = () if points is None else ((f"forward_curve: {points.source}", points.origin),)
    limits = (("forward_voltage_v", part.forward_voltage_v), ("current_max_ma", part.current_max_ma))
    return DriveLed(
        ref="",
        curve=replace(curve, reference_v=curve.reference_v + shift_v),
        flux=flux,
        current_max_ma=part.current_max_ma.lowest,
        peak_current_max_ma=max(pulse.lowest, part.current_max_ma.lowest),
        pulse_duty_frac=(ratings and ratings.pulse_duty_frac) or PULSE_DUTY_FRAC,
        pulse_width_s=(ratings and ratings.pulse_width_s) or PULSE_WIDTH_S,
        reverse_voltage_max_v=None if part.reverse_voltage_max_v is None else part.reverse_voltage_max_v.lowest,
        thermal_k_per_w=electrical.thermal_k_per_w.value,
        origins=(*printed, *_origins(limits), *_origins(electrical)),
    )


def _usual_with_deviation(quantity: Quantity) -> tuple[float, float]:
    """Value and one standard deviation."""
    spread = (quantity.highest - quantity.lowest) / DEVIATIONS_IN_RANGE
    return quantity.value, spread if spread > 0.0 else (FACTOR_LEAST - 1.0) * abs(quantity.value)


def _usual_with_factor(quantity: Quantity) -> tuple[float, float]:
    """Value and the factor of one standard deviation."""
    ratio = (quantity.highest / quantity.lowest) ** (1.0 / DEVIATIONS_IN_RANGE)
    return quantity.value, max(ratio, FACTOR_LEAST)


# Supplies


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
    kind: SupplyKind
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
    kind: SupplyKind
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
    content = _read_data("supplies.toml", model=SupplyFile)
    records: tuple[CellRecord | RailRecord, ...] = (*content.cell, *content.rail)
    return {record.code: record for record in records}


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
    record = _named_entry("supply", code, known=read_supplies())
    voltage_v = None if voltage_v is None else check_between("voltage_v", voltage_v, lower=0.1, upper=60.0)
    limits: dict[str, Any] = {
        "name": record.words,
        "continuous_max_ma": quantity_at(record.continuous_max_ma, end=end),
        "pulse_max_ma": quantity_at(record.pulse_max_ma, end=end),
    }
    if isinstance(record, RailRecord):
        return RailSupply(
            **limits,
            voltage_v=quantity_at(record.voltage_v, end=end) if voltage_v is None else voltage_v,
            resistance_ohm=quantity_at(record.resistance_ohm, end=OTHER_END[end]),
            origins=_origins(record),
        )
    table = record.run_down
    curve = cells_in_series(_cell_curve(record, end=end), record.in_series)
    if voltage_v is not None:
        factor = voltage_v / curve.open_circuit_v[0]
        curve = replace(curve, open_circuit_v=tuple(factor * volt for volt in curve.open_circuit_v))
    return CellSupply(**limits, curve=curve, origins=(*_origins(record), (f"run_down: {table.source}", table.origin)))


def _cell_curve(record: CellRecord, *, end: End) -> CellCurve:
    table, sign = record.run_down, {"nominal": 0.0, "low": -1.0, "high": 1.0}[end]
    # The weakest cell has the lowest voltage and the *highest* resistance, and loses most on the shelf
    factor = {"nominal": 1.0, "low": table.resistance_high_factor, "high": table.resistance_low_factor}[end]
    return CellCurve(
        capacity_mah=quantity_at(record.capacity_mah, end=end),
        depth_frac=table.depth_frac,
        open_circuit_v=tuple(volt + sign * table.voltage_spread_v for volt in table.open_circuit_v),
        resistance_ohm=tuple(factor * ohm for ohm in table.resistance_ohm),
        fast_frac=record.fast_frac.value,
        near_frac=quantity_at(record.near_frac, end=end),
        levelling_per_h=quantity_at(record.levelling_per_h, end=end),
        self_discharge_per_h=quantity_at(record.self_discharge_per_year_frac, end=OTHER_END[end]) / HOURS_PER_YEAR,
        cutoff_v=None if record.cutoff_v is None else quantity_at(record.cutoff_v, end=OTHER_END[end]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A supply at one state: voltage behind a resistance of which the slow part only feels the mean current."""

    voltage_v: float
    fast_ohm: float
    slow_ohm: float
    depth_frac: float


def supply_source(supply: DriveSupply, *, depth_frac: float) -> Source:
    """A supply as voltage and resistance.

    Parameters
    ----------
    supply : DriveSupply
    depth_frac : float
        Depth of the charge near its terminals, 0 fresh to 1 empty [1]; without meaning for a rail.

    Raises
    ------
    RangeError
        If the depth is not 0 to 1.
    """
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


def loaded_voltage_v(supply: DriveSupply, *, depth_frac: float, load_ma: float) -> float:
    """Voltage at the terminals of a supply under a lasting load [V], not below 0.

    Parameters
    ----------
    supply : DriveSupply
    depth_frac : float
        How far it is drawn down, 0 fresh to 1 empty [1]; without meaning for a rail.
    load_ma : float
        [mA]

    Raises
    ------
    RangeError
        If the depth is not 0 to 1.
    """
    source = supply_source(supply, depth_frac=depth_frac)
    return max(0.0, source.voltage_v - 1e-3 * (source.fast_ohm + source.slow_ohm) * load_ma)


# Chips


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


class ChipFile(Record):
    """The chips of the starting catalogue."""

    chip: tuple[ChipRecord, ...]


@cache
def read_chips() -> Mapping[str, ChipRecord]:
    """The microcontrollers of the starting catalogue, by code."""
    return {record.code: record for record in _read_data("chips.toml", model=ChipFile).chip}


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
    record = _named_entry("chip", code, known=read_chips())
    less, more = ("pin_max_ma", "port_max_ma", "chip_max_ma"), ("high_ohm", "low_ohm", "standing_ma", "voltage_least_v")
    values = {name: quantity_at(getattr(record, name), end=end) for name in less}
    values |= {name: quantity_at(getattr(record, name), end=OTHER_END[end]) for name in more}
    return Chip(name=record.words, **values, origins=_origins(record))


# The files of figures in data/


AnyEntry = TypeVar("AnyEntry")


def _named_entry(kind: str, code: str, *, known: Mapping[str, AnyEntry]) -> AnyEntry:
    if code in known:
        return known[code]
    close = nearest(code, known) or "none"
    raise DesignError(f"{kind} {code!r} is not known; nearest is {close}; known are {', '.join(known)}")


def _read_data(name: str, *, model: type[AnyRecord]) -> AnyRecord:
    """One file of figures as a record, every `source` word of its [sources] spelt out."""
    with resources.as_file(resources.files("paneglow.drive.circuit") / "data" / name) as path:
        data = parse_toml(path, error=CatalogError)
        texts = data.pop("sources", {})
        content, problems = parse_record(model, _with_sources(data, texts=texts))
    if content is None:
        raise CatalogError("\n".join(f"{path}: {problem}" for problem in problems))
    return content


def _with_sources(value: Any, *, texts: Mapping[str, str]) -> Any:
    if isinstance(value, Mapping):
        return {
            key: texts.get(inner, inner) if key == "source" else _with_sources(inner, texts=texts)
            for key, inner in value.items()
        }
    return [_with_sources(inner, texts=texts) for inner in value] if isinstance(value, list) else value
