"""What `build_look` claims about light of known shape."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from paneglow.design import View
from paneglow.errors import CatalogError, RangeError, TransportError
from paneglow.look import Look, WindowLook, build_look


def look_at(stage) -> Look:  # noqa: ANN001  a Stage of conftest
    return build_look(**stage.parts())


def window_of(look: Look, name: str) -> WindowLook:
    return next(window for window in look.windows if window.name == name)


def small(staged, lamps, **changes):
    """Two windows on an 8 x 6 mm board, coarse for speed."""
    shapes = changes.pop("shapes", {"left": box(1, 1, 3.4, 5), "right": box(4.6, 1, 7, 5)})
    return staged(shapes, lamps, outline=box(0, 0, 8, 6), pitch_mm=0.1, **changes)


def test_mean_luminance_is_the_mean_over_the_window(staged, lamp) -> None:
    stage = small(staged, [lamp(ref="D1", at_mm=(2.2, 3.0), window="left", width_mm=1e6, flux_lm=0.5)])
    left = window_of(look_at(stage), "left")
    # Even light of 100 cd/m2 per lm at half a lumen; the rim pixels count by their share
    assert left.mean_cd_m2.value == pytest.approx(50.0, rel=1e-6)
    assert left.evenness.value == pytest.approx(1.0, abs=1e-6)
    assert left.evenness_stops.value == pytest.approx(0.0, abs=1e-5)
    assert left.evenness_nine_point.value == pytest.approx(1.0, abs=1e-6)
    assert left.peak_cd_m2.value == pytest.approx(50.0, rel=1e-6)


def test_windows_keep_the_order_and_leds_of_the_board(staged, lamp) -> None:
    stage = small(staged, [lamp(ref="D7", at_mm=(2, 3), window="left"), lamp(ref="D2", at_mm=(6, 3), window="right")])
    look = look_at(stage)
    assert [window.name for window in look.windows] == ["left", "right"]
    assert [window.leds for window in look.windows] == [("D7",), ("D2",)]
    assert [window.area_mm2 for window in look.windows] == pytest.approx([9.6, 9.6])


def test_standard_error_of_the_mean_is_that_of_its_pixels(staged, lamp) -> None:
    errors, stage = [], None
    for seed in range(20):
        stage = small(staged, [lamp(ref="D1", at_mm=(2.2, 3), window="left", width_mm=1e6)], noise=0.1, seed=seed)
        errors.append(window_of(look_at(stage), "left").mean_cd_m2.se)
    # 240 map pixels of 10 % each; a standard error from 16 batches scatters by 18 %, the mean of 20 by 4 %
    assert float(np.mean(errors)) == pytest.approx(100 * 0.1 / np.sqrt(240), rel=0.16)


def test_bleed_is_the_share_of_light_meant_for_other_windows(staged, lamp) -> None:
    lamps = [
        lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6, flux_lm=3.0),
        lamp(ref="D2", at_mm=(6, 3), window="right", width_mm=1e6, flux_lm=1.0),
        lamp(ref="D3", at_mm=(6, 3), window=None, width_mm=1e6, flux_lm=4.0),
    ]
    look = look_at(small(staged, lamps))
    # 1 of 8 lumen in the left window, 3 of 8 in the right; a lamp meant for no window is no bleed
    assert window_of(look, "left").bleed.value == pytest.approx(1 / 8, rel=1e-5)
    assert window_of(look, "right").bleed.value == pytest.approx(3 / 8, rel=1e-5)


def test_bleed_error_matches_its_scatter(staged, lamp) -> None:
    lamps = [
        lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6),
        lamp(ref="D2", at_mm=(6, 3), window="right", width_mm=1e6, flux_lm=0.3),
    ]
    bleeds = [window_of(look_at(small(staged, lamps, noise=0.2, seed=seed)), "left").bleed for seed in range(25)]
    scatter = float(np.std([bleed.value for bleed in bleeds], ddof=1))
    # 25 seeds give the scatter to 14 %
    assert float(np.mean([bleed.se for bleed in bleeds])) == pytest.approx(scatter, rel=0.4)


def test_bleed_error_is_that_of_a_share_whose_one_part_is_noisy(staged, lamp) -> None:
    lamps = [
        lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6, flux_lm=9.0),
        lamp(ref="D2", at_mm=(6, 3), window="right", width_mm=1e6, flux_lm=1.0),
    ]
    stage = small(staged, lamps)
    own, stray = stage.tally.leds
    # Batches of the stray light at 1 % steps about 1: their standard deviation is 1 % sqrt(16 * 17 / 12)
    steps = 1.0 + 0.01 * (np.arange(16) - 7.5)
    noisy = replace(stray, batches=(stray.batches[:, :1] * steps[:, None, None]).astype(np.float32))
    left = window_of(look_at(replace(stage, tally=replace(stage.tally, leds=(own, noisy)))), "left")
    # Share s / (o + s) at o = 9, s = 1 changes by o / (o + s)^2 = 0.09 per unit of s
    plain = 0.09 * 0.01 * np.sqrt(16 * 17 / 12) / np.sqrt(16)
    # Student's t of 16 batches has a root mean square of sqrt(15 / 13), and a trace that stopped was lucky besides
    assert 1.07 * plain < left.bleed.se < 1.2 * plain


def test_ranges_run_over_slab_versions_and_flux_ends(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6, flux_low=0.5, flux_high=3.0)]
    look = look_at(small(staged, lamps, slab_factors=(1.0, 0.4, 1.5)))
    left = window_of(look, "left")
    assert left.mean_cd_m2.low == pytest.approx(100 * 0.4 * 0.5, rel=1e-5)
    assert left.mean_cd_m2.high == pytest.approx(100 * 1.5 * 3.0, rel=1e-5)
    assert left.peak_cd_m2.high == pytest.approx(450.0, rel=1e-5)
    assert left.bleed.low == left.bleed.high == 0.0
    assert left.evenness.low == pytest.approx(left.evenness.high, abs=1e-6)
    assert look.assumed
    row, column = look.grid.pixel_at(x_mm=2.0, y_mm=3.0) or (0, 0)
    assert look.low_cd_m2[row, column] == pytest.approx(20.0, rel=1e-5)
    assert look.high_cd_m2[row, column] == pytest.approx(450.0, rel=1e-5)


def test_flux_ranges_that_differ_move_bleed(staged, lamp) -> None:
    lamps = [
        lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6),
        lamp(ref="D2", at_mm=(6, 3), window="right", width_mm=1e6, flux_low=0.5, flux_high=2.0),
    ]
    bleed = window_of(look_at(small(staged, lamps)), "left").bleed
    assert (bleed.low, bleed.value, bleed.high) == pytest.approx((1 / 3, 1 / 2, 2 / 3), rel=1e-5)


def test_nothing_assumed_leaves_no_range(staged, lamp) -> None:
    look = look_at(small(staged, [lamp(ref="D1", at_mm=(2, 3), window="left")], noise=0.05))
    assert not look.assumed
    for window in look.windows:
        assert window.evenness.low == window.evenness.value == window.evenness.high


def test_an_unlit_window_is_dark_and_says_so(staged, lamp) -> None:
    stage = small(staged, [lamp(ref="D1", at_mm=(2, 3), window="left", flux_lm=0.0)])
    left = window_of(look_at(stage), "left")
    assert left.mean_cd_m2.value == 0.0
    assert left.evenness.value == 0.0
    assert left.bleed.value == 0.0
    assert left.chromaticity_x is None
    assert left.dominant_wavelength_nm is None
    assert left.colour_word == "dark"


def test_a_board_without_leds_has_a_look(staged) -> None:
    look = look_at(small(staged, []))
    assert float(look.luminance_cd_m2.max()) == 0.0
    assert [window.colour_word for window in look.windows] == ["dark", "dark"]


def test_colour_of_a_window_is_that_of_its_led(staged, lamp) -> None:
    lamps = [
        lamp(ref="D1", at_mm=(2, 3), window="left", colour="green"),
        lamp(ref="D2", at_mm=(6, 3), window="right", colour="red", width_mm=0.5),
    ]
    look = look_at(small(staged, lamps))
    left = window_of(look, "left")
    assert left.colour_word == "green"
    # A Gaussian line of 35 nm at 525 nm; its dominant wavelength is pulled toward the peak of the eye
    assert left.dominant_wavelength_nm == pytest.approx(529, abs=4)


def test_contrast_compares_window_and_surround_with_room_light(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(2, 3), window="left", width_mm=1e6)]
    dark = window_of(look_at(small(staged, lamps, leak=0.01, view=View(ambient_lx=0))), "left")
    dim = window_of(look_at(small(staged, lamps, leak=0.01, view=View(ambient_lx=100))), "left")
    bright = window_of(look_at(small(staged, lamps, leak=0.01, view=View(ambient_lx=10_000))), "left")
    assert dark.contrast.value == pytest.approx(101, rel=0.01)  # 100 + its own leak over a leak of 1
    assert dark.contrast.value > dim.contrast.value > bright.contrast.value
    # In bright light only the board itself is left: pale laminate beside green mask over copper
    assert 1.0 < bright.contrast.value < 5.0


def test_a_slit_narrower_than_a_map_pixel_keeps_its_luminance(staged, lamp) -> None:
    shapes = {"slit": box(1.03, 1, 1.13, 5)}
    stage = staged(
        shapes, [lamp(ref="D1", at_mm=(1, 3), window="slit", width_mm=1e6)], outline=box(0, 0, 8, 6), pitch_mm=0.05
    )
    slit = window_of(look_at(stage), "slit")
    # Its map pixels hold half slit, half dark: dividing by coverage gives 100 cd/m2 back
    assert slit.peak_cd_m2.value == pytest.approx(100.0, rel=0.02)
    assert slit.evenness.value == pytest.approx(1.0, abs=0.02)


def test_a_distant_eye_sees_a_small_window_as_even(staged, lamp) -> None:
    lamps = [lamp(ref="D1", at_mm=(1, 1), window="left", width_mm=1.0)]
    near = window_of(look_at(small(staged, lamps, view=View(distance_mm=300))), "left")
    far = window_of(look_at(small(staged, lamps, view=View(distance_mm=100_000))), "left")
    assert near.evenness.value < 0.1
    assert far.evenness.value > 0.9


def test_a_tally_of_another_scene_is_refused(staged, lamp) -> None:
    stage = small(staged, [lamp(ref="D1", at_mm=(2, 3))])
    other = small(staged, [lamp(ref="D9", at_mm=(2, 3))])
    with pytest.raises(TransportError, match="D9"):
        look_at(replace(stage, tally=other.tally))
    with pytest.raises(TransportError, match="1 batch"):
        look_at(small(staged, [lamp(ref="D1", at_mm=(2, 3))], n_batches=1))
    wide = small(staged, [lamp(ref="D1", at_mm=(2, 3))], map_pitch_mm=0.1)
    with pytest.raises(TransportError, match="beyond"):
        look_at(replace(stage, tally=replace(wide.tally, map_grid=stage.tally.map_grid)))
    led = stage.tally.leds[0]
    torn = replace(stage.tally, leds=(replace(led, batches=led.batches[:, :, 1:]),))
    with pytest.raises(RangeError, match="shape"):
        look_at(replace(stage, tally=torn))
    more = small(staged, [lamp(ref="D1", at_mm=(2, 3))], slab_factors=(1.0, 2.0))
    with pytest.raises(TransportError, match="slab versions"):
        look_at(replace(stage, tally=more.tally))


def test_an_unknown_mask_is_refused_by_name(staged, lamp) -> None:
    stage = small(staged, [lamp(ref="D1", at_mm=(2, 3))], mask="plaid")
    with pytest.raises(CatalogError, match="plaid"):
        look_at(stage)


PLACES = st.tuples(st.floats(0.0, 8.0), st.floats(0.0, 6.0))
LAMPS = st.lists(
    st.fixed_dictionaries(
        {
            "at_mm": PLACES,
            "flux_lm": st.floats(0.01, 10.0),
            "width_mm": st.floats(0.4, 5.0),
            "window": st.sampled_from(["left", "right", None]),
            "colour": st.sampled_from(["red", "amber", "green", "blue"]),
        }
    ),
    min_size=1,
    max_size=3,
)
QUICK = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@QUICK
@given(rows=LAMPS, factor=st.floats(0.01, 100.0))
def test_currents_scale_luminance_and_leave_evenness_and_colour(staged, lamp, scaled, rows, factor) -> None:
    stage = small(staged, [lamp(ref=f"D{k}", **row) for k, row in enumerate(rows)], noise=0.05)
    for one, other in zip(look_at(stage).windows, look_at(scaled(stage, factor=factor)).windows, strict=True):
        if min(one.mean_cd_m2.value, other.mean_cd_m2.value) < 1e-4:
            continue
        assert other.mean_cd_m2.value == pytest.approx(factor * one.mean_cd_m2.value, rel=1e-5)
        assert other.peak_cd_m2.value == pytest.approx(factor * one.peak_cd_m2.value, rel=1e-4)
        # Single precision maps: the ratio of two pixels keeps about five digits
        assert other.evenness.value == pytest.approx(one.evenness.value, rel=1e-3)
        assert other.chromaticity_x == pytest.approx(one.chromaticity_x, abs=1e-5)
        assert other.bleed.value == pytest.approx(one.bleed.value, abs=1e-5)


@QUICK
@given(rows=LAMPS, noise=st.sampled_from([0.0, 0.05, 0.3]))
def test_shares_lie_between_0_and_1_and_ranges_hold_their_value(staged, lamp, rows, noise) -> None:
    lamps = [lamp(ref=f"D{k}", flux_low=0.7, flux_high=1.4, **row) for k, row in enumerate(rows)]
    for window in look_at(small(staged, lamps, noise=noise, slab_factors=(1.0, 0.5))).windows:
        for share in (window.evenness, window.evenness_nine_point, window.bleed):
            assert 0.0 <= share.low <= share.value <= share.high <= 1.0
        for figure in (window.mean_cd_m2, window.peak_cd_m2, window.evenness_stops, window.contrast):
            assert 0.0 <= figure.low <= figure.value <= figure.high


@QUICK
@given(rows=LAMPS)
def test_one_led_has_no_bleed_and_more_leds_never_darken(staged, lamp, rows) -> None:
    lamps = [lamp(ref=f"D{k}", **row) for k, row in enumerate(rows)]
    first = look_at(small(staged, lamps[:1]))
    both = look_at(small(staged, lamps))
    own = lamps[0].window
    assert [window.bleed.value for window in first.windows if window.name == own] == [0.0] * (own is not None)
    assert np.all(both.luminance_cd_m2 >= first.luminance_cd_m2 - 1e-9)


def test_a_triangle_has_nine_points_too(staged, lamp) -> None:
    shapes = {"sail": Polygon([(1, 1), (7, 1), (4, 5)])}
    stage = small(staged, [lamp(ref="D1", at_mm=(4, 2), window="sail", width_mm=2)], shapes=shapes, noise=0.03)
    sail = window_of(look_at(stage), "sail")
    assert 0.0 < sail.evenness.value < sail.evenness_nine_point.value < 1.0
