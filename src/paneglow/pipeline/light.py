"""From a design to a verdict: the whole chain as one readable function."""

from collections.abc import Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt

import paneglow
from paneglow.assembly import assemble
from paneglow.board import Board, build_board
from paneglow.catalog import Catalog
from paneglow.design import Design
from paneglow.drive import BoardState, WiredBoard, drive_board, wire_up
from paneglow.judge import Verdict, judge
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
from paneglow.pipeline.cost import Prices, count_cost, read_prices_beside
from paneglow.pipeline.inputs import Inputs, read_inputs
from paneglow.results import (
    MODEL_REFERENCES,
    CostResults,
    Device,
    Evaluation,
    Listener,
    Provenance,
    Quality,
    StageTime,
    Stopwatch,
    TracedLight,
    build_option_light,
    hash_design_files,
    luminance_by_part,
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

READ, PLACE, BUILD, SET, TRACE, DRIVE, SEE, JUDGE, COUNT = (
    "read the design",
    "find windows and place LEDs",
    "work out how it is built",
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
        A design.toml, or the folder that holds it; own parts are read from parts/ beside it. Of a fabrication set, a
        provisional design is drafted.
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
    traced_on = choose_device(device)
    watch = Stopwatch(on_progress)
    with watch.stage(READ):
        inputs = read_inputs(design_path, may_draft=True)
        design, catalog = inputs.design, inputs.catalog
    with watch.stage(PLACE):
        wired = wire_up(design, board=build_board(design, files=inputs.files, catalog=catalog))
    with watch.stage(BUILD):
        assembled = assemble(design, board=wired.board, catalog=catalog)
        prices, unpriced = read_prices_beside(inputs, bill=assembled.bill)
    with watch.stage(SET):
        scene = build_scene(wired.traced_board, design=design, catalog=catalog)
    with watch.stage(TRACE):
        cache = None if cache_folder is None else _open_cache(cache_folder)
        tally = _traced(wired, scene=scene, quality=quality, device=traced_on, seed=seed, watch=watch, cache=cache)
    with watch.stage(DRIVE):
        driven = drive_board(wired, scene=scene, tally=tally, catalog=catalog)
        shown = driven.shown
    with watch.stage(SEE):
        look, pictures, unlike = _seen(shown, driven.other, design=design, catalog=catalog, tally=tally)
    with watch.stage(JUDGE):
        verdict = judge(
            design=design,
            board=shown.board,
            catalog=catalog,
            assembled=assembled,
            scene=shown.scene,
            tally=tally,
            look=look,
            drive=driven.solved,
            unpriced=unpriced,
        )
    with watch.stage(COUNT):
        cost = _count(prices, design, board=shown.board, look=look, verdict=verdict, seed=seed, on=on)
    return Evaluation(
        design=design,
        catalog=catalog,
        board=shown.board,
        assembled=assembled,
        scene=shown.scene,
        tally=tally,
        look=look,
        pictures=pictures,
        verdict=verdict,
        drive=driven.results,
        other_picture=unlike,
        cost=cost,
        provisional=inputs.provisional,
        provenance=_provenance(inputs, tally=tally, seed=seed, quality=quality, device=traced_on, stages=watch.times),
    )


def _open_cache(folder: Path) -> TraceCache:
    """Traces kept in a folder, without what a kill left half-written there.

    Where another run writes a trace at this moment, that one is not kept, and nothing else is lost.
    """
    with suppress(OSError):
        for part in folder.glob(".part-*"):
            part.unlink(missing_ok=True)
    return TraceCache(folder=folder)


def _provenance(
    inputs: Inputs,
    *,
    tally: Tally,
    seed: int,
    quality: Quality,
    device: str,
    stages: Sequence[StageTime],
) -> Provenance:
    """How the evaluation came about."""
    return Provenance(
        version=paneglow.__version__,
        design_sha256=hash_design_files(inputs.path, design=inputs.design),
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


def _count(
    prices: Prices | None, design: Design, *, board: Board, look: Look, verdict: Verdict, on: date | None, seed: int
) -> CostResults | None:
    """What the piece costs, beside the light that was just traced; None where no cost file lies beside the design."""
    if prices is None:
        return None
    bought = {led.ref: led for led in board.soldered.leds}  # money knows bodies, light knows their dice
    light = TracedLight(
        leds=tuple((led.part.code, led.mounting) for led in bought.values()),
        seen=build_option_light(look.windows, verdict=verdict),
        by_part=luminance_by_part(
            look.windows, parts={led.ref: bought[led.body_ref or led.ref].part.code for led in board.leds}
        ),
    )
    return count_cost(prices, design=design, on=on or date.today(), seed=seed, light=light)
