"""What a rule is, what it sees, and where its threshold comes from."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from paneglow.assembly import NO_POLARITY, Polarity
from paneglow.board import Board, PlacedLed, Window
from paneglow.catalog import Catalog
from paneglow.design import Design, Mounting
from paneglow.drive import DriveAnswer
from paneglow.judge.findings.cost_context import CostContext
from paneglow.judge.records import Finding, Severity
from paneglow.look import Look
from paneglow.scene import Scene
from paneglow.transport import Tally


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardContext:
    """What a rule sees before any light is traced."""

    design: Design
    board: Board
    catalog: Catalog
    polarity: Polarity = NO_POLARITY
    solved_refs: frozenset[str] = frozenset()  # LEDs whose circuit is solved: rules of estimates leave them alone


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CircuitContext:
    """What a rule sees of a wired board on a fresh supply: with usual values, and at the ends of their ranges."""

    design: Design
    board: Board
    drive: DriveAnswer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightContext:
    """What a rule sees once the light is traced."""

    design: Design
    board: Board
    catalog: Catalog
    scene: Scene
    tally: Tally
    look: Look


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A number that decides a finding, with its unit and its source."""

    what: str
    value: float
    unit: str
    source: str


ContextT = TypeVar("ContextT", BoardContext, CircuitContext, LightContext, CostContext)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule(Generic[ContextT]):
    """One rule: a pure function whose name, in kebab case, is the stable code of what it finds.

    The first line of the function's docstring says what is wrong, the rest why it matters; docs/findings.md is made
    from both.
    """

    find: Callable[[ContextT], Iterable[Finding]]
    severities: tuple[Severity, ...]
    thresholds: tuple[Threshold, ...] = ()

    @property
    def code(self) -> str:
        """Stable name of the rule, as findings carry it."""
        return self.find.__name__.replace("_", "-")


COVER_MAX_FRAC = Threshold(
    what="share of an LED's luminous area or body that may lie off its window, over copper or over a hole",
    value=0.05,
    unit="1",
    source="assumed: as small as the placing tolerance of +-0.05 to 0.10 mm on a 1 to 2 mm lens",
)
CLOSE_STYLES: tuple[Mounting, ...] = ("lens_down", "reverse")  # the luminous area rests on the laminate


def used_windows(context: BoardContext | LightContext) -> tuple[Window, ...]:
    """Windows that the design names or that an LED is meant for, in the survey's order."""
    wanted = {window.name for window in context.design.window} | {led.window for led in context.board.leds}
    return tuple(window for window in context.board.survey.windows if window.name in wanted)


def window_by_name(board: Board, *, name: str | None) -> Window | None:
    """Window of that name, or None where the board has no such window."""
    return next((window for window in board.survey.windows if window.name == name), None)


def led_finding(led: PlacedLed, *, code: str, severity: Severity, reason: str, remedy: str) -> Finding:
    """Finding whose subject and place are those of an LED."""
    return Finding(code=code, severity=severity, subject=led.ref, at_mm=led.at_mm, reason=reason, remedy=remedy)
