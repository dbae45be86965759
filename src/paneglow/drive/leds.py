"""Catalogue parts as loads: curves fitted to their data sheets, limits, and the ends of their bins."""

from dataclasses import replace
from functools import lru_cache

from paneglow.catalog import Part
from paneglow.drive.data_files import End, quantity_at
from paneglow.drive.records import DriveLed
from paneglow.errors import CatalogError
from paneglow.physics import fit_diode, fit_flux, shifted_diode
from paneglow.units import Origin, Quantity

# An assumed range is read as two standard deviations to either side
DEVIATIONS_IN_RANGE = 4.0
FACTOR_LEAST = 1.05  # a quantity without a range still leaves the fit this much room


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
    return replace(_fitted(part, voltage), ref=ref)


@lru_cache(maxsize=1024)
def _fitted(part: Part, voltage: End) -> DriveLed:
    """The part as a load without a designator; a board has many of one part, and matching solves it many times."""
    electrical = part.electrical
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
        ideality=_usual(electrical.ideality),
        series_ohm=_usual(electrical.series_ohm),
    )
    shift_v = quantity_at(part.forward_voltage_v, end=voltage) - part.forward_voltage_v.value
    flux = fit_flux(
        () if points is None or not points.relative_flux else points.current_ma,
        () if points is None else points.relative_flux,
        reference_ma=part.test_current_ma,
        loss_per_k_frac=electrical.light_loss_per_k_frac.value,
        peak_ma=_usual_factor(electrical.peak_efficiency_ma),
        quality=_usual_factor(electrical.efficiency_quality),
    )
    return DriveLed(
        ref="",
        curve=shifted_diode(curve, reference_v=curve.reference_v + shift_v),
        flux=flux,
        current_max_ma=part.current_max_ma.lowest,
        peak_current_max_ma=max(electrical.pulse_current_max_ma.lowest, part.current_max_ma.lowest),
        reverse_voltage_max_v=None if part.reverse_voltage_max_v is None else part.reverse_voltage_max_v.lowest,
        thermal_k_per_w=electrical.thermal_k_per_w.value,
        origins=_origins(part),
    )


def _usual(quantity: Quantity) -> tuple[float, float]:
    """Value and one standard deviation."""
    spread = (quantity.highest - quantity.lowest) / DEVIATIONS_IN_RANGE
    return quantity.value, spread if spread > 0.0 else (FACTOR_LEAST - 1.0) * abs(quantity.value)


def _usual_factor(quantity: Quantity) -> tuple[float, float]:
    """Value and the factor of one standard deviation."""
    ratio = (quantity.highest / quantity.lowest) ** (1.0 / DEVIATIONS_IN_RANGE)
    return quantity.value, max(ratio, FACTOR_LEAST)


def _origins(part: Part) -> tuple[tuple[str, Origin], ...]:
    electrical = part.electrical
    assert electrical is not None  # noqa: S101  checked where it is built
    values = [("forward_voltage_v", part.forward_voltage_v), ("current_max_ma", part.current_max_ma)]
    named = ((name, getattr(electrical, name)) for name in type(electrical).model_fields)
    values += [(name, value) for name, value in named if isinstance(value, Quantity)]
    points = electrical.forward_curve
    printed = () if points is None else ((f"forward_curve: {points.source}", points.origin),)
    return (*printed, *((f"{name}: {value.source}", value.origin) for name, value in values))
