"""Evenness from noisy maps, on synthetic windows whose true evenness is known."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt
import pytest

from paneglow.look.evenness import BRIGHT_PERCENTILE, WindowSpread, build_spread, nine_point_discs
from paneglow.look.surface import build_local_fit, choose_width_px

FloatArray = npt.NDArray[np.float64]
N_BATCHES = 16
N_SEEDS = 8


def flat(x: FloatArray, y: FloatArray) -> FloatArray:
    return np.ones_like(x + y)


def slope(x: FloatArray, y: FloatArray) -> FloatArray:
    """Tilted, so that no whole column of pixels shares one value: a percentile of steps is not a smooth thing."""
    return 1.0 + 0.6 * x + 0.2 * y


def bowl(x: FloatArray, y: FloatArray) -> FloatArray:
    return 1.0 - 0.6 * (x**2 + y**2)


def spot(x: FloatArray, y: FloatArray) -> FloatArray:
    return 0.05 + np.exp(-((x - 0.1) ** 2 + y**2) / (2 * 0.3**2))


def far_end(x: FloatArray, y: FloatArray) -> FloatArray:
    """A lamp at one end of the window, about 80 times brighter there than far from it."""
    return 0.003 + (1.0 + ((x + 0.5) ** 2 + y**2) / 0.15**2) ** -1.5


def thin_shadow(x: FloatArray, y: FloatArray) -> FloatArray:
    """A spot crossed by one dark line, a fifteenth of the window wide: ink across a window."""
    light = np.exp(-((x - 0.1) ** 2 + y**2) / (2 * 0.5**2))
    side = x.shape[-1]
    light[:, side // 3 : side // 3 + max(1, side // 15)] *= 0.3
    return light


FIELDS = (flat, slope, bowl, spot, far_end, thin_shadow)


def window(field: Callable[[FloatArray, FloatArray], FloatArray], *, n_pixels: int) -> FloatArray:
    """A square window of about that many pixels, x and y from -1/2 to 1/2."""
    side = round(np.sqrt(n_pixels))
    place = (np.arange(side) + 0.5) / side - 0.5
    return field(place[None, :], place[:, None])


def true_ratio(truth: FloatArray) -> float:
    dark, bright = np.percentile(truth, [2, 98])
    return float(dark / bright)


def counted(truth: FloatArray, *, noise: float, seed: int) -> FloatArray:
    """Batches with the scatter of counting: gamma, variance in proportion to the mean; `noise` at the mean pixel."""
    per_unit = 1.0 / (noise**2 * N_BATCHES * truth.mean())
    rng = np.random.default_rng(seed)
    return rng.gamma(per_unit * truth, 1.0 / per_unit, size=(N_BATCHES, *truth.shape))


def gaussian(truth: FloatArray, *, noise: float, seed: int) -> FloatArray:
    """Batches with the same relative scatter at every pixel."""
    rng = np.random.default_rng(seed)
    return truth * (1.0 + noise * np.sqrt(N_BATCHES) * rng.standard_normal((N_BATCHES, *truth.shape)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Nominal:
    """Figures of the nominal version."""

    ratio: float
    ratio_se: float
    nine_point: float
    nine_point_se: float
    peak: float
    peak_se: float


def nominal_of(spread: WindowSpread) -> Nominal:
    figures = {}
    for name in ("ratio", "nine_point", "peak"):
        figures[name] = float(getattr(spread, f"{name}_versions")[0])
        figures[f"{name}_se"] = float(getattr(spread, f"{name}_versions_se")[0])
    return Nominal(**figures)


def spread_of(batches: FloatArray) -> Nominal:
    inside = np.ones(batches.shape[1:], dtype=np.bool_)
    return nominal_of(build_spread([batches], versions=batches.mean(axis=0)[None], scattering=[0], inside=inside))


NOISES = (0.03, 0.05, 0.1, 0.2)  # standard error of a mean pixel
# Counting noise for every size; the same relative noise everywhere for one
SAMPLINGS = ((counted, 30), (counted, 300), (counted, 2000), (gaussian, 300))


@pytest.mark.parametrize(("scatter", "n_pixels"), SAMPLINGS)
@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("field", FIELDS)
def test_evenness_is_free_of_noise(
    field: Callable[[FloatArray, FloatArray], FloatArray],
    noise: float,
    n_pixels: int,
    scatter: Callable[..., FloatArray],
) -> None:
    truth = window(field, n_pixels=n_pixels)
    true = true_ratio(truth)
    spreads = [spread_of(scatter(truth, noise=noise, seed=seed)) for seed in range(N_SEEDS)]
    bias = float(np.mean([spread.ratio for spread in spreads])) / true - 1.0
    se = float(np.mean([spread.ratio_se for spread in spreads])) / true
    # The demand: a bias below 1.4 standard errors of one result, or below 2 %
    assert abs(bias) < max(0.02, 1.4 * se)


def test_stated_errors_are_as_large_as_the_errors() -> None:
    squares = []
    for field in FIELDS:
        for n_pixels in (30, 300):
            for noise in (0.05, 0.1):
                truth = window(field, n_pixels=n_pixels)
                points = nine_point_discs(np.ones(truth.shape, dtype=np.bool_)) @ truth.ravel()
                true = np.log([true_ratio(truth), points.min() / points.max(), np.percentile(truth, BRIGHT_PERCENTILE)])
                for seed in range(16):
                    spread = spread_of(counted(truth, noise=noise, seed=seed))
                    found = np.array([spread.ratio, spread.nine_point, spread.peak])
                    se = np.array([spread.ratio_se, spread.nine_point_se, spread.peak_se]) / found
                    squares.append(((np.log(found) - true) / se) ** 2)
    # Root mean square over 384 results of each figure, 1 where errors are as stated. Seeds are other than those that
    # ERROR_FACTORS were measured with; a mean over 24 windows that differ scatters by some 10 %
    rms = np.sqrt(np.mean(squares, axis=0))
    assert np.all((rms > 0.75) & (rms < 1.25)), rms


# Windows and light that no constant of `look/evenness.py` was chosen on
UNSEEN_SHAPES: dict[str, Callable[[FloatArray, FloatArray], npt.NDArray[np.bool_]]] = {
    "ring": lambda x, y: (np.hypot(x, y) < 0.5) & (np.hypot(x, y) > 0.25),
    "corner": lambda x, y: (x < -0.1) | (y < -0.1),
    "star": lambda x, y: np.hypot(x, y) < 0.33 + 0.15 * np.cos(5 * np.arctan2(y, x)),
    "crescent": lambda x, y: (np.hypot(x, y) < 0.5) & (np.hypot(x - 0.25, y) > 0.4),
    "strip": lambda x, y: np.abs(y + 0 * x) < 0.09,
}
UNSEEN_LIGHT: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "two lamps": lambda x, y: (
        0.02
        + (1 + ((x + 0.3) ** 2 + (y - 0.2) ** 2) / 0.1**2) ** -1.5
        + 0.7 * (1 + ((x - 0.3) ** 2 + (y + 0.2) ** 2) / 0.12**2) ** -1.5
    ),
    "saddle": lambda x, y: 1 + 1.5 * x * y + 0.5 * (x * x - y * y),
    "waves": lambda x, y: 1 + 0.4 * np.cos(9 * x + 4 * y),
    "decay": lambda x, y: np.exp(-3.5 * x - 1.1 * y),
    "bars": lambda x, y: 0.4 + np.exp(-x * x / 0.08) * (1 - 0.5 * (np.floor((y + 0.5) * 6) % 3 == 0)),
}


def test_stated_errors_hold_on_windows_and_light_that_nothing_was_chosen_on() -> None:
    squares = []
    for shape in UNSEEN_SHAPES.values():
        inside = window(shape, n_pixels=26**2)
        for light in UNSEEN_LIGHT.values():
            truth = window(light, n_pixels=26**2)
            points = nine_point_discs(inside) @ truth[inside]
            dark, bright = np.percentile(truth[inside], [2, 98])
            true = np.log([dark / bright, points.min() / points.max(), bright])
            for seed in range(8):
                batches = counted(truth, noise=0.1, seed=900 + seed)
                spread = nominal_of(
                    build_spread([batches], versions=batches.mean(axis=0)[None], scattering=[0], inside=inside)
                )
                found = np.array([spread.ratio, spread.nine_point, spread.peak])
                se = np.array([spread.ratio_se, spread.nine_point_se, spread.peak_se]) / found
                squares.append(((np.log(found) - true) / se) ** 2)
    # Over 200 results of each figure in 25 windows; 1 where errors are as stated
    rms = np.sqrt(np.mean(squares, axis=0))
    assert np.all((rms > 0.75) & (rms < 1.25)), rms


def test_plain_percentiles_of_a_noisy_flat_window_would_be_far_off() -> None:
    truth = window(flat, n_pixels=300)
    batches = counted(truth, noise=0.1, seed=3)
    assert true_ratio(batches.mean(axis=0)) < 0.75
    assert spread_of(batches).ratio > 0.9


def test_without_noise_evenness_is_the_ratio_of_percentiles() -> None:
    truth = window(far_end, n_pixels=300)
    spread = spread_of(np.broadcast_to(truth, (N_BATCHES, *truth.shape)))
    assert spread.ratio == pytest.approx(true_ratio(truth), rel=1e-12)
    assert spread.peak == pytest.approx(float(np.percentile(truth, 98)), rel=1e-12)
    assert spread.ratio_se == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("field", FIELDS)
def test_a_slab_that_is_noisier_than_the_nominal_one_is_freed_of_its_own_noise(
    field: Callable[[FloatArray, FloatArray], FloatArray],
) -> None:
    truth = window(field, n_pixels=300)
    inside = np.ones(truth.shape, dtype=np.bool_)
    ends = []
    for seed in range(N_SEEDS):
        slabs = np.stack([counted(truth, noise=noise, seed=2 * seed + k) for k, noise in enumerate((0.02, 0.2))])
        versions = np.concatenate([slabs.mean(axis=1)] * 3)
        spread = build_spread(slabs, versions=versions, scattering=[0, 1] * 3, inside=inside)
        assert spread.ratio_versions[1] == spread.ratio_versions[3] == spread.ratio_versions[5]
        assert spread.ratio_versions[1] == pytest.approx(spread_of(slabs[1]).ratio)
        assert spread.ratio_versions_se[1] == pytest.approx(spread_of(slabs[1]).ratio_se)
        ends.append(spread_of(slabs[1]))
    # As for the nominal one: a bias below 1.4 standard errors of one result, or below 2 %
    true = true_ratio(truth)
    bias = float(np.mean([end.ratio for end in ends])) / true - 1.0
    assert abs(bias) < max(0.02, 1.4 * float(np.mean([end.ratio_se for end in ends])) / true)


def test_versions_that_scatter_alike_carry_the_same_correction() -> None:
    truth = window(spot, n_pixels=300)
    batches = counted(truth, noise=0.05, seed=1)
    nominal = batches.mean(axis=0)
    inside = np.ones(truth.shape, dtype=np.bool_)
    versions = np.stack([nominal, 2 * nominal, nominal + 0.5])
    spread = build_spread([batches], versions=versions, scattering=[0, 0, 0], inside=inside)
    assert spread.ratio_versions[1] == pytest.approx(spread.ratio_versions[0], rel=1e-12)
    assert spread.ratio_versions_se[1] == pytest.approx(spread.ratio_versions_se[0], rel=1e-12)
    assert spread.peak_versions[1] == pytest.approx(2 * spread.peak_versions[0], rel=1e-12)
    assert spread.ratio_versions[2] > spread.ratio_versions[0]


def test_large_windows_are_averaged_first_and_stay_true() -> None:
    truth = window(slope, n_pixels=40_000)
    spread = spread_of(counted(truth, noise=0.1, seed=1))
    # 200 pixels a side; averaging 2 x 2 moves the percentiles of a straight slope by less than a pixel
    assert spread.ratio == pytest.approx(true_ratio(truth), rel=0.01)


def test_a_large_comb_of_thin_strips_keeps_its_pixels() -> None:
    truth = window(slope, n_pixels=40_000)
    inside = np.zeros(truth.shape, dtype=np.bool_)
    inside[:, ::3] = True
    batches = counted(truth, noise=0.1, seed=1)[:4]
    spread = nominal_of(build_spread([batches], versions=batches.mean(axis=0)[None], scattering=[0], inside=inside))
    assert spread.ratio == pytest.approx(true_ratio(truth[inside]), rel=0.03)


def test_nine_points_of_a_slope_are_a_sixth_from_the_rim() -> None:
    truth = window(slope, n_pixels=3600)
    spread = spread_of(np.broadcast_to(truth, (N_BATCHES, *truth.shape)))
    # Discs are symmetric about x, y = -1/3 and 1/3, so their means are the slope's values there
    assert spread.nine_point == pytest.approx((1 - 0.8 / 3) / (1 + 0.8 / 3), rel=0.01)


def test_nine_points_outside_a_window_move_to_the_nearest_place_inside() -> None:
    y, x = np.mgrid[0:30, 0:30]
    ring = (np.hypot(x - 14.5, y - 14.5) < 15) & (np.hypot(x - 14.5, y - 14.5) > 9)
    discs = nine_point_discs(ring)
    assert discs.shape == (9, ring.sum())
    np.testing.assert_allclose(discs.sum(axis=1), 1.0)
    middle = discs[4]
    radii = np.hypot(x[ring] - 14.5, y[ring] - 14.5)[middle > 0]
    assert radii.min() < 10  # the point in the hole of the ring went to the ring's inner rim


def test_a_local_fit_keeps_any_quadratic() -> None:
    y, x = np.mgrid[0:20, 0:30].astype(float)
    inside = np.hypot(x - 15, y - 10) < 9
    quadratic = 5 + 0.3 * x - 0.2 * y + 0.01 * x * y - 0.02 * y**2
    fitted = build_local_fit(inside, width_px=2.7)(quadratic)
    # The ridge of 1e-4 draws slopes in a little; the surface spans about 10
    np.testing.assert_allclose(fitted, quadratic[inside], atol=0.005)


def test_smoothing_is_wide_for_flat_light_and_none_for_sharp_light() -> None:
    inside = np.ones((24, 24), dtype=np.bool_)
    even = counted(np.ones((24, 24)), noise=0.1, seed=1)
    checks = counted(np.indices((24, 24)).sum(axis=0) % 2 + 0.2, noise=0.05, seed=1)
    fit_of = partial(build_local_fit, inside)
    assert choose_width_px(even, fit_of=fit_of) >= 4.0
    assert choose_width_px(checks, fit_of=fit_of) == 0.0


def test_a_window_one_pixel_wide_has_figures() -> None:
    truth = np.linspace(1.0, 2.0, 40)[:, None]
    spread = spread_of(counted(truth, noise=0.05, seed=2))
    assert spread.ratio == pytest.approx(true_ratio(truth), rel=0.1)
    assert spread.nine_point <= 1.0
