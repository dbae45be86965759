"""Stated errors against true ones: means after a trace that may stop early, skewed batches, ends of ranges."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from shapely.geometry import box

from paneglow.look import build_look
from paneglow.look.figures import standard_error
from paneglow.scene import Slab
from paneglow.transport.run import STAGES

FloatArray = npt.NDArray[np.float64]
N_BATCHES = 16
ASKED = 0.02  # relative standard error at which a trace stops
RNG = np.random.default_rng(11)


def normal(variance: float) -> FloatArray:
    return RNG.normal(scale=np.sqrt(variance), size=N_BATCHES)


def counted(variance: float) -> FloatArray:
    """Relative deviations of a count, skewed the more the fewer there are: gamma with a mean of 1."""
    return RNG.gamma(1.0 / variance, variance, size=N_BATCHES) - 1.0


def stopped_trace(draw: Callable[[float], FloatArray], *, error: float) -> tuple[float, float]:
    """Error of a mean and its stated error, relative; `error` is the true one with all photons of all stages."""
    batches, traced = np.zeros(N_BATCHES), 0.0
    for share in STAGES:
        batches = (traced * batches + share * draw(error**2 * N_BATCHES / share)) / (traced + share)
        traced += share
        if standard_error(1.0 + batches) <= ASKED * (1.0 + batches.mean()):
            break
    return float(batches.mean()), float(standard_error(1.0 + batches))


@pytest.mark.parametrize("draw", [normal, counted])
@pytest.mark.parametrize("error", [0.3 * ASKED, 0.6 * ASKED, 0.9 * ASKED, 2.0 * ASKED])
def test_a_trace_that_stops_when_it_is_sure_states_errors_as_large_as_they_are(
    draw: Callable[[float], FloatArray], error: float
) -> None:
    found, stated = np.transpose([stopped_trace(draw, error=error) for _ in range(3000)])
    # 3000 trials give the root mean square to 1.3 %; the plain error of the mean leaves 1.06 to 1.15 here
    assert 0.94 < np.sqrt(np.mean((found / stated) ** 2)) < 1.06


def test_errors_of_skewed_batches_are_stated_larger_than_their_spread_says() -> None:
    """Gamma batches of skewness 2: Student's statistic then has a mean square of about 1 + (2 + 2 * 4) / 16."""
    batches = np.random.default_rng(2).gamma(1.0, size=(20_000, N_BATCHES))
    plain = batches.std(axis=1, ddof=1) / np.sqrt(N_BATCHES)
    off = batches.mean(axis=1) - 1.0
    by_spread = np.sqrt(np.mean((off / plain) ** 2))
    stated = np.sqrt(np.mean((off / standard_error(batches)) ** 2))
    assert by_spread > 1.25
    assert 1.0 < stated < 1.15  # the skewness of 16 numbers is itself seen too small


def test_an_end_of_a_range_carries_the_error_of_its_own_batches(staged, lamp) -> None:
    """The dense laminate gets 4 % per pixel where the nominal one gets 1 %: its end is four times less sure."""
    shapes = {"left": box(1, 1, 3.4, 5), "right": box(4.6, 1, 7, 5)}
    lamps = [
        lamp(ref="D1", at_mm=(2.2, 3.0), window="left", width_mm=1e6),
        lamp(ref="D2", at_mm=(6, 3), window="right"),
    ]
    stages = [
        staged(shapes, lamps, outline=box(0, 0, 8, 6), pitch_mm=0.1, noise=noise, seed=seed)
        for seed, noise in ((1, 0.01), (2, 0.04))
    ]
    leds = tuple(
        replace(
            fine,
            xyz=np.concatenate([fine.xyz, 0.3 * rough.xyz]),
            batches=np.concatenate([fine.batches, 0.3 * rough.batches]),
            angles=np.concatenate([fine.angles, fine.angles], axis=-1),
        )
        for fine, rough in zip(*(stage.tally.leds for stage in stages), strict=True)
    )
    stage = stages[0]
    slabs = (*stage.scene.slabs, Slab(name="dense", scatter_per_mm=15.0, absorb_per_mm=np.asarray([0.05])))
    tally = replace(stage.tally, leds=leds, slab_names=("nominal", "dense"))
    two = replace(stage, scene=replace(stage.scene, slabs=slabs), tally=tally)
    left = next(window for window in build_look(**two.parts()).windows if window.name == "left")
    mean, bleed, even = left.mean_cd_m2, left.bleed, left.evenness
    assert mean.low == pytest.approx(0.3 * mean.value, rel=0.02)
    # 16 batches give each error to 18 %; both together to a quarter
    assert mean.low_se / mean.low == pytest.approx(4.0 * mean.se / mean.value, rel=0.5)
    assert mean.high == mean.value
    assert mean.high_se == mean.se
    assert max(bleed.low_se, bleed.high_se) > 2.0 * bleed.se
    assert max(even.low_se, even.high_se) > 2.0 * even.se
    assert mean.widened == (mean.low - mean.low_se, mean.high + mean.high_se)


def test_a_share_is_no_surer_to_exceed_one_than_it_can() -> None:
    from paneglow.look.figures import estimate

    share = estimate([0.9, 0.995, 0.9], errors=[0.01, 0.02, 0.01], most=1.0)  # as many as flux has ends
    assert share.widened[1] == pytest.approx(1.0)
    assert estimate([0.5, 0.5 + 1e-7, 0.5], errors=[0.01, 0.02, 0.01]).high == 0.5
