"""The chain from a design file to a verdict, as one readable function."""

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import paneglow
from paneglow.board import Board, FaceMaps, WindowSurvey, build_board, build_face_maps, survey_windows
from paneglow.catalog import Catalog, read_catalog
from paneglow.checks import check_between
from paneglow.design import BoardDesign, Design, design_file, read_design
from paneglow.drive import (
    DriveAnswer,
    LitDrive,
    at_test_currents,
    build_lights,
    current_source,
    light_drive,
    light_of,
    relit_scene,
    solve_drive,
    with_point,
)
from paneglow.errors import MissingExtraError
from paneglow.fab import read_fabrication
from paneglow.judge import Finding, Verdict, check_board, judge
from paneglow.look import Look, Pictures, build_look, render_pictures
from paneglow.results import (
    MODEL_REFERENCES,
    Device,
    Evaluation,
    Provenance,
    Quality,
    StageTime,
    hash_design_files,
)
from paneglow.scene import Scene, build_scene
from paneglow.transport import Tally, TraceCache, TraceProgress, trace

PHOTONS_PER_LED: dict[Quality, int] = {"draft": 25_000, "normal": 150_000, "fine": 1_000_000}

LEAST_PITCH_MM, MOST_PITCH_MM = 0.01, 0.5  # as for [board] pitch_mm of a design

READ, PLACE, SET, TRACE, DRIVE, SEE, JUDGE = STAGES = (
    "read the design",
    "find windows and place LEDs",
    "set the scene",
    "trace the light",
    "drive the LEDs",
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
) -> Evaluation:
    """Read a design, trace its light and judge it.

    Parameters
    ----------
    design_path : Path
        A design.toml, or the folder that holds it. Own parts are read from parts/ beside it.
    quality : {"draft", "normal", "fine"}
        Photons per LED, by `PHOTONS_PER_LED`.
    device : {"auto", "cpu", "cuda"}
        Where the light is traced; this version traces on the CPU only.
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
    traced_on, design_path = _check_device(device), design_file(design_path)
    watch = _Stopwatch(on_progress)
    with watch.stage(READ):
        design, catalog = _read(design_path)
    with watch.stage(PLACE):
        wired = _wired(design, folder=design_path.parent, catalog=catalog)
    with watch.stage(SET):
        scene = build_scene(wired.traced_board, design=design, catalog=catalog)
    with watch.stage(TRACE):
        cache = None if cache_folder is None else TraceCache(folder=cache_folder)
        photons = PHOTONS_PER_LED[quality]
        tally = trace(scene, photons_per_led=photons, seed=seed, on_progress=watch.pass_on_trace, cache=cache)
    with watch.stage(DRIVE):
        lit, shown, other = _driven(wired, scene=scene, tally=tally, catalog=catalog)
    with watch.stage(SEE):
        look, pictures = _seen(shown, design=design, catalog=catalog, tally=tally)
        unlike = None if other is None else _seen(other, design=design, catalog=catalog, tally=tally)[1]
    with watch.stage(JUDGE):
        verdict = _judged(shown, wired=wired, catalog=catalog, tally=tally, look=look, lit=lit)
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
        other_pictures=unlike,
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Wired:
    """A board before and after its circuit is solved; the same one where currents come from the design."""

    design: Design
    board: Board
    drive: DriveAnswer | None

    @property
    def by_circuit(self) -> bool:
        """Whether currents come from a circuit, as wired or as matched."""
        return current_source(self.design) != "design"

    @property
    def traced_board(self) -> Board:
        """The board with every wired LED at its test current, so that none is dark while light is traced."""
        return at_test_currents(self.board, design=self.design)

    @property
    def light_frac(self) -> dict[str, float]:
        """Light of every wired LED by ref, over that at its test current."""
        return {} if self.drive is None or not self.by_circuit else light_of(self.drive.point)

    @property
    def present_board(self) -> Board:
        """The board at the currents that flow as it is wired."""
        known = self.drive is not None and self.by_circuit
        return with_point(self.board, point=self.drive.point) if known and self.drive is not None else self.board


def _wired(design: Design, *, folder: Path, catalog: Catalog) -> _Wired:
    board = build_board(design, folder=folder, catalog=catalog)
    return _Wired(design=design, board=board, drive=solve_drive(design, board=board))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """A board and its scene at the same currents."""

    board: Board
    scene: Scene


def _driven(wired: _Wired, *, scene: Scene, tally: Tally, catalog: Catalog) -> tuple[LitDrive, _State, _State | None]:
    """The drive, the state that is judged, and the one before or after matching to compare it with."""
    lights = build_lights(wired.traced_board, scene=scene, tally=tally, light_frac=wired.light_frac)
    lit = light_drive(wired.design, board=wired.present_board, catalog=catalog, drive=wired.drive, lights=lights)
    before = _State(
        board=wired.present_board, scene=relit_scene(scene, board=wired.traced_board, light_frac=wired.light_frac)
    )
    if lit.match is None:
        return lit, before, None
    point = lit.match.drive.point
    after = _State(
        board=with_point(wired.board, point=point),
        scene=relit_scene(scene, board=wired.traced_board, light_frac=light_of(point)),
    )
    return (lit, after, before) if lit.currents == "matching" else (lit, before, after)


def _seen(state: _State, *, design: Design, catalog: Catalog, tally: Tally) -> tuple[Look, Pictures]:
    look = build_look(board=state.board, design=design, catalog=catalog, scene=state.scene, tally=tally)
    return look, render_pictures(look, board=state.board, design=design)


def _judged(state: _State, *, wired: _Wired, catalog: Catalog, tally: Tally, look: Look, lit: LitDrive) -> Verdict:
    return judge(
        design=wired.design,
        board=state.board,
        catalog=catalog,
        scene=state.scene,
        tally=tally,
        look=look,
        drive=lit.drive if wired.by_circuit else None,
    )


def check(design_path: Path) -> tuple[Board, tuple[Finding, ...]]:
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

    Raises
    ------
    PaneglowError
        Where an input is wrong.
    """
    design_path = design_file(design_path)
    design, catalog = _read(design_path)
    wired = _wired(design, folder=design_path.parent, catalog=catalog)
    drive = wired.drive if wired.by_circuit else None
    return wired.present_board, check_board(design, board=wired.present_board, catalog=catalog, drive=drive)


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
