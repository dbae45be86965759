"""Draw the night cottage, a board of four windows for the tutorial: fabrication files and placement file.

Run `python draw.py` in a place where `paneglow` is installed; twice gives the same bytes. Everything is seen from the
front, millimetres, the lower left corner of the board is the origin.
"""

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from paneglow.fab import (
    DrawnObject,
    FabricationDrawing,
    Flash,
    LayerDrawing,
    RectangleAperture,
    Region,
    Stroke,
    build_path,
    build_polygon,
    build_text,
    write_fabrication,
)

NAME = "night-cottage"
SIZE_MM = 40.0
EDGE_MARGIN_MM = 0.4  # copper stays this far from the milled edge (common practice, no source)
CLEARANCE_MM = 0.3  # between nets
TRACE_MM = 0.4
MASK_GROWTH_MM = 0.05  # mask opens this much wider than a pad (common practice, no source)
PAD_MM, PAD_AT_MM = (1.3, 1.7), 1.85  # of a 1206 chip soldered lens down: along and across the part, and off its middle
RESISTOR_PAD_MM, RESISTOR_AT_MM = (0.8, 0.9), 0.8
RAIL_X_MM = 37.0  # the positive rail runs upward here
WIRES_MM = ((RAIL_X_MM, 4.0), (31.0, 4.0))  # plus and minus


@dataclass(frozen=True)
class Window:
    """A window, the LED behind it, and its resistor."""

    ref: str  # number of the LED and of its resistor
    colour: str  # what the placement file says of the LED
    ohm: str  # what it says of the resistor
    at_mm: tuple[float, float]
    size_mm: tuple[float, float]
    turn_deg: float  # LED and resistor: 0 with the cathode to the left, 90 with the cathode down

    def along(self, offset_mm: float) -> tuple[float, float]:
        """A point on the axis of the LED, by its distance from the middle toward the anode."""
        turn = math.radians(self.turn_deg)
        x, y = self.at_mm[0] + offset_mm * math.cos(turn), self.at_mm[1] + offset_mm * math.sin(turn)
        return round(x, 3), round(y, 3)


WINDOWS = (
    Window("1", "white", "390R", (20.0, 29.0), (3.0, 2.2), 90.0),  # attic
    Window("2", "amber", "560R", (11.0, 19.0), (5.0, 2.2), 90.0),  # left pane
    Window("3", "amber", "560R", (29.0, 19.0), (5.0, 2.2), 90.0),  # right pane
    Window("4", "red", "560R", (20.0, 9.0), (2.2, 5.0), 0.0),  # door
)
RESISTOR_MM = 5.0  # from the LED's middle to its resistor's


def main() -> None:
    """Write `fab/` and `placement.csv` into the folder given, by default beside this script."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent)
    folder = parser.parse_args().folder
    for path in write_fabrication(build_drawing(), folder=folder / "fab"):
        print(path)
    rows = ["Reference,X (mm),Y (mm),Rotation (deg),Side,Value,Package"]
    for kind, offset_mm in (("D", 0.0), ("R", RESISTOR_MM)):
        for window in WINDOWS:
            x, y = window.along(offset_mm)
            value, package = (window.colour, "1206") if kind == "D" else (window.ohm, "0603")
            rows.append(f"{kind}{window.ref},{x:.3f},{y:.3f},{window.turn_deg:g},Bottom,{value},{package}")
    (folder / "placement.csv").write_text("\n".join(rows) + "\n", encoding="ascii", newline="\n")
    print(folder / "placement.csv")


def build_drawing() -> FabricationDrawing:
    """The whole board."""
    return FabricationDrawing(
        name=NAME,
        layers=(
            LayerDrawing(role="copper_front", objects=tuple(_pour())),
            LayerDrawing(role="copper_back", objects=tuple(_copper_back())),
            LayerDrawing(role="mask_front", objects=tuple(_openings())),
            LayerDrawing(role="mask_back", objects=(*_openings(), *(pad.grown(MASK_GROWTH_MM) for pad in _pads()))),
            LayerDrawing(role="legend_front", objects=tuple(_house())),
            LayerDrawing(role="legend_back", objects=tuple(_legend_back())),
        ),
        outline=(_edge(),),
    )


@dataclass(frozen=True)
class Pad:
    """One pad on the back."""

    at_mm: tuple[float, float]
    size_mm: tuple[float, float]  # along x and y
    ground: bool

    def grown(self, by_mm: float = 0.0, *, dark: bool = True, function: str | None = None) -> Flash:
        """The pad as drawn, larger by so much on every side."""
        shape = RectangleAperture(width_mm=self.size_mm[0] + 2 * by_mm, height_mm=self.size_mm[1] + 2 * by_mm)
        return Flash(at_mm=self.at_mm, aperture=shape, dark=dark, function=function)


def _pads() -> Iterator[Pad]:
    for window in WINDOWS:
        upright = window.turn_deg == 90.0
        size, small = ((pad[1], pad[0]) if upright else pad for pad in (PAD_MM, RESISTOR_PAD_MM))
        yield Pad(window.along(-PAD_AT_MM), size, ground=True)
        yield Pad(window.along(PAD_AT_MM), size, ground=False)
        for offset_mm in (RESISTOR_MM - RESISTOR_AT_MM, RESISTOR_MM + RESISTOR_AT_MM):
            yield Pad(window.along(offset_mm), small, ground=False)
    for at_mm, ground in zip(WIRES_MM, (False, True), strict=True):
        yield Pad(at_mm, (2.4, 2.4), ground=ground)


def _edge():  # noqa: ANN202
    return build_polygon([(0.0, 0.0), (SIZE_MM, 0.0), (SIZE_MM, SIZE_MM), (0.0, SIZE_MM)])


def _opening(window: Window):  # noqa: ANN202
    (x, y), (width, height) = window.at_mm, (side / 2 for side in window.size_mm)
    return build_polygon([(x - width, y - height), (x + width, y - height), (x + width, y + height),
                          (x - width, y + height)])  # fmt: skip


def _openings() -> Iterator[DrawnObject]:
    for window in WINDOWS:
        yield Region(contour=_opening(window), function="Material")
        yield Stroke(path=_opening(window), pen_mm=2 * MASK_GROWTH_MM)


def _pour() -> Iterator[DrawnObject]:
    """Copper over the whole face, with windows and edge taken out."""
    yield Region(contour=_edge(), function="Conductor")
    yield Stroke(path=_edge(), pen_mm=2 * EDGE_MARGIN_MM, dark=False)
    for window in WINDOWS:
        yield Region(contour=_opening(window), dark=False)


def _traces() -> Iterator[list[tuple[float, float]]]:
    """Anode to resistor, resistor to the rail, and the rail."""
    for window in WINDOWS:
        yield [window.along(PAD_AT_MM), window.along(RESISTOR_MM - RESISTOR_AT_MM)]
        x, y = window.along(RESISTOR_MM + RESISTOR_AT_MM)
        yield [(x, y), (RAIL_X_MM, y)]
    yield [WIRES_MM[0], (RAIL_X_MM, WINDOWS[0].along(RESISTOR_MM + RESISTOR_AT_MM)[1])]


def _copper_back() -> Iterator[DrawnObject]:
    yield from _pour()
    for pad in _pads():
        if not pad.ground:
            yield pad.grown(CLEARANCE_MM, dark=False)
    for points in _traces():
        yield Stroke(path=build_path(points), pen_mm=TRACE_MM + 2 * CLEARANCE_MM, dark=False)
    for points in _traces():
        yield Stroke(path=build_path(points), pen_mm=TRACE_MM, function="Conductor")
    for pad in _pads():
        yield pad.grown(function="SMDPad,CuDef")


def _house() -> Iterator[DrawnObject]:
    """Walls, roof and the bars of the panes."""
    yield Stroke(path=build_path([(6.0, 4.5), (6.0, 23.5), (20.0, 35.5), (34.0, 23.5), (34.0, 4.5), (6.0, 4.5)]),
                 pen_mm=0.5)  # fmt: skip


def _legend_back() -> Iterator[DrawnObject]:
    """A bar beyond the cathode pad of every LED, and its number."""
    for window in WINDOWS:
        beyond = window.along(-PAD_AT_MM - PAD_MM[0] / 2 - 0.35)
        across = (0.7, 0.0) if window.turn_deg == 90.0 else (0.0, 0.7)
        ends = [(beyond[0] + sign * across[0], beyond[1] + sign * across[1]) for sign in (-1, 1)]
        yield Stroke(path=build_path(ends), pen_mm=0.2)
        x, y = window.along(-PAD_AT_MM - 2.0)
        yield from build_text(f"D{window.ref}", at_mm=(x, y - 0.5), height_mm=1.0, pen_mm=0.15, align="centre",
                              mirrored=True)  # fmt: skip
    for (x, y), sign in zip(WIRES_MM, "+-", strict=True):
        yield from build_text(sign, at_mm=(x, y - 2.9), height_mm=1.2, pen_mm=0.2, align="centre", mirrored=True)


if __name__ == "__main__":
    main()
