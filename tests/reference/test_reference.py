"""Scenes traced from plain arrays against an independent volume path tracer (mitsuba 3.9.1), block by block.

Errors come from batches of both codes, and no block is held surer than the median block would be at its mean. The
blocks of all scenes are one family (`sampling_checks`): any of them fails a right program once in 100 seeds. The mean
over all blocks must agree within 1 %, beside two standard errors of what this sampled version leaves open. `make
reference` compares with 20 times as many photons.
"""

import math

import numpy as np
import pytest

from reference.compare import agreement, expected_blocks
from reference.facet_walk import ALL_FACETS, KINDS, ONE_FACET, walk_blocks
from reference.scenes import BY_FACET_WALK, SCENES, scene_named
from reference.tracing import Blocks, reference_blocks, traced_blocks
from sampling_checks import budget, keep_z, most_sigmas

PHOTONS = budget(200_000)
SEED = 3
BLOCKS = 700  # of all scenes
MOST_SIGMAS = most_sigmas(BLOCKS)
MEAN_WITHIN_FRAC = 0.01


def assert_agreement(found, expected):
    result = agreement(found, expected)
    keep_z("worst block", result.worst_sigmas)
    assert result.worst_sigmas <= MOST_SIGMAS, result
    sampling_frac = math.hypot(result.found[1], result.expected[1]) / result.expected[0]
    assert abs(result.off_frac) <= MEAN_WITHIN_FRAC + 2.0 * sampling_frac, result


@pytest.mark.parametrize("scene", SCENES, ids=[scene.name for scene in SCENES])
def test_blocks_and_mean_agree_with_the_independent_code(scene):
    assert_agreement(traced_blocks(scene, photons=PHOTONS, seed=SEED), expected_blocks(scene))


@pytest.mark.parametrize("scene", SCENES, ids=[scene.name for scene in SCENES])
def test_reference_errors_are_small_enough_to_judge_by(scene):
    expected = expected_blocks(scene)
    mean, se = expected.whole
    assert se / mean < MEAN_WITHIN_FRAC
    assert len(expected.batches) >= 10
    seen = expected.mean > 0.0
    assert np.median(expected.se[seen] / expected.mean[seen]) < 0.08


@pytest.mark.parametrize("name", BY_FACET_WALK)
def test_the_walk_by_one_facet_is_what_the_renderer_computes(name):
    assert_agreement(reference_blocks(scene_named(name), kind=KINDS[ONE_FACET]), reference_blocks(scene_named(name)))


@pytest.mark.parametrize("facets", [ONE_FACET, ALL_FACETS])
def test_kept_walks_are_those_of_the_code_beside_them(facets):
    scene = scene_named("matt-faces")
    again = Blocks(batches=np.array(walk_blocks(scene, facets=facets, n_paths=200, n_batches=12)))
    kept = reference_blocks(scene, kind=KINDS[facets]).whole
    mean, se = again.whole
    assert abs(mean - kept[0]) <= MOST_SIGMAS * math.hypot(se, kept[1])
