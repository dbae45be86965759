"""What the user wrote, as frozen records; lengths mm, currents mA, angles deg as in design.toml."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from paneglow.design.circuit import ChipDesign, CircuitGroup, DriveDesign
from paneglow.fab import BottomRule, TurnRule, ZeroRule
from paneglow.units import FiniteFloat, Fraction, NonNegativeFloat, PointMm, PositiveFloat, Record

Mounting = Literal["lens_down", "reverse", "through_hole", "cutout", "side_view", "carrier", "top_view"]
Side = Literal["front", "back"]
LayerRole = Literal[
    "copper_front",
    "copper_inner_1",
    "copper_inner_2",
    "copper_back",
    "mask_front",
    "mask_back",
    "legend_front",
    "legend_back",
    "outline",
    "drill_plated",
    "drill_unplated",
]
SupplyKind = Literal["coin-cell", "battery", "usb", "regulated"]
Name = Annotated[str, Field(min_length=1, max_length=80)]


class BackCover(Record):
    """A flat cover behind the board that returns light."""

    distance_mm: PositiveFloat = Field(description="From the back face of the board to the cover [mm].")
    reflectance: Fraction = Field(description="Diffuse reflectance of the cover [1].")


class FrontFilm(Record):
    """A diffusing film before the board."""

    film: Name = Field(description="A film of kind diffuser in the catalogue.")
    distance_mm: NonNegativeFloat = Field(default=0.0, description="From the front face to the film [mm].")


class LightWallDesign(Record):
    """An upright frame round an LED, from the back face to what stands behind."""

    length_mm: PositiveFloat = Field(description="Inner length along the part [mm].")
    width_mm: PositiveFloat = Field(description="Inner width across the part [mm].")
    reflectance: Fraction = Field(description="Diffuse reflectance of its inside and outside [1].")


class BoardDesign(Record):
    """The board: its fabrication files and what it is made of."""

    fabrication: str = Field(description="Folder or .zip of Gerber and drill files, relative to the design.")
    placement: str | None = Field(
        default=None,
        description="Placement (centroid) file, relative to the design; may lie in a .zip (`fab.zip/placement.csv`).",
    )
    placement_unit: Literal["mm", "inch", "mil"] | None = Field(
        default=None, description="Unit of the placement file where it does not say."
    )
    placement_bottom: BottomRule | None = Field(
        default=None, description="How the placement file counts rotations of parts on the back, where it does not say."
    )
    placement_zero: ZeroRule | None = Field(
        default=None, description="Which way a part points at rotation zero, where the placement file does not say."
    )
    placement_turn: TurnRule | None = Field(
        default=None, description="Axis lens-down parts are turned over about, where the placement file does not say."
    )
    netlist: str | None = Field(
        default=None, description="Netlist in the format IPC-D-356A, relative to the design; names the copper's nets."
    )
    joined_nets: tuple[tuple[str, ...], ...] = Field(
        default=(), description="Nets that copper joins on purpose: net ties and closed jumpers."
    )
    legend_mark: Literal["cathode", "anode", "none"] = Field(
        default="cathode", description="Terminal that a bar or dot of legend ink at one end of an LED's pads means."
    )
    thickness_mm: Annotated[float, Field(ge=0.2, le=6.4, allow_inf_nan=False)] = Field(
        default=1.6, description="Finished laminate thickness [mm]."
    )
    laminate: Name = Field(default="fr4-unknown", description="Catalogue laminate or a measured lot.")
    mask: Name = Field(default="green", description="Solder mask of the catalogue.")
    legend: Name = Field(default="white-legend", description="Legend ink of the catalogue.")
    pitch_mm: Annotated[float, Field(ge=0.01, le=0.5, allow_inf_nan=False)] = Field(
        default=0.05, description="Raster pitch of the layers [mm]."
    )
    layers: dict[LayerRole, str] = Field(
        default_factory=dict, description="File name for a layer that its name and attributes do not settle."
    )
    ignored_files: tuple[str, ...] = Field(
        default=(), description="Files of the set that are no layer of the board, by name."
    )
    masked_windows: bool = Field(
        default=False, description="Count copper-free areas under mask on both faces as windows."
    )
    back_cover: BackCover | None = Field(
        default=None, description="Cover or second board behind the board, where there is one."
    )
    front_film: FrontFilm | None = Field(default=None, description="Film before the board, where there is one.")
    inner_depth_mm: PositiveFloat | None = Field(
        default=None, description="From an outer face to the next copper inside; assumed where absent [mm]."
    )


class LedGroup(Record):
    """One or several LEDs of one order code, mounted alike."""

    refs: tuple[Name, ...] = Field(default=(), description="Designators in the placement file.")
    at_mm: PointMm | None = Field(default=None, description="Body centre, instead of refs [mm].")
    rotation_deg: FiniteFloat = Field(
        default=0.0, description="Counter-clockwise seen from the front; a side-view part shines along it [deg]."
    )
    side: Side = Field(default="back", description="Face the part is soldered to.")
    part: Name = Field(description="Exact order code in the catalogue or in parts/*.toml beside the design.")
    mounting: Mounting = Field(description="Mounting style.")
    window: Name | None = Field(default=None, description="Window that this LED is meant to light.")
    current_ma: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = Field(
        default=None, description="Drive current [mA]; may be left out where a [[circuit]] gives it."
    )
    die_current_ma: dict[Name, Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]] = Field(
        default_factory=dict, description="Of a part of several dice: current of each, instead of current_ma [mA]."
    )
    die_duty_frac: dict[Name, Fraction] = Field(
        default_factory=dict, description="Of a part with logic inside: share of the time that each die is on [1]."
    )
    diffuser: Name = Field(default="none", description="none, hot-glue or film:<name>.")
    gap_mm: NonNegativeFloat | None = Field(
        default=None, description="Emitter to the back face; the part and style give it where absent [mm]."
    )
    light_wall: LightWallDesign | None = Field(default=None, description="Frame round each of these LEDs.")


class WindowDesign(Record):
    """A window by any point inside it."""

    name: Name  # Name by which LEDs and results refer to it
    at_mm: PointMm = Field(description="Any point inside the window [mm].")


class Rail(Record):
    """Copper that is the positive or the negative side of the supply, by any point on it or by its net's name."""

    polarity: Literal["positive", "negative"] = Field(description="Side of the supply while LEDs shine.")
    at_mm: PointMm | None = Field(default=None, description="Any point on copper of the rail [mm].")
    side: Side = Field(default="back", description="Face that the point lies on.")
    net: Name | None = Field(default=None, description="Name of its net in the netlist or the object attributes.")

    @model_validator(mode="after")
    def _check_one_place(self) -> Self:
        if (self.at_mm is None) == (self.net is None):
            raise ValueError("give either at_mm, a point on its copper, or net, its name")
        return self


class Supply(Record):
    """What drives the board."""

    kind: SupplyKind = Field(description="Kind of supply.")
    cell: Name | None = Field(
        default=None, description="Exact supply, by its code; the usual one of the kind if absent."
    )
    voltage_v: PositiveFloat | None = Field(default=None, description="Open-circuit voltage, where it differs [V].")
    child_reach: bool = Field(default=True, description="Children may get hold of the finished piece.")
    flash_hz: NonNegativeFloat = Field(default=0.0, description="Flashes per second; 0 for steady light [Hz].")


class View(Record):
    """How the finished board is looked at."""

    distance_mm: Annotated[float, Field(ge=50, le=100_000, allow_inf_nan=False)] = Field(
        default=400.0, description="Eye to board [mm]."
    )
    angle_deg: Annotated[float, Field(ge=0, le=80, allow_inf_nan=False)] = Field(
        default=0.0, description="Viewing direction off the front normal, toward +x [deg]."
    )
    ambient_lx: NonNegativeFloat = Field(default=150.0, description="Room light on the front [lx].")


class Goals(Record):
    """What the board must reach; an absent goal is not judged."""

    evenness_min: Fraction | None = Field(default=None, description="Least evenness of every window [1].")
    luminance_min_cd_m2: NonNegativeFloat | None = Field(
        default=None, description="Least mean luminance of every window [cd/m2]."
    )
    luminance_max_cd_m2: NonNegativeFloat | None = Field(
        default=None, description="Greatest mean luminance of every window [cd/m2]."
    )
    bleed_max: Fraction | None = Field(default=None, description="Greatest bleed share of every window [1].")
    contrast_min: NonNegativeFloat | None = Field(
        default=None, description="Least ratio of lit window to its surround, in room light [1]."
    )

    @model_validator(mode="after")
    def _check_order(self) -> Self:
        least, most = self.luminance_min_cd_m2, self.luminance_max_cd_m2
        if least is not None and most is not None and least > most:
            raise ValueError(
                f"luminance_min_cd_m2 is {least:g}, above luminance_max_cd_m2 of {most:g}; no window can meet both"
            )
        return self


class Run(Record):
    """How many boards."""

    quantity: Annotated[int, Field(ge=1, le=10_000_000)] = Field(default=1, description="Finished boards.")


class Design(Record):
    """One design file."""

    name: Name  # Name of the board
    board: BoardDesign  # Fabrication files and what the board is made of
    led: tuple[LedGroup, ...] = ()  # Groups of LEDs
    window: tuple[WindowDesign, ...] = ()  # Windows that are given a name
    rail: tuple[Rail, ...] = ()  # Copper that is the positive or the negative side of the supply
    supply: Supply | None = None  # What drives the board
    circuit: tuple[CircuitGroup, ...] = ()  # How LEDs are wired, one table per way of driving them
    chip: ChipDesign | None = None  # The microcontroller, where pins drive LEDs
    drive: DriveDesign = DriveDesign()
    """Where currents come from, what is to be matched, and how long it shines each day."""
    view: View = View()  # How the piece is looked at
    goals: Goals = Goals()  # What the piece must reach
    run: Run = Run()  # How many pieces
