"""The answer to "make these windows equally bright": values to buy, what they give, what stays short, and why."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.board import Board
from paneglow.catalog import Catalog
from paneglow.design import CircuitGroup, Design, Match, nearest
from paneglow.drive.answer import DriveAnswer, solve_drive
from paneglow.drive.board_circuit import build_board_circuit, scanned_refs, wire_board
from paneglow.drive.knobs import KnobKind
from paneglow.drive.match_board import ExactMatch, MatchTask, match_exactly
from paneglow.drive.match_rounding import BoughtMatch, match_bought
from paneglow.drive.records import Circuit
from paneglow.drive.remedies import Change, Workbench, changes_for
from paneglow.drive.series import preferred_pair_ohm
from paneglow.errors import DesignError

FloatArray = npt.NDArray[np.float64]

AGREEMENT_FRAC = 0.05  # matched windows agree within this; about five steps of the eye side by side (docs/sources.md)
SHORT_FRAC = 0.02  # of the luminance asked; less than this is rounding, not a window out of reach
DARK_CD_M2 = 1e-6  # absolute threshold of vision, from memory: less than this is no light
FIRST_RESISTOR_OHM = 1000.0  # where the search starts for LEDs that no circuit drives yet


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """One value that the match sets: a resistor, the current of a sink, or the brightness of an LED in a scan."""

    refs: tuple[str, ...]  # LEDs of the string
    kind: KnobKind  # What is set
    before: float | None  # Value before, in the unit of its kind; null where there was none
    exact: float  # Value that matches exactly
    chosen: float  # Value to buy or set
    pair_ohm: tuple[float, float] | None  # Two preferred resistors in series that come nearer to the exact value


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedWindow:
    """One window of the match."""

    name: str  # Name of the window
    ratio: float  # Luminance over the common level that is asked of it
    asked_cd_m2: float  # Luminance asked
    before_cd_m2: float  # Luminance before
    exact_cd_m2: float  # Luminance with resistors of any value
    after_cd_m2: float  # Luminance with what can be bought
    within_reach: bool  # Whether the limits of its own LEDs and the supply let it reach what is asked
    departure_frac: float  # from the common level times its ratio, after rounding
    changes: tuple[Change, ...]  # Changes that would bring it nearer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchAnswer:
    """The match of a board.

    Attributes
    ----------
    asked_cd_m2, level_cd_m2, bought_level_cd_m2 : float
        Level asked; the one that the limits allow; the one that the rounded values come nearest to.
    agreement_frac : float
        Greatest departure of a window within reach from its share of `bought_level_cd_m2` [1].
    reasons : tuple of str
        Why windows do not agree, or stand lower than asked; empty where they do as asked.
    windows, turned
        Each window and each value.
    drive : DriveAnswer
        The board as matched.
    """

    asked_cd_m2: float
    level_cd_m2: float
    bought_level_cd_m2: float
    agreement_frac: float
    reasons: tuple[str, ...]
    windows: tuple[MatchedWindow, ...]  # The windows
    turned: tuple[Turned, ...]  # Every value that the match sets
    drive: DriveAnswer


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


def match_board(design: Design, *, board: Board, catalog: Catalog, lights: BoardLights) -> MatchAnswer | None:
    """Match the windows that [drive.match] names; None where it names nothing.

    Raises
    ------
    DesignError
        If a window is not there or dark, or there is no supply.
    """
    match = design.drive.match
    if match is None:
        return None
    wired = wired_design(design, board=board)
    task = _task(wired, board=board, lights=lights, match=match)
    asked = task.level_cd_m2 or 0.0
    exact = match_exactly(task)
    bought = match_bought(task, exact=exact)
    drive = solve_drive(wired, board=board, settings=bought.settings)
    before = build_board_circuit(design, leds=board.leds)
    if drive is None:
        raise DesignError("[drive.match]: no LED is wired; add a [[circuit]]")
    bench = Workbench(
        design=wired, leds=board.leds, catalog=catalog, task=task, exact=exact, passed_frac=lights.passed_frac
    )
    return MatchAnswer(
        asked_cd_m2=asked,
        level_cd_m2=exact.matched.level_cd_m2,
        bought_level_cd_m2=bought.level_cd_m2,
        agreement_frac=bought.agreement_frac,
        reasons=_reasons(exact, bought=bought, asked_cd_m2=asked),
        windows=tuple(
            _window(number, bench=bench, bought=bought, before=lights, asked_cd_m2=asked)
            for number in range(len(task.windows))
        ),
        turned=_turned(exact, bought=bought, before=before, match=match),
        drive=drive,
    )


def wired_design(design: Design, *, board: Board) -> Design:
    """The design, with every LED that no circuit drives on a resistor of its own from the rail.

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
    circuit = build_board_circuit(design, leds=board.leds)
    refs = () if circuit is None else circuit.refs
    columns = [lights.refs.index(ref) for ref in refs]
    beside = np.array([0.0 if ref in refs else lights.present_frac[ref] for ref in lights.refs])
    ratio = np.array(match.ratios or (1.0,) * len(rows))
    present = lights.present_cd_m2()[rows] / ratio
    level = float(np.exp(np.log(present).mean())) if match.luminance_cd_m2 is None else match.luminance_cd_m2
    return MatchTask(
        wire=wire_board(design, leds=board.leds),
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
    number: int, *, bench: Workbench, bought: BoughtMatch, before: BoardLights, asked_cd_m2: float
) -> MatchedWindow:
    task, exact = bench.task, bench.exact
    name, ratio = task.windows[number], float(task.ratio[number])
    after, wanted = float(bought.luminance_cd_m2[number]), asked_cd_m2 * ratio
    share = bought.level_cd_m2 * ratio
    off = abs(float(exact.luminance_cd_m2[number]) / wanted - 1.0)
    return MatchedWindow(
        name=name,
        ratio=ratio,
        asked_cd_m2=wanted,
        before_cd_m2=float(before.present_cd_m2()[before.windows.index(name)]),
        exact_cd_m2=float(exact.luminance_cd_m2[number]),
        after_cd_m2=after,
        within_reach=bool(exact.matched.within_reach[number]),
        departure_frac=after / share - 1.0 if share > 0.0 else 0.0,
        changes=changes_for(bench, window=number, asked_cd_m2=wanted) if off > SHORT_FRAC else (),
    )


def _turned(exact: ExactMatch, *, bought: BoughtMatch, before: Circuit | None, match: Match) -> tuple[Turned, ...]:
    was = {} if before is None else {string.refs: string for string in before.strings}
    rows = []
    for knob in exact.knobs:
        for number in knob.strings:
            refs = exact.circuit.strings[number].refs
            old = was.get(refs)
            if knob.kind == "resistor":
                ohm = exact.settings.resistor_ohm[refs]
                rows.append(
                    Turned(
                        refs=refs,
                        kind=knob.kind,
                        before=None if old is None else old.resistor_ohm,
                        exact=ohm,
                        chosen=bought.settings.resistor_ohm[refs],
                        pair_ohm=preferred_pair_ohm(ohm, series=match.series),
                    )
                )
                continue
            chosen = bought.settings.sink_ma[refs] if knob.kind == "sink" else bought.settings.brightness[refs[0]]
            wanted = exact.settings.sink_ma[refs] if knob.kind == "sink" else exact.settings.brightness[refs[0]]
            set_ma = None if old is None or old.sink is None else old.sink.current_ma
            rows.append(Turned(refs=refs, kind=knob.kind, before=set_ma, exact=wanted, chosen=chosen, pair_ohm=None))
    return tuple(rows)


def _reasons(exact: ExactMatch, *, bought: BoughtMatch, asked_cd_m2: float) -> tuple[str, ...]:
    """Why the windows do not stand as asked, one sentence each."""
    reasons = []
    level, windows = exact.matched.level_cd_m2, len(exact.problem.ratio)
    short = int(windows - exact.matched.within_reach.sum())
    if short:
        are = "1 window is" if short == 1 else f"{short} windows are"
        reasons.append(f"{are} out of reach of the LEDs' limits or of the supply's voltage.")
    if level < (1.0 - SHORT_FRAC) * asked_cd_m2:
        reasons.append(
            f"The supply bears {level:.3g} of the {asked_cd_m2:.3g} cd/m2 asked: all windows were lowered alike."
        )
    within = exact.matched.within_reach
    uneven = np.abs(exact.matched.shortfall_frac(exact.problem.ratio)[within]).max(initial=0.0)
    if uneven > SHORT_FRAC:
        reasons.append(
            f"No currents make the windows equal: light of one string reaches several, {100 * uneven:.0f} % remain."
        )
    if bought.agreement_frac > max(AGREEMENT_FRAC, uneven):
        reasons.append(
            f"Single resistors of the series leave {100 * bought.agreement_frac:.1f} %: two in series, as listed, come"
            " within 1 % of the exact value."
        )
    reasons += [
        f"{use.name}: {use.quantity} {use.used:.3g} {use.unit} stays above the limit of {use.limit:.3g} whatever is set"
        " here."
        for use in bought.exceeded
    ]
    return tuple(reasons)
