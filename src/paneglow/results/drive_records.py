"""The drive of a board in results.json: what flows, how long it lasts, and what matching proposes."""

from typing import Literal

from pydantic import Field

from paneglow.design import CurrentSource
from paneglow.units import FiniteFloat, Fraction, NonNegativeFloat, Origin, PositiveFloat, Record


class LedDrive(Record):
    """One wired LED on a fresh supply, and its mean current as the supply runs down."""

    ref: str  # Designator of the LED
    mean_ma: NonNegativeFloat = Field(description="Over the cycle [mA].")
    mean_max_ma: PositiveFloat = Field(description="Greatest lasting current of the part [mA].")
    peak_ma: NonNegativeFloat = Field(description="Within the cycle [mA].")
    peak_max_ma: PositiveFloat = Field(description="Greatest current of the part in pulses [mA].")
    forward_v: FiniteFloat = Field(description="Greatest voltage across it within the cycle [V].")
    reverse_v: NonNegativeFloat = Field(description="Greatest reverse voltage within the cycle [V].")
    ghost_ma: NonNegativeFloat = Field(description="Mean current while it is not meant to be lit [mA].")
    light_frac: NonNegativeFloat = Field(description="Light over that at the part's test current [1].")
    weak_light_frac: NonNegativeFloat = Field(
        description="Light on the weakest supply at the highest forward voltages, over the usual light [1]."
    )
    modulation_frac: Fraction = Field(description="Of its light within the cycle [1].")
    junction_c: FiniteFloat = Field(description="Junction temperature [deg C].")
    half_life_ma: NonNegativeFloat | None = Field(description="Mean, at half of the life; null for rails [mA].")
    end_life_ma: NonNegativeFloat | None = Field(description="Mean, at the end of the life; null for rails [mA].")


class LoadResult(Record):
    """One load of pins, chip, supply or a resistor against its limit."""

    kind: Literal["led", "pin", "port", "chip", "supply", "resistor"]  # What carries the load
    name: str  # Which one of them
    quantity: str  # What of it: mean or peak current, power
    used: NonNegativeFloat  # The load
    limit: PositiveFloat  # What is allowed
    unit: Literal["mA", "V", "mW"]  # Unit of load and limit


class WindowLife(Record):
    """One window as the supply runs down."""

    name: str  # Name of the window
    goal_cd_m2: NonNegativeFloat = Field(description="Least mean luminance of its wired LEDs [cd/m2].")
    goal_stated: bool = Field(
        description="Whether it is the design's; else half of the fresh luminance, as of a window that misses its goal."
    )
    lit_h: NonNegativeFloat | None = Field(description="Hours of light until it drops below; null: it does not [h].")
    luminance_cd_m2: tuple[NonNegativeFloat, ...] = Field(description="At the times of the run [cd/m2].")


class LifeResult(Record):
    """How long the supply keeps windows at their goals; the run beside it, in calendar hours."""

    end: Literal["window below goal", "supply cut off", "supply empty", "not reached", "never met"]  # What ends it
    limiting_window: str | None = Field(description="First window to drop below its goal.")
    lit_h: NonNegativeFloat | None = Field(description="Hours of light until then; null: it does not end [h].")
    calendar_h: NonNegativeFloat | None = Field(description="Hours since it was first switched on until then [h].")
    shortest_h: NonNegativeFloat | None = Field(description="The same in the worst case; null: no end [h].")
    shortest_case: str  # Which ends of the ranges give the shortest life
    longest_h: NonNegativeFloat | None = Field(description="The same in the best case; null: no end [h].")
    longest_case: str  # Which ends of the ranges give the longest life
    hours_per_day: PositiveFloat  # Lit time each day
    time_h: tuple[NonNegativeFloat, ...] = Field(description="Hours since it was first switched on [h].")
    supply_v: tuple[NonNegativeFloat, ...] = Field(description="Terminal voltage while lit [V].")
    windows: tuple[WindowLife, ...]  # The windows


class ChangeResult(Record):
    """A change that was tried, and what the window, or the others without it, would show."""

    kind: Literal["part", "supply", "windows", "diffuser"]  # What would be changed
    words: str  # What to change
    luminance_cd_m2: NonNegativeFloat  # What the window would then show; of a window left out, what the others would
    reaches: bool = Field(description="Whether the window then shows what is asked.")


class MatchedWindowResult(Record):
    """One window of the match."""

    name: str  # Name of the window
    ratio: PositiveFloat  # Luminance over the common level that is asked of it
    asked_cd_m2: NonNegativeFloat  # Luminance asked
    before_cd_m2: NonNegativeFloat  # Luminance before
    exact_cd_m2: NonNegativeFloat = Field(description="With resistors of any value [cd/m2].")
    after_cd_m2: NonNegativeFloat = Field(description="With what can be bought [cd/m2].")
    within_reach: bool  # Whether the limits of its own LEDs and the supply let it reach what is asked
    short_frac: FiniteFloat = Field(description="How far it stays below what is asked; below 0: above it [1].")
    departure_frac: FiniteFloat = Field(description="From the common level times its ratio [1].")
    changes: tuple[ChangeResult, ...]  # Changes that would bring it nearer


class TurnedResult(Record):
    """One value that the match sets."""

    refs: tuple[str, ...]  # LEDs of the string
    kind: Literal["resistor", "sink", "brightness"]  # What is set
    unit: Literal["ohm", "mA", "1"]  # Unit of the values beside it
    before: NonNegativeFloat | None  # Value before; null where there was none
    exact: NonNegativeFloat  # Value that matches exactly
    chosen: NonNegativeFloat  # Value to buy or set
    pair_ohm: tuple[PositiveFloat, PositiveFloat] | None = Field(description="Two in series that come nearer [ohm].")
    mean_ma: NonNegativeFloat = Field(description="Current that then flows on average [mA].")


class MatchResult(Record):
    """Windows made equally bright, or in chosen ratios: values to buy, and what stays short."""

    applied: bool = Field(description="Whether everything else here is lit as matched; else it is a proposal.")
    series: Literal["E24", "E12"]  # Preferred values that resistors were taken from
    asked_cd_m2: NonNegativeFloat = Field(description="Common level asked [cd/m2].")
    level_cd_m2: NonNegativeFloat = Field(description="Common level that the limits allow [cd/m2].")
    bought_level_cd_m2: NonNegativeFloat = Field(description="Common level of the rounded values [cd/m2].")
    agreement_frac: NonNegativeFloat = Field(description="Greatest departure of a window within reach from it [1].")
    reasons: tuple[str, ...] = Field(description="Why windows do not stand as asked; empty where they do.")
    windows: tuple[MatchedWindowResult, ...]  # The windows
    turned: tuple[TurnedResult, ...]  # Every value that the match sets
    other_picture: str = Field(description="Picture of the other state: before the match if applied, else after it.")


class DriveValue(Record):
    """A value of the supply or the chip, and where it comes from."""

    item: str  # Supply or chip
    words: str  # Which value, and where it was read or why it was assumed
    origin: Origin  # Where the number comes from: measured, sourced or assumed


class DriveResults(Record):
    """What drives the LEDs."""

    currents: CurrentSource = Field(description="Where the currents of wired LEDs come from; others: the design.")
    supply: str  # What it runs from
    supply_v: NonNegativeFloat | None = Field(description="Fresh, under load [V].")
    supply_ma: NonNegativeFloat | None = Field(description="Drawn on average when fresh [mA].")
    cycle_hz: PositiveFloat | None = Field(description="Of scan or PWM; null where the light is steady [Hz].")
    leds: tuple[LedDrive, ...]  # Every wired LED
    loads: tuple[LoadResult, ...]  # Loads of supply, chip, pins and resistors against their limits
    life: LifeResult | None  # How long it lasts; null where nothing is wired
    match: MatchResult | None  # The match; null where none is asked
    origins: tuple[DriveValue, ...]  # Where the values of supply and chip come from
