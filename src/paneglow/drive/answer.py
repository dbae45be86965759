"""The drive of a board, whole: what flows as wired, at the ends of all ranges, and against every limit."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from paneglow.board import Board, PlacedLed
from paneglow.design import CurrentSource, Design
from paneglow.drive.board_circuit import AS_DESIGNED, Settings, build_board_circuit, resistor_limits_mw
from paneglow.drive.flicker import led_modulation_frac
from paneglow.drive.limits import limit_uses
from paneglow.drive.records import Circuit, LimitUse, OperatingPoint
from paneglow.drive.solve import solve_point
from paneglow.scene import Scene

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistorLoad:
    """How warm the resistor of a string, or of a pin, gets."""

    name: str  # Which resistor, by the LEDs or the pin it serves
    power_mw: float  # Heat, averaged over the cycle
    limit_mw: float  # What it may take


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriveAnswer:
    """A wired board on its fresh supply.

    Attributes
    ----------
    settings : Settings
        What differs from the design's own values.
    circuit, point : Circuit, OperatingPoint
        Nominal.
    uses : tuple of LimitUse
        Nominal loads against limits.
    strong_uses : tuple of LimitUse
        The same on the strongest supply, every LED at the low end of its forward voltage: the greatest currents.
    weak_light_frac : ndarray, shape (led,)
        Light on the weakest supply, every LED at the high end of its forward voltage, over the nominal light [1].
    modulation_frac : ndarray, shape (led,)
        Of the light within the cycle [1].
    resistors : tuple of ResistorLoad
    """

    settings: Settings
    circuit: Circuit
    point: OperatingPoint
    uses: tuple[LimitUse, ...]
    strong_uses: tuple[LimitUse, ...]
    weak_light_frac: FloatArray
    modulation_frac: FloatArray
    resistors: tuple[ResistorLoad, ...]  # How warm each resistor gets


def current_source(design: Design) -> CurrentSource:
    """Where the currents of wired LEDs come from; all others have the design's."""
    if design.drive.currents is not None:
        return design.drive.currents
    return "circuit" if design.circuit else "design"


def solve_drive(design: Design, *, board: Board, settings: Settings = AS_DESIGNED) -> DriveAnswer | None:
    """What flows on a board; None where the design wires nothing.

    Raises
    ------
    DesignError
        If the circuit cannot be wired as it is written.
    """
    circuit = build_board_circuit(design, leds=board.leds, settings=settings)
    if circuit is None:
        return None
    point = solve_point(circuit)
    strong = build_board_circuit(design, leds=board.leds, settings=settings, voltage="low", end="high")
    weak = build_board_circuit(design, leds=board.leds, settings=settings, voltage="high", end="low")
    assert strong is not None  # noqa: S101  the same design as above
    assert weak is not None  # noqa: S101
    weak_light = solve_point(weak).light_frac
    return DriveAnswer(
        settings=settings,
        circuit=circuit,
        point=point,
        uses=limit_uses(circuit, point=point),
        strong_uses=limit_uses(strong, point=solve_point(strong)),
        weak_light_frac=np.divide(
            weak_light, point.light_frac, out=np.zeros_like(weak_light), where=point.light_frac > 0.0
        ),
        modulation_frac=led_modulation_frac(circuit, point=point),
        resistors=_resistors(design, circuit=circuit, point=point),
    )


def _resistors(design: Design, *, circuit: Circuit, point: OperatingPoint) -> tuple[ResistorLoad, ...]:
    limits = resistor_limits_mw(design)
    least = min(limits.values())
    strings = (
        ResistorLoad(name="-".join(string.refs), power_mw=float(power), limit_mw=limits.get(string.refs, least))
        for string, power in zip(circuit.strings, point.resistor_power_mw, strict=True)
        if string.resistor_ohm > 0.0
    )
    pins = (
        ResistorLoad(name=pin.name, power_mw=float(power), limit_mw=least)
        for pin, power in zip(circuit.pins, point.pin_resistor_power_mw, strict=True)
        if pin.resistor_ohm > 0.0
    )
    return (*strings, *pins)


def at_test_currents(board: Board, *, design: Design) -> Board:
    """The board with every wired LED at its test current, where one unit of `light_frac` stands for its light."""
    wired = {ref for group in design.circuit for ref in group.wired}
    if current_source(design) == "design":
        return board
    currents = {led.ref: led.part.test_current_ma for led in board.leds if led.ref in wired}
    return _with_currents(board, currents=currents)


def with_point(board: Board, *, point: OperatingPoint) -> Board:
    """The board with the mean currents of an operating point."""
    return _with_currents(board, currents=dict(zip(point.refs, point.mean_current_ma.tolist(), strict=True)))


def relit_scene(scene: Scene, *, board: Board, light_frac: Mapping[str, float]) -> Scene:
    """The scene with other light from its LEDs.

    Parameters
    ----------
    scene, board : Scene, Board
        The scene, and the board at the currents that it was built for.
    light_frac : mapping
        Light by ref, over that at the part's test current [1]; LEDs that are not named stay as they are.
    """
    leds = {led.ref: led for led in board.leds}
    emitters = []
    for emitter in scene.emitters:
        if emitter.ref in light_frac:
            factor = light_frac[emitter.ref] / _light_now(leds[emitter.ref])
            emitter = replace(
                emitter,
                flux_lm=emitter.flux_lm * factor,
                flux_lm_low=emitter.flux_lm_low * factor,
                flux_lm_high=emitter.flux_lm_high * factor,
            )
        emitters.append(emitter)
    return replace(scene, emitters=tuple(emitters))


def light_of(point: OperatingPoint) -> dict[str, float]:
    """Light of every LED by ref, over that at its test current [1]."""
    return dict(zip(point.refs, point.light_frac.tolist(), strict=True))


def _light_now(led: PlacedLed) -> float:
    return led.current_ma / led.part.test_current_ma


def _with_currents(board: Board, *, currents: Mapping[str, float]) -> Board:
    leds = tuple(replace(led, current_ma=currents.get(led.ref, led.current_ma)) for led in board.leds)
    return replace(board, leds=leds)
