"""Scenes traced from plain arrays against an independent volume path tracer (mitsuba 3.9.1), block by block.

Errors come from batches of both codes; a block may be 4 combined standard errors off. With 64 batches on each side that
is Student's t with some 100 degrees of freedom: a right program fails a given block once in about 8000 seeds, and
one of the some 500 blocks once in about 15. Seeds are fixed. The mean over all blocks must agree within 1 % beside two
standard errors of what this sampled version leaves open; `make reference` traces finely and records RESULTS.md.
"""

import math

import numpy as np
import pytest

from reference.compare import agreement
from reference.scenes import SCENES
from reference.tracing import reference_blocks, traced_blocks

PHOTONS = 200_000
SEED = 3
MOST_SIGMAS = 4.0
MEAN_WITHIN_FRAC = 0.01


@pytest.mark.parametrize("scene", SCENES, ids=[scene.name for scene in SCENES])
def test_blocks_and_mean_agree_with_the_independent_renderer(scene):
    result = agreement(traced_blocks(scene, photons=PHOTONS, seed=SEED), reference_blocks(scene))
    assert result.worst_sigmas <= MOST_SIGMAS, result
    sampling_frac = math.hypot(result.found[1], result.expected[1]) / result.expected[0]
    assert abs(result.off_frac) <= MEAN_WITHIN_FRAC + 2.0 * sampling_frac, result


@pytest.mark.parametrize("scene", SCENES, ids=[scene.name for scene in SCENES])
def test_reference_errors_are_small_enough_to_judge_by(scene):
    expected = reference_blocks(scene)
    mean, se = expected.whole
    assert se / mean < MEAN_WITHIN_FRAC / 2.0
    assert len(expected.batches) >= 16
    # No block is all but unseen: a mean of a few lucky paths has no error to speak of
    assert np.median(expected.se / expected.mean) < 0.1
