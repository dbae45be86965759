"""The record of what a piece costs: what `paneglow cost --json` prints, and "cost" in results.json."""

from datetime import date

from pydantic import Field

from paneglow.cost import CostFile, Statement
from paneglow.judge import Finding
from paneglow.units import Record


class CostResults(Record):
    """What one design costs, built in every way."""

    name: str = Field(description="Name of the design.")
    currency: str = Field(description="Base currency: all amounts are in it.")
    on: date = Field(description="Day that the ages of prices were judged on.")
    statements: tuple[Statement, ...] = Field(description="Each way at each quantity asked for.")
    findings: tuple[Finding, ...]
    inputs: CostFile = Field(description="Every number used, with its origin, date and source.")
