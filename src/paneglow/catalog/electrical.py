"""What a data sheet says of an LED as a load: its forward curve, its light against current, warmth and pulses."""

from typing import Self

from pydantic import Field, model_validator

from paneglow.units import Origin, PositiveFloat, Quantity, Record


class ForwardCurve(Record):
    """Points read off the printed curves of one order code."""

    current_ma: tuple[PositiveFloat, ...] = Field(min_length=1, description="Currents of the points, rising [mA].")
    voltage_v: tuple[PositiveFloat, ...] = Field(min_length=1, description="Forward voltage there [V].")
    relative_flux: tuple[PositiveFloat, ...] = Field(
        default=(), description="Light there over light at the test current; none where no curve is printed [1]."
    )
    origin: Origin
    source: str

    @model_validator(mode="after")
    def _check_points(self) -> Self:
        if any(later <= earlier for earlier, later in zip(self.current_ma, self.current_ma[1:], strict=False)):
            raise ValueError("current_ma must rise from point to point")
        if len(self.voltage_v) != len(self.current_ma):
            raise ValueError("voltage_v must have as many points as current_ma")
        if self.relative_flux and len(self.relative_flux) != len(self.current_ma):
            raise ValueError("relative_flux must have as many points as current_ma, or none")
        return self


class Electrical(Record):
    """An LED as a load, beyond its forward voltage at the test current and its limits."""

    forward_curve: ForwardCurve | None = Field(
        default=None, description="Printed points; they outweigh the usual values below where they say more."
    )
    ideality: Quantity = Field(description="Junction slope in thermal voltages per e-fold of current [1].")
    series_ohm: Quantity = Field(description="Resistance in series with the junction [ohm].")
    forward_v_per_k: Quantity = Field(description="Change of forward voltage with junction temperature [V/K].")
    peak_efficiency_ma: Quantity = Field(description="Current at which light per current is greatest [mA].")
    efficiency_quality: Quantity = Field(description="Breadth of that peak, see docs [1].")
    light_loss_per_k_frac: Quantity = Field(description="Share of light lost per kelvin of the junction [1/K].")
    thermal_k_per_w: Quantity = Field(description="Junction to surroundings, on an ordinary board [K/W].")
    pulse_current_max_ma: Quantity = Field(description="Greatest current in short pulses of small duty [mA].")
