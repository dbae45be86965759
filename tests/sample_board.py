"""A made-up board, its catalogue and design, for tests of the faces; the numbers are invented and mean nothing."""

import numpy as np
from shapely.geometry import MultiPolygon, Point, box

from paneglow.board import Board, FaceCover, FaceMaps, OtherOpening, PlacedLed, Shadow, Window, WindowSurvey
from paneglow.catalog import AbsorptionTable, Body, Catalog, Film, Laminate, Part, Peak, Spectrum, Surface
from paneglow.design import BoardDesign, Design, Goals, LedGroup, WindowDesign
from paneglow.grid import Grid
from paneglow.units import Quantity

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


def make_part(colour: str, peak_nm: float, light_range: tuple[float, float]) -> Part:
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
        intensity_mcd=assumed(200.0, *light_range),
        forward_voltage_v=assumed(2.0, 1.8, 2.4),
        current_max_ma=sourced(25.0),
        body_reflectance=assumed(0.6, 0.3, 0.9),
    )


def make_catalog(*, laminate_origin: str = "assumed", light_range: tuple[float, float] = (120.0, 350.0)) -> Catalog:
    peaks_nm = {"amber": 590.0, "white": 450.0, "red": 625.0}
    made = [make_part(colour, peak_nm, light_range) for colour, peak_nm in peaks_nm.items()]
    parts = {part.code: part for part in made}
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
