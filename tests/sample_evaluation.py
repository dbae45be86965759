"""A made-up evaluation for tests of the faces: shaped like a real one, its numbers invented and meaning nothing."""

import numpy as np
from shapely.geometry import MultiPolygon, Point, box

from paneglow.board import Board, FaceCover, FaceMaps, OtherOpening, PlacedLed, Shadow, Window, WindowSurvey
from paneglow.catalog import AbsorptionTable, Body, Catalog, Film, Laminate, Part, Peak, Spectrum, Surface
from paneglow.design import BoardDesign, Design, Goals, LedGroup, WindowDesign
from paneglow.grid import Grid
from paneglow.judge import Caution, Finding, GoalResult, Verdict
from paneglow.look import Look, Pictures, WindowLook
from paneglow.results import MODEL_REFERENCES, Evaluation, Provenance, StageTime
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import Fates, LedLight, Tally
from paneglow.units import Estimate, Quantity

INVENTED = "invented for a test"
GRID = Grid(x_min_mm=-1.0, y_min_mm=-1.0, pitch_mm=0.2, n_x=210, n_y=160)
# name, centre, radius, colour word, chromaticity, mean luminance, evenness, bleed
WINDOW_ROWS = (
    ("lantern", (20.0, 22.0), 2.6, "amber", (0.57, 0.42), 46.0, 0.61, 0.02),
    ("house window", (9.0, 8.0), 1.8, "white", (0.33, 0.34), 21.0, 0.34, 0.18),
    ("buoy", (31.0, 9.0), 2.2, "red", (0.69, 0.31), 12.5, 0.72, 0.04),
    ("wave", (20.0, 4.5), 1.2, "blue", (0.14, 0.05), 0.82, 0.15, 0.33),
)


def assumed(value: float, low: float, high: float) -> Quantity:
    return Quantity(value=value, low=low, high=high, origin="assumed", source=INVENTED)


def sourced(value: float) -> Quantity:
    return Quantity(value=value, origin="sourced", source=INVENTED)


def ranged(value: float, *, spread: float = 0.4, se_frac: float = 0.01) -> Estimate:
    return Estimate(value=value, se=abs(value) * se_frac, low=value * (1 - spread), high=value * (1 + spread))


def make_part(colour: str, peak_nm: float) -> Part:
    return Part(
        code=f"sv-1204-{colour}",
        kind="side_view",
        colour=colour,
        body=Body(length_mm=3.2, width_mm=1.0, height_mm=1.5, origin="sourced", source=INVENTED),
        emitter_length_mm=assumed(2.0, 1.6, 2.4),
        emitter_width_mm=assumed(0.6, 0.4, 0.8),
        emitter_height_mm=assumed(0.7, 0.5, 0.9),
        half_angle_deg=sourced(60.0),
        spectrum=Spectrum(peaks=(Peak(peak_nm=peak_nm, fwhm_nm=20.0),), origin="assumed", source=INVENTED),
        test_current_ma=20.0,
        intensity_mcd=assumed(200.0, 120.0, 350.0),
        forward_voltage_v=assumed(2.0, 1.8, 2.4),
        current_max_ma=sourced(25.0),
        body_reflectance=assumed(0.6, 0.3, 0.9),
    )


def make_catalog(*, laminate_origin: str = "assumed") -> Catalog:
    parts = {
        part.code: part for part in (make_part("amber", 590.0), make_part("white", 450.0), make_part("red", 625.0))
    }
    laminate = Laminate(
        code="fr4-unknown",
        refractive_index=assumed(1.55, 1.52, 1.58),
        asymmetry=assumed(0.8, 0.7, 0.9),
        reduced_scatter_per_mm=Quantity(value=1.5, low=0.5, high=3.0, origin=laminate_origin, source=INVENTED),
        absorption=AbsorptionTable(
            wavelength_nm=(465.0, 525.0, 590.0, 625.0),
            absorb_per_mm=(0.25, 0.06, 0.04, 0.03),
            low_factor=0.3,
            high_factor=3.0,
            origin=laminate_origin,
            source=INVENTED,
        ),
    )
    mask = Film(
        code="green",
        kind="mask",
        wavelength_nm=(450.0, 550.0, 650.0),
        transmittance=(0.15, 0.5, 0.15),
        reflectance=(0.05, 0.1, 0.05),
        haze=assumed(0.3, 0.1, 0.6),
        origin="assumed",
        source=INVENTED,
    )
    copper = Surface(
        code="copper", wavelength_nm=(450.0, 650.0), reflectance=(0.4, 0.9), origin="sourced", source=INVENTED
    )
    return Catalog(parts=parts, laminates={"fr4-unknown": laminate}, films={"green": mask}, surfaces={"copper": copper})


def make_design(**changes: object) -> Design:
    groups = tuple(
        LedGroup(
            refs=(f"D{index + 1}",),
            part=led.part.code,
            mounting=led.mounting,
            window=led.window,
            current_ma=led.current_ma,
        )
        for index, led in enumerate(make_leds(make_catalog()))
    )
    fields: dict[str, object] = {
        "name": "harbour test piece",
        "board": BoardDesign(fabrication="fab", placement="placement.csv"),
        "led": groups,
        "window": tuple(WindowDesign(name=row[0], at_mm=row[1]) for row in WINDOW_ROWS),
        "goals": Goals(evenness_min=0.5, luminance_min_cd_m2=10.0, bleed_max=0.1),
    }
    return Design(**(fields | changes))


def make_leds(catalog: Catalog) -> tuple[PlacedLed, ...]:
    codes = ("sv-1204-amber", "sv-1204-white", "sv-1204-red")
    return tuple(
        PlacedLed(
            ref=f"D{index + 1}",
            part=catalog.parts[code],
            mounting="side_view",
            at_mm=(row[1][0] - row[2] - 1.5, row[1][1]),
            rotation_deg=0.0,
            side="back",
            window=row[0],
            current_ma=2.0,
            diffuser="none",
            gap_mm=None,
        )
        for index, (code, row) in enumerate(zip(codes, WINDOW_ROWS, strict=False))
    )


def make_window(row: tuple) -> Window:
    polygon = Point(row[1]).buffer(row[2])
    bare = FaceCover(state="bare", bare_frac=1.0, masked_frac=0.0, inked_frac=0.0)
    mixed = FaceCover(state="mixed", bare_frac=0.7, masked_frac=0.2, inked_frac=0.1)
    shadow = Shadow(kind="trace", layer="copper_back", area_mm2=0.4, at_mm=row[1])
    return Window(
        name=row[0],
        area_mm2=polygon.area,
        bbox_mm=polygon.bounds,
        centre_mm=row[1],
        width_mm=2 * row[2],
        polygon=polygon,
        exposure="bare both faces",
        front=bare,
        back=mixed if row[0] == "wave" else bare,
        shadows=(shadow,) if row[0] == "wave" else (),
        decision="No copper on any layer and the mask is opened on both faces.",
    )


def make_board(catalog: Catalog) -> Board:
    outline = MultiPolygon([box(0, 0, 40, 30).buffer(-3).buffer(3)])
    empty = np.zeros(GRID.shape, dtype=np.float32)
    full = np.ones(GRID.shape, dtype=np.float32)
    maps = FaceMaps(
        grid=GRID,
        outline=outline,
        outline_inside=full,
        inside=full,
        holes=empty,
        plated_holes=empty,
        copper_front=empty,
        copper_back=empty,
        copper_inner=(),
        mask_front=full,
        mask_back=full,
        legend_front=empty,
        legend_back=empty,
        copper_layers=2,
        notes=(),
    )
    windows = tuple(make_window(row) for row in WINDOW_ROWS)
    survey = WindowSurvey(
        outline_area_mm2=outline.area,
        copper_layers=2,
        pieces=1,
        windows=windows,
        others=(
            OtherOpening(kind="fiducial", area_mm2=3.14, at_mm=(2.0, 28.0), reason="a round clearance about a pad"),
        ),
        labels=np.zeros(GRID.shape, dtype=np.int32),
        notes=("The legend of the back is empty.",),
    )
    return Board(name="harbour test piece", thickness_mm=1.6, maps=maps, survey=survey, leds=make_leds(catalog))


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
            batches=np.zeros((4, *GRID.shape), dtype=np.float32),
            fates=fates,
            fates_se=errors,
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
        room_stack_xyz=np.full((1, 3), 5.0),
        windows=tuple(make_window_look(row, spread=spread) for row in WINDOW_ROWS),
        assumed=spread > 0,
    )


def make_pictures() -> Pictures:
    luminance = make_luminance()[::-1]
    level = np.clip(np.log10(luminance / 0.01) / np.log10(5000.0), 0.0, 1.0)
    warm = (level[..., None] * np.array([255.0, 200.0, 120.0])).astype(np.uint8).repeat(4, axis=0).repeat(4, axis=1)
    return Pictures(
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
    return Verdict(passed=False, goals=make_goals(), findings=findings, cautions=(caution,))


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


def make_evaluation(*, laminate_origin: str = "assumed", verdict: Verdict | None = None) -> Evaluation:
    """An evaluation of four windows and three LEDs on a 40 x 30 mm board; every number is invented."""
    catalog = make_catalog(laminate_origin=laminate_origin)
    board = make_board(catalog)
    scene = make_scene(board)
    return Evaluation(
        design=make_design(),
        catalog=catalog,
        board=board,
        scene=scene,
        tally=make_tally(scene),
        look=make_look(spread=0.4 if laminate_origin == "assumed" else 0.0),
        pictures=make_pictures(),
        verdict=make_verdict() if verdict is None else verdict,
        provenance=make_provenance(),
    )
