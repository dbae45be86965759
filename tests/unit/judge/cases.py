"""A clean little board that no rule complains about, and the one change that makes each rule speak.

Two windows of 10 x 10 and 6 x 6 mm on a board of 40 x 30 mm; a side-view LED left of the first, a lens-down LED under
the second. Maps are made by hand: what is asserted follows from these shapes.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from paneglow.assembly import assemble
from paneglow.board import Board, FaceCover, FaceMaps, PlacedLed, Shadow, Window, WindowSurvey
from paneglow.catalog import AbsorptionTable, Catalog, Film, Laminate
from paneglow.design import BackCover, BoardDesign, Design, LedGroup, Supply, View, WindowDesign
from paneglow.grid import Grid
from paneglow.judge.findings import BoardContext, LightContext
from paneglow.look import Look, WindowLook
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import Fates, LedLight, Tally
from paneglow.units import Estimate, Quantity
from unit.judge.known_parts import INVENTED, SOLDER_DOWN, part, quantity

OUTLINE = box(0.0, 0.0, 40.0, 30.0)
LANTERN = box(10.0, 10.0, 20.0, 20.0)
BUOY = box(26.0, 10.0, 32.0, 16.0)
GRID = Grid.over(bounds_mm=OUTLINE.bounds, pitch_mm=0.1)
MAP_GRID = Grid.over(bounds_mm=OUTLINE.bounds, pitch_mm=0.5)


def exact(value: float) -> Estimate:
    return Estimate(value=value, se=0.0, low=value, high=value)


SIDE_PART = part(code="side-amber", kind="side_view", colour="amber", tape=SOLDER_DOWN)
SIDE_LED = PlacedLed(
    ref="D1",
    part=SIDE_PART,
    mounting="side_view",
    at_mm=(8.0, 15.0),
    rotation_deg=0.0,
    side="back",
    window="lantern",
    current_ma=1.0,
    diffuser="none",
    gap_mm=None,
)
FLAT_LED = replace(SIDE_LED, ref="D2", part=part(), mounting="lens_down", at_mm=(29.0, 13.0), window="buoy")
# Lands of both, edges on the raster: 0.9 mm beyond the ends of the bodies
SIDE_LANDS = (box(7.2, 16.0, 8.8, 17.5), box(7.2, 12.5, 8.8, 14.0))
FLAT_LANDS = (box(26.5, 12.2, 28.0, 13.8), box(30.0, 12.2, 31.5, 13.8))
LANDS = (*SIDE_LANDS, *FLAT_LANDS)


def window(name: str, polygon: Polygon) -> Window:
    bare = FaceCover(state="bare", bare_frac=1.0, masked_frac=0.0, inked_frac=0.0)
    return Window(
        name=name,
        area_mm2=polygon.area,
        bbox_mm=polygon.bounds,
        centre_mm=(polygon.centroid.x, polygon.centroid.y),
        width_mm=min(polygon.bounds[2] - polygon.bounds[0], polygon.bounds[3] - polygon.bounds[1]),
        polygon=polygon,
        exposure="bare both faces",
        front=bare,
        back=bare,
        shadows=(),
        decision="drawn so",
    )


def coverage(*shapes: Polygon) -> np.ndarray:
    x_mm, y_mm = np.meshgrid(GRID.x_centres_mm(), GRID.y_centres_mm())
    return shapely.contains_xy(shapely.union_all(list(shapes)), x_mm, y_mm).astype(np.float32)


def maps(*, holes: tuple[Polygon, ...] = (), copper_back: tuple[Polygon, ...] = LANDS) -> FaceMaps:
    nothing = np.zeros(GRID.shape, dtype=np.float32)
    inside = coverage(OUTLINE)
    hole_map = coverage(*holes) if holes else nothing
    return FaceMaps(
        grid=GRID,
        outline=MultiPolygon([OUTLINE]),
        outline_inside=inside,
        inside=inside - hole_map,
        holes=hole_map,
        plated_holes=nothing,
        copper_front=nothing,
        copper_back=coverage(*copper_back) if copper_back else nothing,
        copper_inner=(),
        mask_front=nothing,
        mask_back=nothing,
        legend_front=nothing,
        legend_back=nothing,
        copper_layers=2,
        notes=(),
    )


def board(*leds: PlacedLed, windows: tuple[Window, ...] | None = None, face_maps: FaceMaps | None = None) -> Board:
    shown = (window("lantern", LANTERN), window("buoy", BUOY)) if windows is None else windows
    survey = WindowSurvey(
        outline_area_mm2=OUTLINE.area,
        copper_layers=2,
        pieces=1,
        windows=shown,
        others=(),
        labels=np.zeros(GRID.shape, dtype=np.int32),
        notes=(),
    )
    return Board(
        name="test",
        thickness_mm=1.6,
        maps=maps() if face_maps is None else face_maps,
        survey=survey,
        leds=leds or (SIDE_LED, FLAT_LED),
    )


def catalog(*, laminate_origin: str = "measured") -> Catalog:
    scatter = Quantity(value=1.5, low=0.5, high=3.0, origin=laminate_origin, source=INVENTED)
    absorption = AbsorptionTable(
        wavelength_nm=(550.0,),
        absorb_per_mm=(0.05,),
        low_factor=0.5,
        high_factor=2.0,
        origin=laminate_origin,
        source=INVENTED,
    )
    laminate = Laminate(
        code="lot-a",
        refractive_index=quantity(1.55),
        asymmetry=quantity(0.8),
        reduced_scatter_per_mm=scatter,
        absorption=absorption,
    )
    green = Film(
        code="green",
        kind="mask",
        wavelength_nm=(465.0, 525.0),
        transmittance=(0.2, 0.6),
        reflectance=(0.05, 0.1),
        haze=quantity(0.0),
        origin="measured",
        source=INVENTED,
    )
    return Catalog(parts={}, laminates={"lot-a": laminate}, films={"green": green}, surfaces={})


def design(**changes: object) -> Design:
    plain = Design(
        name="test",
        board=BoardDesign(fabrication="fab/", laminate="lot-a"),
        led=(LedGroup(at_mm=(8.0, 15.0), part="side-amber", mounting="side_view", current_ma=1.0),),
        window=(WindowDesign(name="lantern", at_mm=(15.0, 15.0)), WindowDesign(name="buoy", at_mm=(29.0, 13.0))),
    )
    return plain.model_copy(update=changes)


def before_light(
    *, made: Board | None = None, wanted: Design | None = None, known: Catalog | None = None
) -> BoardContext:
    wanted, made, known = wanted or design(), made or board(), known or catalog()
    assembled = assemble(wanted, board=made, catalog=known)
    return BoardContext(
        design=wanted, board=made, catalog=known, polarity=assembled.polarity, building=assembled.building
    )


def emitter(led: PlacedLed, *, xyz_per_lm: tuple[float, float, float] = (2.0, 1.0, 0.01)) -> Emitter:
    return Emitter(
        ref=led.ref,
        window=led.window,
        centre_mm=(*led.at_mm, -0.1),
        axis=(0.0, 0.0, 1.0),
        u=(1.0, 0.0, 0.0),
        v=(0.0, 1.0, 0.0),
        size_mm=(1.0, 1.0),
        cos_table=np.array([1.0, 0.0]),
        cdf_table=np.array([0.0, 1.0]),
        intensity_table=np.array([1.0 / np.pi, 0.0]),
        nodes=np.array([0]),
        xyz_per_lm=np.array([xyz_per_lm]),
        flux_lm=0.01,
        flux_lm_low=0.01,
        flux_lm_high=0.01,
    )


def scene(*emitters: Emitter) -> Scene:
    empty = np.zeros(MAP_GRID.shape, dtype=np.uint8)
    bare = FaceClasses(
        names=("bare",),
        transmit=np.ones((1, 1)),
        reflect=np.zeros((1, 1)),
        haze=np.zeros(1),
        backing_reflect=np.zeros((1, 1)),
    )
    return Scene(
        grid=MAP_GRID,
        front=empty,
        back=empty,
        body=empty,
        classes=bare,
        wavelength_nm=np.array([600.0]),
        thickness_mm=1.6,
        refractive_index=1.55,
        asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=7.5, absorb_per_mm=np.array([0.05])),),
        emitters=emitters,
        view_angle_rad=0.0,
        map_grid=MAP_GRID,
    )


def light(ref: str, luminance: np.ndarray, *, xyz_ratio: tuple[float, float, float] = (2.0, 1.0, 0.01)) -> LedLight:
    xyz = np.stack([ratio * luminance for ratio in xyz_ratio])[np.newaxis].astype(np.float32)
    fates = Fates(**dict.fromkeys(("front", "through", "back", "edge", "hole", "absorbed", "missed"), np.zeros(1)))
    angles = np.zeros((1, 10, 1))
    return LedLight(
        ref=ref,
        xyz=xyz,
        batches=xyz[:, None, 1],
        fates=fates,
        fates_se=fates,
        angles=angles,
        angles_se=angles[:, :, 0],
        photons=1000,
    )


def tally(*leds: LedLight) -> Tally:
    return Tally(map_grid=MAP_GRID, slab_names=("nominal",), leds=leds, seed=1, device="cpu", photons=1000, seconds=0.1)


def on_window(polygon: Polygon, level: float) -> np.ndarray:
    """Luminance map that is level inside a polygon and 0 outside [cd/m2 per lm]."""
    x_mm, y_mm = np.meshgrid(MAP_GRID.x_centres_mm(), MAP_GRID.y_centres_mm())
    return level * shapely.contains_xy(polygon, x_mm, y_mm)


def seen(name: str, **changes: object) -> WindowLook:
    leds = {"lantern": ("D1",), "buoy": ("D2",)}.get(name, ())
    plain = WindowLook(
        name=name,
        area_mm2=100.0,
        leds=leds,
        mean_cd_m2=exact(100.0),
        peak_cd_m2=exact(130.0),
        evenness=exact(0.6),
        evenness_stops=exact(0.74),
        evenness_nine_point=exact(0.6),
        bleed=exact(0.0),
        contrast=exact(5.0),
        chromaticity_x=2.0 / 3.01,
        chromaticity_y=1.0 / 3.01,
        dominant_wavelength_nm=610.0,
        purity=1.0,
        colour_word="red",
    )
    return plain.model_copy(update=changes)


def look(*windows: WindowLook, luminance: np.ndarray | None = None) -> Look:
    shown = np.full(MAP_GRID.shape, 100.0) if luminance is None else luminance
    xyz = np.stack([shown, shown, shown])
    return Look(
        grid=MAP_GRID,
        xyz=xyz,
        luminance_cd_m2=shown,
        luminance_se_cd_m2=np.zeros_like(shown),
        low_cd_m2=shown,
        high_cd_m2=shown,
        lit_room_xyz=xyz,
        windows=windows or (seen("lantern"), seen("buoy")),
        assumed=False,
    )


def with_light(
    *,
    made: Board | None = None,
    wanted: Design | None = None,
    shown: Look | None = None,
    emitters: tuple[Emitter, ...] | None = None,
    traced: Tally | None = None,
) -> LightContext:
    clean = tally(light("D1", on_window(LANTERN, 1e4)), light("D2", on_window(BUOY, 1e4)))
    return LightContext(
        design=wanted or design(),
        board=made or board(),
        catalog=catalog(),
        scene=scene(*(emitters or (emitter(SIDE_LED), emitter(FLAT_LED)))),
        tally=traced or clean,
        look=shown or look(),
    )


def _shadowed() -> BoardContext:
    trace = Shadow(kind="trace", layer="copper_back", area_mm2=3.0, at_mm=(12.0, 15.0))
    return before_light(made=board(windows=(replace(window("lantern", LANTERN), shadows=(trace,)),)))


def _masked() -> BoardContext:
    closed = FaceCover(state="masked", bare_frac=0.0, masked_frac=1.0, inked_frac=0.0)
    return before_light(made=board(windows=(replace(window("lantern", LANTERN), front=closed),)))


def _on_a_cell(*leds: PlacedLed) -> BoardContext:
    return before_light(made=board(*leds), wanted=design(supply=Supply(kind="coin-cell")))


BLUE = part(code="chip-blue", colour="blue", forward_voltage_v=quantity(2.8, low=2.6, high=3.4))
COVERED = design(
    board=BoardDesign(fabrication="fab/", laminate="lot-a", back_cover=BackCover(distance_mm=5.0, reflectance=0.8))
)


def _lens_in_hole(hole: Polygon, *, plated: bool = False) -> BoardContext:
    lens = part(lens_length_mm=quantity(3.0), lens_width_mm=quantity(3.0))
    drawn = maps(holes=(hole,))
    drawn = replace(drawn, plated_holes=drawn.holes) if plated else drawn
    return before_light(made=board(SIDE_LED, replace(FLAT_LED, part=lens, mounting="through_hole"), face_maps=drawn))


BOARD_CASES: dict[str, Callable[[], BoardContext]] = {
    "window-shadowed": _shadowed,
    "window-under-mask": _masked,
    "window-unlit": lambda: before_light(made=board(SIDE_LED)),
    "windows-not-in-design": lambda: before_light(
        made=board(windows=(*board().survey.windows, window("w3", box(2.0, 2.0, 4.0, 4.0))))
    ),
    "led-without-window": lambda: before_light(made=board(SIDE_LED, FLAT_LED, replace(FLAT_LED, window=None))),
    "led-far-from-window": lambda: before_light(made=board(replace(SIDE_LED, at_mm=(2.0, 15.0)), FLAT_LED)),
    "side-view-aims-away": lambda: before_light(made=board(replace(SIDE_LED, rotation_deg=180.0), FLAT_LED)),
    "led-off-its-window": lambda: before_light(made=board(SIDE_LED, replace(FLAT_LED, at_mm=(24.0, 13.0)))),
    "led-behind-copper": lambda: before_light(made=board(face_maps=maps(copper_back=(box(28.5, 10.0, 29.0, 16.0),)))),
    "mounting-does-not-fit-part": lambda: before_light(made=board(replace(SIDE_LED, part=part()), FLAT_LED)),
    "top-view-without-cover": lambda: before_light(made=board(SIDE_LED, replace(FLAT_LED, mounting="top_view"))),
    "hole-too-tight": lambda: _lens_in_hole(Point(29.0, 13.0).buffer(1.48)),
    "opening-plated": lambda: _lens_in_hole(Point(29.0, 13.0).buffer(1.7), plated=True),
    "hole-missing": lambda: before_light(made=board(SIDE_LED, replace(FLAT_LED, mounting="through_hole"))),
    "led-over-hole": lambda: before_light(made=board(face_maps=maps(holes=(box(7.0, 14.0, 8.5, 16.0),)))),
    "led-over-outline": lambda: before_light(made=board(replace(SIDE_LED, at_mm=(0.3, 15.0)), FLAT_LED)),
    "leds-overlap": lambda: before_light(made=board(SIDE_LED, FLAT_LED, replace(FLAT_LED, ref="D3"))),
    "current-above-limit": lambda: before_light(made=board(SIDE_LED, replace(FLAT_LED, current_ma=25.0))),
    "forward-voltage-too-high": lambda: _on_a_cell(SIDE_LED, replace(FLAT_LED, part=BLUE)),
    "supply-current-too-high": lambda: _on_a_cell(SIDE_LED, replace(FLAT_LED, current_ma=4.0)),
    "cell-empties-soon": lambda: _on_a_cell(SIDE_LED),
    "flashes-too-fast": lambda: before_light(
        wanted=design(supply=Supply(kind="regulated", flash_hz=5.0), view=View(distance_mm=100.0))
    ),
    "laminate-assumed": lambda: before_light(known=catalog(laminate_origin="assumed")),
}


def _bleeding() -> LightContext:
    # D2 sends a third as much into the lantern as D1: share 0.25
    stray = on_window(BUOY, 1e4) + on_window(LANTERN, 1e4 / 3)
    return with_light(
        shown=look(seen("lantern", bleed=exact(0.25)), seen("buoy")),
        traced=tally(light("D1", on_window(LANTERN, 1e4)), light("D2", stray)),
    )


def _uneven() -> LightContext:
    ramp = np.tile(np.linspace(400.0, 1.0, MAP_GRID.n_x), (MAP_GRID.n_y, 1))
    return with_light(
        shown=look(seen("lantern", evenness_stops=exact(3.0), peak_cd_m2=exact(1000.0)), seen("buoy"), luminance=ramp)
    )


def _tinted() -> LightContext:
    # The laminate takes half of X, so the shown chromaticity moves and so does that of the window's own light
    own = light("D1", on_window(LANTERN, 1e4), xyz_ratio=(1.0, 1.0, 0.01))
    shown = seen("lantern", chromaticity_x=1.0 / 2.01, chromaticity_y=1.0 / 2.01, colour_word="yellow")
    return with_light(shown=look(shown, seen("buoy")), traced=tally(own, light("D2", on_window(BUOY, 1e4))))


LIGHT_CASES: dict[str, Callable[[], LightContext]] = {
    "window-bleeds": _bleeding,
    "window-uneven": _uneven,
    "lost-in-room-light": lambda: with_light(shown=look(seen("lantern", contrast=exact(1.05)), seen("buoy"))),
    "colour-drifts": _tinted,
    "result-noisy": lambda: with_light(
        shown=look(seen("lantern", mean_cd_m2=Estimate(value=100.0, se=8.0, low=100.0, high=100.0)), seen("buoy"))
    ),
    "window-dark": lambda: with_light(shown=look(seen("lantern", mean_cd_m2=exact(0.0)), seen("buoy"))),
}
