"""How even a window is: percentiles after the eye's blur, freed of sampling noise, with their errors."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
import numpy.typing as npt

from paneglow.look.surface import WIDTHS_PX, FitOfWidth, build_local_fit, choose_width_px

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

DARK_PERCENTILE, BRIGHT_PERCENTILE = 2.0, 98.0  # the project's definition of evenness (docs/design.md)
# Of width and height. VESA's and the ICDM's display measurement standards name layouts of 5, 9, 13 and 25 points; these
# places of the 9 are from memory
NINE_POINTS = (1 / 6, 1 / 2, 5 / 6)
DISC_SHARE = 1 / 12  # radius of a measuring point over the window's smaller side: assumed, about a meter's spot
MOST_STOPS = 10.0  # evenness below 2^-10 is printed as this: the eye's own stray light hides more (`look/eye.py`)
REPLICAS = 64  # noise patterns, each also with its sign turned; their mean is then good to a tenth of their spread
REPLICA_SEED = 20020  # any fixed number: the same tally gives the same figures
# How well the noise correction itself is known, measured on synthetic windows (tests/unit/look/test_evenness.py)
CORRECTION_UNCERTAINTY = 0.35
# Less smoothing overrules more where their evenness differs by more standard errors than this; chosen on synthetic
# windows with and without thin shadows
AGREEMENT_SIGMAS = 2.5
# A wide surface has few free shapes, so chance alone often makes its spread look larger than noise: that much more is
# still taken for noise; chosen on synthetic flat windows
CHANCE_FACTOR = 1.25
# Errors over those of the repetitions, for evenness, nine-point figure and peak: the repetitions know neither that the
# smoothing was chosen nor what bias is left; root mean square error on 120 synthetic windows, 16 seeds each
ERROR_FACTORS = np.array([1.4, 1.25, 1.6])
MOST_PIXELS = 10_000  # larger windows are averaged 2 x 2 first, for time; 20 x 20 mm at the default 0.2 mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowSpread:
    """Noise-corrected figures of one window for every version, each of shape (version,), the nominal one first.

    `ratio` is evenness, `nine_point` the display-trade figure, `peak` the bright percentile [cd/m2]; the `_se` are one
    standard error.
    """

    ratio_versions: FloatArray
    ratio_versions_se: FloatArray
    nine_point_versions: FloatArray
    nine_point_versions_se: FloatArray
    peak_versions: FloatArray
    peak_versions_se: FloatArray


def nine_point_discs(inside: BoolArray) -> FloatArray:
    """Weights of the nine measuring points over the pixels inside.

    Parameters
    ----------
    inside : ndarray of bool, shape (y, x)
        Pixels of the window; at least one.

    Returns
    -------
    ndarray, shape (9, pixel)
        Each row sums to 1.

    Notes
    -----
    Points stand at 1/6, 1/2 and 5/6 of the bounding box; one outside the window moves to the nearest pixel inside.
    Each averages the pixels inside that lie within a small disc about it.
    """
    rows, columns = np.nonzero(inside)
    low = np.asarray([rows.min(), columns.min()], dtype=np.float64)
    size = np.asarray([rows.max(), columns.max()]) + 1.0 - low
    radius = max(0.5, DISC_SHARE * float(size.min()))
    discs = []
    for share_y in NINE_POINTS:
        for share_x in NINE_POINTS:
            wanted = low + size * (share_y, share_x) - 0.5
            nearest = int(np.argmin((rows - wanted[0]) ** 2 + (columns - wanted[1]) ** 2))
            at = wanted if inside[tuple(np.rint(wanted).astype(int))] else (rows[nearest], columns[nearest])
            disc = (rows - at[0]) ** 2 + (columns - at[1]) ** 2 <= radius**2
            disc[nearest] = True
            discs.append(disc / disc.sum())
    return np.asarray(discs)


def _figures(fitted: npt.NDArray[np.floating], *, discs: npt.NDArray[np.floating]) -> FloatArray:
    """Natural logs of evenness, nine-point figure and peak, shape (3, ...), of values [..., pixel]."""
    dark, bright = np.percentile(fitted, [DARK_PERCENTILE, BRIGHT_PERCENTILE], axis=-1)
    points = fitted @ discs.T
    tiny = float(np.finfo(np.float32).tiny)
    bright = np.maximum(bright, tiny)
    least = 2.0**-MOST_STOPS
    brightest = np.maximum(points.max(axis=-1), tiny)
    even = np.maximum(dark / bright, least)
    nine = np.maximum(points.min(axis=-1) / brightest, least)
    return np.asarray(np.log(np.stack([even, nine, bright])), dtype=np.float64)


def _without_noise(fitted: FloatArray, *, noise_variance: float) -> FloatArray:
    """Values drawn toward their mean until their spread is what the noise leaves of it."""
    mean = float(fitted.mean())
    variance = float(fitted.var())
    if variance <= 0.0:
        return fitted
    shrink = np.sqrt(max(0.0, variance - CHANCE_FACTOR * noise_variance) / variance)
    return np.asarray(np.maximum(mean + shrink * (fitted - mean), 1e-3 * mean))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Smoothing:
    """How the maps of one scattering coefficient are smoothed, and what noise does to the three log figures then.

    `bias` and `se` have shape (3,); `width_px` is 0 for no smoothing.
    """

    width_px: float
    bias: FloatArray
    se: FloatArray


def _noise_effect(fitted: FloatArray, *, discs: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bias and standard error of the three log figures of the mean of batches [batch, pixel]."""
    n_batches = len(fitted)
    mean = fitted.mean(axis=0)
    deviations = fitted - mean
    noise_variance = float((deviations**2).sum(axis=0).mean()) / (n_batches * (n_batches - 1.0))
    base = _without_noise(mean, noise_variance=noise_variance)
    # Random weights of the batches turn their deviations into noise of their mean; single precision is far finer
    weights = np.random.default_rng(REPLICA_SEED).standard_normal((REPLICAS, n_batches))
    weights /= np.sqrt(n_batches * (n_batches - 1.0))
    noise = weights.astype(np.float32) @ deviations.astype(np.float32)
    single, single_discs = base.astype(np.float32), discs.astype(np.float32)
    noisy = np.concatenate([_figures(single + sign * noise, discs=single_discs) for sign in (1, -1)], axis=-1)
    bias = noisy.mean(axis=-1) - _figures(single, discs=single_discs)
    return bias, np.hypot(noisy.std(axis=-1), CORRECTION_UNCERTAINTY * bias)


def _choose_smoothing(batches: FloatArray, *, fit_of: FitOfWidth, discs: FloatArray) -> Smoothing:
    """Widest smoothing that predicts well and leaves evenness as it is.

    A surface that fits most pixels best can still smooth away a thin shadow that decides the 2nd percentile. So the
    widest smoothing is kept only where its evenness agrees with that of less and of no smoothing, within
    AGREEMENT_SIGMAS of their errors.
    """
    widest_px = choose_width_px(batches, fit_of=fit_of)
    narrower = [width_px for width_px in WIDTHS_PX if width_px <= widest_px]
    low, high = -np.inf, np.inf
    chosen = None
    for width_px in sorted({0.0, narrower[len(narrower) // 2], widest_px}):
        fitted = fit_of(width_px)(batches)
        bias, se = _noise_effect(fitted, discs=discs)
        log_ratio = float(_figures(fitted.mean(axis=0), discs=discs)[0] - bias[0])
        if chosen is None or low <= log_ratio <= high:
            chosen = Smoothing(width_px=width_px, bias=bias, se=se)
        low = max(low, log_ratio - AGREEMENT_SIGMAS * float(se[0]))
        high = min(high, log_ratio + AGREEMENT_SIGMAS * float(se[0]))
    assert chosen is not None  # noqa: S101  the first width is always taken
    return chosen


def build_spread(
    batches: Iterable[FloatArray], *, versions: FloatArray, scattering: npt.ArrayLike, inside: BoolArray
) -> WindowSpread:
    """Evenness, nine-point figure and peak of one window, after the eye's blur.

    Parameters
    ----------
    batches : iterable of ndarray, shape (batch, y, x)
        For every scattering coefficient, equal independent batches of the luminance [cd/m2] of one version that
        scatters so, blurred by the eye; at least 2. The first are those of the nominal version.
    versions : ndarray, shape (version, y, x)
        Luminance of every version, blurred; the first is the nominal one.
    scattering : array_like of int, shape (version,)
        Which of the batches each version goes with.
    inside : ndarray of bool, shape (y, x)
        Pixels of the window; at least one.

    Returns
    -------
    WindowSpread

    Notes
    -----
    Sampling noise alone makes the 2nd percentile darker and the 98th brighter. Two steps free the figures of it:
    a smooth surface through the pixels, as wide as the batches show to be best (`choose_width_px`) and no wider than
    evenness itself allows; then a parametric bootstrap: the remaining noise, with its spatial correlation, is known
    from the differences between batches; it is added again, many times, to the surface drawn in by the spread that
    noise explains, and what that adds to a figure is taken off. The spread over those repetitions, times ERROR_FACTORS,
    is the standard error. All is done on logarithms, since the figures are ratios.

    Versions that scatter alike are re-weighted from the same photons, so their figures move together and get the same
    smoothing and correction. A version that scatters otherwise gets its own: one that scatters less has a sharper spot
    that smoothing must leave, one that scatters more is noisier.

    References
    ----------
    B. Efron, R. J. Tibshirani, *An Introduction to the Bootstrap*, Chapman and Hall, 1993. Choice among widths by
    agreement with narrower ones: O. V. Lepski, V. G. Spokoiny, Ann. Statist. 25(6), 1997, *Optimal pointwise adaptive
    methods in nonparametric estimation*; ours agrees on evenness, not on a point.
    """
    inside, thin = _thinning(inside)
    discs = nine_point_discs(inside)
    fit_of = cache(partial(build_local_fit, inside))
    smoothings = [_choose_smoothing(thin(seen), fit_of=fit_of, discs=discs) for seen in batches]
    of_version, thinned = np.asarray(scattering), thin(versions)
    logs, errors = np.empty((3, len(thinned))), np.empty((3, len(thinned)))
    for number, smoothing in enumerate(smoothings):
        at = of_version == number
        fitted = fit_of(smoothing.width_px)(thinned[at])
        logs[:, at] = _figures(fitted, discs=discs) - smoothing.bias[:, None]
        errors[:, at] = (ERROR_FACTORS * smoothing.se)[:, None]
    # A ratio of least to greatest is at most 1; noise may carry its estimate above
    logs[:2] = np.minimum(logs[:2], 0.0)
    ratio, nine_point, peak = np.exp(logs)
    ratio_se, nine_point_se, peak_se = np.exp(logs) * errors
    return WindowSpread(
        ratio_versions=ratio,
        ratio_versions_se=ratio_se,
        nine_point_versions=nine_point,
        nine_point_versions_se=nine_point_se,
        peak_versions=peak,
        peak_versions_se=peak_se,
    )


def _thinning(inside: BoolArray) -> tuple[BoolArray, Callable[[FloatArray], FloatArray]]:
    """Pixels inside, thinned, and what thins maps [..., y, x] likewise.

    Crops to the window, and averages 2 x 2 pixels until it has at most MOST_PIXELS, leaving out blocks on the rim. A
    window of strips too thin to hold blocks stays as it is.
    """
    rows, columns = (np.flatnonzero(inside.any(axis=axis)) for axis in (1, 0))
    crop = (..., slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
    inside = inside[crop]
    halvings = 0
    while int(inside.sum()) > MOST_PIXELS:
        blocks = _halved(inside) > 0.99
        if 8 * int(blocks.sum()) < int(inside.sum()):
            break
        inside, halvings = blocks, halvings + 1

    def thin(maps: FloatArray) -> FloatArray:
        thinned = maps[crop]
        for _ in range(halvings):
            thinned = _halved(thinned)
        return thinned

    return inside, thin


def _halved(maps: npt.NDArray[np.generic]) -> FloatArray:
    rows, columns = maps.shape[-2] // 2, maps.shape[-1] // 2
    blocks = maps[..., : 2 * rows, : 2 * columns].reshape(*maps.shape[:-2], rows, 2, columns, 2)
    return np.asarray(blocks.mean(axis=(-3, -1), dtype=np.float64))
