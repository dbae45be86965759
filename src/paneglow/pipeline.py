"""The chain from a design file to a verdict, as one readable function."""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import paneglow
from paneglow.assembly import WrittenPlacement, build_placement
from paneglow.board import Board, FaceMaps, WindowSurvey, build_board, build_face_maps, survey_windows
from paneglow.catalog import Catalog, read_catalog
from paneglow.checks import check_between
from paneglow.cost import (
    MOST_PIECES,
    Costing,
    Option,
    build_answer,
    build_bill,
    build_costing,
    cost_file,
    read_costs,
    swap_parts,
)
from paneglow.design import BoardDesign, Design, design_file, read_design
from paneglow.errors import MissingExtraError
from paneglow.fab import DialectName, PlacementRule, read_fabrication
from paneglow.judge import Finding, Verdict, check_board, check_costs, judge
from paneglow.look import Look, Precision, build_look, build_unfinished, render_pictures
from paneglow.results import (
    MODEL_REFERENCES,
    CostResults,
    Device,
    Evaluation,
    Provenance,
    Quality,
    StageTime,
    TracedLight,
    Version,
    build_option_light,
    build_options,
    hash_design_files,
    read_light,
)
from paneglow.scene import build_scene
from paneglow.transport import TraceCache, TraceProgress, trace

# A trace stops where every window is this precise, at the latest after so many photons per LED
PRECISION: dict[Quality, Precision] = {
    "draft": Precision(mean_se_frac=0.05, evenness_se=0.05),
    "normal": Precision(mean_se_frac=0.02, evenness_se=0.02),
    "fine": Precision(mean_se_frac=0.005, evenness_se=0.006),
}
PHOTONS_PER_LED: dict[Quality, int] = {"draft": 32_000, "normal": 160_000, "fine": 1_024_000}

LEAST_PITCH_MM, MOST_PITCH_MM = 0.01, 0.5  # as for [board] pitch_mm of a design

READ, PLACE, SET, TRACE, SEE, JUDGE, COUNT = STAGES = (
    "read the design",
    "find windows and place LEDs",
    "set the scene",
    "trace the light",
    "look at the board",
    "judge",
    "count the cost",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far one stage is; `seconds_left` is None where it cannot be told."""

    stage: str
    done_frac: float
    seconds_left: float | None = None


Listener = Callable[[Progress], None]


@dataclass(slots=True)
class _Stopwatch:
    """Times the stages and reports where each starts and ends."""

    listener: Listener | None
    times: list[StageTime] = field(default_factory=list)

    def _tell(self, stage: str, *, done_frac: float, seconds_left: float | None = None) -> None:
        if self.listener is not None:
            self.listener(Progress(stage=stage, done_frac=done_frac, seconds_left=seconds_left))

    def pass_on_trace(self, progress: TraceProgress) -> None:
        self._tell(TRACE, done_frac=progress.done_frac, seconds_left=progress.seconds_left)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        self._tell(name, done_frac=0.0)
        start = time.perf_counter()
        yield
        self.times.append(StageTime(stage=name, seconds=time.perf_counter() - start))
        self._tell(name, done_frac=1.0, seconds_left=0.0)


def _check_device(device: Device) -> str:
    if device == "cuda":
        raise MissingExtraError("device cuda is not in this version; use --device cpu or leave it out")
    return "cpu"


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
        Where the light is traced; this version traces on the CPU only.
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
    traced_on = _check_device(device)
    design_path = design_file(design_path)
    watch = _Stopwatch(on_progress)
    with watch.stage(READ):
        design, catalog = _read(design_path)
    with watch.stage(PLACE):
        board = build_board(design, folder=design_path.parent, catalog=catalog)
    with watch.stage(SET):
        scene = build_scene(board, design=design, catalog=catalog)
    with watch.stage(TRACE):
        cache = None if cache_folder is None else TraceCache(folder=cache_folder)
        tally = trace(
            scene,
            photons_per_led=PHOTONS_PER_LED[quality],
            seed=seed,
            unfinished=build_unfinished(board, design=design, scene=scene, precision=PRECISION[quality]),
            on_progress=watch.pass_on_trace,
            cache=cache,
        )
    with watch.stage(SEE):
        look = build_look(board=board, design=design, catalog=catalog, scene=scene, tally=tally)
        pictures = render_pictures(look, board=board, design=design)
    with watch.stage(JUDGE):
        verdict = judge(design=design, board=board, catalog=catalog, scene=scene, tally=tally, look=look)
    with watch.stage(COUNT):
        money = _count_lit(design_path, design=design, board=board, look=look, verdict=verdict, on=on, seed=seed)
    return Evaluation(
        design=design,
        catalog=catalog,
        board=board,
        scene=scene,
        tally=tally,
        look=look,
        pictures=pictures,
        verdict=verdict,
        cost=money,
        provenance=Provenance(
            version=paneglow.__version__,
            design_sha256=hash_design_files(design_path, design=design),
            seed=seed,
            quality=quality,
            photons=tally.photons,
            device=traced_on,
            stages=tuple(watch.times),
            references=MODEL_REFERENCES,
        ),
    )


def check(design_path: Path) -> tuple[Board, tuple[Finding, ...], Design]:
    """Read a design and find the defects that show without tracing light.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it.

    Returns
    -------
    board : Board
    findings : tuple of Finding
        As `paneglow.judge.check_board` gives them.
    design : Design
        As read.

    Raises
    ------
    PaneglowError
        Where an input is wrong.
    """
    design_path = design_file(design_path)
    design, catalog = _read(design_path)
    board = build_board(design, folder=design_path.parent, catalog=catalog)
    return board, check_board(design, board=board, catalog=catalog), design


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
    design, catalog = _read(design_path)
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
    return _count(design_path, design=read_design(design_path), on=on, quantities=quantities, seed=seed, light=traced)


def _count_lit(
    design_path: Path,
    *,
    design: Design,
    board: Board,
    look: Look,
    verdict: Verdict,
    on: date | None,
    seed: int,
) -> CostResults | None:
    """What the piece costs, beside the light that was just traced; None where no cost file lies beside the design."""
    if not cost_file(design_path).is_file():
        return None
    light = TracedLight(
        leds=tuple((led.part.code, led.mounting) for led in board.leds),
        seen=build_option_light(look.windows, verdict=verdict),
    )
    return _count(design_path, design=design, on=on or date.today(), seed=seed, light=light)


def _count(
    design_path: Path,
    *,
    design: Design,
    on: date,
    quantities: Sequence[int] = (),
    seed: int,
    light: TracedLight | None,
) -> CostResults:
    """What the piece of a design costs by the cost file beside it."""
    path = cost_file(design_path)
    costs = read_costs(path)
    bill = build_bill(design, folder=design_path.parent)
    own = Version(name=design.name, costing=build_costing(costs, bill=bill), light=light)
    runs = tuple(quantities) or (min(design.run.quantity, MOST_PIECES),)
    answer = build_answer(own.costing, quantities=runs, seed=seed)
    others = [_version(option, costing=own.costing, folder=path.parent) for option in costs.option]
    return CostResults(
        name=design.name,
        currency=costs.currency,
        on=on,
        answer=answer,
        options=build_options([own, *others], good=runs[0]),
        findings=check_costs(costs, answer=answer, good=runs[0], on=on),
        inputs=costs,
    )


def _version(option: Option, *, costing: Costing, folder: Path) -> Version:
    """A version of the piece that the cost file sets beside the design."""
    if option.design is None:
        bill = swap_parts(costing.bill, swaps=option.swap)
    else:
        other = design_file(folder / option.design)
        bill = build_bill(read_design(other), folder=other.parent)
    light = None if option.results is None else read_light(folder / option.results)
    return Version(name=option.name, costing=build_costing(costing.costs, bill=bill), light=light)


def _read(design_path: Path) -> tuple[Design, Catalog]:
    """The design and the catalogue with the user's own parts over it."""
    design = read_design(design_path)
    user_parts = design_path.parent / "parts"
    return design, read_catalog(user_parts=user_parts if user_parts.is_dir() else None)


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
