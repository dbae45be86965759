"""What the page shows, as plain records for the template; texts are ready to print."""

from collections.abc import Mapping
from dataclasses import dataclass

from paneglow.judge import Finding, Improvement
from paneglow.report.board_map import BoardMap
from paneglow.report.drive import DrivePart
from paneglow.results import Results


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One embedded picture."""

    title: str
    caption: str
    uri: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleTick:
    """One number under the false-colour scale, placed from its left end."""

    percent: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """The false-colour scale: a strip of colours and the numbers under it."""

    uri: str
    low: str
    high: str
    ticks: tuple[ScaleTick, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalRow:
    """One goal against one window, ready to print."""

    goal: str
    window: str
    required: str
    found: str
    margin: str
    outcome: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowRow:
    """One window, ready to print."""

    name: str
    range_pictures: tuple[Figure, ...]  # dimmest, nominal, brightest; empty where the window is not pictured
    scale_bar: str  # length of the bar under each
    scale_bar_percent: float  # the same over the width of the picture
    swatch: str
    colour: str
    wavelength: str
    beyond_screen: bool
    luminance: str
    evenness: str
    stops: str
    bleed: str
    contrast: str
    luminance_cause: str  # what its range comes from, in a clause
    evenness_cause: str
    bleed_cause: str
    contrast_cause: str
    area: str
    covers: str
    leds: str
    goals: tuple[GoalRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One change with its number on the board map, and the findings it mends with their places."""

    number: int
    improvement: Improvement
    subjects: str
    first_words: str  # what to do, cut after its first clause; the list of findings has it whole
    findings: tuple[tuple[Finding, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FateBar:
    """One stretch of an LED's bar: where that share of its light ends."""

    key: str
    words: str
    percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LedRow:
    """One LED, ready to print."""

    ref: str
    part: str
    mounting: str
    place: str
    window: str
    current: str
    current_from: str
    flux: str
    front: str
    through: str
    back: str
    edge: str
    absorbed: str
    missed: str
    bar: tuple[FateBar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueRow:
    """One catalogue value, or one table of it over wavelengths, ready to print."""

    quantity: str
    value: str
    unit: str
    origin: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One catalogue entry and its values."""

    name: str
    rows: tuple[ValueRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Everything the template needs."""

    results: Results
    state: str
    figures: Mapping[str, Figure]
    scale: Scale
    windows: tuple[WindowRow, ...]
    other_windows: tuple[WindowRow, ...]
    changes: tuple[ChangeRow, ...]
    noise: str  # how noisy the pictures are, where that shows
    board_map: BoardMap
    goals: tuple[GoalRow, ...]
    leds: tuple[LedRow, ...]
    fates: tuple[tuple[str, str], ...]
    items: tuple[Item, ...]
    drive: DrivePart | None
    before: Figure | None
    after: Figure | None
