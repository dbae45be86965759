"""`paneglow windows`: what light can get through, from fabrication files alone."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from paneglow.board import draw_survey
from paneglow.cli.console import build_console, build_table, print_indented, text
from paneglow.pipeline import survey
from paneglow.report import to_digits, to_png
from paneglow.results import SurveyResults, WindowResult, build_survey_results, to_json
from paneglow.writing import write_together

OTHER_USES = {
    "artwork": "bare on one face, mask on the other; light crosses it, tinted",
    "clearance": "narrow gaps round pads",
}
LARGEST_NAMED = 3
NUMBERS = ("area mm2", "width mm", "x mm", "y mm")


def _parse_layers(pairs: list[str]) -> dict[str, str]:
    layers: dict[str, str] = {}
    for pair in pairs:
        role, equals, name = pair.partition("=")
        if not (role and equals and name):
            raise typer.BadParameter(f"--layer {pair!r} is not ROLE=FILE, such as mask_front=top-mask.gbr")
        layers[role] = name
    return layers


def _cells(window: WindowResult) -> tuple[str, ...]:
    x_mm, y_mm = window.centre_mm
    shadows = str(len(window.shadows)) if window.shadows else ""
    figures = (to_digits(window.area_mm2, digits=3), to_digits(window.width_mm), f"{x_mm:.1f}", f"{y_mm:.1f}")
    return (window.name, *figures, window.front.state, window.back.state, shadows)


def _print_survey(found: SurveyResults, *, everything: bool) -> None:
    """Print the windows; what is bare for another reason is counted, unless everything is asked for."""
    console = build_console()
    area = f"{to_digits(found.outline_area_mm2, digits=3)} mm2"
    boards = "" if found.pieces == 1 else f", {found.pieces} boards in the panel"
    console.print(text(f"outline {area}, {found.copper_layers} copper layers{boards}"))
    console.print()
    table = build_table("window", *NUMBERS, "front", "back", "shadows", numbers=frozenset((*NUMBERS, "shadows")))
    shown = [window for window in found.windows if everything or window.use == "window"]
    for window in shown:
        table.add_row(*(text(cell) for cell in _cells(window)))
    if shown:
        console.print(table)
    elif not found.windows:
        console.print(text("No window: light can cross this board nowhere."))
    for use, words in OTHER_USES.items():
        same_use = [window for window in found.windows if window.use == use]
        if same_use and not everything:
            area = to_digits(sum(window.area_mm2 for window in same_use), digits=3)
            largest = sorted(same_use, key=lambda window: -window.area_mm2)[:LARGEST_NAMED]
            names = ", ".join(f"{window.name} {to_digits(window.area_mm2, digits=3)} mm2" for window in largest)
            print_indented(
                console, f"{len(same_use)}, {area} mm2 in all: {words}; the largest: {names}", lead=f"{use}: "
            )
    for kind in dict.fromkeys(opening.kind for opening in found.others):
        alike = [opening for opening in found.others if opening.kind == kind]
        print_indented(console, f"{len(alike)} x {kind}, {alike[0].reason}", lead="not a window: ")
    for note in found.notes:
        print_indented(console, note, lead="note: ")


def windows(
    path: Annotated[
        Path,
        typer.Argument(metavar="PATH", help="Folder or .zip of Gerber and drill files; a design.toml will do as well."),
    ],
    *,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the table.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help="Also draw front, back and windows into this .png."),
    ] = None,
    pitch: Annotated[
        float | None,
        typer.Option("--pitch", metavar="MM", help="Raster pitch, 0.01 to 0.5 mm; the default is 0.05."),
    ] = None,
    layer: Annotated[
        list[str] | None,
        typer.Option("--layer", metavar="ROLE=FILE", help="Say which file a layer is, where names do not settle it."),
    ] = None,
    ignore: Annotated[
        list[str] | None,
        typer.Option("--ignore", metavar="FILE", help="Leave out a file that is no layer."),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="List artwork and clearances of pads as well, each by its name.")
    ] = False,
    least_area: Annotated[
        float, typer.Option("--least-area", min=0.0, metavar="MM2", help="Leave out what is smaller.")
    ] = 0.0,
    masked_windows: Annotated[
        bool, typer.Option("--masked-windows", help="Also count areas under mask on both faces.")
    ] = False,
) -> None:
    """Find the windows of a board, from its fabrication files alone.

    A window is a connected area without copper on any layer, with the mask opened on both faces and at least 0.4 mm
    wide. Where it is open on one face only it is artwork, or a clearance round pads; fiducials, mask rings and narrow
    gaps are told apart.
    """
    maps, found = survey(
        path,
        pitch_mm=pitch,
        masked_windows=masked_windows,
        layer_files=_parse_layers(layer or []),
        ignored=ignore or (),
    )
    if picture is not None:  # of everything: a tint on the board costs nobody a line
        write_together(picture.parent, contents={picture.name: to_png(draw_survey(maps, found))})
    if least_area > 0.0:
        found = replace(found, windows=tuple(one for one in found.windows if one.area_mm2 >= least_area))
    results = build_survey_results(found)
    if as_json:
        typer.echo(to_json(results), nl=False)
    else:
        _print_survey(results, everything=everything)
