"""Minutes of LEDs by mounting style, where a cost file has none: from what is known of how a board is built."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import get_args

from paneglow.assembly import minutes_by_hand
from paneglow.catalog import Timing
from paneglow.cost.figures import Figure
from paneglow.cost.records import CostFile, Operation
from paneglow.design import Mounting

MINUTE_DIGITS = 4
ASSUMED_DATED = date(2026, 11, 25)  # day the assumed minutes by style were written down


def with_led_minutes(costs: CostFile, *, timings: Sequence[Timing]) -> CostFile:
    """The cost file with an operation for every mounting style that none of its own counts.

    Parameters
    ----------
    costs : CostFile
    timings : sequence of Timing
        Boards the user has timed: their own clock from ten boards on, assumed ranges before.
    """
    own = {row.mounting for row in costs.operation if row.per == "led"}
    missing = () if None in own else [style for style in get_args(Mounting) if style not in own]
    added = tuple(_operation(style, timings=timings) for style in missing)
    return costs.model_copy(update={"operation": (*costs.operation, *added)})


def _operation(style: Mounting, *, timings: Sequence[Timing]) -> Operation:
    minutes, boards = minutes_by_hand(style, timings=timings)
    ends = (minutes.value, minutes.lowest, minutes.highest)
    value, low, high = (Decimal(f"{end:.{MINUTE_DIGITS}f}") for end in ends)
    return Operation(
        name=f"solder {style.replace('_', '-')}",
        per="led",
        mounting=style,
        minutes=Figure(value=value, low=low, high=high),
        origin="own-timing" if boards else "assumed",
        dated=max(timing.date for timing in timings if timing.mounting == style) if boards else ASSUMED_DATED,
        source=minutes.source,
    )
