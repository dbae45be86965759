"""Luminance across a window with opaque rims, against an independent volume path tracer.

The reference, `data/mitsuba_square_window.csv`, was computed with mitsuba 3.9.1; its head states the scene. It checks
what slab totals cannot: lateral spread, rims on both faces, an extended source behind an air gap.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from paneglow.grid import Grid
from sampling_checks import assert_mean_within
from slab_scenes import lambertian, one_coat, slab_scene, trace_slab

REFERENCE = Path(__file__).parent / "data" / "mitsuba_square_window.csv"
SOURCE_AREA_M2 = 36e-6
PHOTONS = 1_000_000
WINDOW = slice(2, 14)  # of 16 pixels of 0.5 mm


@pytest.fixture(scope="module")
def relative_radiance():
    """Radiance over that of the source, shape (batch, y, x)."""
    scene = slab_scene(
        optical_depth=7.54 * 1.6,
        albedo=7.5 / 7.54,
        asymmetry=0.8,
        refractive_index=1.5,
        thickness_mm=1.6,
        emitter=lambertian(at_z_mm=-0.5, size_mm=(6.0, 6.0)),
        classes=one_coat(transmit=0.0),
        map_grid=Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.5, n_x=16, n_y=16),
    )
    face = np.ones((160, 160), dtype=np.uint8)
    face[20:140, 20:140] = 0
    scene = replace(
        scene,
        grid=Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.05, n_x=160, n_y=160),
        front=face,
        back=face,
        body=np.zeros_like(face),
    )
    per_lumen = trace_slab(scene, photons=PHOTONS, seed=5).maps[:, 0, 1].astype(np.float64)
    return per_lumen * math.pi * SOURCE_AREA_M2  # one lumen from a Lambertian area A has luminance 1 / (pi A)


def reference_rows():
    return np.loadtxt(REFERENCE, delimiter=",", skiprows=6)


def folded(batches):
    """Mean over the eight images of the window under its own symmetry, upper octant only filled twice."""
    flipped = 0.5 * (batches + batches[:, ::-1])
    flipped = 0.5 * (flipped + flipped[:, :, ::-1])
    return 0.5 * (flipped + flipped.transpose(0, 2, 1))


def test_nothing_is_seen_beside_the_window(relative_radiance):
    beside = relative_radiance.copy()
    beside[:, WINDOW, WINDOW] = 0.0
    assert beside.max() == 0.0


def test_mean_over_the_window(relative_radiance):
    rows = reference_rows()
    # Pixels on the diagonal stand for four of the 144, the others for eight
    weights = np.where(rows[:, 0] == rows[:, 1], 4.0, 8.0) / 144.0
    assert_mean_within(
        relative_radiance[:, WINDOW, WINDOW].mean(axis=(1, 2)),
        expected=float(weights @ rows[:, 2]),
        expected_se=float(np.sqrt((weights**2) @ rows[:, 3] ** 2)),
        what="mean of the window",
    )


@pytest.mark.parametrize("row", range(21))
def test_every_pixel_of_the_octant(relative_radiance, row):
    x_mm, y_mm, expected, expected_se = reference_rows()[row]
    i, j = round((4.0 - x_mm) / 0.5 - 0.5), round((4.0 - y_mm) / 0.5 - 0.5)
    assert_mean_within(
        folded(relative_radiance)[:, i, j], expected=expected, expected_se=expected_se, what=f"pixel {x_mm}, {y_mm}"
    )
