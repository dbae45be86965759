"""Light on its way to the slab: openings, covers, holes and the view of a bare source, against geometry."""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.scene import BODY_HOLE
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, one_coat, slab_scene, trace_slab, white_sheet

FRONT, THROUGH, BACK, EDGE, HOLE, ABSORBED, MISSED = range(7)
SLAB = {
    "optical_depth": 12.0, "albedo": 0.99, "asymmetry": 0.8, "refractive_index": 1.55, "thickness_mm": 1.6
}  # fmt: skip


def with_round_hole(scene, *, radius_mm, pitch_mm=0.05):
    n = round(8.0 / pitch_mm)
    grid = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=pitch_mm, n_x=n, n_y=n)
    inside = grid.x_centres_mm()[None, :] ** 2 + grid.y_centres_mm()[:, None] ** 2 <= radius_mm**2
    body = np.where(inside, BODY_HOLE, 0).astype(np.uint8)
    plain = np.zeros_like(body)
    return replace(scene, grid=grid, front=plain, back=plain, body=body)


def in_opening(emitter, *, radius_mm, depth_mm, plated):
    return replace(
        emitter,
        centre_mm=(0.0, 0.0, depth_mm),
        opening_mm=(2.0 * radius_mm, 2.0 * radius_mm),
        opening_round=True,
        opening_plated=plated,
    )


@pytest.mark.parametrize("depth_mm", [0.0, 0.8])
def test_a_lambertian_point_in_a_hole_sends_out_the_cone_it_sees(depth_mm):
    # Share within the cone of the rim: sin^2 = r^2 / (r^2 + h^2)
    radius, height = 1.0, 1.6 - depth_mm
    emitter = in_opening(lambertian(), radius_mm=radius, depth_mm=depth_mm, plated=True)
    scene = with_round_hole(slab_scene(emitter=emitter, **SLAB), radius_mm=radius)
    fates = trace_slab(scene, photons=64_000, seed=1).fates[:, :, 0]
    expected = radius**2 / (radius**2 + height**2)
    # Stratified launch: far below the binomial error, so allow its own scatter and the table's 0.25 degree steps
    assert fates[:, THROUGH].mean() == pytest.approx(expected, abs=0.002)
    # A plated wall that returns nothing
    assert fates[:, ABSORBED].mean() == pytest.approx(1.0 - expected, abs=0.002)


def test_a_bare_wall_lets_light_into_the_laminate_and_a_plated_one_does_not():
    shares = {}
    for plated in (False, True):
        emitter = in_opening(lambertian(), radius_mm=1.0, depth_mm=0.4, plated=plated)
        scene = with_round_hole(slab_scene(emitter=emitter, **SLAB), radius_mm=1.0)
        shares[plated] = trace_slab(scene, photons=32_000, seed=1).fates[:, :, 0].mean(axis=0)
    assert shares[True][FRONT] == 0.0
    assert shares[False][FRONT] > 0.02
    assert shares[False].sum() == pytest.approx(1.0, abs=0.01)


def test_a_bare_source_seen_through_its_hole_has_its_own_luminance():
    # Lambertian lumen on an area A: luminance 1 / (pi A)
    grid = Grid(x_min_mm=-0.5, y_min_mm=-0.5, pitch_mm=0.1, n_x=10, n_y=10)
    emitter = replace(in_opening(lambertian(), radius_mm=1.0, depth_mm=0.5, plated=True), size_mm=(0.6, 0.4))
    scene = with_round_hole(slab_scene(emitter=emitter, map_grid=grid, **SLAB), radius_mm=1.0)
    seen = trace_slab(scene, photons=64_000, seed=2).maps[:, 0, 1].mean(axis=0)
    inside = seen[3:7, 2:8]
    expected = 1.0 / (math.pi * 0.24e-6)
    assert inside.mean() == pytest.approx(expected, rel=1e-3)
    assert seen.sum() == pytest.approx(inside.sum()), "nothing is seen beside the source"


def test_a_clear_slab_shows_the_source_dimmed_by_both_faces():
    # Unscattered view at normal incidence: (1 - R)^2 of the bare luminance, plus its image after two bounces, R^2
    grid = Grid(x_min_mm=-0.5, y_min_mm=-0.5, pitch_mm=0.1, n_x=10, n_y=10)
    scene = slab_scene(
        optical_depth=1e-9, albedo=0.0, asymmetry=0.0, refractive_index=1.5, map_grid=grid,
        emitter=lambertian(at_z_mm=-0.5, size_mm=(0.6, 0.4)),
    )  # fmt: skip
    seen = trace_slab(scene, photons=64_000, seed=2).maps[:, 0, 1].mean(axis=0)[3:7, 2:8]
    face = 0.04
    expected = (1.0 - face) ** 2 / (1.0 - face**2) / (math.pi * 0.24e-6)
    assert seen.mean() == pytest.approx(expected, rel=1e-3)


def test_a_cover_returns_its_share_of_what_faces_away():
    emitter = replace(lambertian(at_z_mm=-0.5), axis=(0.0, 0.0, -1.0), u=(1.0, 0.0, 0.0))
    scene = replace(slab_scene(emitter=emitter, **SLAB), back_sheet=white_sheet(distance_mm=5.0, reflect=0.7))
    fates = trace_slab(scene, photons=32_000, seed=3).fates[:, :, 0]
    assert fates[:, MISSED].mean() == 0.0, "an endless board catches all that the cover returns"
    assert fates[:, ABSORBED].mean() > 0.3
    assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of fates")


def test_without_a_cover_what_faces_away_is_missed():
    emitter = replace(lambertian(at_z_mm=-0.5), axis=(0.0, 0.0, -1.0))
    fates = trace_slab(slab_scene(emitter=emitter, **SLAB), photons=3_200, seed=3).fates[:, :, 0]
    assert fates[:, MISSED].mean() == 1.0


def test_a_beam_over_a_hole_goes_straight_through():
    scene = with_round_hole(slab_scene(emitter=beam(at_z_mm=-1.0), **SLAB), radius_mm=1.0)
    fates = trace_slab(scene, photons=320, seed=3).fates[:, :, 0]
    assert fates[:, THROUGH].mean() == 1.0


def test_an_opaque_back_coat_returns_and_swallows_everything():
    scene = slab_scene(emitter=lambertian(), classes=one_coat(transmit=0.0, reflect=0.25), back_class=1, **SLAB)
    fates = trace_slab(scene, photons=32_000, seed=4).fates[:, :, 0]
    outer = 0.09907  # Lambertian light on index 1.55: the resin over the foil returns this first
    assert fates[:, BACK].mean() == pytest.approx(outer + (1.0 - outer) * 0.25, abs=0.003)
    assert fates[:, FRONT].mean() == 0.0


def test_a_body_behind_a_window_sends_light_back():
    bright = {
        reflect: trace_slab(
            slab_scene(emitter=lambertian(), classes=one_coat(backing_reflect=reflect), back_class=1, **SLAB),
            photons=64_000,
            seed=5,
        ).fates[:, FRONT, 0].mean()
        for reflect in (0.0, 0.8)
    }  # fmt: skip
    assert bright[0.8] > 1.2 * bright[0.0]
