"""A rough dielectric face: energy, reciprocity, density against samples, and what the viewer sees through it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numba import njit
from scipy import stats

from paneglow.physics.fresnel import fresnel_reflectance
from paneglow.scene import FaceClasses
from paneglow.transport.kernels.microfacet import cross_rough
from paneglow.transport.kernels.random import stream_start
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, radiance_per_flux, slab_scene, trace_slab

FRONT, THROUGH, BACK, EDGE, HOLE, ABSORBED, MISSED = range(7)
N_BATCHES = 32


@njit
def crossings(state, w, n, alpha, o, found, densities):
    """Walks over the facets: outgoing directions, and the estimated density toward o of each."""
    for i in range(found.shape[0]):
        state, _, found[i, 0], found[i, 1], found[i, 2], densities[i] = cross_rough(
            state, w[0], w[1], w[2], n, alpha, o[0], o[1], o[2]
        )


def direction(polar_rad, azimuth_rad, *, up=True):
    sine = math.sin(polar_rad)
    return np.array(
        [sine * math.cos(azimuth_rad), sine * math.sin(azimuth_rad), math.cos(polar_rad) * (1 if up else -1)]
    )


def sampled(*, w, n, alpha, o=(0.0, 0.0, 0.0), count=200_000, seed=1):
    found, densities = np.zeros((count, 3)), np.zeros(count)
    crossings(
        np.uint64(stream_start(seed, 0, 0)), np.asarray(w), n, alpha, np.asarray(o, dtype=float), found, densities
    )
    return found, densities.reshape(N_BATCHES, -1).mean(axis=1)


def rough_classes(*, front: float, back: float) -> FaceClasses:
    """Class 0 for the back face, class 1 for the front, both bare."""
    zeros = np.zeros((2, 1))
    return FaceClasses(
        names=("back", "front"),
        transmit=np.ones((2, 1)),
        reflect=zeros,
        haze=np.zeros(2),
        backing_reflect=zeros,
        roughness=np.array([back, front]),
    )


def rough_slab(*, front, back, emitter, angle_rad=0.0, **slab):
    classes = rough_classes(front=front, back=back)
    return slab_scene(emitter=emitter, classes=classes, front_class=1, view_angle_rad=angle_rad, **slab)


@pytest.mark.parametrize("alpha", [0.05, 0.3, 0.9])
@pytest.mark.parametrize("n", [1.5, 1.0 / 1.5])
def test_every_ray_leaves_with_unit_length_on_the_side_it_says(alpha, n):
    found, _ = sampled(w=-direction(1.2, 0.4), n=n, alpha=alpha, count=20_000)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1.0, atol=1e-9)
    assert (np.abs(found[:, 2]) > 0.0).all()


@pytest.mark.parametrize("n", [1.5, 1.0 / 1.5])
def test_a_nearly_flat_rough_face_reflects_as_a_smooth_one(n):
    for polar in (0.2, 0.6):
        found, _ = sampled(w=-direction(polar, 0.0), n=n, alpha=1e-3)
        share = (found[:, 2] > 0.0).reshape(N_BATCHES, -1).mean(axis=1)
        expected = float(fresnel_reflectance(math.cos(polar), relative_index=n))
        assert_mean_within(share, expected=expected, what="R")


@pytest.mark.parametrize("alpha", [0.15, 0.5, 0.9])
@pytest.mark.parametrize("n", [1.5, 1.0 / 1.5])
def test_reflection_is_reciprocal(alpha, n):
    # f = density / outgoing cosine is the same with the two directions exchanged
    one, other = direction(0.7, 0.0), direction(0.5, 2.5)
    _, there = sampled(w=-one, n=n, alpha=alpha, o=other, seed=1)
    _, back = sampled(w=-other, n=n, alpha=alpha, o=one, seed=2)
    pairs = there / other[2] - back / one[2]
    assert_mean_within(pairs, expected=0.0, what="exchanged directions")


@pytest.mark.parametrize("alpha", [0.15, 0.5, 0.9])
@pytest.mark.parametrize("n", [1.5, 1.0 / 1.5])
def test_refraction_is_reciprocal_up_to_the_index_squared(alpha, n):
    one, beyond = direction(0.7, 0.0), direction(0.45, 3.3, up=False)
    _, there = sampled(w=-one, n=n, alpha=alpha, o=beyond, seed=3)
    # Seen from beyond, everything is point-reflected: the ray comes in along `beyond` and asks for -one
    _, back = sampled(w=beyond, n=1.0 / n, alpha=alpha, o=-one, seed=4)
    pairs = there / -beyond[2] / n**2 - back / one[2]
    assert_mean_within(pairs, expected=0.0, what="exchanged directions")


@pytest.mark.parametrize("alpha", [0.7, 0.9])
@pytest.mark.parametrize("n", [1.5, 1.0 / 1.5])
def test_samples_follow_the_estimated_density(alpha, n):
    # Chi-square over patches of both half spheres, density integrated by 3 x 3 Gauss points per patch
    w = -direction(0.6, 0.0)
    found, _ = sampled(w=w, n=n, alpha=alpha, count=400_000, seed=5)
    cosines = np.linspace(-1.0, 1.0, 9)
    turns = np.linspace(-math.pi, math.pi, 9)
    counts, _, _ = np.histogram2d(found[:, 2], np.arctan2(found[:, 1], found[:, 0]), bins=(cosines, turns))
    nodes, weights = np.polynomial.legendre.leggauss(3)
    expected, variance = np.zeros_like(counts), np.zeros_like(counts)
    for i, j in np.ndindex(counts.shape):
        half_c, half_t = 0.5 * (cosines[i + 1] - cosines[i]), 0.5 * (turns[j + 1] - turns[j])
        for a, b in np.ndindex(3, 3):
            cosine = cosines[i] + half_c * (1.0 + nodes[a])
            o = direction(math.acos(abs(cosine)), turns[j] + half_t * (1.0 + nodes[b]), up=cosine > 0.0)
            _, density = sampled(w=w, n=n, alpha=alpha, o=o, count=3_200, seed=1000 + 64 * i + 8 * j + 3 * a + b)
            area = weights[a] * weights[b] * half_c * half_t
            expected[i, j] += area * density.mean()
            variance[i, j] += (area * density.std(ddof=1)) ** 2 / N_BATCHES
    total = counts.sum()
    # 3 x 3 points leave up to 3 % in patches that the lobe crosses; patches with hardly any light say nothing
    spread = total * expected + total**2 * (variance + (0.03 * expected) ** 2)
    told = total * expected > 50.0
    chi2 = float((((counts - total * expected) ** 2 / spread)[told]).sum())
    assert expected.sum() == pytest.approx(1.0, abs=0.02)
    assert stats.chi2.sf(chi2, int(told.sum())) > 1e-4


@pytest.mark.parametrize(("front", "back"), [(0.4, 0.0), (0.0, 0.4), (0.3, 0.5)])
@pytest.mark.parametrize("optical_depth", [0.3, 4.0])
def test_light_seen_through_rough_faces_over_all_angles_is_the_light_that_leaves(front, back, optical_depth):
    nodes, weights = np.polynomial.legendre.leggauss(12)
    slab = {"optical_depth": optical_depth, "albedo": 1.0, "asymmetry": 0.6, "refractive_index": 1.5}
    flux = 0.0
    for cosine, weight in zip(0.5 * (nodes + 1.0), 0.5 * weights, strict=True):
        scene = rough_slab(front=front, back=back, emitter=lambertian(), angle_rad=math.acos(cosine), **slab)
        tally = trace_slab(scene, photons=60_000, seed=9)
        flux = flux + radiance_per_flux(scene, tally) * 2.0 * math.pi * cosine * weight
    counted = tally.fates[:, FRONT, 0]
    # 8192 view directions per angle, drawn once, leave up to 0.2 % where little is scattered between the faces
    assert_mean_within(flux - counted, expected=0.0, expected_se=0.001, what="seen minus counted flux")


@pytest.mark.parametrize("angle_deg", [0.0, 40.0])
def test_transmission_is_reciprocal_between_viewer_and_source(angle_deg):
    angle = math.radians(angle_deg)
    slab = {"optical_depth": 3.0, "albedo": 0.98, "asymmetry": 0.8, "refractive_index": 1.55}
    seen = rough_slab(front=0.3, back=0.5, emitter=lambertian(), angle_rad=angle, **slab)
    sent = rough_slab(front=0.5, back=0.3, emitter=beam(angle_rad=angle), **slab)
    radiance = radiance_per_flux(seen, trace_slab(seen, photons=400_000, seed=2)) * math.pi
    transmitted = trace_slab(sent, photons=400_000, seed=3).fates[:, FRONT, 0]
    assert_mean_within(
        radiance,
        expected=float(transmitted.mean()),
        expected_se=math.hypot(float(transmitted.std(ddof=1)) / math.sqrt(transmitted.size), 0.0005),
        what=f"reciprocity at {angle_deg:g} deg",
    )


def test_a_rough_interface_keeps_all_energy():
    scene = rough_slab(
        front=0.8, back=0.6, emitter=lambertian(), optical_depth=0.2, albedo=1.0, asymmetry=0.0, refractive_index=1.55
    )
    fates = trace_slab(scene, photons=64_000, seed=1).fates[:, :, 0]
    np.testing.assert_allclose(fates.sum(axis=1), 1.0, atol=1e-9)


def test_the_other_kind_of_face_beside_a_window_is_seen_as_well():
    # Left half rough, right half smooth: each half shows what an endless face of its kind shows far from the border
    slab = {"optical_depth": 9.0, "albedo": 1.0, "asymmetry": 0.8, "refractive_index": 1.5}
    whole = {}
    for front in (0.5, 0.0):
        scene = rough_slab(front=front, back=0.0, emitter=lambertian(at_z_mm=-1e-6, size_mm=(20.0, 20.0)), **slab)
        whole[front] = radiance_per_flux(scene, trace_slab(scene, photons=100_000, seed=7)).mean()
    mixed = rough_slab(front=0.5, back=0.0, emitter=lambertian(size_mm=(20.0, 20.0)), **slab)
    face = np.array([[1, 0]], dtype=np.uint8)
    grid = replace(mixed.grid, x_min_mm=-10.0, y_min_mm=-5.0, pitch_mm=10.0, n_x=2)
    mixed = replace(mixed, grid=grid, front=face, back=np.zeros_like(face), body=np.zeros_like(face))
    seen = radiance_per_flux(mixed, trace_slab(mixed, photons=200_000, seed=8))
    assert_mean_within(seen / (0.5 * (whole[0.5] + whole[0.0])), expected=1.0, expected_se=0.004, what="two halves")
