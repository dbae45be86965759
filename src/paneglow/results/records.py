"""The record behind results.json; its JSON Schema is published as docs/results.schema.json."""

from typing import Annotated, Literal

from pydantic import Field

from paneglow.assembly import NO_BUILDING, NO_POLARITY, Building, Polarity
from paneglow.board import Exposure, ExposureTotal, FaceCover, OtherOpening, Shadow
from paneglow.design import CurrentSource, Design, Mounting, Side
from paneglow.judge import Finding, Verdict
from paneglow.look import WindowLook
from paneglow.results.cost import CostResults
from paneglow.results.drive_records import DriveResults
from paneglow.results.evaluation import Provenance
from paneglow.units import Estimate, FiniteFloat, NonNegativeFloat, Origin, PointMm, PositiveFloat, Record

BoxMm = tuple[FiniteFloat, FiniteFloat, FiniteFloat, FiniteFloat]


class WindowResult(Record):
    """One window: where it is, how it is covered, what shadows it, and why it counts as a window."""

    name: str
    area_mm2: FiniteFloat
    bbox_mm: BoxMm = Field(description="x_min, y_min, x_max, y_max [mm].")
    centre_mm: PointMm = Field(description="Inside the window, farthest from its rim [mm].")
    width_mm: FiniteFloat = Field(description="Diameter of the largest circle that fits [mm].")
    exposure: Exposure
    front: FaceCover
    back: FaceCover
    shadows: tuple[Shadow, ...]
    decision: str


class SurveyResults(Record):
    """What light can get through; exactly what `paneglow windows --json` prints."""

    outline_area_mm2: FiniteFloat
    copper_layers: int
    pieces: int = Field(description="Boards in the panel.")
    windows: tuple[WindowResult, ...]
    others: tuple[OtherOpening, ...]
    totals: tuple[ExposureTotal, ...]
    notes: tuple[str, ...]


class CheckResults(Record):
    """Defects that show without tracing light; exactly what `paneglow check --json` prints."""

    name: str = Field(description="Name of the design.")
    leds: int = Field(description="Number of LEDs placed.")
    windows: int = Field(description="Number of windows found.")
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    polarity: Polarity = Field(default=NO_POLARITY, description="Which way round every LED is, and how that is known.")
    building: Building = Field(default=NO_BUILDING, description="Who builds what, and what the lands reach.")


class EmittedFlux(Record):
    """Light that an LED emits at its drive current, with the range its data leave open."""

    value_lm: NonNegativeFloat
    low_lm: NonNegativeFloat
    high_lm: NonNegativeFloat
    origin: Origin
    source: str


class FateShares(Record):
    """Shares of an LED's light by where it ends; the values sum to 1."""

    front: Estimate = Field(description="Leaves the front face.")
    through: Estimate = Field(description="Leaves the front through a hole without meeting laminate.")
    back: Estimate = Field(description="Leaves the back face again, or is stopped on entry.")
    edge: Estimate = Field(description="Crosses the outline sideways.")
    hole: Estimate = Field(description="Runs into a hole sideways.")
    absorbed: Estimate = Field(description="Taken up by laminate, coats and copper.")
    missed: Estimate = Field(description="Never met the board.")


class LedResult(Record):
    """One LED: where it sits, what it emits, where its light goes."""

    ref: str
    part: str
    mounting: Mounting
    side: Side
    at_mm: PointMm
    rotation_deg: FiniteFloat
    window: str | None
    current_ma: NonNegativeFloat
    current_from: CurrentSource = Field(description="Where this current comes from.")
    flux: EmittedFlux
    fates: FateShares


class SlabResult(Record):
    """One version of the laminate that was traced; the first is the nominal one."""

    name: str
    scatter_per_mm: NonNegativeFloat
    wavelength_nm: tuple[PositiveFloat, ...]
    absorb_per_mm: tuple[NonNegativeFloat, ...]


class UsedValue(Record):
    """One catalogue value that the result rests on."""

    item: str = Field(description="Catalogue entry.")
    quantity: str
    at_nm: PositiveFloat | None = Field(default=None, description="Wavelength it holds at [nm].")
    value: FiniteFloat
    low: FiniteFloat
    high: FiniteFloat
    unit: str
    origin: Origin
    source: str


class PictureResult(Record):
    """One picture of the board, saved beside this file."""

    name: Literal["dark_adapted", "camera", "lit_room", "false_colour"]
    file: str
    title: str
    caption: str


class Results(Record):
    """Everything one evaluation found; lengths mm, currents mA, luminance cd/m2, shares 0 to 1."""

    schema_version: Literal[1] = 1
    name: str
    summary: str = Field(description="The verdict in one sentence.")
    design: Design
    board: SurveyResults
    leds: tuple[LedResult, ...]
    placement_notes: tuple[str, ...] = Field(description="What was decided while placing LEDs.")
    windows: tuple[WindowLook, ...]
    verdict: Verdict
    polarity: Polarity = Field(default=NO_POLARITY, description="Which way round every LED is, and how that is known.")
    building: Building = Field(default=NO_BUILDING, description="Who builds what, and what the lands reach.")
    slabs: tuple[SlabResult, ...]
    assumed: bool = Field(description="Whether predictions are ranges because an input is assumed.")
    assumptions: str = Field(description="What was assumed, in one sentence.")
    how_to_narrow: str | None = Field(description="How to narrow the ranges, in one sentence.")
    quantities: tuple[UsedValue, ...] = Field(description="Every catalogue value used, with where it came from.")
    pictures: tuple[PictureResult, ...]
    false_colour_scale_cd_m2: Annotated[
        tuple[FiniteFloat, FiniteFloat], Field(description="Ends of the false-colour scale.")
    ]
    cost: CostResults | None = Field(
        default=None, description="What it costs, where a cost file lies beside the design."
    )
    provenance: Provenance
    drive: DriveResults | None = Field(default=None, description="What drives the LEDs; null where nothing is wired.")
