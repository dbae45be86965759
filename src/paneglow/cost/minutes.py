"""Minutes of LEDs by mounting style, where a cost file has none: from what is known of how a board is built."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from paneglow.cost.figures import CostOrigin, Figure
from paneglow.cost.records import CostFile, Operation
from paneglow.design import Mounting

MINUTE_DIGITS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LedMinutes:
    """Minutes of one LED of a style by own hands, with their range and where they come from."""

    minutes: float  # of one LED [min]
    low: float
    high: float
    origin: CostOrigin
    dated: date  # day of the last timing, or when it was assumed
    source: str


def with_led_minutes(costs: CostFile, *, known: Mapping[Mounting, LedMinutes]) -> CostFile:
    """The cost file with an operation for every known style that none of its own counts.

    Parameters
    ----------
    costs : CostFile
    known : mapping of str to LedMinutes
        By mounting style.
    """
    own = {row.mounting for row in costs.operation if row.per == "led"}
    missing = {} if None in own else {style: known[style] for style in known if style not in own}
    added = tuple(_operation(style, minutes) for style, minutes in missing.items())
    return costs.model_copy(update={"operation": (*costs.operation, *added)})


def _operation(style: Mounting, known: LedMinutes) -> Operation:
    value, low, high = (Decimal(f"{part:.{MINUTE_DIGITS}f}") for part in (known.minutes, known.low, known.high))
    return Operation(
        name=f"solder {style.replace('_', '-')}",
        per="led",
        mounting=style,
        minutes=Figure(value=value, low=low, high=high),
        origin=known.origin,
        dated=known.dated,
        source=known.source,
    )
