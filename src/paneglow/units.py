"""Quantity types: the frozen record base and numbers that carry where they come from."""

import math
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

Origin = Literal["measured", "sourced", "assumed"]

PositiveFloat = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NonNegativeFloat = Annotated[float, Field(ge=0, allow_inf_nan=False)]
FiniteFloat = Annotated[float, Field(allow_inf_nan=False)]
Fraction = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
PointMm = tuple[FiniteFloat, FiniteFloat]


class Record(BaseModel):
    """Base of every design, catalogue and report record: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class Quantity(Record):
    """A number with its range and its origin; the unit stands in the name of the field that holds it.

    An assumed value must state the range it may lie in, so that predictions can be printed as ranges.
    """

    value: FiniteFloat  # Nominal value
    low: FiniteFloat | None = None  # Lower end of the range; the value itself where absent
    high: FiniteFloat | None = None  # Upper end of the range; the value itself where absent
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str = Field(min_length=3, description="Where the number was read, measured or why it was assumed.")

    @model_validator(mode="after")
    def _check_range(self) -> Self:
        if self.origin == "assumed" and (self.low is None or self.high is None):
            raise ValueError("an assumed value needs both low and high")
        low = self.value if self.low is None else self.low
        high = self.value if self.high is None else self.high
        if not low <= self.value <= high:
            raise ValueError(f"value {self.value:g} must lie between low {low:g} and high {high:g}")
        return self

    @property
    def lowest(self) -> float:
        """Lower end of the range; the value itself where no range is stated."""
        return self.value if self.low is None else self.low

    @property
    def highest(self) -> float:
        """Upper end of the range; the value itself where no range is stated."""
        return self.value if self.high is None else self.high


class KnownRange(Record):
    """What is left of a range where one of its two causes is known, and is the usual one; least and greatest."""

    laminate: tuple[FiniteFloat, FiniteFloat]  # With the nominal laminate, LEDs of any light in their ranges
    leds: tuple[FiniteFloat, FiniteFloat]  # With LEDs of nominal light, any laminate in its ranges


class Estimate(Record):
    """A computed number: its value, its statistical error, and the range its assumptions leave open.

    `se` is one standard error of the Monte Carlo sampling of the nominal value. `low` and `high` are the least and
    greatest value over the ends of every assumed input that was traced; equal to the value where nothing is assumed.
    An end is traced too, mostly with fewer photons: `low_se` and `high_se` are its own standard errors, and those of
    the value where they are not given.
    """

    value: FiniteFloat  # Nominal value
    se: NonNegativeFloat  # One standard error of the sampling
    low: FiniteFloat  # Least value over the ends of the assumed inputs
    high: FiniteFloat  # Greatest value over the ends of the assumed inputs
    low_se: NonNegativeFloat = 0.0  # Standard error of `low`; that of the value where left out
    high_se: NonNegativeFloat = 0.0  # Standard error of `high`; that of the value where left out
    known: KnownRange | None = None  # What each cause alone leaves of the range; null if they are not told apart

    @model_validator(mode="before")
    @classmethod
    def _take_error_of_value(cls, given: dict[str, float]) -> dict[str, float]:
        errors = {"low_se": given["se"], "high_se": given["se"]} if "se" in given else {}
        return errors | given

    @property
    def widened(self) -> tuple[float, float]:
        """Range with each end moved out by its own standard error; nothing falls below 0 that did not before."""
        low = self.low - self.low_se
        return (max(low, 0.0) if self.low >= 0.0 else low), self.high + self.high_se


def known_digits(value: float, *, se: float, most: int) -> int:
    """Significant digits of a value that its standard error leaves, 1 to `most`.

    Examples
    --------
    >>> [known_digits(0.0976, se=se, most=3) for se in (0.0001, 0.004, 0.01, 0.5)]
    [3, 2, 1, 1]
    """
    if se <= 0.0 or value == 0.0:
        return most
    # The quotient of the two may pass what a float can hold; the difference of their logarithms does not
    return min(most, max(1, 1 + math.floor(math.log10(abs(value)) - math.log10(se))))
