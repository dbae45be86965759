"""Sheets, domes, light walls, inner copper and rims: energy, closed forms, and counted light against light seen."""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.physics.fresnel import fresnel_reflectance
from paneglow.scene import BODY_OUTSIDE, BODY_PLATED_HOLE, Dome, InnerLayer, LightWall
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, one_coat, radiance_per_flux, slab_scene, trace_slab, white_sheet

FRONT, THROUGH, BACK, EDGE, HOLE, ABSORBED, MISSED = range(7)
SLAB = {"optical_depth": 6.0, "albedo": 1.0, "asymmetry": 0.6, "refractive_index": 1.5}
ONE_PIXEL = (1, 1)
DOME = Dome(radius_mm=1.5, height_mm=1.0, refractive_index=1.5, scatter_per_mm=0.4)


def foil(*, height_mm: float, reflect: float, shape=ONE_PIXEL) -> InnerLayer:
    return InnerLayer(height_mm=height_mm, copper=np.ones(shape, dtype=np.bool_), reflect=np.array([reflect]))


def seen_minus_counted(scene, *, photons: int, n_cosines: int = 12):
    """Light seen over all angles, by Gauss-Legendre over the exit cosine, less the light counted; one per batch."""
    nodes, weights = np.polynomial.legendre.leggauss(n_cosines)
    flux = 0.0
    for cosine, weight in zip(0.5 * (nodes + 1.0), 0.5 * weights, strict=True):
        turned = replace(scene, view_angle_rad=math.acos(cosine))
        tally = trace_slab(turned, photons=photons, seed=9)
        flux = flux + radiance_per_flux(turned, tally) * 2.0 * math.pi * cosine * weight
    return flux - tally.fates[:, [FRONT, THROUGH], 0].sum(axis=1)


def test_a_slab_between_white_sheets_loses_all_light_through_what_the_front_sheet_passes():
    # Nothing absorbs: what the front sheet does not return it passes, so all light leaves there in the end
    scene = replace(
        slab_scene(emitter=lambertian(at_z_mm=-0.5), **SLAB),
        back_sheet=white_sheet(distance_mm=2.0, reflect=1.0),
        front_sheet=white_sheet(distance_mm=1.0, reflect=0.3, transmit=0.7, haze=0.5),
    )
    fates = trace_slab(scene, photons=32_000, seed=1).fates[:, :, 0]
    assert_mean_within(fates[:, FRONT], expected=1.0, what="front")


@pytest.mark.parametrize("reflect", [0.2, 0.9])
def test_a_back_sheet_returns_light_as_the_series_of_all_passes(reflect):
    # Diffuse light between a slab and a diffuse sheet: T / (1 - R rho), with R and T of the slab for Lambertian light
    bare = trace_slab(slab_scene(emitter=lambertian(), **SLAB), photons=200_000, seed=2).fates[:, :, 0].mean(axis=0)
    scene = replace(slab_scene(emitter=lambertian(), **SLAB), back_sheet=white_sheet(distance_mm=3.0, reflect=reflect))
    fates = trace_slab(scene, photons=200_000, seed=3).fates[:, :, 0]
    # Light that left the slab is not Lambertian, but the sheet makes it so before it comes back
    expected = bare[FRONT] + bare[BACK] * reflect * bare[FRONT] / (1.0 - bare[BACK] * reflect)
    assert_mean_within(fates[:, FRONT], expected=expected, expected_se=0.002, what="crossed")
    assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of fates")


@pytest.mark.parametrize("reflect", [0.3, 0.8])
def test_a_body_on_the_face_returns_light_as_often_as_it_comes_back(reflect):
    # Lambertian light from the body meets the face's outside again and again: entering share (1 - r) / (1 - r rho)
    emitter = lambertian()
    classes = one_coat(backing_reflect=reflect)
    slab = {**SLAB, "optical_depth": 3.0}
    bare = trace_slab(slab_scene(emitter=emitter, **slab), photons=200_000, seed=4).fates[:, :, 0].mean(axis=0)
    scene = slab_scene(emitter=emitter, classes=classes, back_class=1, **slab)
    fates = trace_slab(scene, photons=200_000, seed=5).fates[:, :, 0]
    outer = float(
        np.trapezoid(2.0 * (mu := np.linspace(0.0, 1.0, 4001)) * fresnel_reflectance(mu, relative_index=1.5), mu)
    )
    # The LED's own light that its lens face returns at once is booked before the body sees it
    inner_back = bare[BACK] - outer
    per_pass_front, per_pass_back = bare[FRONT] / (1.0 - outer), inner_back / (1.0 - outer)
    returned = reflect * (1.0 - outer) / (1.0 - outer * reflect)
    expected = bare[FRONT] + inner_back * returned * per_pass_front / (1.0 - per_pass_back * returned)
    assert_mean_within(fates[:, FRONT], expected=expected, expected_se=0.002, what="crossed")


@pytest.mark.parametrize("height_mm", [0.3, 0.8])
def test_a_whole_foil_inside_stops_all_light(height_mm):
    scene = replace(slab_scene(emitter=lambertian(), **SLAB), inner=(foil(height_mm=height_mm, reflect=0.6),))
    tally = trace_slab(scene, photons=20_000, seed=6)
    fates = tally.fates[:, :, 0]
    assert fates[:, FRONT].max() == 0.0
    assert tally.maps.max() == 0.0
    assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of fates")


def test_a_white_foil_right_behind_the_front_face_is_as_good_as_an_opaque_white_front():
    covered = slab_scene(emitter=lambertian(), classes=one_coat(transmit=0.0, reflect=0.8), front_class=1, **SLAB)
    foiled = replace(slab_scene(emitter=lambertian(), **SLAB), inner=(foil(height_mm=1.0 - 1e-6, reflect=0.8),))
    expected = trace_slab(covered, photons=100_000, seed=7).fates[:, BACK, 0]
    found = trace_slab(foiled, photons=100_000, seed=8).fates[:, BACK, 0]
    assert_mean_within(found, expected=expected.mean(), expected_se=expected.std() / math.sqrt(expected.size), what="R")


def ring_foil(**slab):
    """A foil in the shape of a ring about the source, so that all azimuths are alike."""
    scene = slab_scene(emitter=lambertian(), **slab)
    grid = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.02, n_x=400, n_y=400)
    classes = np.zeros(grid.shape, dtype=np.uint8)
    radius = np.hypot(grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None])
    copper = (radius > 0.2) & (radius < 1.5)
    layer = InnerLayer(height_mm=0.5, copper=copper, reflect=np.array([0.5]))
    return replace(scene, grid=grid, front=classes, back=classes, body=classes, inner=(layer,))


# Hardly scattered light past the ring's edges steps with the angle: many directions, fewer photons each
@pytest.mark.parametrize(("optical_depth", "n_cosines", "photons"), [(0.2, 96, 6_400), (6.0, 12, 30_000)])
def test_light_seen_past_inner_copper_is_the_light_that_leaves(optical_depth, n_cosines, photons):
    scene = ring_foil(**{**SLAB, "optical_depth": optical_depth})
    difference = seen_minus_counted(scene, photons=photons, n_cosines=n_cosines)
    assert_mean_within(difference, expected=0.0, expected_se=0.001, what="seen minus counted")


def test_light_seen_from_a_dome_is_the_light_that_leaves():
    emitter = replace(lambertian(at_z_mm=-0.3, size_mm=(0.6, 0.4)), dome=DOME)
    difference = seen_minus_counted(slab_scene(emitter=emitter, **SLAB), photons=30_000)
    assert_mean_within(difference, expected=0.0, expected_se=0.001, what="seen minus counted")


def test_glue_lets_more_light_into_the_slab_than_air_does():
    # Side-view part: half of its light heads away from the face, and flat light is reflected; glue has no such face
    along = replace(
        lambertian(at_z_mm=-0.3, size_mm=(0.6, 0.4)), axis=(1.0, 0.0, 0.0), u=(0.0, 1.0, 0.0), v=(0.0, 0.0, 1.0)
    )
    share = {
        dome is not None: trace_slab(
            slab_scene(emitter=replace(along, dome=dome), **SLAB), photons=32_000, seed=10
        ).fates[:, FRONT, 0].mean()
        for dome in (None, DOME)
    }  # fmt: skip
    assert share[True] > 1.15 * share[False]


def test_a_dome_keeps_all_light():
    emitter = replace(lambertian(at_z_mm=-0.3, size_mm=(0.6, 0.4)), dome=DOME)
    fates = trace_slab(slab_scene(emitter=emitter, **SLAB), photons=32_000, seed=11).fates[:, :, 0]
    assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of fates")
    assert fates[:, ABSORBED].max() < 1e-9


def test_a_white_light_wall_brings_more_light_to_the_board_than_a_black_one():
    fronts = {}
    for reflect in (0.0, 0.9):
        wall = LightWall(length_mm=4.0, width_mm=3.0, reflect=np.array([reflect]))
        scene = replace(
            slab_scene(emitter=replace(lambertian(at_z_mm=-3.0), light_wall=wall), **SLAB),
            back_sheet=white_sheet(distance_mm=3.1, reflect=0.8),
        )
        fates = trace_slab(scene, photons=64_000, seed=12).fates[:, :, 0]
        assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of fates")
        fronts[reflect] = fates[:, FRONT].mean()
    # Black: only the cone that sees the opening of the frame, less what the slab returns
    assert fronts[0.9] > 1.5 * fronts[0.0]


def test_light_seen_from_behind_by_way_of_sheet_and_wall_is_the_light_that_leaves():
    wall = LightWall(length_mm=3.0, width_mm=3.0, reflect=np.array([0.8]))
    # The frame is square: its azimuths repeat every 45 degrees, mirrored
    nodes, weights = np.polynomial.legendre.leggauss(3)
    difference = 0.0
    for turn, weight in zip(math.pi / 8.0 * (nodes + 1.0), 0.5 * weights, strict=True):
        u, v = (math.cos(turn), math.sin(turn), 0.0), (-math.sin(turn), math.cos(turn), 0.0)
        emitter = replace(lambertian(at_z_mm=-1.0), u=u, v=v, light_wall=wall)
        scene = replace(
            slab_scene(emitter=emitter, **{**SLAB, "optical_depth": 1.0}),
            back_sheet=white_sheet(distance_mm=1.2, reflect=0.9),
        )
        difference = difference + weight * seen_minus_counted(scene, photons=20_000, n_cosines=16)
    # Where the frame cuts off the view, quadrature over few directions leaves some 0.5 % of the flux
    assert_mean_within(difference, expected=0.0, expected_se=0.003, what="seen minus counted")


def test_a_front_sheet_shows_what_it_passes():
    scene = replace(
        slab_scene(emitter=lambertian(), **SLAB),
        front_sheet=white_sheet(distance_mm=0.5, reflect=0.2, transmit=0.75, haze=0.6),
    )
    difference = seen_minus_counted(scene, photons=30_000)
    assert_mean_within(difference, expected=0.0, expected_se=0.001, what="seen minus counted")


def round_window(scene):
    """White covers on the front beyond 1 mm round the source."""
    grid = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.05, n_x=160, n_y=160)
    plain = np.zeros(grid.shape, dtype=np.uint8)
    radius = np.hypot(grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None])
    return replace(scene, grid=grid, front=(radius > 1.0).astype(np.uint8), back=plain, body=plain)


UNDER_A_SHEET = {
    "bare": lambda: slab_scene(emitter=lambertian(), **{**SLAB, "optical_depth": 0.5}),
    "matt": lambda: slab_scene(
        emitter=lambertian(), classes=replace(one_coat(), roughness=np.array([0.0, 0.4])), front_class=1,
        **{**SLAB, "optical_depth": 0.5},
    ),
    "tinted": lambda: slab_scene(
        emitter=lambertian(), classes=one_coat(transmit=0.6), front_class=1, **{**SLAB, "optical_depth": 0.5}
    ),
    "white": lambda: round_window(
        slab_scene(emitter=lambertian(), classes=one_coat(transmit=0.0, reflect=0.9), **SLAB)
    ),
}  # fmt: skip


# Most of what the sheet passes goes straight on: what faces and covers mirror of its underside must be seen through it
@pytest.mark.parametrize("front", UNDER_A_SHEET)
def test_what_the_board_mirrors_of_a_front_sheet_is_seen_through_it(front):
    scene = replace(
        UNDER_A_SHEET[front](), front_sheet=white_sheet(distance_mm=0.5, reflect=0.6, transmit=0.4, haze=0.1)
    )
    difference = seen_minus_counted(scene, photons=60_000)
    assert_mean_within(difference, expected=0.0, expected_se=0.001, what="seen minus counted")


def board_with_rims(*, body_at_slot: int, **slab):
    scene = slab_scene(emitter=lambertian(size_mm=(0.5, 0.5)), **slab)
    grid = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.05, n_x=120, n_y=120)
    body = np.zeros(grid.shape, dtype=np.uint8)
    body[:4] = body[-4:] = body[:, :4] = body[:, -4:] = BODY_OUTSIDE
    body[40:80, 80:90] = body_at_slot
    plain = np.zeros_like(body)
    return replace(scene, grid=grid, front=plain, back=plain, body=body)


def test_what_leaves_sideways_through_a_bare_rim_is_what_fresnel_lets_out():
    # A clear thick slab and a beam that meets the rim before any face: the share 1 - R of its angle leaves there
    slab = {"optical_depth": 1e-9, "albedo": 0.0, "asymmetry": 0.0, "refractive_index": 1.5, "thickness_mm": 20.0}
    scene = board_with_rims(body_at_slot=0, **slab)
    polar = math.radians(70.0)
    inside = math.asin(math.sin(polar) / 1.5)
    fates = trace_slab(replace(scene, emitters=(beam(angle_rad=polar),)), photons=64_000, seed=13).fates[:, :, 0]
    entered = 1.0 - float(fresnel_reflectance(math.cos(polar), relative_index=1.5))
    kept = float(fresnel_reflectance(math.sin(inside), relative_index=1.0 / 1.5))
    # What the rim keeps goes on diffusely and may leave by another rim later
    assert fates[:, EDGE].mean() >= entered * (1.0 - kept) - 0.005
    np.testing.assert_allclose(fates.sum(axis=1), 1.0, atol=1e-9)


@pytest.mark.parametrize("body_at_slot", [0, 2, BODY_PLATED_HOLE])
def test_light_seen_on_a_board_with_rims_is_the_light_that_leaves(body_at_slot):
    scene = replace(board_with_rims(body_at_slot=body_at_slot, **SLAB), plating=np.array([0.6]))
    difference = seen_minus_counted(scene, photons=30_000)
    # View rays are stopped by a hole at the front face only, not on their way up
    assert_mean_within(difference, expected=0.0, expected_se=0.001, what="seen minus counted")


def test_a_plated_slot_keeps_light_that_a_bare_one_loses():
    kept = {}
    for body in (2, BODY_PLATED_HOLE):
        scene = replace(board_with_rims(body_at_slot=body, **SLAB), plating=np.array([0.9]))
        kept[body] = trace_slab(scene, photons=64_000, seed=14).fates[:, :, 0].mean(axis=0)
    assert kept[BODY_PLATED_HOLE][HOLE] < 1e-3
    assert kept[2][HOLE] > 0.01
    assert kept[BODY_PLATED_HOLE][FRONT] > kept[2][FRONT]


def test_light_by_angle_adds_up_to_what_leaves_and_fills_its_bins_as_the_viewer_sees():
    scene = slab_scene(emitter=lambertian(), **SLAB)
    tally = trace_slab(scene, photons=200_000, seed=15)
    by_angle = tally.angles[:, 0, :, 0]
    np.testing.assert_allclose(by_angle.sum(axis=1), tally.fates[:, FRONT, 0], rtol=1e-9)
    # The middle of the third bin: squared sine 0.25
    seen = replace(scene, view_angle_rad=math.asin(0.5))
    radiance = radiance_per_flux(seen, trace_slab(seen, photons=200_000, seed=16))
    counted = by_angle[:, 2] * by_angle.shape[1] / math.pi
    assert_mean_within(
        counted, expected=radiance.mean(), expected_se=radiance.std() / math.sqrt(radiance.size), what="luminance at 30"
    )
