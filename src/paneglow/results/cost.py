"""The record of what a piece costs: what `paneglow cost --json` prints, and "cost" in results.json."""

from datetime import date
from decimal import Decimal
from typing import Literal

from pydantic import Field

from paneglow.cost import CostFile, VersionCost, Way
from paneglow.judge import Finding
from paneglow.units import Estimate, Fraction, Record

LightState = Literal["traced", "of another version", "not traced"]


class OptionLight(Record):
    """What one version of a piece looks like, over the windows that are meant to be lit."""

    mean_cd_m2: Estimate = Field(description="Mean luminance, windows weighted by their area [cd/m2].")
    evenness: Estimate = Field(description="Mean evenness, windows weighted by their area [1].")
    evenness_least: Estimate = Field(description="Evenness of the least even window [1].")
    passed: bool = Field(description="Whether its verdict passes.")
    goals_met_frac: Fraction = Field(description="Share of its goals that are met.")


class OptionResult(Record):
    """One version of a piece built in one way: good, fast, cheap."""

    name: str = Field(description="Name of the version.")
    way: Way = Field(description="Way to build.")
    good: int = Field(description="Good pieces of the run.")
    unit: Decimal = Field(description="Cost of one good piece, leftovers charged to the run.")
    more: Decimal = Field(description="That cost less the one of the design itself, built in the same way.")
    quoted: bool = Field(default=True, description="Whether every assembly fee in it was quoted by somebody.")
    minutes: Decimal = Field(description="Own work per good piece [min].")
    light_state: LightState = Field(description="Whether its light is known.")
    light: OptionLight | None = Field(description="How it looks, where its light is known.")
    best: bool = Field(description="Whether no other row is at least as good in everything and better in something.")


class SwapCost(Record):
    """What another order code instead of the LEDs of one would change."""

    by: str = Field(description="Order code instead, as an [[option]] of the cost file names it.")
    more_each_board: Decimal = Field(description="Unit cost with it less the unit cost of the design.")


class LedCost(Record):
    """What the LEDs of one order code cost a board, beside their light."""

    way: Way = Field(description="Way to build.")
    part: str = Field(description="Order code in the design.")
    count: int = Field(description="LEDs of it on a board.")
    each_board: Decimal = Field(description="What leaving them out would save: parts, leftovers, work and fees.")
    mean_cd_m2: Estimate | None = Field(
        description="Mean luminance of the windows they are meant for, by area; absent where not traced [cd/m2]."
    )
    instead: tuple[SwapCost, ...] = Field(description="What the order codes that versions name would change.")


class CostResults(Record):
    """What one design costs, built in every way, and the versions beside it."""

    name: str = Field(description="Name of the design.")
    currency: str = Field(description="Base currency: all amounts are in it.")
    on: date = Field(description="Day that the ages of prices were judged on.")
    answer: VersionCost = Field(description="Costs, prices and risk of the design itself.")
    leds: tuple[LedCost, ...] = Field(description="What the LEDs of every order code cost a board, beside their light.")
    options: tuple[OptionResult, ...] = Field(description="Every version in every way, with its light where traced.")
    findings: tuple[Finding, ...]  # Findings about money, the gravest first
    inputs: CostFile = Field(description="Every number used, with its origin, date and source.")
