"""Boards that somebody built by hand with a clock beside them."""

import datetime
from typing import Annotated

from pydantic import Field

from paneglow.design import Mounting
from paneglow.units import PositiveFloat, Record


class Timing(Record):
    """One board built by hand, timed: the LEDs of one mounting style on it."""

    mounting: Mounting = Field(description="Style of the LEDs timed.")
    leds: Annotated[int, Field(ge=1, le=10_000)] = Field(description="How many of them the board has.")
    minutes: PositiveFloat = Field(description="From the first part picked up to the last joint looked at [min].")
    date: datetime.date = Field(description="When.")
    who: Annotated[str, Field(min_length=1)] = Field(description="Whose hands.")
    note: str = Field(default="", description="Anything to add.")
