"""Draw the harbour keepsake: fabrication files, placement file and nothing else; twice gives the same bytes.

Run `python draw.py` in a place where `paneglow` is installed. Everything is seen from the front, millimetres, the
lower left corner of the plaque is the origin.
"""

import argparse
import math
from collections.abc import Iterable, Iterator
from pathlib import Path

from electrics import (
    CELL,
    CELL_MM,
    FIDUCIAL,
    FIDUCIAL_CLEARANCE,
    FIDUCIALS,
    VIA_PAD_MM,
    Led,
    Pad,
    build_holes,
    build_leds,
    build_vias,
    led_pads,
    supply_pads,
    turned,
)
from geometry import cut
from picture import build_legend, build_metal
from windows import HANGING_HOLE, HANGING_HOLE_MM, MASK_GROWTH_MM, Window, build_windows, edge
from wiring import CLEARANCE_MM, LEFTOVER_TRACE, LEFTOVER_TRACE_MM, SUPPLY_TRACES, TRACE_MM

from paneglow.fab import (
    DrawnObject,
    FabricationDrawing,
    Flash,
    LayerDrawing,
    RectangleAperture,
    Region,
    RoundAperture,
    Stroke,
    build_circle,
    build_path,
    build_text,
    write_fabrication,
)

NAME = "harbour-keepsake"
EDGE_MARGIN_MM = 0.4  # copper stays this far from the milled edge (common practice, no source)
PAD_MASK_GROWTH_MM = 0.05  # mask opens this much wider than a land (common practice, no source)
BARE_HOLE_MARGIN_MM = 0.3  # copper round the unplated hole; the trade asks at least 0.15


def main() -> None:
    """Write `fab/` and `placement.csv` into the folder given, by default beside this script."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent)
    folder = parser.parse_args().folder
    for path in write_fabrication(build_drawing(), folder=folder / "fab"):
        print(path)
    placement = folder / "placement.csv"
    placement.write_text(to_placement_text(build_leds()), encoding="ascii", newline="\n")
    print(placement)


def build_drawing() -> FabricationDrawing:
    """The whole board."""
    windows, leds = build_windows(), build_leds()
    return FabricationDrawing(
        name=NAME,
        layers=(
            LayerDrawing(role="copper_front", objects=tuple(_copper_front(windows))),
            LayerDrawing(role="copper_back", objects=tuple(_copper_back(windows, leds=leds))),
            LayerDrawing(role="mask_front", objects=(*_window_openings(windows), *build_metal())),
            LayerDrawing(role="mask_back", objects=tuple(_mask_back(windows, leds=leds))),
            LayerDrawing(role="legend_front", objects=build_legend(windows)),
            LayerDrawing(role="legend_back", objects=tuple(_legend_back(windows, leds=leds))),
        ),
        outline=(edge(),),
        holes=build_holes(),
    )


def to_placement_text(leds: Iterable[Led]) -> str:
    """Placement file: body centres, counter-clockwise seen from the front."""
    rows = ["Reference,X (mm),Y (mm),Rotation (deg),Side,Value"]
    for led in leds:
        rows.append(f"{led.ref},{led.at_mm[0]:.3f},{led.at_mm[1]:.3f},{led.rotation_deg:g},Bottom,{led.part}")
    for led in leds:
        x, y = led.resistor_mm
        rows.append(f"R{led.ref[1:]},{x:.3f},{y:.3f},{led.resistor_deg:g},Bottom,resistor-0603")
    return "\n".join(rows) + "\n"


def _pour(windows: Iterable[Window]) -> Iterator[DrawnObject]:
    """Copper over the whole face, with the windows, the edge and the hanging hole taken out."""
    yield Region(contour=edge(), function="Conductor")
    yield Stroke(path=edge(), pen_mm=2 * EDGE_MARGIN_MM, dark=False)
    for window in windows:
        yield Region(contour=window.contour, dark=False)
    clear = HANGING_HOLE_MM / 2 + BARE_HOLE_MARGIN_MM
    yield Region(contour=build_circle(centre_mm=HANGING_HOLE, radius_mm=clear), dark=False)


def _copper_front(windows: tuple[Window, ...]) -> Iterator[DrawnObject]:
    yield from _pour(windows)
    yield from _via_pads()


def _copper_back(windows: tuple[Window, ...], *, leds: tuple[Led, ...]) -> Iterator[DrawnObject]:
    pads = _pads(leds)
    traces = tuple(_traces(leds))
    yield from _pour(windows)
    for pad in pads:
        if pad.net != "ground":
            yield Flash(at_mm=pad.at_mm, aperture=_grown(pad.aperture, by_mm=CLEARANCE_MM), dark=False)
    for trace in traces:
        yield Stroke(path=trace.path, pen_mm=trace.pen_mm + 2 * CLEARANCE_MM, dark=False)
    for at in FIDUCIALS:
        yield Flash(at_mm=at, aperture=FIDUCIAL_CLEARANCE, dark=False)
    yield from traces
    for pad in pads:
        yield Flash(at_mm=pad.at_mm, aperture=pad.aperture, function="SMDPad,CuDef")
    yield from _via_pads()
    for at in FIDUCIALS:
        yield Flash(at_mm=at, aperture=FIDUCIAL, function="FiducialPad,Global")


def _pads(leds: Iterable[Led]) -> tuple[Pad, ...]:
    return (*(pad for led in leds for pad in led_pads(led)), *supply_pads())


def _via_pads() -> Iterator[Flash]:
    for at in build_vias():
        yield Flash(at_mm=at, aperture=RoundAperture(diameter_mm=VIA_PAD_MM), function="ViaPad")


def _traces(leds: Iterable[Led]) -> Iterator[Stroke]:
    for led in leds:
        _, anode, resistor, _ = led_pads(led)
        yield Stroke(path=build_path([anode.at_mm, resistor.at_mm]), pen_mm=TRACE_MM, function="Conductor")
    _, clip, switch, *_ = supply_pads()
    yield Stroke(path=build_path([clip.at_mm, switch.at_mm]), pen_mm=TRACE_MM, function="Conductor")
    for corners in SUPPLY_TRACES:
        yield Stroke(path=build_path(corners), pen_mm=TRACE_MM, function="Conductor")
    yield Stroke(path=build_path(LEFTOVER_TRACE), pen_mm=LEFTOVER_TRACE_MM, function="Conductor")


def _grown(aperture: RectangleAperture, *, by_mm: float) -> RectangleAperture:
    return RectangleAperture(
        width_mm=aperture.width_mm + 2 * by_mm,
        height_mm=aperture.height_mm + 2 * by_mm,
        rotation_rad=aperture.rotation_rad,
    )


def _window_openings(windows: Iterable[Window]) -> Iterator[DrawnObject]:
    for window in windows:
        yield Region(contour=window.contour, function="Material")
        yield Stroke(path=window.contour, pen_mm=2 * MASK_GROWTH_MM)


def _mask_back(windows: Iterable[Window], *, leds: tuple[Led, ...]) -> Iterator[DrawnObject]:
    yield from _window_openings(window for window in windows if not window.back_masked)
    for pad in _pads(leds):
        yield Flash(at_mm=pad.at_mm, aperture=_grown(pad.aperture, by_mm=PAD_MASK_GROWTH_MM))
    # The cell's other pole rests on bare copper of the pour
    yield Flash(at_mm=CELL, aperture=RoundAperture(diameter_mm=14.0))
    for at in FIDUCIALS:
        yield Flash(at_mm=at, aperture=FIDUCIAL_CLEARANCE)


def _legend_back(windows: Iterable[Window], *, leds: Iterable[Led]) -> Iterator[DrawnObject]:
    def line(text: str, *, at: tuple[float, float], height: float, pen: float = 0.15) -> tuple[Stroke, ...]:
        return build_text(text, at_mm=at, height_mm=height, pen_mm=pen, align="centre", mirrored=True)

    rim = [turned((CELL_MM / 2, 0.0), about=CELL, deg=float(deg)) for deg in range(361)]
    yield from cut(rim, keep_outs=[window.keep_out for window in windows], pen_mm=0.2)
    yield from line("Harbour Keepsake", at=(30.0, 70.2), height=2.0, pen=0.22)
    yield from line("drawn and lit with paneglow", at=(30.0, 67.6), height=1.2)
    yield from line("3 V coin cell 20 mm", at=(28.6, 32.2), height=1.1)
    yield from line("Keep cell away from children", at=(30.0, 2.4), height=1.1)
    yield from line("+", at=(CELL[0] - 12.9, 24.6), height=1.6, pen=0.25)
    yield from line("on", at=(42.75, 27.2), height=1.0)
    for led in leds:
        yield from _reference(led)


def _reference(led: Led) -> Iterator[DrawnObject]:
    """Designator, and a bar at the cathode."""
    cathode = led_pads(led)[0]
    size = max(cathode.aperture.width_mm, cathode.aperture.height_mm)
    away = math.degrees(math.atan2(cathode.at_mm[1] - led.at_mm[1], cathode.at_mm[0] - led.at_mm[0]))
    bar = [turned((size / 2 + 0.35, side), about=cathode.at_mm, deg=away) for side in (-0.6, 0.6)]
    yield Stroke(path=build_path(bar), pen_mm=0.2)
    yield from build_text(led.ref, at_mm=led.label_mm, height_mm=1.0, pen_mm=0.15, align="centre", mirrored=True)


if __name__ == "__main__":
    main()
