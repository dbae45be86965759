"""The four pictures: what each must show and must not hide."""

import colour
import numpy as np
import pytest
from shapely.geometry import box

import paneglow.look.canvas as canvas_room
from paneglow.design import View
from paneglow.look import Pictures, build_look, draw_body, false_colour_ramp, render_dark_adapted, render_pictures
from paneglow.look.canvas import MARGIN_MM, build_canvas, draw_glow
from paneglow.look.colour import decode_srgb, hue_of, in_gamut, srgb_matrix, to_chromaticity
from paneglow.look.pictures import SHOULDER_FROM, exposure_per_cd_m2, photographed, round_scale, scale_place, shoulder
from paneglow.physics import gaussian_lines, tristimulus, visible_axis_nm

BAR = {"bar": box(2, 6, 22, 8)}


def led_xyz(peak_nm: float, fwhm_nm: float) -> np.ndarray:
    axis = visible_axis_nm()
    xyz = tristimulus(axis, gaussian_lines(axis, peak_nm=peak_nm, fwhm_nm=fwhm_nm))
    return xyz / xyz[1]


def pictures_of(stage) -> Pictures:
    return render_pictures(build_look(**stage.parts()), board=stage.board, design=stage.design)


def at(picture: np.ndarray, stage, *, x_mm: float, y_mm: float) -> np.ndarray:
    """Pixel of a picture, 0 to 255 as int, at a place of the board."""
    grid = build_canvas(stage.board).grid
    row, column = grid.pixel_at(x_mm=x_mm, y_mm=y_mm) or (0, 0)
    return picture[picture.shape[0] - 1 - row, column].astype(int)


@pytest.fixture(scope="module")
def fading(staged, lamp):
    """A red bar on a larger board, lit from its left end: about 9 to 1 from end to end."""
    lamps = [lamp(ref="D1", at_mm=(2, 7), window="bar", colour="red", width_mm=9, cd_m2_per_lm=400, floor=0.02)]
    return staged(BAR, lamps, outline=box(0, 0, 60, 40), pitch_mm=0.1)


@pytest.fixture(scope="module")
def fading_pictures(fading) -> Pictures:
    return pictures_of(fading)


def test_all_pictures_have_one_size_and_8_bits(fading_pictures) -> None:
    shapes = set()
    for name in ("dark_adapted", "camera", "lit_room", "false_colour"):
        picture = getattr(fading_pictures, name)
        assert picture.dtype == np.uint8
        assert picture.flags.c_contiguous
        shapes.add(picture.shape)
    # 60 x 40 mm and a margin on all sides at 10 pixels per mm
    assert shapes == {(round(10 * (40 + 2 * MARGIN_MM)), round(10 * (60 + 2 * MARGIN_MM)), 3)}


def test_the_top_row_is_the_top_of_the_board(fading_pictures) -> None:
    rows = np.nonzero(fading_pictures.dark_adapted.max(axis=2) > 150)[0]
    assert rows.min() > fading_pictures.dark_adapted.shape[0] / 2  # the bar lies low on the board


def test_clipping_hides_a_faded_end_from_the_camera_and_not_from_the_eye(staged, lamp) -> None:
    # 2.5 to 1 from end to end
    lamps = [lamp(ref="D1", at_mm=(2, 7), window="bar", colour="red", width_mm=14, cd_m2_per_lm=200)]
    stage = staged(BAR, lamps, outline=box(0, 0, 60, 60), pitch_mm=0.1)
    pictures = pictures_of(stage)
    near, far = ({"x_mm": x, "y_mm": 7.0} for x in (3.0, 21.5))
    weights = np.linalg.inv(srgb_matrix())[1]
    fades = {}
    for name in ("camera", "dark_adapted"):
        one, other = (decode_srgb(at(getattr(pictures, name), stage, **place) / 255.0) for place in (near, far))
        fades[name] = float((other @ weights) / (one @ weights))
    # The camera shows the far end as bright as the near one; the eye's picture compresses the fade but keeps it
    assert fades["camera"] > 0.95
    assert fades["dark_adapted"] < 0.75


def test_the_eyes_picture_keeps_hue_where_the_camera_turns_it(fading, fading_pictures) -> None:
    place = {"x_mm": 4.0, "y_mm": 7.0}
    eye = at(fading_pictures.dark_adapted, fading, **place)
    camera = at(fading_pictures.camera, fading, **place)
    assert eye[0] > 5 * eye[1]
    assert camera[1] > 200  # overexposed red has gone orange and further


def test_nothing_is_clipped_in_the_eyes_picture(fading_pictures) -> None:
    brightest = fading_pictures.dark_adapted.max(axis=2)
    assert (brightest == 255).mean() < 0.005


@pytest.mark.parametrize("peak_nm", [465.0, 500.0, 525.0, 590.0, 625.0])
def test_gamut_mapping_keeps_luminance_and_dominant_wavelength(peak_nm: float) -> None:
    xyz = led_xyz(peak_nm, 20.0)
    shown = np.linalg.inv(srgb_matrix()) @ in_gamut(xyz[:, None])[:, 0]
    assert shown[1] == pytest.approx(1.0, rel=1e-9)
    before, after = to_chromaticity(xyz), to_chromaticity(shown)
    assert before is not None
    assert after is not None
    d65 = np.asarray([0.3127, 0.3290])
    one, other = np.asarray(before) - d65, np.asarray(after) - d65
    # On one line from the display's white: the same dominant wavelength against it
    assert float(one[0] * other[1] - one[1] * other[0]) == pytest.approx(0.0, abs=1e-9)
    assert float(one @ other) > 0.0
    assert hue_of(after).purity <= hue_of(before).purity + 1e-9


def test_mixing_with_white_sets_in_without_a_step_or_a_kink() -> None:
    white = np.asarray([0.3127 / 0.3290, 1.0, 0.3583 / 0.3290])
    share = np.linspace(0.0, 1.0, 4001)
    path = white[:, None] + share * (led_xyz(525.0, 20.0) - white)[:, None]
    least = in_gamut(path).min(axis=0)
    slopes = np.diff(least) / np.diff(share)
    # From white to the light the least channel falls, ever less steeply near the edge of what the display can show
    assert np.all(least >= 0.0)
    assert np.all(slopes < 1e-9)
    assert np.abs(np.diff(slopes)).max() < 0.02 * np.abs(slopes).max()


def test_a_camera_turns_bright_red_orange_and_bright_blue_white() -> None:
    scene = np.zeros((3, 40, 80))
    # Two small patches on a dark frame: the mean asks for a long exposure
    scene[:, 18:22, 10:14] = 100.0 * led_xyz(625, 18)[:, None, None]
    scene[:, 18:22, 60:64] = 100.0 * led_xyz(465, 25)[:, None, None]
    picture = photographed(scene).astype(int)
    red, blue = picture[20, 12], picture[20, 62]
    assert red[0] == 255
    assert red[1] > 120
    assert min(blue) > 200
    # With the same light filling the frame nothing is overexposed and both keep their hue
    even = np.repeat(led_xyz(625, 18)[:, None], 20, axis=1)[:, :, None] * np.ones((1, 1, 20))
    calm = photographed(even)[10, 10].astype(int)
    assert calm[0] > 3 * calm[1]


def test_exposure_brings_the_mean_of_the_frame_to_mid_grey() -> None:
    luminance = np.full((10, 10), 50.0)
    assert exposure_per_cd_m2(luminance) * 50.0 == pytest.approx(0.18)
    assert exposure_per_cd_m2(np.zeros((4, 4))) == 0.0


def test_exposure_holds_back_for_a_few_lit_spots() -> None:
    luminance = np.zeros((100, 100))
    luminance[:2, :2] = 300.0
    # By the mean alone the spots would be 2500 times over mid-grey; they are four stops over
    assert exposure_per_cd_m2(luminance) * 300.0 == pytest.approx(16 * 0.18)


def test_white_stays_white_in_the_camera() -> None:
    white = np.asarray([0.3127 / 0.3290, 1.0, 0.3583 / 0.3290])
    picture = photographed(np.repeat(white[:, None, None], 12, axis=1) * np.ones((1, 1, 12)))
    assert np.ptp(picture[6, 6].astype(int)) <= 1


def test_window_edges_are_crisp_and_not_darkened(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(5, 5), window="w", width_mm=1e6)]
    stage = staged({"w": box(3.07, 3.07, 6.93, 6.93)}, lamps, outline=box(0, 0, 10, 10), pitch_mm=0.05, leak=0.01)
    canvas = build_canvas(stage.board)
    glow = draw_glow(build_look(**stage.parts()).glow, board=stage.board, canvas=canvas)[1]
    np.testing.assert_allclose(glow[canvas.windows > 0.999], 101.0, rtol=0.01)
    np.testing.assert_allclose(glow[(canvas.windows == 0) & (canvas.board > 0.999)], 1.0, rtol=0.05)
    np.testing.assert_array_equal(glow[canvas.board == 0], 0.0)


def test_a_board_of_too_many_pixels_is_drawn_coarser(staged, monkeypatch) -> None:
    stage = staged(BAR, [], outline=box(0, 0, 24, 14), pitch_mm=0.05)
    fine = stage.board.maps.grid
    usual = build_canvas(stage.board).grid
    monkeypatch.setattr(canvas_room, "MOST_PIXELS", fine.n_x * fine.n_y // 20)
    coarse = build_canvas(stage.board).grid
    # 2 x 2 fine pixels make one usually; a twentieth of all needs 5 x 5
    assert usual.pitch_mm == pytest.approx(2 * fine.pitch_mm)
    assert coarse.pitch_mm == pytest.approx(5 * fine.pitch_mm)


def test_drawing_keeps_the_light_of_the_map(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(5, 5), window="w", width_mm=2.0)]
    stage = staged({"w": box(3.1, 2.9, 7.3, 6.9)}, lamps, outline=box(0, 0, 10, 10), pitch_mm=0.05, noise=0.05)
    look = build_look(**stage.parts())
    canvas = build_canvas(stage.board)
    glow = draw_glow(look.glow, board=stage.board, canvas=canvas)[1]
    drawn = glow.sum() * canvas.grid.pixel_area_mm2
    # Rim pixels are redrawn from their neighbours, which moves a few per cent of the light along a slope
    assert drawn == pytest.approx(look.luminance_cd_m2.sum() * look.grid.pixel_area_mm2, rel=0.03)


def test_grain_is_smoothed_within_its_error(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(5, 5), window="w", width_mm=1e6)]
    stage = staged({"w": box(2, 2, 8, 8)}, lamps, outline=box(0, 0, 10, 10), pitch_mm=0.1, noise=0.1)
    canvas = build_canvas(stage.board)
    glow = draw_glow(build_look(**stage.parts()).glow, board=stage.board, canvas=canvas)[1]
    inner = glow[canvas.windows > 0.999]
    assert inner.std() / inner.mean() < 0.04  # from 10 %


def test_the_lit_room_shows_mask_and_glow(staged, lamp) -> None:
    brightness = {}
    for mask in ("white", "black"):
        lamps = [lamp(ref="D1", at_mm=(12, 7), window="bar", width_mm=9, cd_m2_per_lm=400)]
        stage = staged(BAR, lamps, outline=box(0, 0, 24, 14), pitch_mm=0.1, mask=mask)
        picture = pictures_of(stage).lit_room
        brightness[mask] = at(picture, stage, x_mm=12, y_mm=12).sum()
        assert at(picture, stage, x_mm=12, y_mm=7).max() > 230
    assert brightness["white"] > 2 * brightness["black"]


def test_the_brighter_the_room_the_weaker_the_glow(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(12, 7), window="bar", colour="red", width_mm=9)]
    redness = []
    for ambient_lx in (0.0, 100.0, 20_000.0):
        stage = staged(BAR, lamps, outline=box(0, 0, 24, 14), pitch_mm=0.1, view=View(ambient_lx=ambient_lx))
        red, _, blue = at(pictures_of(stage).lit_room, stage, x_mm=12, y_mm=7)
        redness.append(red - blue)
    # Compressing the glow costs a few codes in the dark; in daylight only a trace of red is left
    assert min(redness[:2]) > 150
    assert redness[2] < 100


def test_the_shoulder_is_smooth_rising_and_ends_at_one() -> None:
    levels = np.linspace(0.0, 30.0, 3001)
    bent = shoulder(levels, most=30.0)
    below = levels <= SHOULDER_FROM
    np.testing.assert_array_equal(bent[below], levels[below])
    assert np.all(np.diff(bent) > 0.0)
    assert bent[-1] == pytest.approx(1.0)
    slope = np.diff(shoulder(np.asarray([SHOULDER_FROM, SHOULDER_FROM + 1e-6]), most=30.0))[0] / 1e-6
    assert slope == pytest.approx(1.0, rel=1e-3)
    np.testing.assert_array_equal(shoulder(np.asarray([0.3, 0.9]), most=0.9), [0.3, 0.9])


def test_false_colour_rises_with_luminance_and_leaves_the_board_neutral(fading, fading_pictures) -> None:
    picture = fading_pictures.false_colour
    near, far = (decode_srgb(at(picture, fading, x_mm=x, y_mm=7) / 255.0) for x in (3.0, 21.5))
    weights = np.linalg.inv(srgb_matrix())[1]
    assert near @ weights > far @ weights
    board, outside = at(picture, fading, x_mm=30, y_mm=30), at(picture, fading, x_mm=-2, y_mm=-2)
    assert np.ptp(board) == np.ptp(outside) == 0
    assert board[0] > outside[0]
    low, high = fading_pictures.false_colour_scale_cd_m2
    assert low <= 50.0
    assert high >= 400.0


def test_the_false_colour_ramp_rises_evenly_in_lightness_and_nowhere_jumps() -> None:
    lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(false_colour_ramp() / 255.0))
    np.testing.assert_allclose(lab[:, 0], np.linspace(3.0, 96.0, 256), atol=0.5)  # steps of 8 bits
    assert (
        np.linalg.norm(np.diff(lab, axis=0), axis=1).max() < 2.3
    )  # about what is just seen side by side (from memory)


def test_scale_ends_are_round_and_hold_the_light() -> None:
    assert round_scale(np.asarray([3.0, 70.0, 130.0])) == (2.0, 200.0)
    assert round_scale(np.asarray([100.0, 100.0])) == (10.0, 100.0)
    assert round_scale(np.zeros(4)) == (0.1, 1.0)
    low, high = round_scale(np.repeat([1e-2, 5e4], 100))
    assert (low, high) == (5.0, 5e4)
    np.testing.assert_allclose(
        scale_place(np.asarray([2.0, 20.0, 200.0, 1e6]), scale_cd_m2=(2.0, 200.0)), [0, 0.5, 1, 1]
    )


def test_a_board_without_light_still_has_pictures(staged) -> None:
    pictures = pictures_of(staged(BAR, [], outline=box(0, 0, 24, 14), pitch_mm=0.1))
    assert pictures.false_colour_scale_cd_m2 == (0.1, 1.0)
    assert pictures.lit_room.max() > 50


def test_light_through_a_hole_is_drawn(staged, lamp) -> None:
    from shapely.geometry import Point

    hole = Point(12, 4).buffer(0.8)
    lamps = [lamp(ref="D1", at_mm=(12, 7), window="bar", width_mm=1e6)]
    stage = staged(BAR | {"pipe": hole}, lamps, outline=box(0, 0, 24, 14), pitch_mm=0.1, holes=hole)
    pictures = pictures_of(stage)
    assert at(pictures.dark_adapted, stage, x_mm=12, y_mm=4).max() > 200


def test_the_picture_for_a_dark_adapted_eye_is_the_same_alone(fading):
    parts = fading.parts()
    look = build_look(**parts)
    body = draw_body(look, board=fading.board)
    all_four = render_pictures(look, board=fading.board, design=fading.design)
    alone = render_dark_adapted(
        fading.board, design=fading.design, scene=parts["scene"], tally=parts["tally"], body=body
    )
    assert np.array_equal(alone, all_four.dark_adapted)
