"""The chain from a design file to a verdict, as one readable function."""

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import paneglow
from paneglow.assembly import WrittenPlacement, build_placement
from paneglow.board import Board, FaceMaps, WindowSurvey, build_board, build_face_maps, survey_windows
from paneglow.catalog import Catalog, read_catalog
from paneglow.checks import check_between
from paneglow.design import BoardDesign, Design, design_file, read_design
from paneglow.fab import DialectName, PlacementRule, read_fabrication
from paneglow.judge import Finding, check_board, judge
from paneglow.look import Precision, build_look, build_unfinished, render_pictures
from paneglow.results import (
    MODEL_REFERENCES,
    Device,
    Evaluation,
    Provenance,
    Quality,
    StageTime,
    hash_design_files,
)
from paneglow.scene import build_scene
from paneglow.transport import TraceCache, TraceProgress, choose_device, trace

# A trace stops where every window is this precise, at the latest after so many photons per LED
PRECISION: dict[Quality, Precision] = {
    "draft": Precision(mean_se_frac=0.05, evenness_se=0.05),
    "normal": Precision(mean_se_frac=0.02, evenness_se=0.02),
    "fine": Precision(mean_se_frac=0.005, evenness_se=0.006),
}
PHOTONS_PER_LED: dict[Quality, int] = {"draft": 32_000, "normal": 160_000, "fine": 1_024_000}

LEAST_PITCH_MM, MOST_PITCH_MM = 0.01, 0.5  # as for [board] pitch_mm of a design

READ, PLACE, SET, TRACE, SEE, JUDGE = STAGES = (
    "read the design",
    "find windows and place LEDs",
    "set the scene",
    "trace the light",
    "look at the board",
    "judge",
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


def evaluate(
    design_path: Path,
    *,
    quality: Quality = "normal",
    device: Device = "auto",
    seed: int = 1,
    on_progress: Listener | None = None,
    cache_folder: Path | None = None,
) -> Evaluation:
    """Read a design, trace its light and judge it.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it. Own parts are read from parts/ beside it.
    quality : {"draft", "normal", "fine"}
        How precise every window's mean and evenness must be, by `PRECISION`, and the most photons per LED.
    device : {"auto", "cpu", "cuda"}
        Where the light is traced; "auto" is an NVIDIA GPU where one can be used, else the CPU.
    seed : int
        The same seed gives the same numbers.
    on_progress : callable, optional
        Called with a Progress as the work goes on, in the calling thread.
    cache_folder : Path, optional
        Folder of traces kept from earlier runs; what has not changed is not traced again, with the same numbers.

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
            device=traced_on,
        )
    with watch.stage(SEE):
        look = build_look(board=board, design=design, catalog=catalog, scene=scene, tally=tally)
        pictures = render_pictures(look, board=board, design=design)
    with watch.stage(JUDGE):
        verdict = judge(design=design, board=board, catalog=catalog, scene=scene, tally=tally, look=look)
    return Evaluation(
        design=design,
        catalog=catalog,
        board=board,
        scene=scene,
        tally=tally,
        look=look,
        pictures=pictures,
        verdict=verdict,
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
