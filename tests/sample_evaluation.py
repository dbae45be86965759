"""A made-up evaluation for tests of the faces: shaped like a real one, its numbers invented and meaning nothing."""

import numpy as np

from paneglow.assembly import assemble
from paneglow.board import Board
from paneglow.judge import Caution, Finding, GoalResult, Verdict, build_changes
from paneglow.look import Look, Pictures, WindowLook
from paneglow.results import MODEL_REFERENCES, Evaluation, Provenance, StageTime
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import Fates, LedLight, Tally
from paneglow.units import Estimate
from sample_board import GRID, WINDOW_ROWS, make_board, make_catalog, make_design, make_leds


def ranged(value: float, *, spread: float = 0.4, se_frac: float = 0.01) -> Estimate:
    return Estimate(value=value, se=abs(value) * se_frac, low=value * (1 - spread), high=value * (1 + spread))


def make_scene(board: Board) -> Scene:
    nodes = np.array([0, 1, 2], dtype=np.int64)
    zeros = np.zeros(GRID.shape, dtype=np.uint8)
    classes = FaceClasses(
        names=("bare",),
        transmit=np.ones((1, 3)),
        reflect=np.zeros((1, 3)),
        haze=np.zeros(1),
        backing_reflect=np.zeros((1, 3)),
    )
    emitters = tuple(
        Emitter(
            ref=led.ref,
            window=led.window,
            centre_mm=(*led.at_mm, -0.7),
            axis=(1.0, 0.0, 0.0),
            u=(0.0, 1.0, 0.0),
            v=(0.0, 0.0, 1.0),
            size_mm=(2.0, 0.6),
            cos_table=np.array([1.0, 0.0]),
            cdf_table=np.array([0.0, 1.0]),
            intensity_table=np.array([0.3, 0.0]),
            nodes=nodes,
            xyz_per_lm=np.ones((3, 3)) / 3,
            flux_lm=0.06,
            flux_lm_low=0.035,
            flux_lm_high=0.1,
        )
        for led in board.leds
    )
    axis = np.array([465.0, 525.0, 590.0])
    slabs = tuple(
        Slab(name=name, scatter_per_mm=scatter, absorb_per_mm=np.array([0.25, 0.06, 0.04]) * factor)
        for name, scatter, factor in (("nominal", 7.5, 1.0), ("clear", 2.5, 0.3), ("murky", 15.0, 3.0))
    )
    return Scene(
        grid=GRID,
        front=zeros,
        back=zeros,
        body=zeros,
        classes=classes,
        wavelength_nm=axis,
        thickness_mm=1.6,
        refractive_index=1.55,
        asymmetry=0.8,
        slabs=slabs,
        emitters=emitters,
        view_angle_rad=0.0,
        map_grid=GRID,
    )


def make_tally(scene: Scene) -> Tally:
    shares = {
        "front": [0.06, 0.11, 0.03],
        "through": [0.0, 0.0, 0.0],
        "back": [0.42, 0.35, 0.5],
        "edge": [0.03, 0.05, 0.01],
        "hole": [0.01, 0.01, 0.0],
        "absorbed": [0.08, 0.08, 0.06],
        "missed": [0.4, 0.4, 0.4],
    }
    fates = Fates(**{name: np.array(values) for name, values in shares.items()})
    errors = Fates(**{name: np.full(3, 0.001) for name in shares})
    leds = tuple(
        LedLight(
            ref=emitter.ref,
            xyz=np.zeros((3, 3, *GRID.shape), dtype=np.float32),
            batches=np.zeros((3, 4, *GRID.shape), dtype=np.float32),
            fates=fates,
            fates_se=errors,
            angles=np.zeros((3, 10, 3)),
            angles_se=np.zeros((3, 10)),
            photons=150_000,
        )
        for emitter in scene.emitters
    )
    return Tally(
        map_grid=GRID,
        slab_names=tuple(slab.name for slab in scene.slabs),
        leds=leds,
        seed=1,
        device="cpu",
        photons=450_000,
        seconds=4.2,
    )


def make_window_look(row: tuple, *, spread: float) -> WindowLook:
    name, _, radius, word, (x, y), mean, evenness, bleed = row
    return WindowLook(
        name=name,
        area_mm2=float(np.pi * radius**2),
        leds=tuple(led.ref for led in make_leds(make_catalog()) if led.window == name),
        mean_cd_m2=ranged(mean, spread=spread),
        peak_cd_m2=ranged(mean * 1.8, spread=spread),
        evenness=ranged(evenness, spread=spread / 3),
        evenness_stops=ranged(float(-np.log2(evenness)), spread=spread / 3),
        evenness_nine_point=ranged(evenness * 1.1, spread=spread / 3),
        bleed=ranged(bleed, spread=spread / 2),
        contrast=ranged(mean / 4, spread=spread),
        chromaticity_x=x,
        chromaticity_y=y,
        dominant_wavelength_nm=None if word == "white" else {"amber": 591.0, "red": 627.0, "blue": 466.0}[word],
        purity=0.1 if word == "white" else 0.97,
        colour_word=word,
    )


def make_luminance() -> np.ndarray:
    x, y = np.meshgrid(GRID.x_centres_mm(), GRID.y_centres_mm())
    luminance = np.full(GRID.shape, 0.02)
    for _, centre, radius, _, _, mean, _, _ in WINDOW_ROWS:
        distance = np.hypot(x - centre[0], y - centre[1])
        luminance += np.where(distance < radius, mean * np.exp(-distance / radius), 0.0)
    return luminance


def make_look(*, spread: float) -> Look:
    luminance = make_luminance()
    xyz = np.stack([luminance] * 3)
    return Look(
        grid=GRID,
        xyz=xyz,
        luminance_cd_m2=luminance,
        luminance_se_cd_m2=luminance * 0.01,
        low_cd_m2=luminance * (1 - spread),
        high_cd_m2=luminance * (1 + spread),
        lit_room_xyz=xyz + 5.0,
        windows=tuple(make_window_look(row, spread=spread) for row in WINDOW_ROWS),
        assumed=spread > 0,
    )


def make_pictures() -> Pictures:
    luminance = make_luminance()[::-1]
    level = np.clip(np.log10(luminance / 0.01) / np.log10(5000.0), 0.0, 1.0)
    warm = (level[..., None] * np.array([255.0, 200.0, 120.0])).astype(np.uint8).repeat(4, axis=0).repeat(4, axis=1)
    return Pictures(
        grid=GRID,
        dark_adapted=warm,
        camera=np.minimum(warm.astype(np.int64) * 2, 255).astype(np.uint8),
        lit_room=(warm // 2 + 100).astype(np.uint8),
        false_colour=warm[..., ::-1].copy(),
        false_colour_scale_cd_m2=(0.1, 100.0),
    )


def make_goals() -> tuple[GoalResult, ...]:
    return (
        GoalResult(
            goal="evenness_min",
            window="lantern",
            required=0.5,
            found=ranged(0.61, spread=0.1),
            margin=0.05,
            outcome="met",
            sentence="Evenness 0.55 to 0.67 where at least 0.5 is asked.",
        ),
        GoalResult(
            goal="evenness_min",
            window="wave",
            required=0.5,
            found=ranged(0.15, spread=0.1),
            margin=-0.33,
            outcome="missed",
            sentence="Evenness 0.14 to 0.17 where at least 0.5 is asked.",
        ),
        GoalResult(
            goal="luminance_min_cd_m2",
            window="buoy",
            required=10.0,
            found=ranged(12.5),
            margin=-2.5,
            outcome="open",
            sentence="Mean luminance 7.5 to 18 cd/m2 where at least 10 is asked.",
        ),
    )


def make_verdict() -> Verdict:
    findings = (
        Finding(
            code="bleed-high",
            severity="note",
            subject="house window",
            at_mm=(9.0, 8.0),
            reason="18 % of its light comes from <D1> & others.",
            remedy="Set a row of plated holes between the two.",
        ),
        Finding(
            code="current-high",
            severity="error",
            subject="D3",
            at_mm=(27.3, 9.0),
            reason="Driven at 30 mA where 25 mA is the limit.",
            remedy="Lower the current to 25 mA.",
        ),
        Finding(
            code="laminate-assumed",
            severity="warning",
            subject="board",
            at_mm=None,
            reason="The laminate was never measured.",
            remedy="Measure an offcut.",
        ),
    )
    caution = Caution(
        code="button-cell",
        text="A swallowed cell burns; follow local rules and ask a qualified adviser.",
        source="16 CFR 1263",
    )
    goals = make_goals()
    changes = build_changes(findings, goals=goals, board=make_board(make_catalog()))
    return Verdict(passed=False, goals=goals, findings=findings, cautions=(caution,), changes=changes)


def make_provenance() -> Provenance:
    return Provenance(
        version="0.1.0",
        design_sha256="0123456789abcdef" * 4,
        seed=1,
        quality="normal",
        photons=450_000,
        device="cpu",
        stages=(StageTime(stage="trace the light", seconds=4.2), StageTime(stage="judge", seconds=0.1)),
        references=MODEL_REFERENCES,
    )


def make_evaluation(
    *,
    origin: str = "assumed",
    light_range: tuple[float, float] = (120.0, 350.0),
    verdict: Verdict | None = None,
) -> Evaluation:
    """An evaluation of four windows and three LEDs on a 40 x 30 mm board; every number is invented."""
    catalog = make_catalog(laminate_origin=origin, light_range=light_range)
    board = make_board(catalog)
    scene = make_scene(board)
    design = make_design()
    return Evaluation(
        design=design,
        catalog=catalog,
        board=board,
        assembled=assemble(design, board=board, catalog=catalog),
        scene=scene,
        tally=make_tally(scene),
        look=make_look(spread=0.4 if origin == "assumed" else 0.0),
        pictures=make_pictures(),
        verdict=make_verdict() if verdict is None else verdict,
        provenance=make_provenance(),
    )
