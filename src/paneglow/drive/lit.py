"""The drive of a lit board: what each window gets from each LED, what matching makes of it, how long it lasts."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from paneglow.board import Board
from paneglow.catalog import Catalog, part_flux_lm
from paneglow.design import CurrentSource, Design
from paneglow.drive.answer import DriveAnswer, current_source
from paneglow.drive.board_circuit import supply_code
from paneglow.drive.match_answer import DARK_CD_M2, BoardLights, MatchAnswer, match_board
from paneglow.drive.ranges import LifeRange, build_life_range, circuit_corners
from paneglow.drive.records import Circuit, DailyUse, WindowLight
from paneglow.look import window_light_per_lm
from paneglow.scene import Scene
from paneglow.transport import Tally

DARK_LM = 1e-12  # an LED whose light is less than this is off, and nothing can be told of its diffuser


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LitDrive:
    """The drive of a lit board.

    Attributes
    ----------
    currents : CurrentSource
        Where the currents of the wired LEDs come from, in all that is said of the light.
    drive : DriveAnswer or None
        The circuit as lit: as wired, or as matched; None where nothing is wired.
    match : MatchAnswer or None
        The match, whether it is what is lit or only proposed.
    life : LifeRange or None
        How long it lasts, over the ranges of supply and forward voltage; None where nothing is wired.
    window_light : WindowLight or None
        What its windows get, and the goals that the life was followed to.
    goal_stated : tuple of bool
        By window: whether that goal is the design's. It is half of the fresh luminance where none is stated, and for a
        window that misses the stated one when fresh: that is a missed goal, not the end of a life.
    """

    currents: CurrentSource
    drive: DriveAnswer | None
    match: MatchAnswer | None
    life: LifeRange | None
    window_light: WindowLight | None
    goal_stated: tuple[bool, ...]


HALF_LIGHT_FRAC = 0.5  # goal of a window for which none is stated: one stop below fresh; our choice


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


def light_drive(
    design: Design, *, board: Board, catalog: Catalog, drive: DriveAnswer | None, lights: BoardLights
) -> LitDrive:
    """All that the drive of a board is, once its light is known.

    Parameters
    ----------
    design, board, catalog : Design, Board, Catalog
    drive : DriveAnswer or None
        The board as wired.
    lights : BoardLights

    Raises
    ------
    DesignError
        If what [drive.match] asks cannot be.
    """
    currents = current_source(design)
    match = match_board(design, board=board, catalog=catalog, lights=lights)
    lit = match.drive if match is not None and currents == "matching" else drive
    if lit is None:
        return LitDrive(currents=currents, drive=None, match=match, life=None, window_light=None, goal_stated=())
    light, stated = _window_light(design, circuit=lit.circuit, lit=lit, lights=lights)
    cases = circuit_corners(
        lit.circuit,
        parts={led.ref: led.part for led in board.leds},
        supply_code=supply_code(design.supply),
        voltage_v=None if design.supply is None else design.supply.voltage_v,
    )
    return LitDrive(
        currents=currents,
        drive=lit,
        match=match,
        life=build_life_range(
            lit.circuit,
            light=light,
            cases={words: (circuit, light) for words, circuit in cases.items()},
            use=DailyUse(hours_per_day=design.drive.hours_per_day, idle_ma=design.drive.idle_ma),
        ),
        window_light=light,
        goal_stated=stated,
    )


def _window_light(
    design: Design, *, circuit: Circuit, lit: DriveAnswer, lights: BoardLights
) -> tuple[WindowLight, tuple[bool, ...]]:
    """Windows that wired LEDs light, with the least that each must show, and whether the design states it."""
    order = [lights.refs.index(ref) for ref in circuit.refs]
    per_test = lights.per_test_cd_m2[:, order]
    fresh = per_test @ lit.point.light_frac
    beside = lights.present_cd_m2() - per_test @ np.array([lights.present_frac[ref] for ref in circuit.refs])
    asked = design.goals.luminance_min_cd_m2 or 0.0
    stated = np.full(len(fresh), asked > 0.0) & (fresh + beside >= asked)
    goals = np.where(stated, np.maximum(asked - np.maximum(beside, 0.0), 0.0), HALF_LIGHT_FRAC * fresh)
    rows = [row for row, value in enumerate(fresh) if value > DARK_CD_M2]
    test_ma = np.array([led.flux.reference_ma for led in circuit.leds])
    light = WindowLight(
        names=tuple(lights.windows[row] for row in rows),
        luminance_cd_m2_per_ma=per_test[rows] / test_ma,
        goal_cd_m2=goals[rows],
    )
    return light, tuple(bool(stated[row]) for row in rows)
