"""Scenes from boards: geometry by mounting style, face classes, slab versions, openings."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from paneglow.board import Board, FaceMaps, PlacedLed, WindowSurvey
from paneglow.catalog import find_film, find_laminate, find_part, find_surface, read_catalog
from paneglow.design import BackCover, BoardDesign, Design, FrontFilm, LightWallDesign
from paneglow.errors import CatalogError
from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import BODY_HOLE, BODY_LAMINATE, BODY_OUTSIDE, BODY_PLATED_HOLE, build_scene
from paneglow.scene.coats import build_coat_kit
from paneglow.scene.emitters import diffused, find_opening
from paneglow.scene.pose import pose_of

CATALOG = read_catalog()
GRID = Grid(x_min_mm=-1.0, y_min_mm=-1.0, pitch_mm=0.1, n_x=220, n_y=220)
THICKNESS_MM = 1.6


def disc(x_mm, y_mm, radius_mm):
    x = GRID.x_centres_mm()[None, :] - x_mm
    y = GRID.y_centres_mm()[:, None] - y_mm
    return ((x**2 + y**2) <= radius_mm**2).astype(np.float32)


def rectangle(left, low, right, high):
    x = GRID.x_centres_mm()[None, :]
    y = GRID.y_centres_mm()[:, None]
    return ((x > left) & (x < right) & (y > low) & (y < high)).astype(np.float32)


def make_board(*, leds=(), holes=None, plated=None, inner=(), mask_front=None, legend_front=None):
    board_area = rectangle(0.0, 0.0, 20.0, 20.0)
    none = np.zeros(GRID.shape, dtype=np.float32)
    holes = none if holes is None else holes
    copper = board_area * (1.0 - disc(10.0, 10.0, 4.0))
    maps = FaceMaps(
        grid=GRID,
        outline=MultiPolygon([box(0.0, 0.0, 20.0, 20.0)]),
        outline_inside=board_area,
        inside=board_area * (1.0 - holes),
        holes=holes,
        plated_holes=none if plated is None else plated,
        copper_front=copper,
        copper_back=copper,
        copper_inner=inner,
        mask_front=copper if mask_front is None else mask_front,
        mask_back=copper,
        legend_front=none if legend_front is None else legend_front,
        legend_back=none,
        copper_layers=2 + len(inner),
        notes=(),
    )
    survey = WindowSurvey(
        outline_area_mm2=400.0, copper_layers=2, pieces=1, windows=(), others=(),
        labels=np.zeros(GRID.shape, dtype=np.int32), notes=(),
    )  # fmt: skip
    return Board(name="square", thickness_mm=THICKNESS_MM, maps=maps, survey=survey, leds=tuple(leds))


def placed(code, mounting, **changes):
    led = PlacedLed(
        ref="D1", part=find_part(CATALOG, code), mounting=mounting, at_mm=(10.0, 10.0), rotation_deg=0.0, side="back",
        window=None, current_ma=5.0, diffuser="none", gap_mm=None,
    )  # fmt: skip
    return replace(led, **changes)


def design(**board):
    return Design(name="square", board=BoardDesign(fabrication="fab", **board))


def scene_of(*leds, board=None, **board_design):
    made = make_board(leds=leds) if board is None else replace(board, leds=leds)
    return build_scene(made, design=design(**board_design), catalog=CATALOG)


STYLES = {
    "lens_down": "tv-1206-amber",
    "reverse": "rv-1206-amber",
    "side_view": "sv-1204-amber",
    "top_view": "tv-1206-amber",
    "carrier": "tv-1206-amber",
}


@pytest.mark.parametrize(("mounting", "code"), STYLES.items())
@pytest.mark.parametrize("rotation_deg", [0.0, 37.0, 90.0, 200.0])
def test_every_style_holds_an_orthonormal_emitter_clear_of_the_back_face(mounting, code, rotation_deg):
    pose = pose_of(placed(code, mounting, rotation_deg=rotation_deg), thickness_mm=THICKNESS_MM)
    frame = np.array([pose.u, pose.v, pose.axis])
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    reach = 0.5 * (pose.size_mm[0] * abs(pose.u[2]) + pose.size_mm[1] * abs(pose.v[2]))
    assert pose.centre_mm[2] + reach < 0.0


@pytest.mark.parametrize(
    ("mounting", "toward"), [("lens_down", 1.0), ("reverse", 1.0), ("carrier", 1.0), ("top_view", -1.0)]
)
def test_upright_styles_shine_along_the_normal(mounting, toward):
    assert pose_of(placed(STYLES[mounting], mounting), thickness_mm=1.6).axis == (0.0, 0.0, toward)


def test_a_side_view_part_shines_along_its_rotation_from_its_front_edge():
    led = placed("sv-1204-amber", "side_view", rotation_deg=90.0)
    pose = pose_of(led, thickness_mm=1.6)
    np.testing.assert_allclose(pose.axis, (0.0, 1.0, 0.0), atol=1e-12)
    assert pose.centre_mm[1] == pytest.approx(10.0 + 0.5 * led.part.body.width_mm)
    assert pose.v == (0.0, 0.0, 1.0)


def test_a_part_on_the_front_is_the_mirror_image_of_one_on_the_back():
    back = pose_of(placed("sv-1204-amber", "side_view"), thickness_mm=1.6)
    front = pose_of(placed("sv-1204-amber", "side_view", side="front"), thickness_mm=1.6)
    assert front.centre_mm[2] == pytest.approx(1.6 - back.centre_mm[2])
    assert front.axis == (back.axis[0], back.axis[1], -back.axis[2])


def test_gap_of_the_design_overrides_the_style():
    pose = pose_of(placed("tv-1206-amber", "carrier", gap_mm=5.0), thickness_mm=1.6)
    assert pose.centre_mm[2] == pytest.approx(-5.0, abs=0.02)


def test_flux_is_linear_in_current():
    one, four = (scene_of(placed("tv-1206-amber", "lens_down", current_ma=ma)).emitters[0] for ma in (1.0, 4.0))
    assert four.flux_lm == pytest.approx(4.0 * one.flux_lm)
    assert four.flux_lm_low == pytest.approx(4.0 * one.flux_lm_low)
    assert one.flux_lm_low < one.flux_lm < one.flux_lm_high


def test_one_emitted_lumen_has_luminance_weight_one():
    for code in ("tv-1206-blue", "tv-1206-white", "sv-1204-green"):
        emitter = scene_of(placed(code, "carrier")).emitters[0]
        assert emitter.xyz_per_lm[:, 1].sum() == pytest.approx(1.0)


def test_body_map_tells_laminate_hole_and_outside_apart():
    scene = scene_of(board=make_board(holes=disc(5.0, 5.0, 1.0)))
    at = {name: GRID.pixel_at(x_mm=x, y_mm=y) for name, x, y in (("l", 10, 10), ("h", 5, 5), ("o", -0.5, 3))}
    assert scene.body[at["l"]] == BODY_LAMINATE
    assert scene.body[at["h"]] == BODY_HOLE
    assert scene.body[at["o"]] == BODY_OUTSIDE


def test_face_classes_follow_the_stack():
    board = make_board(mask_front=rectangle(0, 0, 20, 10), legend_front=rectangle(0, 8, 20, 12))
    scene = scene_of(board=board, mask="blue")
    names = scene.classes.names

    def name_at(face, x, y):
        return names[face[GRID.pixel_at(x_mm=x, y_mm=y)]]

    assert name_at(scene.front, 10.0, 13.0) == "bare"
    assert name_at(scene.front, 10.0, 7.0) == "blue"
    assert name_at(scene.front, 10.0, 11.0) == "white-legend"
    assert name_at(scene.front, 10.0, 9.0) == "white-legend over blue"
    assert name_at(scene.front, 2.0, 2.0) == "copper-treated"
    assert name_at(scene.back, 10.0, 9.0) == "bare"


def test_inner_copper_lies_at_its_depth_below_the_nearer_face():
    spot = disc(10.0, 10.0, 1.0)
    scene = scene_of(board=make_board(inner=(spot, 1.0 - spot)))
    front, back = scene.inner
    assert (front.height_mm, back.height_mm) == (pytest.approx(1.4), pytest.approx(0.2))
    np.testing.assert_array_equal(front.copper, spot > 0.5)
    assert (scene_of(board=make_board(inner=(spot, spot)), inner_depth_mm=0.3).inner[0].height_mm) == pytest.approx(1.3)
    assert scene.classes.names[scene.front[GRID.pixel_at(x_mm=10.0, y_mm=10.0)]] == "bare"


def test_an_inner_layer_without_copper_is_no_layer():
    none = np.zeros(GRID.shape, dtype=np.float32)
    assert scene_of(board=make_board(inner=(none, none))).inner == ()


def test_only_bare_laminate_is_rough_and_only_where_its_lot_says_so():
    scene = scene_of(placed("tv-1206-amber", "lens_down"), board=make_board(mask_front=rectangle(0, 0, 20, 10)))
    rough = dict(zip(scene.classes.names, scene.classes.roughness, strict=True))
    slope = find_laminate(CATALOG, "fr4-unknown").face_rms_slope.value
    assert rough.pop("bare") == pytest.approx(math.sqrt(2.0) * slope)
    assert rough.pop("bare, body behind") > 0.0
    assert set(rough.values()) == {0.0}


def test_walls_of_plated_holes_are_told_apart():
    both = disc(5.0, 5.0, 1.0) + disc(15.0, 5.0, 1.0)
    scene = scene_of(board=make_board(holes=both, plated=disc(15.0, 5.0, 1.0)))
    assert scene.body[GRID.pixel_at(x_mm=5.0, y_mm=5.0)] == BODY_HOLE
    assert scene.body[GRID.pixel_at(x_mm=15.0, y_mm=5.0)] == BODY_PLATED_HOLE
    assert 0.4 < scene.plating.min() <= scene.plating.max() < 1.0


def test_glue_over_a_side_view_part_joins_it_to_the_board_and_covers_its_emitter():
    emitter = scene_of(placed("sv-1204-amber", "side_view", diffuser="hot-glue")).emitters[0]
    top_mm = -emitter.centre_mm[2] + 0.5 * emitter.size_mm[1]
    assert emitter.dome.height_mm > top_mm
    assert emitter.dome.radius_mm > 0.5 * emitter.size_mm[0]
    assert 1.49 <= emitter.dome.refractive_index <= 1.51
    assert 1.0 - math.exp(-emitter.dome.scatter_per_mm * emitter.dome.height_mm) == pytest.approx(0.85)


def test_a_lens_pressed_on_the_laminate_leaves_no_air():
    scene = scene_of(placed("rv-1206-amber", "reverse", gap_mm=0.0), placed("rv-1206-amber", "reverse"))
    touching, apart = scene.emitters
    assert touching.dome.scatter_per_mm == 0.0
    assert -touching.centre_mm[2] < touching.dome.height_mm <= touching.dome.radius_mm
    assert apart.dome is None


def test_a_light_wall_and_a_front_film_reach_the_scene():
    wall = LightWallDesign(length_mm=6.0, width_mm=4.0, reflectance=0.7)
    scene = scene_of(
        placed("tv-1206-amber", "carrier", light_wall=wall),
        front_film=FrontFilm(film="frosted-film", distance_mm=2.0),
    )
    assert scene.emitters[0].light_wall.length_mm == 6.0
    assert set(scene.emitters[0].light_wall.reflect) == {0.7}
    assert scene.front_sheet.distance_mm == 2.0
    assert (scene.front_sheet.transmit + scene.front_sheet.reflect <= 1.0).all()


def test_a_front_film_must_be_a_diffuser():
    with pytest.raises(CatalogError, match=r"'green' is a solder mask, where a diffuser is meant"):
        scene_of(placed("tv-1206-amber", "carrier"), front_film=FrontFilm(film="green"))


def test_a_body_on_the_back_returns_light_under_its_footprint_only():
    scene = scene_of(placed("tv-1206-amber", "lens_down", rotation_deg=90.0))
    body = find_part(CATALOG, "tv-1206-amber").body
    under = scene.classes.backing_reflect[scene.back].max(axis=2) > 0.0
    assert under.sum() * GRID.pixel_area_mm2 == pytest.approx(body.length_mm * body.width_mm, rel=0.08)
    rows, columns = np.nonzero(under)
    assert np.ptp(rows) > np.ptp(columns), "turned by 90 degrees it is long along y"


def test_stack_of_films_never_makes_light():
    axis = np.linspace(420.0, 680.0, 27)
    copper = find_surface(CATALOG, "copper-treated")
    for mask in ("green", "white", "black", "blue", "red"):
        kit = build_coat_kit(
            mask=find_film(CATALOG, mask, kind="mask"),
            legend=find_film(CATALOG, "white-legend", kind="legend"),
            copper=copper,
            wavelength_nm=axis,
        )
        for coat in (kit.bare, kit.mask, kit.legend, kit.legend_on_mask, kit.copper):
            assert (coat.transmit + coat.reflect <= 1.0 + 1e-12).all()
            assert (coat.transmit >= 0.0).all()
        assert (kit.legend_on_mask.transmit <= np.minimum(kit.mask.transmit, kit.legend.transmit)).all()
        assert (kit.legend_on_mask.reflect >= kit.mask.reflect).all()


def test_slabs_are_nominal_first_then_every_end_of_the_range():
    scene = scene_of(placed("tv-1206-amber", "lens_down"))
    laminate = find_laminate(CATALOG, "fr4-unknown")
    assert len(scene.slabs) == 9
    assert scene.slabs[0].name == "nominal"
    scatters = {round(slab.scatter_per_mm * (1.0 - scene.asymmetry), 6) for slab in scene.slabs}
    assert scatters == {1.5, 0.5, 3.0}
    nominal = scene.slabs[0].absorb_per_mm
    factors = {round(float((slab.absorb_per_mm / nominal).mean()), 6) for slab in scene.slabs}
    assert factors == {1.0, laminate.absorption.low_factor, laminate.absorption.high_factor}


@pytest.mark.parametrize("plated", [False, True])
def test_an_opening_is_read_off_the_board(plated):
    hole = disc(10.3, 9.8, 1.5)
    board = make_board(holes=hole, plated=hole if plated else None)
    opening = find_opening(board.maps, at_mm=(10.0, 10.0), along=(1.0, 0.0))
    assert opening is not None
    assert opening.is_round
    assert opening.is_plated is plated
    assert opening.extent_mm[0] == pytest.approx(3.0, abs=0.05)
    np.testing.assert_allclose(opening.centre_mm, (10.3, 9.8), atol=0.02)


def test_a_routed_cut_out_is_measured_along_the_part():
    board = make_board(holes=rectangle(8.0, 9.0, 12.0, 11.0))
    for along, expected in (((1.0, 0.0), (4.0, 2.0)), ((0.0, 1.0), (2.0, 4.0))):
        opening = find_opening(board.maps, at_mm=(10.0, 10.0), along=along)
        assert not opening.is_round
        np.testing.assert_allclose(opening.extent_mm, expected, atol=0.11)


def test_a_part_without_its_hole_shines_at_the_closed_face():
    emitter = scene_of(placed("th-3mm-red", "through_hole")).emitters[0]
    assert emitter.opening_mm is None
    assert emitter.centre_mm[2] < 0.0


def test_a_back_cover_stands_behind_the_board():
    scene = scene_of(placed("tv-1206-amber", "top_view"), back_cover=BackCover(distance_mm=4.0, reflectance=0.8))
    assert scene.back_sheet is not None
    assert scene.back_sheet.distance_mm == 4.0
    assert set(scene.back_sheet.reflect) == {0.8}


def test_a_diffusing_dome_keeps_the_flux_and_fills_every_direction():
    table = cosine_power_table(math.radians(60.0))
    hazy = diffused(table, haze_frac=0.4)
    # Flux in each step of the table by the trapezium rule in the cosine, in which the table is linear
    steps = 0.5 * (hazy.intensity_table[1:] + hazy.intensity_table[:-1]) * -np.diff(hazy.cos_table)
    assert 2.0 * math.pi * steps.sum() == pytest.approx(1.0, abs=1e-6)
    np.testing.assert_allclose(2.0 * math.pi * np.cumsum(steps), hazy.cdf_table[1:], atol=1e-6)
    assert hazy.intensity_table[-1] == pytest.approx(0.4 / (4.0 * math.pi))
