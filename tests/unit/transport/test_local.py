"""The surroundings of an LED that are traced: as much of the board as its light can reach."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.transport import trace
from paneglow.transport.cpu import trace_emitter
from paneglow.transport.local import cut_out
from response_windows import led, window_scene


def test_a_map_smaller_than_the_board_keeps_the_board_round_it():
    # The map ends at the window; the copper that makes it one lies beside the map
    scene = replace(window_scene(), emitters=(led(at_mm=(1.0, 0.5)),))
    around = cut_out(scene, 0, reach_mm=30.0)
    assert around.is_whole
    np.testing.assert_array_equal(around.scene.front, scene.front)
    near = cut_out(scene, 0, reach_mm=3.0)
    assert near.scene.front.shape[0] * scene.grid.pitch_mm == pytest.approx(6.0, abs=0.51)
    assert set(np.unique(near.scene.front)) == {0, 1}


def test_light_on_such_a_map_is_that_of_the_whole_board():
    scene = replace(window_scene(), emitters=(led(at_mm=(1.0, 0.5)),))
    led_light = trace(scene, photons_per_led=16_000, seed=1).leds[0]
    whole = trace_emitter(
        scene,
        scene.emitters[0],
        number=0,
        versions=scene.slabs,
        map_grid=scene.map_grid,
        photons=16_000,
        n_batches=16,
        seed=2,
    ).maps[:, 0, 1]
    first, second = led_light.batches[0].mean(axis=(1, 2)), whole.mean(axis=(1, 2))
    # The rim returns a quarter of what meets it instead of the three fifths of a bare face; 4 standard errors
    se = np.hypot(first.std(ddof=1), second.std(ddof=1)) / 4.0
    assert abs(first.mean() - second.mean()) < 4.0 * se
