"""Light of single LEDs in windows: what drive and matching start from."""

import numpy as np
import pytest
from shapely.geometry import box

from paneglow.look import build_look, window_light_per_lm


def test_light_of_all_leds_adds_up_to_what_the_look_shows(staged, lamp):
    lamps = [
        lamp(ref="D1", at_mm=(2.2, 3.0), window="left", flux_lm=0.5),
        lamp(ref="D2", at_mm=(5.8, 3.0), window="right", flux_lm=0.2, floor=0.05),
    ]
    shapes = {"left": box(1, 1, 3.4, 5), "right": box(4.6, 1, 7, 5)}
    stage = staged(shapes, lamps, outline=box(0, 0, 8, 6), pitch_mm=0.1)
    names, light = window_light_per_lm(stage.board, tally=stage.tally)
    look = build_look(**stage.parts())
    assert names == tuple(window.name for window in look.windows)
    # Maps are float32: sums over a few thousand pixels agree to their rounding
    shown = light @ np.array([0.5, 0.2])
    assert shown == pytest.approx([window.mean_cd_m2.value for window in look.windows], rel=1e-5)
    assert light[0, 1] > 0.0  # the even floor of D2 reaches the other window
