"""Seeded boards to match: one window per LED or two, random colours, light and bleed, any wiring on any supply."""

from dataclasses import dataclass, replace

import numpy as np

from boards_under_drive import parts
from paneglow.design import ChipDesign, CircuitGroup, Design, DriveDesign, Match, Supply
from paneglow.drive.circuit import scanned_refs, wire_board
from paneglow.drive.matching import MatchTask
from unit.judge import cases

COLOURS = ("red", "orange", "amber", "yellow", "green", "blue", "white")
LOW_COLOURS = COLOURS[:4]  # what a 3 V supply drives with room to spare
SUPPLIES = {
    "coin-2032": (Supply(kind="coin-cell"), LOW_COLOURS),
    "alkaline-aa-pair": (Supply(kind="battery"), LOW_COLOURS),
    "li-ion": (Supply(kind="battery", cell="li-ion"), COLOURS),
    "usb": (Supply(kind="usb"), COLOURS),
}
BLEED_MOST = 0.03  # of a window's own light, from each other LED


def _resistors(refs, ohm):
    return CircuitGroup(driver="rail", strings=tuple((ref,) for ref in refs), resistor_ohm=(ohm,))


def _dimmed(refs, ohm):
    strings = tuple((ref,) for ref in refs)
    return CircuitGroup(driver="rail", strings=strings, resistor_ohm=(ohm,), duty_frac=0.4, cycle_hz=2000.0)


def _sinks(refs, ohm):
    return CircuitGroup(driver="sink", strings=tuple((ref,) for ref in refs), current_ma=1e3 / ohm)


def _pins(refs, ohm):
    names = tuple(f"P{number}" for number in range(len(refs)))
    return CircuitGroup(driver="pin", pins=names, strings=tuple((ref,) for ref in refs), resistor_ohm=(ohm,))


def _matrix(refs, ohm):
    rows = tuple(f"R{number}" for number in range((len(refs) + 1) // 2))
    padded = (*refs, "")[: 2 * len(rows)]
    grid = tuple((padded[2 * row], padded[2 * row + 1]) for row in range(len(rows)))
    return CircuitGroup(
        driver="matrix", rows=rows, columns=("C0", "C1"), grid=grid, resistor_ohm=(ohm,), cycle_hz=2000.0
    )


def _charlieplex(refs, ohm):
    return CircuitGroup(
        driver="charlieplex", pins=("P1", "P2", "P3"), refs=tuple(refs), resistor_ohm=(ohm,), cycle_hz=2000.0
    )


WIRINGS = {
    "resistors": _resistors,
    "dimmed": _dimmed,
    "sinks": _sinks,
    "pins": _pins,
    "matrix": _matrix,
    "charlieplex": _charlieplex,
}


@dataclass(frozen=True)
class MatchCase:
    design: Design
    leds: tuple
    light: np.ndarray  # [window, led] at the test current, cd/m2
    names: tuple[str, ...]

    def task(self, *, luminance_cd_m2, ratio=None):
        return MatchTask(
            wire=wire_board(self.design, leds=self.leds),
            windows=self.names,
            light=self.light,
            beside_cd_m2=np.zeros(len(self.names)),
            ratio=np.ones(len(self.names)) if ratio is None else np.asarray(ratio),
            level_cd_m2=luminance_cd_m2,
            window_of={led.ref: led.window for led in self.leds},
            scanned=scanned_refs(self.design),
        )


def match_case(seed, *, wiring, supply, windows=5, ohm=680.0, chip=None):
    """A board of so many windows with one LED each."""
    random = np.random.default_rng(seed)
    power, colours = SUPPLIES[supply]
    refs = [f"D{number}" for number in range(1, windows + 1)]
    names = tuple(f"w{number}" for number in range(1, windows + 1))
    leds = tuple(
        replace(cases.FLAT_LED, ref=ref, window=name, part=parts()[f"tv-1206-{random.choice(colours)}"], current_ma=1.0)
        for ref, name in zip(refs, names, strict=True)
    )
    own = 10.0 ** random.uniform(1.3, 2.3, size=windows)
    bleed = BLEED_MOST * random.uniform(0.0, 1.0, (windows, windows)) * own[:, np.newaxis]
    light = np.where(np.eye(windows) > 0, own, bleed)
    design = cases.design(
        circuit=(WIRINGS[wiring](refs, ohm),),
        supply=power,
        chip=(chip or ChipDesign(kind="cmos-8bit")) if wiring in ("pins", "matrix", "charlieplex") else None,
        drive=DriveDesign(currents="matching", match=Match(windows=names)),
    )
    return MatchCase(design=design, leds=leds, light=light, names=names)
