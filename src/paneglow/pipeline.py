"""The chain from a design file to a verdict, as one readable function."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt

import paneglow
from paneglow.assembly import WrittenPlacement, build_placement
from paneglow.board import Board, FaceMaps, WindowSurvey, build_board, build_face_maps, survey_windows
from paneglow.catalog import Catalog, read_catalog
from paneglow.checks import check_between
from paneglow.cost import cost_file
from paneglow.design import BoardDesign, Design, design_file, read_design
from paneglow.drive import BoardState, LitDrive, WiredBoard, drive_states, wire_up
from paneglow.fab import DialectName, PlacementRule, read_fabrication
from paneglow.judge import Finding, Verdict, check_board, judge
from paneglow.look import (
    Look,
    Pictures,
    Precision,
    build_look,
    build_unfinished,
    draw_body,
    render_dark_adapted,
    render_pictures,
)
from paneglow.results import (
    MODEL_REFERENCES,
    CostResults,
    Device,
    Evaluation,
    Listener,
    Prices,
    Provenance,
    Quality,
    StageTime,
    Stopwatch,
    TracedLight,
    build_option_light,
    count_cost,
    hash_design_files,
    read_light,
    read_prices,
)
from paneglow.scene import Scene, build_scene
from paneglow.transport import Tally, TraceCache, TracingDevice, choose_device, trace

# A trace stops where every window is this precise, at the latest after so many photons per LED; "normal" is what the
# judge needs to call no evenness noisy (`EVENNESS_NOISE_MAX` is two standard errors)
PRECISION: dict[Quality, Precision] = {
    "draft": Precision(mean_se_frac=0.05, evenness_se=0.06),
    "normal": Precision(mean_se_frac=0.02, evenness_se=0.025),
    "fine": Precision(mean_se_frac=0.005, evenness_se=0.01),
}
PHOTONS_PER_LED: dict[Quality, int] = {"draft": 32_000, "normal": 160_000, "fine": 1_024_000}

LEAST_PITCH_MM, MOST_PITCH_MM = 0.01, 0.5  # as for [board] pitch_mm of a design

READ, PLACE, SET, TRACE, DRIVE, SEE, JUDGE, COUNT = (
    "read the design",
    "find windows and place LEDs",
    "set the scene",
    "trace the light",
    "drive the LEDs",
    "look at the board",
    "judge",
    "count the cost",
)


def evaluate(
    design_path: Path,
    *,
    quality: Quality = "normal",
    device: Device = "auto",
    seed: int = 1,
    on_progress: Listener | None = None,
    cache_folder: Path | None = None,
    on: date | None = None,
) -> Evaluation:
    """Read a design, trace its light and judge it.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it. Own parts are read from parts/ beside it.
    quality : {"draft", "normal", "fine"}
        How precise every window's mean and evenness must be, by `PRECISION`, and the most photons per LED.
    device : {"auto", "cpu", "cuda"}
        Where the light is traced; "auto" is the CPU for now, as `choose_device` says.
    seed : int
        The same seed gives the same numbers.
    on_progress : callable, optional
        Called with a Progress as the work goes on, in the calling thread.
    cache_folder : Path, optional
        Folder of traces kept from earlier runs; what has not changed is not traced again, with the same numbers.
    on : date, optional
        Day on which the ages of prices are judged, where a cost file lies beside the design; today if left out.

    Returns
    -------
    Evaluation
        The record of every stage, and its provenance.

    Raises
    ------
    PaneglowError
        Where an input is wrong; a design that misses its goals is a verdict, not an error.
    """
    traced_on, design_path = choose_device(device), design_file(design_path)
    watch = Stopwatch(on_progress)
    with watch.stage(READ):
        design, catalog, prices = _read(design_path)
    with watch.stage(PLACE):
        wired = wire_up(design, board=build_board(design, folder=design_path.parent, catalog=catalog))
    with watch.stage(SET):
        scene = build_scene(wired.traced_board, design=design, catalog=catalog)
    with watch.stage(TRACE):
        cache = None if cache_folder is None else TraceCache(folder=cache_folder)
        tally = _traced(wired, scene=scene, quality=quality, device=traced_on, seed=seed, watch=watch, cache=cache)
    with watch.stage(DRIVE):
        lit, shown, other = drive_states(wired, scene=scene, tally=tally, catalog=catalog)
    with watch.stage(SEE):
        look, pictures, unlike = _seen(shown, other, design=design, catalog=catalog, tally=tally)
    with watch.stage(JUDGE):
        verdict = _judged(shown, wired=wired, catalog=catalog, tally=tally, look=look, lit=lit)
    with watch.stage(COUNT):
        cost = _count(prices, design, board=shown.board, look=look, verdict=verdict, seed=seed, on=on)
    return Evaluation(
        design=design,
        catalog=catalog,
        board=shown.board,
        scene=shown.scene,
        tally=tally,
        look=look,
        pictures=pictures,
        verdict=verdict,
        drive=lit,
        other_picture=unlike,
        cost=cost,
        provenance=_provenance(
            design_path, design=design, tally=tally, seed=seed, quality=quality, device=traced_on, stages=watch.times
        ),
    )


def _provenance(
    design_path: Path,
    *,
    design: Design,
    tally: Tally,
    seed: int,
    quality: Quality,
    device: str,
    stages: Sequence[StageTime],
) -> Provenance:
    """How the evaluation came about."""
    return Provenance(
        version=paneglow.__version__,
        design_sha256=hash_design_files(design_path, design=design),
        seed=seed,
        quality=quality,
        photons=tally.photons,
        device=device,
        stages=tuple(stages),
        references=MODEL_REFERENCES,
    )


def _traced(
    wired: WiredBoard,
    *,
    scene: Scene,
    quality: Quality,
    device: TracingDevice,
    seed: int,
    watch: Stopwatch,
    cache: TraceCache | None,
) -> Tally:
    """Light traced until windows are precise at the currents that flow, which are not those it is traced for."""
    lit = wired.present_scene(scene)
    precision = PRECISION[quality]
    return trace(
        scene,
        photons_per_led=PHOTONS_PER_LED[quality],
        seed=seed,
        unfinished=build_unfinished(wired.present_board, design=wired.design, scene=lit, precision=precision),
        on_progress=watch.within(TRACE),
        cache=cache,
        device=device,
    )


def _seen(
    state: BoardState, other: BoardState | None, *, design: Design, catalog: Catalog, tally: Tally
) -> tuple[Look, Pictures, npt.NDArray[np.uint8] | None]:
    """What is judged, its pictures, and one picture of the state beside it."""
    look = build_look(board=state.board, design=design, catalog=catalog, scene=state.scene, tally=tally)
    body = draw_body(look, board=state.board)
    pictures = render_pictures(look, board=state.board, design=design, body=body)
    if other is None:
        return look, pictures, None
    return look, pictures, render_dark_adapted(other.board, design=design, scene=other.scene, tally=tally, body=body)


def _judged(
    state: BoardState, *, wired: WiredBoard, catalog: Catalog, tally: Tally, look: Look, lit: LitDrive
) -> Verdict:
    return judge(
        design=wired.design,
        board=state.board,
        catalog=catalog,
        scene=state.scene,
        tally=tally,
        look=look,
        drive=lit.drive if wired.by_circuit else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Checked:
    """A design as read and what was found on its board without tracing light."""

    design: Design
    catalog: Catalog
    board: Board
    findings: tuple[Finding, ...]  # as `paneglow.judge.check_board` gives them


def check(design_path: Path) -> Checked:
    """Read a design, or the one in a folder, and find the defects that show without tracing light.

    Raises
    ------
    PaneglowError
        Where an input is wrong.
    """
    design_path = design_file(design_path)
    design, catalog, _ = _read(design_path)
    wired = wire_up(design, board=build_board(design, folder=design_path.parent, catalog=catalog))
    board = wired.present_board
    findings = check_board(design, board=board, catalog=catalog, drive=wired.used_drive)
    return Checked(design=design, catalog=catalog, board=board, findings=findings)


def place(design_path: Path, *, dialect: DialectName, rule: PlacementRule) -> WrittenPlacement:
    """Read a design and write its placement file as a service wants it.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it.
    dialect : str
        How the file is laid out.
    rule : PlacementRule
        How it counts rotations.

    Returns
    -------
    WrittenPlacement
        The text, and what every LED of it comes to, checked from that text.

    Raises
    ------
    PaneglowError
        Where an input is wrong, or the rule rests on what a part does not state.
    """
    design_path = design_file(design_path)
    design, catalog, _ = _read(design_path)
    board = build_board(design, folder=design_path.parent, catalog=catalog)
    return build_placement(design, board=board, dialect=dialect, rule=rule)


def cost(
    design_path: Path, *, on: date, quantities: Sequence[int] = (), seed: int = 1, light: Path | None = None
) -> CostResults:
    """Read a design and its cost file and tell what a piece costs, in every way to build it and beside its versions.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it; cost.toml is read beside it.
    on : date
        Day on which the ages of prices are judged.
    quantities : sequence of int
        Good pieces of the runs to show, the first of them judged; the run of the design where there are none.
    seed : int
        Of the draws over the stated ranges.
    light : Path, optional
        results.json of an earlier `paneglow light` of the design; its light is left out where there is none.

    Raises
    ------
    PaneglowError
        Where an input is wrong or a price is missing.
    """
    design_path = design_file(design_path)
    traced = None if light is None else read_light(light)
    design, catalog, prices = _read(design_path)
    # Where there is no cost file, reading it says so
    prices = prices or read_prices(design_path, design=design, catalog=catalog)
    return count_cost(prices, design=design, on=on, quantities=quantities, seed=seed, light=traced)


def _count(
    prices: Prices | None, design: Design, *, board: Board, look: Look, verdict: Verdict, on: date | None, seed: int
) -> CostResults | None:
    """What the piece costs, beside the light that was just traced; None where no cost file lies beside the design."""
    if prices is None:
        return None
    light = TracedLight(
        leds=tuple((led.part.code, led.mounting) for led in board.leds),
        seen=build_option_light(look.windows, verdict=verdict),
    )
    return count_cost(prices, design=design, on=on or date.today(), seed=seed, light=light)


def _read(design_path: Path) -> tuple[Design, Catalog, Prices | None]:
    """The design, the catalogue with the user's own parts over it, and the prices, where a cost file lies beside it."""
    design = read_design(design_path)
    user_parts = design_path.parent / "parts"
    catalog = read_catalog(user_parts=user_parts if user_parts.is_dir() else None)
    priced = cost_file(design_path).is_file()
    return design, catalog, read_prices(design_path, design=design, catalog=catalog) if priced else None


def survey(
    path: Path,
    *,
    pitch_mm: float | None = None,
    masked_windows: bool = False,
    layer_files: Mapping[str, str] | None = None,
) -> tuple[FaceMaps, WindowSurvey]:
    """Find what light can get through, from fabrication files alone or from those a design names.

    Parameters
    ----------
    path : Path
        A folder or .zip of fabrication files, a design.toml, or the folder that holds one.
    pitch_mm : float, optional
        Raster pitch [mm]; the design's, or the default of a design, where it is left out.
    masked_windows : bool
        Also count copper-free areas under mask on both faces.
    layer_files : mapping of str to str, optional
        File names for layers that their names and attributes do not settle.

    Returns
    -------
    tuple of FaceMaps and WindowSurvey

    Raises
    ------
    PaneglowError
        Where the files cannot be read as one board.
    """
    design_path = design_file(path)
    if design_path.suffix == ".toml" and (design_path.is_file() or not path.is_dir()):
        design = read_design(design_path)
        stated, named, folder = design.board, design.window, design_path.parent / design.board.fabrication
    else:
        stated, named, folder = BoardDesign(fabrication=str(path)), (), path
    pitch_mm = check_between(
        "raster pitch_mm", stated.pitch_mm if pitch_mm is None else pitch_mm, lower=LEAST_PITCH_MM, upper=MOST_PITCH_MM
    )
    told: dict[str, str] = dict(stated.layers.items())
    told.update(layer_files or {})
    fabrication = read_fabrication(folder, layer_files=told)
    maps = build_face_maps(fabrication, pitch_mm=pitch_mm)
    found = survey_windows(maps, named=named, masked_windows=masked_windows or stated.masked_windows)
    return maps, found
