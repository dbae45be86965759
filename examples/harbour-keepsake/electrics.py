"""The back: which LED stands where, on what lands, how it is fed, and the walls of plated holes between windows."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from geometry import Point, rounded
from windows import (
    BEAM_END,
    BEAM_START,
    BUOY_LAMP,
    HANGING_HOLE,
    HANGING_HOLE_MM,
    HOUSE_WINDOWS,
    LANTERN,
    MAST_LIGHT,
    MOON,
    MOON_RADIUS_MM,
    PORT,
    STARBOARD,
    WAVE_BLUE,
    wave_long_middle,
)

from paneglow.fab import Aperture, Hole, RectangleAperture, RoundAperture

Net = Literal["ground", "supply", "cell", "anode"]
# Designators stand where no land, window or wall is: offsets from the LED
LABELS: dict[str, Point] = {
    "D1": (-4.4, -0.5),
    "D2": (0.75, -4.6),
    "D3": (0.75, -4.6),
    "D4": (0.75, -4.6),
    "D5": (0.0, 0.8),
    "D6": (-1.2, -3.6),
    "D7": (3.0, -2.4),
    "D8": (0.0, -2.9),
    "D9": (0.0, -2.9),
    "D10": (0.0, -2.9),
    "D11": (0.0, 1.6),
    "D12": (-3.1, -0.5),
    "D13": (3.1, -0.5),
    "D14": (2.9, 2.2),
    "D15": (2.6, -2.5),
    "D16": (2.6, 2.0),
}
VIA_HOLE_MM, VIA_PAD_MM = 0.3, 0.6
FIDUCIALS: tuple[Point, ...] = ((5.6, 6.4), (54.4, 6.4), (5.0, 47.0))
CELL: Point = (28.6, 21.5)
CELL_MM = 20.0  # diameter of the cell, IEC 60086-2 size 2032 (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """One land on the back; every anode is a net of its own."""

    at_mm: Point
    aperture: Aperture
    net: Net


@dataclass(frozen=True, slots=True, kw_only=True)
class Led:
    """One LED, its place seen from the front, and its series resistor."""

    ref: str
    part: str
    mounting: str
    window: str
    at_mm: Point
    rotation_deg: float
    resistor_mm: Point
    resistor_deg: float

    @property
    def label_mm(self) -> Point:
        """Where the middle of the designator's baseline stands on the back."""
        return self.at_mm[0] + LABELS[self.ref][0], self.at_mm[1] + LABELS[self.ref][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Land:
    """Pads of one kind of part about its centre at zero rotation: cathode, then anode."""

    cathode_mm: Point
    anode_mm: Point
    along_mm: float
    across_mm: float


# Our own lands after the body sizes of the trade facts; an anode lies at +x (side view: at +y, light goes to +x)
LANDS = {
    "tv-1206": Land(cathode_mm=(-1.85, 0.0), anode_mm=(1.85, 0.0), along_mm=1.3, across_mm=1.7),
    "rv-1206": Land(cathode_mm=(-1.8, 0.0), anode_mm=(1.8, 0.0), along_mm=1.0, across_mm=1.6),
    "sv-1204": Land(cathode_mm=(0.0, -1.75), anode_mm=(0.0, 1.75), along_mm=1.1, across_mm=1.2),
}
RESISTOR = Land(cathode_mm=(-0.8, 0.0), anode_mm=(0.8, 0.0), along_mm=0.8, across_mm=0.9)


def turned(offset: Point, *, about: Point, deg: float) -> Point:
    """Point at an offset that turns with a part."""
    cos, sin = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return rounded((about[0] + offset[0] * cos - offset[1] * sin, about[1] + offset[0] * sin + offset[1] * cos))


def _beam_leds() -> Iterator[Led]:
    length = math.dist(BEAM_START, BEAM_END)
    deg = round(math.degrees(math.atan2(BEAM_END[1] - BEAM_START[1], BEAM_END[0] - BEAM_START[0])), 1)
    for i, along in enumerate((1.2, 3.7, 6.2)):
        share = along / length
        at = rounded(
            (
                BEAM_START[0] + (BEAM_END[0] - BEAM_START[0]) * share,
                BEAM_START[1] + (BEAM_END[1] - BEAM_START[1]) * share,
            )
        )
        yield Led(
            ref=f"D{2 + i}",
            part="tv-1206-amber",
            mounting="lens_down",
            window="beam",
            at_mm=at,
            rotation_deg=deg + 90,
            resistor_mm=turned((4.4, 0.0), about=at, deg=deg + 90),
            resistor_deg=deg + 90,
        )


def _moon_leds() -> Iterator[Led]:
    reach = MOON_RADIUS_MM + 0.55  # the lens of a 1.0 mm deep body then ends at the rim
    for i, bearing in enumerate((90, 210, 330)):
        at = turned((reach, 0.0), about=MOON, deg=bearing)
        deg = (bearing + 180) % 360
        yield Led(
            ref=f"D{5 + i}",
            part="sv-1204-amber",
            mounting="side_view",
            window="moon",
            at_mm=at,
            rotation_deg=deg,
            resistor_mm=turned((0.0, 3.95), about=at, deg=deg),
            resistor_deg=(deg + 90) % 360,
        )


def _upright(
    ref: str, part: str, window: str, at: Point, *, resistor: Point, deg: float = 0.0, up: float = 90.0
) -> Led:
    return Led(
        ref=ref,
        part=part,
        mounting="lens_down",
        window=window,
        at_mm=at,
        rotation_deg=deg,
        resistor_mm=rounded((at[0] + resistor[0], at[1] + resistor[1])),
        resistor_deg=up,
    )


def build_leds() -> tuple[Led, ...]:
    """Every LED of the board."""
    left, tall, right = (HOUSE_WINDOWS[name] for name in ("house-left", "house-tall", "house-right"))
    wave_start = wave_long_middle(0.0)
    return (
        Led(
            ref="D1",
            part="rv-1206-amber",
            mounting="reverse",
            window="lantern",
            at_mm=LANTERN,
            rotation_deg=0.0,
            resistor_mm=(15.0, 53.6),
            resistor_deg=270.0,
        ),
        *_beam_leds(),
        *_moon_leds(),
        _upright("D8", "tv-1206-orange", "house-left", left, resistor=(1.3, 3.0)),
        _upright("D9", "tv-1206-amber", "house-tall", tall, resistor=(1.85, 3.0)),
        _upright("D10", "tv-1206-orange", "house-right", right, resistor=(1.85, 3.0)),
        _upright("D11", "tv-1206-amber", "mast-light", MAST_LIGHT, resistor=(4.4, 0.0), up=0.0),
        _upright("D12", "tv-1206-red", "port", PORT, resistor=(0.0, 4.6), deg=90.0),
        _upright("D13", "tv-1206-green", "starboard", STARBOARD, resistor=(0.0, 4.6), deg=90.0),
        Led(
            ref="D14",
            part="rv-1206-red",
            mounting="reverse",
            window="buoy",
            at_mm=BUOY_LAMP,
            rotation_deg=180.0,
            resistor_mm=rounded((BUOY_LAMP[0] - 1.8, BUOY_LAMP[1] + 3.0)),
            resistor_deg=90.0,
        ),
        # One LED for the whole long wave: its far end stays dark, on purpose
        Led(
            ref="D15",
            part="sv-1204-green",
            mounting="side_view",
            window="wave-long",
            at_mm=rounded((wave_start[0] - 0.7, wave_start[1])),
            rotation_deg=0.0,
            resistor_mm=(4.4, rounded((0.0, wave_start[1] + 1.75))[1]),
            resistor_deg=180.0,
        ),
        # A blue LED wants more than a tired coin cell gives, on purpose
        _upright("D16", "tv-1206-blue", "wave-blue", WAVE_BLUE, resistor=(0.0, -4.9), deg=270.0, up=270.0),
    )


def _land_of(led: Led) -> Land:
    return next(land for kind, land in LANDS.items() if led.part.startswith(kind))


def _pad(land: Land, offset: Point, *, at: Point, deg: float, net: Net) -> Pad:
    aperture = RectangleAperture(
        width_mm=land.along_mm, height_mm=land.across_mm, rotation_rad=math.radians(round(deg % 180, 1))
    )
    return Pad(at_mm=turned(offset, about=at, deg=deg), aperture=aperture, net=net)


def led_pads(led: Led) -> tuple[Pad, ...]:
    """Cathode and anode of the LED, then its resistor's pad at the anode and the one at the supply."""
    land = _land_of(led)
    return (
        _pad(land, land.cathode_mm, at=led.at_mm, deg=led.rotation_deg, net="ground"),
        _pad(land, land.anode_mm, at=led.at_mm, deg=led.rotation_deg, net="anode"),
        _pad(RESISTOR, RESISTOR.cathode_mm, at=led.resistor_mm, deg=led.resistor_deg, net="anode"),
        _pad(RESISTOR, RESISTOR.anode_mm, at=led.resistor_mm, deg=led.resistor_deg, net="supply"),
    )


def supply_pads() -> tuple[Pad, ...]:
    """Holder of the cell (its clip is one piece of metal) and the slide switch: cell, supply, idle."""
    clip = RectangleAperture(width_mm=2.6, height_mm=5.0)
    leg = RectangleAperture(width_mm=1.2, height_mm=1.6)
    return (
        Pad(at_mm=(CELL[0] - 12.9, CELL[1]), aperture=clip, net="cell"),
        Pad(at_mm=(CELL[0] + 12.9, CELL[1]), aperture=clip, net="cell"),
        Pad(at_mm=(41.5, 25.8), aperture=leg, net="cell"),
        Pad(at_mm=(44.0, 25.8), aperture=leg, net="supply"),
        Pad(at_mm=(46.5, 25.8), aperture=leg, net="anode"),
    )


def build_vias() -> tuple[Point, ...]:
    """Walls of plated holes; between port and starboard there is none, on purpose."""
    return tuple(rounded(point) for point in _via_points())


def _via_points() -> Iterator[Point]:
    for y in (55.6, 56.6, 57.6, 58.6):
        yield 15.95, y
    for bearing in (-22, -10, 2, 14, 62, 74, 86, 98, 110, 122, 134, 182, 194, 206, 238, 250):
        yield turned((5.6, 0.0), about=MOON, deg=bearing)
    yield 25.7, 41.7  # joins the copper round D5's cathode, which supply traces part from the rest, to the front
    for i in range(5):
        yield 41.95, 33.2 + i
    for x in (44.2, 45.2, 46.2, 47.5, 48.8, 49.8, 50.8):
        yield x, 12.7
    for x, y in ((44.2, 13.9), (44.2, 15.1), (44.2, 16.3), (50.8, 13.9), (50.8, 15.1), (50.8, 16.3)):
        yield x, y
    for i in range(23):
        x, y = wave_long_middle(0.09 + 0.038 * i)
        yield x, y + 2.1


def build_holes() -> tuple[Hole, ...]:
    """Plated walls, and the unplated hole the piece hangs by."""
    walls = (Hole(start_mm=at, end_mm=at, diameter_mm=VIA_HOLE_MM, plated=True) for at in build_vias())
    return (
        *walls,
        Hole(start_mm=HANGING_HOLE, end_mm=HANGING_HOLE, diameter_mm=HANGING_HOLE_MM, plated=False),
    )


FIDUCIAL = RoundAperture(diameter_mm=1.0)
FIDUCIAL_CLEARANCE = RoundAperture(diameter_mm=2.0)
