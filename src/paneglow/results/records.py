"""The record behind results.json; its JSON Schema is published as docs/results.schema.json."""

from typing import Annotated, Literal

from pydantic import Field

from paneglow.assembly import NO_BUILDING, NO_POLARITY, Building, Polarity
from paneglow.board import Exposure, ExposureTotal, FaceCover, OtherOpening, Shadow, WindowUse
from paneglow.design import CurrentSource, Design, Mounting, Side
from paneglow.drive import DriveResults
from paneglow.judge import Finding, Improvement, Verdict
from paneglow.look import WindowLook
from paneglow.results.cost import CostResults
from paneglow.results.evaluation import Provenance
from paneglow.units import Estimate, FiniteFloat, NonNegativeFloat, Origin, PointMm, PositiveFloat, Record

BoxMm = tuple[FiniteFloat, FiniteFloat, FiniteFloat, FiniteFloat]


PROVISIONAL = (
    "Assumptions of a design that was drafted from fabrication files alone; none for a design that a person wrote."
)


class WindowResult(Record):
    """One window: where it is, how it is covered, what shadows it, and why it counts as a window."""

    name: str  # Name of the window
    area_mm2: FiniteFloat  # Area seen from the front
    bbox_mm: BoxMm = Field(description="x_min, y_min, x_max, y_max [mm].")
    centre_mm: PointMm = Field(description="Inside the window, farthest from its rim [mm].")
    width_mm: FiniteFloat = Field(description="Diameter of the largest circle that fits [mm].")
    exposure: Exposure  # Which faces of the window are free of mask
    front: FaceCover  # How the front face is covered, in one word
    back: FaceCover  # How the back face is covered, in one word
    shadows: tuple[Shadow, ...]  # What stops light in the window
    decision: str  # One sentence: why this counts as a window
    use: WindowUse = Field(
        description="window: mask open on both faces, or on none where the design says so. artwork: on one face, 1 mm"
        " wide or more. clearance: on one face and narrower, as round pads."
    )


class SurveyResults(Record):
    """What light can get through; exactly what `paneglow windows --json` prints."""

    outline_area_mm2: FiniteFloat  # Area inside the outline, cut-outs taken out, holes not
    copper_layers: int  # Number of copper layers
    pieces: int = Field(description="Boards in the panel.")
    windows: tuple[WindowResult, ...]  # The windows
    others: tuple[OtherOpening, ...]  # Openings that are not windows, each with its reason
    totals: tuple[ExposureTotal, ...]  # Sums over all openings
    notes: tuple[str, ...]  # What was decided while reading, and why


class CheckResults(Record):
    """Defects that show without tracing light; exactly what `paneglow check --json` prints."""

    name: str = Field(description="Name of the design.")
    leds: int = Field(description="Number of LEDs placed.")
    windows: int = Field(description="Number of windows found.")
    findings: tuple[Finding, ...]  # Defects found, the gravest first
    changes: tuple[Improvement, ...]  # What to do about them, what matters most first
    notes: tuple[str, ...]  # What was decided while reading, and why
    polarity: Polarity = Field(default=NO_POLARITY, description="Which way round every LED is, and how that is known.")
    drive: DriveResults | None = Field(default=None, description="What drives the LEDs; null where nothing is wired.")
    building: Building = Field(default=NO_BUILDING, description="Who builds what, and what the pads reach.")
    provisional: tuple[str, ...] = Field(default=(), description=PROVISIONAL)


class EmittedFlux(Record):
    """Light that an LED emits at its drive current, with the range its data leave open."""

    value_lm: NonNegativeFloat  # Luminous flux at the design's current
    low_lm: NonNegativeFloat  # Lower end of the range
    high_lm: NonNegativeFloat  # Upper end of the range
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where the part's light was read, or why it was assumed


class FateShares(Record):
    """Shares of an LED's light by where it ends; the values sum to 1."""

    front: Estimate = Field(description="Leaves the front face.")
    through: Estimate = Field(description="Leaves the front through a hole, straight or off its wall.")
    back: Estimate = Field(description="Leaves the back face again, or is stopped on entry.")
    edge: Estimate = Field(description="Leaves by the rim of the outline for good.")
    hole: Estimate = Field(description="Comes out of the rim of a hole and leaves at the back.")
    absorbed: Estimate = Field(description="Taken up by laminate, coats and copper.")
    missed: Estimate = Field(description="Never met the board.")


class LedResult(Record):
    """One LED: where it sits, what it emits, where its light goes."""

    ref: str  # Designator of the LED
    part: str  # Exact order code
    mounting: Mounting  # Mounting style
    side: Side  # Face the part is soldered to
    at_mm: PointMm  # Place (x, y) on the board, seen from the front
    rotation_deg: FiniteFloat  # Rotation, counter-clockwise seen from the front
    window: str | None  # Window it is meant for
    current_ma: NonNegativeFloat  # Drive current
    current_from: CurrentSource = Field(description="Where this current comes from.")
    flux: EmittedFlux  # Luminous flux at the design's current, as a range
    fates: FateShares  # Shares of the emitted light by where they end


class SlabResult(Record):
    """One version of the laminate that was traced; the first is the nominal one."""

    name: str  # Which version
    scatter_per_mm: NonNegativeFloat  # Scattering coefficient
    wavelength_nm: tuple[PositiveFloat, ...]  # Wavelengths, rising
    absorb_per_mm: tuple[NonNegativeFloat, ...]  # Absorption coefficient at those wavelengths


class UsedValue(Record):
    """One catalogue value that the result rests on."""

    item: str = Field(description="Catalogue entry.")
    quantity: str  # Which quantity
    at_nm: PositiveFloat | None = Field(default=None, description="Wavelength it holds at [nm].")
    value: FiniteFloat  # The value used
    low: FiniteFloat  # Lower end of the range
    high: FiniteFloat  # Upper end of the range
    unit: str  # Its unit
    origin: Origin  # Where the number comes from: measured, sourced or assumed
    source: str  # Where it was read, measured, or why it was assumed


class PictureResult(Record):
    """One picture of the board, saved beside this file."""

    name: Literal["dark_adapted", "camera", "lit_room", "false_colour"]  # Which of the four
    file: str  # File name, beside this file
    title: str  # Title
    caption: str  # What it shows


class Results(Record):
    """Everything one evaluation found; lengths mm, currents mA, luminance cd/m2, shares 0 to 1."""

    schema_version: Literal[1] = 1  # Version of this record's schema
    name: str  # Name of the design
    summary: str = Field(description="The verdict in one sentence.")
    design: Design  # The design as it was read
    board: SurveyResults  # Windows and other openings of the board
    leds: tuple[LedResult, ...]  # Every LED
    placement_notes: tuple[str, ...] = Field(description="What was decided while placing LEDs.")
    windows: tuple[WindowLook, ...]  # Every window, as seen
    verdict: Verdict  # Goals, findings and cautions
    polarity: Polarity = Field(default=NO_POLARITY, description="Which way round every LED is, and how that is known.")
    building: Building = Field(default=NO_BUILDING, description="Who builds what, and what the pads reach.")
    slabs: tuple[SlabResult, ...]  # Versions of the laminate, the nominal one first
    assumed: bool = Field(description="Whether predictions are ranges because an input is assumed.")
    assumptions: str = Field(description="What was assumed, in one sentence.")
    how_to_narrow: str | None = Field(description="How to narrow the ranges, in one sentence.")
    quantities: tuple[UsedValue, ...] = Field(description="Every catalogue value used, with where it came from.")
    pictures: tuple[PictureResult, ...]  # The four pictures
    false_colour_scale_cd_m2: Annotated[
        tuple[FiniteFloat, FiniteFloat], Field(description="Ends of the false-colour scale.")
    ]
    cost: CostResults | None = Field(
        default=None, description="What it costs, where a cost file lies beside the design."
    )
    provisional: tuple[str, ...] = Field(default=(), description=PROVISIONAL)
    provenance: Provenance  # What produced the result
    drive: DriveResults | None = Field(default=None, description="What drives the LEDs; null where nothing is wired.")
