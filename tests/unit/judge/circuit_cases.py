"""A clean wired board that no circuit rule complains about, and the one change that makes each rule speak.

The two LEDs of the clean little board, on 5 V through a kilohm each. What is asserted follows from what is solved, so
the cases only push a value far past its limit.
"""

from collections.abc import Callable
from dataclasses import replace

from boards_under_drive import parts
from paneglow.board import PlacedLed
from paneglow.design import ChipDesign, CircuitGroup, Design, DriveDesign, Supply
from paneglow.drive import solve_board
from paneglow.judge.findings import CircuitContext
from unit.judge import cases

AMBER = replace(cases.SIDE_LED, part=parts()["sv-1204-amber"])
RED = replace(cases.FLAT_LED, part=parts()["tv-1206-red"])
BLUE = replace(cases.FLAT_LED, part=parts()["tv-1206-blue"])
CHIP = ChipDesign(kind="cmos-8bit")


def rail(*ohms: float, **changes: object) -> CircuitGroup:
    return CircuitGroup(driver="rail", strings=(("D1",), ("D2",)), resistor_ohm=ohms or (1000.0,), **changes)


def wired(*groups: CircuitGroup, supply: Supply | None = None, **changes: object) -> Design:
    power = supply or Supply(kind="regulated", voltage_v=5.0)
    return cases.design(circuit=groups or (rail(),), supply=power, **changes)


def solved(wanted: Design | None = None, *, leds: tuple[PlacedLed, ...] = (AMBER, RED)) -> CircuitContext:
    design, board = wanted or wired(), cases.board(*leds)
    drive = solve_board(design, board=board)
    assert drive is not None
    return CircuitContext(design=design, board=board, drive=drive)


def _reversed() -> CircuitContext:
    # Row 2 stands low while its column stands high: 12 V in reverse across D2
    grid = CircuitGroup(
        driver="matrix", rows=("R1", "R2"), columns=("C1", "C2"), grid=(("D1", ""), ("", "D2")), resistor_ohm=(2200.0,),
        cycle_hz=5000.0,
    )  # fmt: skip
    return solved(wired(grid, supply=Supply(kind="regulated", voltage_v=12.0), chip=CHIP))


def _ghosting() -> CircuitContext:
    # The white one at the upper end of its range holds 4 V, enough for the way round over two red ones
    high = parts()["tv-1206-white"].model_copy(update={"forward_voltage_v": cases.quantity(4.0)})
    white = replace(cases.FLAT_LED, part=high, ref="D1")
    reds = tuple(replace(RED, ref=f"D{number}", at_mm=(29.0, 11.0 + number)) for number in range(2, 7))
    ring = CircuitGroup(
        driver="charlieplex", pins=("P1", "P2", "P3"), refs=("D1", "D2", "D3", "D4", "D5", "D6"), scan="led",
        resistor_ohm=(22.0,), cycle_hz=5000.0,
    )  # fmt: skip
    return solved(wired(ring, supply=Supply(kind="regulated", voltage_v=6.0), chip=CHIP), leds=(white, *reds))


def _on_pins(*ohms: float, **changes: object) -> CircuitGroup:
    return CircuitGroup(
        driver="pin", pins=("P1", "P2"), strings=(("D1",), ("D2",)), resistor_ohm=ohms or (1000.0,), **changes
    )


def _by_data(*, supply_v: float, level_v: float | None) -> CircuitContext:
    part = parts()["data-5050-1wire"]
    dice = tuple(
        replace(cases.FLAT_LED, ref=f"D1.{die.name}", body_ref="D1", part=part.of_die(die)) for die in part.dice
    )
    chain = CircuitGroup(driver="data", strings=(("D1",),), level_v=level_v)
    return solved(wired(chain, supply=Supply(kind="regulated", voltage_v=supply_v)), leds=dice)


CIRCUIT_CASES: dict[str, Callable[[], CircuitContext]] = {
    "logic-supply-outside": lambda: _by_data(supply_v=3.0, level_v=3.3),  # it needs 3.7 V
    "logic-level-low": lambda: _by_data(supply_v=5.0, level_v=2.5),  # half the supply; 0.6 at least is needed
    "led-limit-passed": lambda: solved(wired(rail(1000.0, 82.0, resistor_max_mw=500.0))),
    "reverse-voltage-too-high": _reversed,
    "pin-limit-passed": lambda: solved(
        wired(_on_pins(1000.0, 60.0), chip=ChipDesign(kind="cmos-8bit", pin_max_ma=15.0))
    ),
    "supply-limit-passed": lambda: solved(wired(rail(150.0, 150.0), supply=Supply(kind="coin-cell"))),
    "led-starved": lambda: solved(wired(rail(1000.0, 220.0), supply=Supply(kind="coin-cell")), leds=(AMBER, BLUE)),
    "chip-starved": lambda: solved(wired(_on_pins(), chip=ChipDesign(kind="cmos-8bit", voltage_least_v=5.5))),
    "ghost-light": _ghosting,
    "resistor-too-warm": lambda: solved(wired(rail(1000.0, 1000.0, resistor_max_mw=5.0))),
    "leds-share-resistor": lambda: solved(wired(rail(1000.0, resistors=("R1",)))),
    "junction-too-warm": lambda: solved(wired(drive=DriveDesign(ambient_c=90.0))),
    "light-flickers": lambda: solved(wired(rail(duty_frac=0.5, cycle_hz=200.0))),
}
