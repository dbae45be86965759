"""What a rule is, what it sees, and where its threshold comes from."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Generic, Literal, TypeVar

from paneglow.assembly import Building, Polarity
from paneglow.board import Board, PlacedLed, Window
from paneglow.catalog import Catalog
from paneglow.cost import CostFile, VersionCost
from paneglow.design import Design, Mounting
from paneglow.drive import SolvedBoard
from paneglow.judge.records import Finding, Severity
from paneglow.look import Look
from paneglow.scene import Scene
from paneglow.transport import Tally


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardContext:
    """What a rule sees before any light is traced."""

    design: Design
    board: Board  # one LED per body
    catalog: Catalog
    polarity: Polarity
    building: Building
    solved_refs: frozenset[str] = frozenset()  # LEDs whose circuit is solved: rules of estimates leave them alone
    unpriced: str = ""  # what has no price in the cost file beside the design
    dice: tuple[PlacedLed, ...] = ()  # one per die, where some bodies hold several

    @property
    def lit(self) -> tuple[PlacedLed, ...]:
        """What carries current: one per die."""
        return self.dice or self.board.leds


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CircuitContext:
    """What a rule sees of a wired board on a fresh supply: with usual values, and at the ends of their ranges."""

    design: Design
    board: Board
    drive: SolvedBoard


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightContext:
    """What a rule sees once the light is traced."""

    design: Design
    board: Board
    catalog: Catalog
    scene: Scene
    tally: Tally
    look: Look


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CostContext:
    """What a rule about money sees."""

    costs: CostFile
    answer: VersionCost
    good: int  # pieces of the run that is judged
    on: date  # day the ages are judged on
    left_out: tuple[tuple[str, str], ...] = ()  # versions that could not be read: name and reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A number that decides a finding, with its unit and its source."""

    what: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What a rule found at one place; where no severity is told it is the one of the rule."""

    subject: str = "board"
    at_mm: tuple[float, float] | None = None
    severity: Severity | None = None
    reason: str
    remedy: str


ContextT = TypeVar("ContextT", BoardContext, CircuitContext, LightContext, CostContext)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule(Generic[ContextT]):
    """One rule: a pure function whose name, in kebab case, is the stable code of what it finds.

    The first line of the function's docstring says what is wrong, the rest why it matters; docs/findings.md is made
    from both.
    """

    look: Callable[[ContextT], Iterable[Fault]]
    severities: tuple[Severity, ...]  # the gravest first
    thresholds: tuple[Threshold, ...] = ()
    blocks_release: bool = False  # although no error: a design may go on, but no board is to be ordered
    bears_on: tuple[str, ...] = ()  # fields of [goals] that what it finds can cost, in the windows concerned
    settles: Literal["", "laminate", "noise"] = ""  # what its remedy makes known, where goals are open for want of it

    @property
    def code(self) -> str:
        """Stable name of the rule, as findings carry it."""
        return self.look.__name__.replace("_", "-")

    @property
    def sees(self) -> type[ContextT]:
        """What the rule looks at, which decides the table it stands in."""
        seen: type[ContextT] = self.look.__annotations__["context"]
        return seen

    def find(self, context: ContextT) -> Iterator[Finding]:
        """Findings of this rule."""
        for fault in self.look(context):
            yield Finding(
                code=self.code,
                severity=fault.severity or self.severities[0],
                subject=fault.subject,
                at_mm=fault.at_mm,
                reason=fault.reason,
                remedy=fault.remedy,
            )


def rule(
    *severities: Severity,
    thresholds: tuple[Threshold, ...] = (),
    blocks_release: bool = False,
    bears_on: tuple[str, ...] = (),
    settles: Literal["", "laminate", "noise"] = "",
) -> Callable[[Callable[[ContextT], Iterable[Fault]]], Rule[ContextT]]:
    """Mark a function as a rule; the tables of `paneglow.judge.findings` are gathered from these marks."""

    def mark(look: Callable[[ContextT], Iterable[Fault]]) -> Rule[ContextT]:
        return Rule(
            look=look,
            severities=severities,
            thresholds=thresholds,
            blocks_release=blocks_release,
            bears_on=bears_on,
            settles=settles,
        )

    return mark


COVER_MAX_FRAC = Threshold(
    what="share of an LED's luminous area or body that may lie off its window, over copper or over a hole",
    value=0.05,
    unit="1",
    source="assumed: as small as the placing tolerance of +-0.05 to 0.10 mm on a 1 to 2 mm lens",
)
# Fields of [goals] that findings bear on
LIGHT = ("luminance_min_cd_m2", "contrast_min")
SHAPE = ("evenness_min", *LIGHT)
EVERY_GOAL = (*SHAPE, "luminance_max_cd_m2", "bleed_max")

CLOSE_STYLES: tuple[Mounting, ...] = ("lens_down", "reverse")  # the luminous area rests on the laminate


def used_windows(context: BoardContext | LightContext) -> tuple[Window, ...]:
    """Windows that the design names or that an LED is meant for, in the survey's order."""
    wanted = {window.name for window in context.design.window} | {led.window for led in context.board.leds}
    return tuple(window for window in context.board.survey.windows if window.name in wanted)


def window_by_name(board: Board, *, name: str | None) -> Window | None:
    """Window of that name, or None where the board has no such window."""
    return next((window for window in board.survey.windows if window.name == name), None)


def led_fault(led: PlacedLed, *, reason: str, remedy: str, severity: Severity | None = None) -> Fault:
    """Fault whose subject and place are those of an LED."""
    return Fault(subject=led.ref, at_mm=led.at_mm, severity=severity, reason=reason, remedy=remedy)
