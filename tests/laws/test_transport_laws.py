"""What any right transport of light obeys, whatever the slab."""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.physics.fresnel import fresnel_reflectance
from paneglow.scene import BODY_HOLE, BODY_OUTSIDE, Slab
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, one_coat, radiance_per_flux, slab_scene, trace_slab

BOARD = {
    "optical_depth": 12.1, "albedo": 12.0 / 12.1, "asymmetry": 0.8, "refractive_index": 1.55, "thickness_mm": 1.6
}  # fmt: skip
FRONT, THROUGH, BACK, EDGE, HOLE, ABSORBED, MISSED = range(7)


def test_no_photon_is_lost_in_a_clear_slab():
    scene = slab_scene(optical_depth=1.0, albedo=1.0, asymmetry=0.0, refractive_index=1.5, emitter=beam())
    fates = trace_slab(scene, photons=100_000, seed=1).fates[:, :, 0]
    np.testing.assert_allclose(fates.sum(axis=1), 1.0, atol=1e-9)
    assert fates[:, ABSORBED].max() == 0.0


@pytest.mark.parametrize(
    "coat",
    [
        {"transmit": 0.0, "reflect": 0.3},
        {"transmit": 0.1, "reflect": 0.8, "haze": 1.0},
        {"transmit": 0.5, "reflect": 0.1, "haze": 0.3},
        {"transmit": 1.0, "backing_reflect": 0.5},
    ],
)
@pytest.mark.parametrize("coated", ["front_class", "back_class"])
def test_energy_sums_to_one_with_coats(coat, coated):
    # Russian roulette keeps the mean, not every sum: 4 standard errors
    scene = slab_scene(emitter=lambertian(), classes=one_coat(**coat), **{coated: 1}, **BOARD)
    fates = trace_slab(scene, photons=100_000, seed=5).fates[:, :, 0]
    total = fates.sum(axis=1)
    if total.std() > 1e-9:
        assert_mean_within(total, expected=1.0, what="sum of all fates")
    else:
        np.testing.assert_allclose(total, 1.0, atol=1e-9)


def test_energy_sums_to_one_on_a_small_board_with_a_hole_and_edges():
    scene = slab_scene(emitter=lambertian(at_z_mm=-1.0, size_mm=(0.5, 0.3)), **BOARD)
    body = np.zeros((60, 60), dtype=np.uint8)
    body[:2] = body[-2:] = body[:, :2] = body[:, -2:] = BODY_OUTSIDE
    body[30:38, 36:44] = BODY_HOLE
    classes = np.zeros_like(body)
    grid = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.1, n_x=60, n_y=60)
    scene = replace(scene, grid=grid, front=classes, back=classes, body=body)
    fates = trace_slab(scene, photons=200_000, seed=5).fates[:, :, 0]
    assert_mean_within(fates.sum(axis=1), expected=1.0, what="sum of all fates")
    assert (fates.mean(axis=0) > 0.0).all(), "every fate occurs on this board"


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 60.0])
def test_reciprocity_of_transmission(angle_deg):
    # Radiance at an angle under Lambertian light from behind, times pi, is the transmittance for a beam at that angle
    angle = math.radians(angle_deg)
    seen = slab_scene(emitter=lambertian(), view_angle_rad=angle, **BOARD)
    sent = slab_scene(emitter=beam(angle_rad=angle), **BOARD)
    radiance = radiance_per_flux(seen, trace_slab(seen, photons=400_000, seed=2)) * math.pi
    transmitted = trace_slab(sent, photons=400_000, seed=3).fates[:, FRONT, 0]
    assert_mean_within(
        radiance,
        expected=float(transmitted.mean()),
        expected_se=float(transmitted.std(ddof=1)) / math.sqrt(transmitted.size),
        what=f"reciprocity at {angle_deg:g} deg",
    )


def test_a_pixel_sees_the_sum_of_its_parts_however_many_scores_it_takes():
    # The same photons on one pixel, some 1e7 scores a batch, and on many: only what the tally keeps may round
    slab = {"emitter": lambertian(), "optical_depth": 6.0, "albedo": 1.0, "asymmetry": 0.8, "refractive_index": 1.5}
    parts = Grid(x_min_mm=-50.5, y_min_mm=-50.5, pitch_mm=1.0, n_x=101, n_y=101)
    whole = Grid(x_min_mm=-50.5, y_min_mm=-50.5, pitch_mm=101.0, n_x=1, n_y=1)
    of_parts, of_whole = (
        radiance_per_flux(scene, trace_slab(scene, photons=10_000, seed=4, n_batches=4))
        for scene in (slab_scene(map_grid=grid, **slab) for grid in (parts, whole))
    )
    np.testing.assert_allclose(of_parts, of_whole, rtol=1e-6)


@pytest.mark.parametrize("angle_deg", [0.0, 45.0])
@pytest.mark.parametrize("optical_depth", [0.5, 6.0])
def test_white_furnace(angle_deg, optical_depth):
    # Equal Lambertian light on both faces of a slab that absorbs nothing: it looks as bright as the light itself
    angle = math.radians(angle_deg)
    slab = {"optical_depth": optical_depth, "albedo": 1.0, "asymmetry": 0.8, "refractive_index": 1.5}
    batches = []
    for at_z_mm in (-1e-6, 1.0 + 1e-6):
        scene = slab_scene(emitter=lambertian(at_z_mm=at_z_mm), view_angle_rad=angle, **slab)
        batches.append(radiance_per_flux(scene, trace_slab(scene, photons=400_000, seed=4)) * math.pi)
    # The source's own mirror image in both faces is no diffuse light, so it is not scored
    face = float(fresnel_reflectance(math.cos(angle), relative_index=1.5))
    left = math.exp(-optical_depth / math.cos(math.asin(math.sin(angle) / 1.5)))
    mirrored = face + (1.0 - face) ** 2 * face * left**2 / (1.0 - (face * left) ** 2)
    assert_mean_within(batches[0] + batches[1], expected=1.0 - mirrored, what="white furnace")


@pytest.mark.parametrize("optical_depth", [0.1, 1.0, 3.0])
@pytest.mark.parametrize("angle_deg", [0.0, 50.0])
def test_without_scattering_beer_and_fresnel_hold(optical_depth, angle_deg):
    # T = (1 - R)^2 a / (1 - R^2 a^2) with a = exp(-b / cos t'), all internal bounces summed
    angle = math.radians(angle_deg)
    scene = slab_scene(
        optical_depth=optical_depth, albedo=0.0, asymmetry=0.0, refractive_index=1.5, emitter=beam(angle_rad=angle)
    )
    fates = trace_slab(scene, photons=200_000, seed=8).fates[:, :, 0]
    returned = float(fresnel_reflectance(math.cos(angle), relative_index=1.5))
    inside = math.cos(math.asin(math.sin(angle) / 1.5))
    left = math.exp(-optical_depth / inside)
    transmitted = (1.0 - returned) ** 2 * left / (1.0 - (returned * left) ** 2)
    reflected = returned + transmitted * returned * left
    assert_mean_within(fates[:, FRONT], expected=transmitted, what="T")
    assert_mean_within(fates[:, BACK], expected=reflected, what="R")


@pytest.mark.parametrize("haze", [0.0, 0.4, 1.0])
def test_light_seen_over_all_angles_is_the_light_that_leaves(haze):
    # Gauss-Legendre over the exit cosine: the estimator toward the viewer against the counted flux
    nodes, weights = np.polynomial.legendre.leggauss(12)
    cosines, weights = 0.5 * (nodes + 1.0), 0.5 * weights
    classes = one_coat(transmit=0.6, reflect=0.3, haze=haze)
    slab = {"optical_depth": 6.0, "albedo": 1.0, "asymmetry": 0.6, "refractive_index": 1.5, "classes": classes}
    flux = 0.0
    for cosine, weight in zip(cosines, weights, strict=True):
        scene = slab_scene(emitter=lambertian(), view_angle_rad=math.acos(cosine), front_class=1, **slab)
        tally = trace_slab(scene, photons=60_000, seed=9)
        flux = flux + radiance_per_flux(scene, tally) * 2.0 * math.pi * cosine * weight
    counted = tally.fates[:, FRONT, 0]
    # The same seed traces the same paths at every angle, so batches pair up and their difference is the test
    assert_mean_within(flux - counted, expected=0.0, expected_se=0.0005, what="seen minus counted flux")


def test_mirrored_scene_gives_the_mirrored_map():
    grid = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.5, n_x=16, n_y=16)
    face = np.zeros((8, 8), dtype=np.uint8)
    face[:, 5:] = 1
    sums = []
    for flip in (False, True):
        scene = slab_scene(emitter=lambertian(), classes=one_coat(transmit=0.0, reflect=0.2), map_grid=grid, **BOARD)
        faces = np.ascontiguousarray(face[:, ::-1]) if flip else face
        scene = replace(
            scene,
            grid=Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=1.0, n_x=8, n_y=8),
            front=faces,
            back=faces,
            body=np.zeros((8, 8), dtype=np.uint8),
        )
        seen = trace_slab(scene, photons=200_000, seed=6).maps[:, 0, 1].astype(np.float64)
        sums.append(seen[:, :, ::-1] if flip else seen)
    for columns in (slice(0, 4), slice(4, 8), slice(8, 10)):
        straight, mirrored = (side[:, :, columns].sum(axis=(1, 2)) for side in sums)
        assert_mean_within(
            straight / straight.mean(),
            expected=float(mirrored.mean() / straight.mean()),
            expected_se=float(mirrored.std(ddof=1) / mirrored.mean() / math.sqrt(mirrored.size)),
            what=f"columns {columns}",
        )


def test_light_in_front_of_a_thin_diffuser_falls_to_half_at_0_64_of_the_distance():
    # A Lambertian point source h behind a plane lights it as (1 + r^2 / h^2)^-2: a half at 0.64 h, a tenth at 1.47 h
    grid = Grid(x_min_mm=-8.0, y_min_mm=-0.25, pitch_mm=0.5, n_x=32, n_y=1)
    scene = slab_scene(
        optical_depth=1e-9, albedo=0.0, asymmetry=0.0, refractive_index=1.0, thickness_mm=1e-3, front_class=1,
        emitter=lambertian(at_z_mm=-4.0), classes=one_coat(haze=1.0), map_grid=grid,
    )  # fmt: skip
    seen = trace_slab(scene, photons=2_000_000, seed=12).maps[:, 0, 1, 0].astype(np.float64)
    x = grid.x_centres_mm() / 4.0
    both_sides = 0.5 * (seen + seen[:, ::-1])
    centre = float(both_sides[:, 16].mean()) * (1.0 + x[16] ** 2) ** 2
    for share, offset in ((0.5, 0.64), (0.1, 1.47)):
        # log-luminance is smooth: read the curve at the tabled offset by interpolation
        found = np.exp(np.array([np.interp(offset, x[16:], np.log(row[16:] / centre)) for row in both_sides]))
        # the table's offsets carry two decimals: half a digit moves the share by this much
        digit = abs(share * 4.0 * offset / (1.0 + offset**2)) * 0.005
        assert_mean_within(found, expected=share, expected_se=digit, what=f"share at {offset} h")


def test_same_seed_gives_the_same_numbers_on_any_number_of_threads():
    scene = slab_scene(emitter=lambertian(), **BOARD)
    one, three = (trace_slab(scene, photons=20_000, seed=42, n_threads=n) for n in (1, 3))
    np.testing.assert_array_equal(one.maps, three.maps)
    np.testing.assert_array_equal(one.fates, three.fates)


def test_another_seed_gives_other_numbers():
    scene = slab_scene(emitter=lambertian(), **BOARD)
    assert not np.array_equal(
        trace_slab(scene, photons=20_000, seed=1).fates, trace_slab(scene, photons=20_000, seed=2).fates
    )


def test_weights_for_another_absorption_are_exact():
    # One trace carries both absorptions; a trace of the second alone must agree
    scene = slab_scene(emitter=lambertian(), **BOARD)
    scatter = scene.slabs[0].scatter_per_mm
    dark = Slab(name="dark", scatter_per_mm=scatter, absorb_per_mm=np.array([0.3]))
    together = trace_slab(replace(scene, slabs=(scene.slabs[0], dark)), photons=300_000, seed=21)
    alone = trace_slab(replace(scene, slabs=(dark,)), photons=300_000, seed=22)
    for row in (FRONT, BACK, ABSORBED):
        reference = alone.fates[:, row, 0]
        assert_mean_within(
            together.fates[:, row, 1],
            expected=float(reference.mean()),
            expected_se=float(reference.std(ddof=1)) / math.sqrt(reference.size),
            what=f"fate {row}",
        )
