"""How even a window is: percentiles after the eye's blur, freed of sampling noise, with their errors."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.look.surface import WIDTHS_PX, build_local_fit, choose_local_fit

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

DARK_PERCENTILE, BRIGHT_PERCENTILE = 2.0, 98.0  # the project's definition of evenness (docs/design.md)
NINE_POINTS = (1 / 6, 1 / 2, 5 / 6)  # of width and height: the display trade's 9-point layout, from memory
DISC_SHARE = 1 / 12  # radius of a measuring point over the window's smaller side: assumed, about a meter's spot
MOST_STOPS = 10.0  # evenness below 2^-10 is printed as this: stray light in the eye hides more, from memory
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
    """Noise-corrected figures of one window, nominal and for every version.

    `ratio` is evenness, `nine_point` the display-trade figure, `peak` the bright percentile [cd/m2]. The `_se` are one
    standard error; the `_versions` have shape (version,), the first being the nominal one.
    """

    ratio: float
    ratio_se: float
    nine_point: float
    nine_point_se: float
    peak: float
    peak_se: float
    ratio_versions: FloatArray
    nine_point_versions: FloatArray
    peak_versions: FloatArray


def nine_point_discs(inside: BoolArray) -> FloatArray:
    """Weights of the nine measuring points over the pixels inside, shape (9, pixel), each row summing to 1.

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


def _figures(fitted: FloatArray, *, discs: FloatArray) -> FloatArray:
    """Natural logs of evenness, nine-point figure and peak, shape (3, ...), of values [..., pixel]."""
    dark, bright = np.percentile(fitted, [DARK_PERCENTILE, BRIGHT_PERCENTILE], axis=-1)
    points = fitted @ discs.T
    tiny = np.finfo(np.float64).tiny
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


def _replicas(n_batches: int) -> FloatArray:
    """Random weights of batches, shape (2 * REPLICAS, batch), that turn batch deviations into noise of their mean."""
    normal = np.random.default_rng(REPLICA_SEED).standard_normal((REPLICAS, n_batches))
    normal /= np.sqrt(n_batches * (n_batches - 1.0))
    return np.concatenate([normal, -normal])


def _noise_of(fitted: FloatArray, *, discs: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bias and standard error of the three log figures of the mean of batches [batch, pixel]."""
    n_batches = len(fitted)
    mean = fitted.mean(axis=0)
    deviations = fitted - mean
    noise_variance = float((deviations**2).sum(axis=0).mean()) / (n_batches * (n_batches - 1.0))
    base = _without_noise(mean, noise_variance=noise_variance)
    noisy = _figures(base + _replicas(n_batches) @ deviations, discs=discs)
    bias = noisy.mean(axis=-1) - _figures(base, discs=discs)
    se = np.hypot(noisy.std(axis=-1), CORRECTION_UNCERTAINTY * bias)
    return bias, se


def _settled(batches: FloatArray, *, inside: BoolArray, discs: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Width of smoothing [pixel], and bias and standard error of the three log figures with it.

    A surface that fits most pixels best can still smooth away a thin shadow that decides the 2nd percentile. So the
    widest smoothing is kept only where its evenness agrees with that of less and of no smoothing, within
    AGREEMENT_SIGMAS of their errors: Lepskii, Theory Probab. Appl. 35:454, 1991 (from memory).
    """
    widest_px = choose_local_fit(batches, inside=inside).width_px
    narrower = [width_px for width_px in WIDTHS_PX if width_px <= widest_px]
    low, high = -np.inf, np.inf
    settled = None
    for width_px in sorted({0.0, narrower[len(narrower) // 2], widest_px}):
        fitted = build_local_fit(inside, width_px=width_px)(batches)
        bias, se = _noise_of(fitted, discs=discs)
        log_ratio = float(_figures(fitted.mean(axis=0), discs=discs)[0] - bias[0])
        if settled is None or low <= log_ratio <= high:
            settled = width_px, bias, se
        low = max(low, log_ratio - AGREEMENT_SIGMAS * float(se[0]))
        high = min(high, log_ratio + AGREEMENT_SIGMAS * float(se[0]))
    assert settled is not None  # noqa: S101  the first width is always taken
    return settled


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

    Notes
    -----
    Sampling noise alone makes the 2nd percentile darker and the 98th brighter. Two steps free the figures of it:
    a smooth surface through the pixels, as wide as the batches show to be best (`choose_local_fit`) and no wider than
    evenness itself allows (`_settled`); then a parametric bootstrap (Efron and Tibshirani, *An Introduction to the
    Bootstrap*, 1993, ch. 10, from memory): the remaining noise, with its spatial correlation, is known from the
    differences between batches; it is added again, many times, to the surface drawn in by the spread that noise
    explains, and what that adds to a figure is taken off. The spread over those repetitions, times ERROR_FACTORS, is
    the standard error. All is done on logarithms, since the figures are ratios.

    Versions that scatter alike are re-weighted from the same photons, so their figures move together and get the same
    smoothing and correction. A version that scatters otherwise gets its own: one that scatters less has a sharper spot
    that smoothing must leave, one that scatters more is noisier.
    """
    inside, thin = _thinning(inside)
    discs = nine_point_discs(inside)
    settled = [_settled(thin(seen), inside=inside, discs=discs) for seen in batches]
    of_version, thinned = np.asarray(scattering), thin(versions)
    logs = np.empty((3, len(thinned)))
    for number, (width_px, bias, _) in enumerate(settled):
        at = of_version == number
        fit = build_local_fit(inside, width_px=width_px)
        logs[:, at] = _figures(fit(thinned[at]), discs=discs) - bias[:, None]
    se = ERROR_FACTORS * settled[0][2]
    # A ratio of least to greatest is at most 1; noise may carry its estimate above
    logs[:2] = np.minimum(logs[:2], 0.0)
    ratio, nine_point, peak = np.exp(logs)
    return WindowSpread(
        ratio=float(ratio[0]),
        ratio_se=float(ratio[0] * se[0]),
        nine_point=float(nine_point[0]),
        nine_point_se=float(nine_point[0] * se[1]),
        peak=float(peak[0]),
        peak_se=float(peak[0] * se[2]),
        ratio_versions=ratio,
        nine_point_versions=nine_point,
        peak_versions=peak,
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
