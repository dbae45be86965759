"""What the user wrote, as frozen records; lengths mm, currents mA, angles deg as in design.toml."""

from typing import Annotated, Literal

from pydantic import Field

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


class LightWall(Record):
    """An upright frame round an LED, from the back face to what stands behind."""

    length_mm: PositiveFloat = Field(description="Inner length along the part [mm].")
    width_mm: PositiveFloat = Field(description="Inner width across the part [mm].")
    reflectance: Fraction = Field(description="Diffuse reflectance of its inside and outside [1].")


class BoardDesign(Record):
    """The board: its fabrication files and what it is made of."""

    fabrication: str = Field(description="Folder or .zip of Gerber and drill files, relative to the design.")
    placement: str | None = Field(default=None, description="Placement (centroid) file, relative to the design.")
    placement_unit: Literal["mm", "inch", "mil"] | None = Field(
        default=None, description="Unit of the placement file where it does not say."
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
    current_ma: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] = Field(description="Drive current [mA].")
    diffuser: Name = Field(default="none", description="none, hot-glue or film:<name>.")
    gap_mm: NonNegativeFloat | None = Field(
        default=None, description="Emitter to the back face; the part and style give it where absent [mm]."
    )
    light_wall: LightWall | None = Field(default=None, description="Frame round each of these LEDs.")


class WindowDesign(Record):
    """A window by any point inside it."""

    name: Name
    at_mm: PointMm = Field(description="Any point inside the window [mm].")


class Supply(Record):
    """What drives the board."""

    kind: SupplyKind = Field(description="Kind of supply.")
    voltage_v: PositiveFloat | None = Field(default=None, description="Open-circuit voltage, where it differs [V].")
    child_reach: bool = Field(default=True, description="Children may get hold of the finished piece.")
    flash_hz: NonNegativeFloat = Field(default=0.0, description="Flashes per second; 0 for steady light [Hz].")


class View(Record):
    """How the finished piece is looked at."""

    distance_mm: Annotated[float, Field(ge=50, le=100_000, allow_inf_nan=False)] = Field(
        default=400.0, description="Eye to board [mm]."
    )
    angle_deg: Annotated[float, Field(ge=0, le=80, allow_inf_nan=False)] = Field(
        default=0.0, description="Viewing direction off the front normal, toward +x [deg]."
    )
    ambient_lx: NonNegativeFloat = Field(default=150.0, description="Room light on the front [lx].")


class Goals(Record):
    """What the piece must reach; an absent goal is not judged."""

    evenness_min: Fraction | None = Field(default=None, description="Least evenness of every window [1].")
    luminance_min_cd_m2: NonNegativeFloat | None = Field(
        default=None, description="Least mean luminance of every window [cd/m2]."
    )
    luminance_max_cd_m2: NonNegativeFloat | None = Field(
        default=None, description="Greatest mean luminance of every window [cd/m2]."
    )
    bleed_max: Fraction | None = Field(default=None, description="Greatest bleed share of every window [1].")
    contrast_min: NonNegativeFloat | None = Field(
        default=None, description="Least lit-to-surround luminance ratio in the lit room [1]."
    )


class Run(Record):
    """How many pieces."""

    quantity: Annotated[int, Field(ge=1, le=10_000_000)] = Field(default=1, description="Finished pieces.")


class Design(Record):
    """One design file."""

    name: Name
    board: BoardDesign
    led: tuple[LedGroup, ...] = ()
    window: tuple[WindowDesign, ...] = ()
    supply: Supply | None = None
    view: View = View()
    goals: Goals = Goals()
    run: Run = Run()
