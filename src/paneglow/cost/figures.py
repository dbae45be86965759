"""Numbers of a cost file: exact, with the range they may lie in; and where and when each was read."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from paneglow.cost.money import HUNDRED, to_share
from paneglow.units import Record

CostOrigin = Literal["quote", "invoice", "own-timing", "assumed"]
Currency = Annotated[str, Field(pattern=r"^[A-Z]{3}$", description="ISO 4217 code.")]


def _to_decimal(value: Any) -> Any:
    """A whole number as Decimal; true and false stay what they are and are refused."""
    return Decimal(value) if isinstance(value, int) and not isinstance(value, bool) else value


Number = Annotated[Decimal, BeforeValidator(_to_decimal), Field(allow_inf_nan=False)]
NonNegative = Annotated[Number, Field(ge=0)]
Positive = Annotated[Number, Field(gt=0)]


class Figure(Record):
    """An exact number at least 0, and the range it may lie in."""

    value: NonNegative = Field(description="The number that results are computed with.")
    low: NonNegative | None = Field(default=None, description="Lower end of its range; the value itself where absent.")
    high: NonNegative | None = Field(default=None, description="Upper end of its range; the value itself where absent.")

    @model_validator(mode="after")
    def _check_range(self) -> "Figure":
        if not self.lowest <= self.value <= self.highest:
            raise ValueError(f"value {self.value} must lie between low {self.lowest} and high {self.highest}")
        return self

    @property
    def lowest(self) -> Decimal:
        """Lower end of the range."""
        return self.value if self.low is None else self.low

    @property
    def highest(self) -> Decimal:
        """Upper end of the range."""
        return self.value if self.high is None else self.high

    @property
    def ranged(self) -> bool:
        """Whether the range is wider than the value."""
        return self.lowest < self.highest

    @property
    def share(self) -> Decimal:
        """A percentage as a share of one."""
        return to_share(self.value)


def _to_figure(value: Any) -> Any:
    """A bare number is a figure without a range."""
    return value if isinstance(value, Mapping | Figure) else {"value": value}


def _check_percent(figure: Figure) -> Figure:
    if figure.highest > HUNDRED:
        raise ValueError(f"is {figure.highest} percent; allowed is 0 to 100")
    return figure


Amount = Annotated[Figure, BeforeValidator(_to_figure)]  # in the currency that its table states
Percent = Annotated[Figure, BeforeValidator(_to_figure), AfterValidator(_check_percent)]
NOTHING = Figure(value=Decimal(0))


class Dated(Record):
    """What every table of a cost file says about all of its numbers."""

    origin: CostOrigin = Field(description="How the numbers are known.")
    dated: date = Field(description="Day of the quote, invoice or timing, or when it was assumed.")
    source: str = Field(min_length=3, description="Which quote, invoice or timing, or why it was assumed.")

    decided: ClassVar[frozenset[str]] = frozenset()  # figures that somebody decides, so that they need no range

    @model_validator(mode="after")
    def _check_ranges(self) -> "Dated":
        if self.origin == "assumed":
            named = [(name, figure) for name, figure in figures_of(self) if name not in self.decided]
            bare = [name for name, figure in named if figure.value and not figure.ranged]
            if bare:
                raise ValueError(f"{bare[0]} is assumed and has no range; write {{ value = , low = , high = }}")
        return self


def figures_of(record: Record) -> list[tuple[str, Figure]]:
    """Names and figures that stand directly in a record."""
    return [(name, value) for name, value in record if isinstance(value, Figure)]
