"""What drives a board, whole: its circuit, what matching makes of it, how long it lasts; and the board as it is lit."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from pydantic import Field

from paneglow.board import Board
from paneglow.catalog import Catalog, part_flux_lm
from paneglow.design import CurrentSource, Design
from paneglow.drive.circuit import (
    End,
    LedDrive,
    Load,
    OperatingPoint,
    SolvedBoard,
    build_design_supply,
    build_drive_led,
    current_source,
    solve_board,
)
from paneglow.drive.life import DailyUse, SupplyLife, build_supply_life
from paneglow.drive.matching import DARK_CD_M2, BoardLights, BrightnessMatch, match_board
from paneglow.look import window_light_per_lm
from paneglow.scene import Scene
from paneglow.transport import Tally
from paneglow.units import NonNegativeFloat, Origin, PositiveFloat, Record

DARK_LM = 1e-12  # an LED whose light is less than this is off, and says nothing about its diffuser
# Words of each case, the end of the forward voltage, the end of the supply's ranges. All four, since no end is the
# worst in everything: a strong cell gives more light and is empty sooner
CORNERS: tuple[tuple[str, End, End], ...] = (
    ("weak supply, high forward voltage", "high", "low"),
    ("weak supply, low forward voltage", "low", "low"),
    ("strong supply, high forward voltage", "high", "high"),
    ("strong supply, low forward voltage", "low", "high"),
)


class DriveValue(Record):
    """A value of the supply or the chip, and where it comes from."""

    item: str  # Supply or chip
    words: str  # Which value, and where it was read or why it was assumed
    origin: Origin  # Where the number comes from: measured, sourced or assumed


class DriveResults(Record):
    """What drives the LEDs."""

    currents: CurrentSource = Field(description="Where the currents of wired LEDs come from; others: the design.")
    supply: str  # What it runs from
    supply_v: NonNegativeFloat = Field(description="Fresh, under load [V].")
    supply_ma: NonNegativeFloat = Field(description="Drawn on average when fresh [mA].")
    cycle_hz: PositiveFloat | None = Field(description="Of scan or PWM; null where the light is steady [Hz].")
    leds: tuple[LedDrive, ...]  # Every wired LED
    loads: tuple[Load, ...] = Field(description="Of all but LEDs, against their limits.")
    life: SupplyLife | None = Field(description="Null where the circuit is only a proposal.")
    match: BrightnessMatch | None  # The match; null where none is asked
    origins: tuple[DriveValue, ...]  # Where the values of supply and chip come from


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WiredBoard:
    """A board and its solved circuit; `board` holds the currents of the design."""

    design: Design  # The design
    board: Board  # The board
    solved: SolvedBoard | None  # None where nothing is wired

    @property
    def by_circuit(self) -> bool:
        """Whether currents come from a circuit, as wired or as matched."""
        return current_source(self.design) != "design"

    @property
    def used(self) -> SolvedBoard | None:
        """The solved circuit, where currents come from it."""
        return self.solved if self.by_circuit else None

    @property
    def traced_board(self) -> Board:
        """The board with every wired LED at its test current, so that none is dark while light is traced."""
        wired = set() if self.used is None else set(self.used.circuit.refs)
        return _with_currents(
            self.board, {led.ref: led.part.test_current_ma for led in self.board.leds if led.ref in wired}
        )

    @property
    def light_frac(self) -> dict[str, float]:
        """Light of every wired LED by ref, over that at its test current."""
        return {} if self.used is None else self.used.point.light_by_ref

    @property
    def present_board(self) -> Board:
        """The board at the currents that flow as it is wired."""
        return self.board if self.used is None else _at_point(self.board, point=self.used.point)

    def present_scene(self, scene: Scene) -> Scene:
        """The scene of the traced board with the light of the present one."""
        return relit_scene(scene, board=self.traced_board, light_frac=self.light_frac)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoardState:
    """A board and its scene at the same currents."""

    board: Board  # The board
    scene: Scene  # Geometry and coefficients that were traced


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrivenBoard:
    """A lit board and what drives it.

    Attributes
    ----------
    results : DriveResults or None
        None where the design neither wires nor matches anything.
    solved : SolvedBoard or None
        The circuit as lit, where currents come from one: as wired, or as matched.
    shown : BoardState
        What is judged.
    other : BoardState or None
        Before or after matching, to compare it with.
    """

    results: DriveResults | None
    solved: SolvedBoard | None
    shown: BoardState
    other: BoardState | None


def wire_up(design: Design, *, board: Board) -> WiredBoard:
    """A board with its circuit solved.

    Parameters
    ----------
    design, board : Design, Board

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written.
    """
    return WiredBoard(design=design, board=board, solved=solve_board(design, board=board))


def drive_board(wired: WiredBoard, *, scene: Scene, tally: Tally, catalog: Catalog) -> DrivenBoard:
    """What drives a board and how it is lit by it, once its light is traced.

    Parameters
    ----------
    wired : WiredBoard
    scene, tally : Scene, Tally
        Of its traced board.
    catalog : Catalog

    Raises
    ------
    DesignError
        If what [drive.match] asks cannot be.
    RangeError
        If what a match cannot set already takes more than the supply has.
    """
    design, currents = wired.design, current_source(wired.design)
    lights = build_lights(wired.traced_board, scene=scene, tally=tally, light_frac=wired.light_frac)
    before = BoardState(board=wired.present_board, scene=wired.present_scene(scene))
    matched = match_board(design, board=wired.present_board, catalog=catalog, lights=lights)
    match, solved = (None, None) if matched is None else matched
    lit = solved if currents == "matching" else wired.solved
    reported = lit or solved  # where currents stay the design's own, a match without circuits is all there is
    life = None if lit is None else _lit_life(design, board=wired.board, lit=lit, lights=lights)
    results = None if reported is None else _results(design, solved=reported, life=life, match=match)
    if solved is None:
        return DrivenBoard(results=results, solved=wired.used, shown=before, other=None)
    after = BoardState(
        board=_at_point(wired.board, point=solved.point),
        scene=relit_scene(scene, board=wired.traced_board, light_frac=solved.point.light_by_ref),
    )
    shown, other = (after, before) if currents == "matching" else (before, after)
    return DrivenBoard(results=results, solved=lit if wired.by_circuit else None, shown=shown, other=other)


def drive_unlit(wired: WiredBoard) -> DriveResults | None:
    """What drives a board before its light is traced: currents, loads, and a life to half of the fresh light.

    Parameters
    ----------
    wired : WiredBoard

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written.
    """
    solved = wired.solved
    if solved is None:
        return None
    leds = {led.ref: led for led in wired.board.leds}
    home = {ref: leds[ref].window or ref for ref in solved.circuit.refs}
    names = tuple(dict.fromkeys(home.values()))
    flux_lm = np.array([part_flux_lm(leds[ref].part).value for ref in solved.circuit.refs])
    own = np.array([[home[ref] == name for ref in solved.circuit.refs] for name in names])
    life = _life(
        wired.design, board=wired.board, solved=solved, names=names, luminance_cd_m2=own * flux_lm,
        beside_cd_m2=np.zeros(len(names)), asked_cd_m2=None,
    )  # fmt: skip
    return _results(wired.design, solved=solved, life=life, match=None)


def _results(
    design: Design, *, solved: SolvedBoard, life: SupplyLife | None, match: BrightnessMatch | None
) -> DriveResults:
    circuit = solved.circuit
    items = [(circuit.supply.name, circuit.supply.origins)]
    items += [] if circuit.chip is None else [(circuit.chip.name, circuit.chip.origins)]
    return DriveResults(
        currents=current_source(design),
        supply=circuit.supply.name,
        supply_v=float(solved.point.supply_v.min()),
        supply_ma=solved.point.mean_supply_ma,
        cycle_hz=circuit.cycle_hz,
        leds=solved.leds,
        loads=tuple(load for load in solved.loads if load.kind != "led"),
        life=life,
        match=match,
        origins=tuple(
            DriveValue(item=item, words=words, origin=origin) for item, origins in items for words, origin in origins
        ),
    )


def _lit_life(design: Design, *, board: Board, lit: SolvedBoard, lights: BoardLights) -> SupplyLife:
    """The life over the windows that wired LEDs light."""
    refs = lit.circuit.refs
    per_test = lights.per_test_cd_m2[:, [lights.refs.index(ref) for ref in refs]]
    fresh = per_test @ lit.point.light_frac
    beside = lights.present_cd_m2() - per_test @ np.array([lights.present_frac[ref] for ref in refs])
    rows = np.flatnonzero(fresh > DARK_CD_M2).tolist()
    return _life(
        design, board=board, solved=lit, names=tuple(lights.windows[row] for row in rows),
        luminance_cd_m2=per_test[rows], beside_cd_m2=beside[rows], asked_cd_m2=design.goals.luminance_min_cd_m2,
    )  # fmt: skip


def _life(
    design: Design,
    *,
    board: Board,
    solved: SolvedBoard,
    names: tuple[str, ...],
    luminance_cd_m2: npt.NDArray[np.float64],
    beside_cd_m2: npt.NDArray[np.float64],
    asked_cd_m2: float | None,
) -> SupplyLife:
    parts, supply = {led.ref: led.part for led in board.leds}, design.supply
    assert supply is not None  # noqa: S101  a circuit was solved on it
    return build_supply_life(
        solved.circuit,
        names=names,
        luminance_cd_m2=luminance_cd_m2,
        beside_cd_m2=beside_cd_m2,
        asked_cd_m2=asked_cd_m2,
        cases={
            words: replace(
                solved.circuit,
                supply=build_design_supply(supply, end=end),
                leds=tuple(build_drive_led(ref, parts[ref], voltage=voltage) for ref in solved.circuit.refs),
            )
            for words, voltage, end in CORNERS
        },
        use=DailyUse(hours_per_day=design.drive.hours_per_day, idle_ma=design.drive.idle_ma),
    )


def build_lights(
    board: Board, *, scene: Scene, tally: Tally, light_frac: Mapping[str, float] | None = None
) -> BoardLights:
    """Light of every LED in every window, from the traced light.

    Parameters
    ----------
    board, scene : Board, Scene
        The board at the currents that the scene was built for.
    tally : Tally
        Light per lumen, traced on that scene.
    light_frac : mapping, optional
        Present light by ref, over that at the test current; in proportion to the current where absent.
    """
    windows, per_lm = window_light_per_lm(board, tally=tally)
    leds = {led.ref: led for led in board.leds}
    now = {ref: led.current_ma / led.part.test_current_ma for ref, led in leds.items()}
    flux_lm = {emitter.ref: emitter.flux_lm for emitter in scene.emitters}
    passed = {
        ref: flux_lm[ref] / (now[ref] * part_flux_lm(led.part).value) if flux_lm[ref] > DARK_LM else 1.0
        for ref, led in leds.items()
    }
    refs = tuple(led.ref for led in tally.leds)
    at_test_lm = np.array([part_flux_lm(leds[ref].part).value * passed[ref] for ref in refs])
    return BoardLights(
        windows=windows,
        refs=refs,
        per_test_cd_m2=per_lm * at_test_lm,
        present_frac={**now, **(light_frac or {})},
        passed_frac=passed,
    )


def relit_scene(scene: Scene, *, board: Board, light_frac: Mapping[str, float]) -> Scene:
    """The scene with other light from its LEDs.

    Parameters
    ----------
    scene, board : Scene, Board
        The scene, and the board at the currents that it was built for.
    light_frac : mapping
        Light by ref, over that at the part's test current [1]; LEDs that are not named stay as they are.
    """
    now = {led.ref: led.current_ma / led.part.test_current_ma for led in board.leds}
    emitters = []
    for emitter in scene.emitters:
        factor = light_frac[emitter.ref] / now[emitter.ref] if emitter.ref in light_frac else 1.0
        emitters.append(
            replace(
                emitter,
                flux_lm=emitter.flux_lm * factor,
                flux_lm_low=emitter.flux_lm_low * factor,
                flux_lm_high=emitter.flux_lm_high * factor,
            )
        )
    return replace(scene, emitters=tuple(emitters))


def _at_point(board: Board, *, point: OperatingPoint) -> Board:
    return _with_currents(board, dict(zip(point.refs, point.mean_current_ma.tolist(), strict=True)))


def _with_currents(board: Board, currents_ma: Mapping[str, float]) -> Board:
    leds = tuple(replace(led, current_ma=currents_ma.get(led.ref, led.current_ma)) for led in board.leds)
    return replace(board, leds=leds)
