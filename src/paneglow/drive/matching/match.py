"""What makes windows equally bright: values to buy, what they give, what stays short, and why."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from pydantic import Field

from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import CircuitGroup, Design, Match, nearest
from paneglow.drive.circuit import (
    AS_DESIGNED,
    Circuit,
    SettingKind,
    SolvedBoard,
    current_source,
    scanned_refs,
    solve_board,
    wire_board,
)
from paneglow.drive.matching.changes import SHORT_FRAC, Change, Workbench, useful_changes
from paneglow.drive.matching.exact import ExactMatch, MatchTask, match_exactly
from paneglow.drive.matching.level import FloatArray
from paneglow.drive.matching.rounding import BoughtMatch, match_bought
from paneglow.drive.matching.series import Series, preferred_pair_ohm
from paneglow.errors import DesignError
from paneglow.units import FiniteFloat, NonNegativeFloat, PositiveFloat, Record

AGREEMENT_FRAC = 0.05  # matched windows agree within this; about five steps of the eye side by side (docs/sources.md)
DARK_CD_M2 = 1e-6  # absolute threshold of vision, a secondary page seen: less than this is no light
FIRST_RESISTOR_OHM = 1000.0  # where the search starts for LEDs that no circuit drives yet
UNITS: dict[SettingKind, Literal["ohm", "mA", "1"]] = {"resistor": "ohm", "sink": "mA", "brightness": "1"}


class AdjustedValue(Record):
    """One value that the match sets: a resistor, the current of a sink, or the brightness of an LED in a scan."""

    name: str = Field(description="The resistor, the string of the sink, or the LED.")
    refs: tuple[str, ...] = Field(description="LEDs that it sets.")
    kind: SettingKind  # What is set
    unit: Literal["ohm", "mA", "1"]  # Unit of the values beside it
    before: NonNegativeFloat | None = Field(description="As designed; null where nothing drives them yet.")
    exact: NonNegativeFloat = Field(description="That would match exactly.")
    chosen: NonNegativeFloat = Field(description="That can be bought or set.")
    pair_ohm: tuple[PositiveFloat, PositiveFloat] | None = Field(description="Two in series that come nearer [ohm].")
    mean_ma: NonNegativeFloat = Field(description="Current that then flows through each LED on average [mA].")


class WindowMatch(Record):
    """One window of the match."""

    name: str  # Name of the window
    ratio: PositiveFloat  # Luminance over the common level that is asked of it
    asked_cd_m2: NonNegativeFloat  # Luminance asked
    before_cd_m2: NonNegativeFloat  # Luminance before
    exact_cd_m2: NonNegativeFloat = Field(description="With values of any size [cd/m2].")
    after_cd_m2: NonNegativeFloat = Field(description="With what can be bought [cd/m2].")
    within_reach: bool  # Whether the limits of its own LEDs and the supply let it reach what is asked
    short_frac: FiniteFloat = Field(description="How far it stays below what is asked; below 0: above it [1].")
    departure_frac: FiniteFloat = Field(description="From the common level times its ratio, as bought [1].")


class BrightnessMatch(Record):
    """Windows made equally bright, or in chosen ratios: values to buy, and what stays short."""

    applied: bool = Field(description="Whether everything else here is lit as matched; else it is a proposal.")
    series: Literal["E24", "E12"]  # Preferred values that resistors were taken from
    asked_cd_m2: NonNegativeFloat = Field(description="Common level asked [cd/m2].")
    level_cd_m2: NonNegativeFloat = Field(description="Common level that the limits allow [cd/m2].")
    bought_level_cd_m2: NonNegativeFloat = Field(description="Common level of the values to buy [cd/m2].")
    agreement_frac: NonNegativeFloat = Field(
        description="Greatest departure from it of a window that is kept at it [1]."
    )
    reasons: tuple[str, ...] = Field(description="Why windows do not stand as asked; empty where they do.")
    changes: tuple[Change, ...] = Field(description="What would bring them nearer, each tried.")
    windows: tuple[WindowMatch, ...]  # The windows
    adjusted: tuple[AdjustedValue, ...]  # Every value that the match sets


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardLights:
    """Light of every LED of a board in every window.

    Attributes
    ----------
    windows, refs : tuple of str
    per_test_cd_m2 : ndarray, shape (window, led)
        Luminance from each LED at its test current [cd/m2].
    present_frac : mapping
        Light of each LED as the board is now, over that at its test current [1].
    passed_frac : mapping
        What the diffuser of each LED lets through [1].
    """

    windows: tuple[str, ...]
    refs: tuple[str, ...]
    per_test_cd_m2: FloatArray
    present_frac: Mapping[str, float]
    passed_frac: Mapping[str, float]

    def present_cd_m2(self) -> FloatArray:
        """Luminance of every window as the board is now [cd/m2], shape (window,)."""
        return np.asarray(self.per_test_cd_m2 @ np.array([self.present_frac[ref] for ref in self.refs]))


def match_board(
    design: Design, *, board: Board, catalog: Catalog, lights: BoardLights
) -> tuple[BrightnessMatch, SolvedBoard] | None:
    """Match the windows that [drive.match] names; the board as matched beside it. None where it names nothing.

    Parameters
    ----------
    design, board, catalog : Design, Board, Catalog
    lights : BoardLights

    Raises
    ------
    DesignError
        If a window is not there or dark, or there is no supply.
    RangeError
        If what the match cannot set already takes more than the supply has.
    """
    match = design.drive.match
    if match is None:
        return None
    wired = wired_design(design, board=board)
    task = _task(wired, board=board, lights=lights, match=match)
    asked = task.level_cd_m2 or 0.0
    exact = match_exactly(task)
    bought = match_bought(task, exact=exact)
    solved = solve_board(wired, board=board, settings=bought.settings)
    if solved is None:
        raise DesignError("[drive.match]: no LED is wired; add a [[circuit]]")
    bench = Workbench(
        design=wired,
        leds=board.leds,
        catalog=catalog,
        task=task,
        exact=exact,
        passed_frac=lights.passed_frac,
        asked_cd_m2=asked * task.ratio,
    )
    before = wire_board(design, leds=board.leds)(AS_DESIGNED) if design.circuit else None
    record = BrightnessMatch(
        applied=current_source(design) == "matching",
        series=match.series,
        asked_cd_m2=asked,
        level_cd_m2=exact.matched.level_cd_m2,
        bought_level_cd_m2=bought.level_cd_m2,
        agreement_frac=bought.agreement_frac,
        reasons=_reasons(exact, bought=bought, asked_cd_m2=asked, series=match.series),
        changes=useful_changes(bench),
        windows=tuple(
            _window(number, task=task, exact=exact, bought=bought, before=lights, asked_cd_m2=asked)
            for number in range(len(task.windows))
        ),
        adjusted=_adjusted_values(exact, bought=bought, solved=solved, before=before, design=design, match=match),
    )
    return record, solved


def wired_design(design: Design, *, board: Board) -> Design:
    """The design, with every LED that no circuit drives on a resistor of its own from the rail.

    Parameters
    ----------
    design, board : Design, Board

    Raises
    ------
    DesignError
        If there is no supply to drive them from.
    """
    if design.supply is None:
        raise DesignError('[drive.match] needs [supply], such as kind = "coin-cell"')
    wired = {ref for group in design.circuit for ref in group.wired}
    left = tuple((led.ref,) for led in board.leds if led.ref not in wired and led.current_ma > 0.0)
    if not left:
        return design
    own = CircuitGroup(driver="rail", strings=left, resistor_ohm=(FIRST_RESISTOR_OHM,))
    return design.model_copy(update={"circuit": (*design.circuit, own)})


def _task(design: Design, *, board: Board, lights: BoardLights, match: Match) -> MatchTask:
    rows = _rows(match, lights=lights)
    wire = wire_board(design, leds=board.leds)
    refs = wire(AS_DESIGNED).refs
    columns = [lights.refs.index(ref) for ref in refs]
    beside = np.array([0.0 if ref in refs else lights.present_frac[ref] for ref in lights.refs])
    ratio = np.array(match.ratios or (1.0,) * len(rows))
    present = lights.present_cd_m2()[rows] / ratio
    level = float(np.exp(np.log(present).mean())) if match.luminance_cd_m2 is None else match.luminance_cd_m2
    return MatchTask(
        wire=wire,
        windows=tuple(lights.windows[row] for row in rows),
        light=lights.per_test_cd_m2[np.ix_(rows, columns)],
        beside_cd_m2=lights.per_test_cd_m2[rows] @ beside,
        ratio=ratio,
        level_cd_m2=level,
        window_of={led.ref: led.window for led in board.leds},
        scanned=scanned_refs(design),
        series=match.series,
        depth_frac=match.depth_frac,
    )


def _rows(match: Match, *, lights: BoardLights) -> list[int]:
    """Rows of the chosen windows; all that are lit where none is named."""
    present = dict(zip(lights.windows, lights.present_cd_m2().tolist(), strict=True))
    names = match.windows or tuple(name for name in lights.windows if present[name] > DARK_CD_M2)
    for name in names:
        if name not in present:
            close = nearest(name, present)
            hint = f"the nearest name is {close}" if close else f"there are {', '.join(present)}"
            raise DesignError(f"[drive.match] windows: there is no window {name!r}; {hint}")
        if present[name] <= DARK_CD_M2:
            raise DesignError(f"[drive.match] windows: no light reaches {name!r}; give it an LED or leave it out")
    if not names:
        raise DesignError("[drive.match]: no window is lit")
    return [lights.windows.index(name) for name in names]


def _window(
    number: int, *, task: MatchTask, exact: ExactMatch, bought: BoughtMatch, before: BoardLights, asked_cd_m2: float
) -> WindowMatch:
    name, ratio = task.windows[number], float(task.ratio[number])
    exact_cd_m2, after_cd_m2 = float(exact.luminance_cd_m2[number]), float(bought.luminance_cd_m2[number])
    share, wanted = bought.level_cd_m2 * ratio, asked_cd_m2 * ratio
    return WindowMatch(
        name=name,
        ratio=ratio,
        asked_cd_m2=wanted,
        before_cd_m2=float(before.present_cd_m2()[before.windows.index(name)]),
        exact_cd_m2=exact_cd_m2,
        after_cd_m2=after_cd_m2,
        within_reach=bool(exact.matched.within_reach[number]),
        short_frac=1.0 - exact_cd_m2 / wanted if wanted > 0.0 else 0.0,
        departure_frac=after_cd_m2 / share - 1.0 if share > 0.0 else 0.0,
    )


def _adjusted_values(
    exact: ExactMatch, *, bought: BoughtMatch, solved: SolvedBoard, before: Circuit | None, design: Design, match: Match
) -> tuple[AdjustedValue, ...]:
    """Every value once, by its name."""
    was: dict[str, float] = {}
    if before is not None:
        was = {resistor.name: resistor.ohm for resistor in before.resistors}
        was |= {string.name: string.sink.current_ma for string in before.strings if string.sink is not None}
    was |= {
        ref: group.duty_frac for group in design.circuit for ref in group.wired if ref in bought.settings.brightness
    }
    mean_ma = {led.ref: led.mean_ma for led in solved.leds}
    rows = []
    for variable in exact.variables:
        for name, numbers in variable.named_strings:
            refs = tuple(ref for number in numbers for ref in exact.circuit.strings[number].refs)
            value = exact.settings.value(variable.kind, name)
            rows.append(
                AdjustedValue(
                    name=name,
                    refs=refs,
                    kind=variable.kind,
                    unit=UNITS[variable.kind],
                    before=was.get(name),
                    exact=value,
                    chosen=bought.settings.value(variable.kind, name),
                    pair_ohm=preferred_pair_ohm(value, series=match.series) if variable.kind == "resistor" else None,
                    mean_ma=max(mean_ma[ref] for ref in refs),
                )
            )
    return tuple(rows)


def _reasons(exact: ExactMatch, *, bought: BoughtMatch, asked_cd_m2: float, series: Series) -> tuple[str, ...]:
    """Why the windows do not stand as asked, one sentence each."""
    reasons = []
    level, held = exact.matched.level_cd_m2, exact.matched.held
    short = int(np.sum(~exact.matched.within_reach))
    if short:
        are = "1 window is" if short == 1 else f"{short} windows are"
        reasons.append(f"{are} out of reach of the LEDs' limits or of the supply's voltage.")
    if level < (1.0 - SHORT_FRAC) * asked_cd_m2:
        reasons.append(
            f"The supply can give only {level:.3g} of the {asked_cd_m2:.3g} cd/m2 asked, so every window is dimmed by"
            " the same share."
        )
    uneven = np.abs(exact.matched.shortfall_frac(exact.problem.ratio)[held]).max(initial=0.0)
    if uneven > SHORT_FRAC:
        reasons.append(
            f"No currents make the windows equal: light of one string reaches several, and {100 * uneven:.0f} % remain."
        )
    if bought.agreement_frac > max(AGREEMENT_FRAC, uneven):
        kinds = {variable.kind for variable in exact.variables}
        one = f"One {series} resistor per string leaves" if kinds == {"resistor"} else "Values that can be set leave"
        pairs = "; the pairs in series listed below come within 1 %" if kinds == {"resistor"} else ""
        reasons.append(f"{one} windows up to {100 * bought.agreement_frac:.1f} % off their common level{pairs}.")
    reasons += [
        f"{load.name}: {load.quantity} {load.used:.3g} {load.unit} stays above the limit of {load.limit:.3g}, whatever"
        " is set here."
        for load in bought.exceeded
    ]
    return tuple(reasons)
