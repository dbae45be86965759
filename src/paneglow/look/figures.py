"""The figures of one window: means, evenness, bleed, contrast and colour, each with its error and range."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.look.colour import colour_word, hue_of, to_chromaticity
from paneglow.look.evenness import MOST_STOPS, WindowSpread, build_spread
from paneglow.look.eye import blurred_inside
from paneglow.look.luminance import FLUX_ENDS, BoardLight, batches_of
from paneglow.look.openings import Opening
from paneglow.look.records import AngleLuminance, WindowLook
from paneglow.scene import Scene, slabs_by_scattering
from paneglow.transport import Tally
from paneglow.units import Estimate, KnownRange

FloatArray = npt.NDArray[np.float64]

# Absolute threshold of vision, about: scotopic vision begins near it in fig. 1 of A. Stockman, L. T. Sharpe, Ophthalmic
# Physiol. Opt. 26:225, 2006 (its number from memory). Less than this is no light
DARK_CD_M2 = 1e-6
MM2_PER_M2 = 1e6
# Tracing stops when the stated errors are small enough, so what stopped was also lucky to look sure. Root mean square
# of error over stated error after the stages of a trace, simulated: 1.05 to 1.07 where it stops half way
# (tests/unit/look/test_errors.py)
STOPPED_EARLY = 1.06


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoomLight:
    """Room light returned by the board, on the map grid.

    `stack_y[slab, stack]` is the luminance of each stack [cd/m2], `shares[stack, y, x]` what each covers.
    """

    stack_y: FloatArray
    shares: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanLight:
    """Mean luminance of every LED over one area [cd/m2 per lm].

    `slabs[led, slab]`, and independent `batches[led, scattering, batch]` for each scattering coefficient.
    """

    slabs: FloatArray
    batches: FloatArray


def standard_error(batches: FloatArray) -> FloatArray:
    """Standard error of the mean of equal independent batches, such that errors over it have a root mean square of 1.

    Parameters
    ----------
    batches : ndarray, shape (..., batch)
        At least 2.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    The mean of few batches strays farther than their spread says, above all where their distribution is skewed: then a
    trace that missed its rare bright paths is dark and sure of it. The mean square of Student's t of n batches of
    skewness g is 1 + (2 + 2 g^2) / n to first order; the root of that, and STOPPED_EARLY, are factors. On 400 traces of
    16 batches the root mean square of error over stated error fell from 1.11 to 1.03 in the middle of a lit window, and
    from 1.57 to 1.38 in a dark one beside it that few paths reach (both before STOPPED_EARLY).

    References
    ----------
    P. Hall, *The Bootstrap and Edgeworth Expansion*, Springer, 1992, sec. 2.6: cumulants of Student's statistic (from
    memory; checked by simulation).
    """
    n = batches.shape[-1]
    deviations = batches - batches.mean(axis=-1, keepdims=True)
    variance = (deviations**2).sum(axis=-1) / (n - 1.0)
    spread = np.sqrt(variance)
    skewness = np.divide((deviations**3).mean(axis=-1), spread**3, out=np.zeros_like(spread), where=spread > 0.0)
    factor = np.sqrt(1.0 + (2.0 + 2.0 * skewness**2) / n)
    return np.asarray(STOPPED_EARLY * factor * spread / np.sqrt(n), dtype=np.float64)


def ratio_se(over: FloatArray, *, under: FloatArray) -> FloatArray:
    """Standard error of a ratio of two means over the same batches.

    Parameters
    ----------
    over, under : ndarray, shape (..., batch)
        Equal independent batches; 0 is returned where the means of `under` are not above 0.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    That of the jackknife's pseudo-values: n r - (n - 1) r, the latter without one batch.

    References
    ----------
    B. Efron, R. J. Tibshirani, *An Introduction to the Bootstrap*, Chapman and Hall, 1993: the jackknife.
    """
    n = over.shape[-1]
    total_over, total_under = over.sum(axis=-1, keepdims=True), under.sum(axis=-1, keepdims=True)
    rest = total_under - under
    known = np.all(rest > 0.0, axis=-1)
    safe_rest, safe_total = (np.where(known[..., None], values, 1.0) for values in (rest, total_under))
    pseudo = n * total_over / safe_total - (n - 1.0) * (total_over - over) / safe_rest
    return np.where(known, standard_error(pseudo), 0.0)


def estimate(versions: npt.ArrayLike, *, errors: npt.ArrayLike, most: float = math.inf) -> Estimate:
    """The first version with its standard error, and the range over all of them with the errors of its ends.

    Parameters
    ----------
    versions, errors : array_like, shape (flux end x slab,)
        A figure of every version, the nominal one first, and its standard errors; a single one where nothing varies.
    most : float
        What the figure cannot exceed; its error does not reach beyond.

    Returns
    -------
    Estimate
    """
    values, se = np.asarray(versions, dtype=np.float64), np.asarray(errors, dtype=np.float64)
    value = float(values[0])
    # Maps are float32: what differs by their rounding alone is the same
    values = np.where(np.isclose(values, value, rtol=1e-5, atol=0.0), value, values)
    low, high = int(values.argmin()), int(values.argmax())
    known = None
    if values[low] < values[high]:
        # Rows are the ends of flux, columns the slab versions; the nominal one is the first of both
        by_cause = values.reshape(len(FLUX_ENDS), -1)
        known = KnownRange(laminate=_ends(by_cause[:, 0]), leds=_ends(by_cause[0]))
    return Estimate(
        value=value,
        se=float(se[0]),
        low=float(values[low]),
        high=float(values[high]),
        low_se=float(se[low]),
        high_se=min(float(se[high]), most - float(values[high])),
        known=known,
    )


def _ends(values: FloatArray) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def build_window_look(
    opening: Opening,
    *,
    number: int,
    scene: Scene,
    tally: Tally,
    light: BoardLight,
    room: RoomLight,
    blur_sigma_px: float,
) -> WindowLook:
    """All figures of one window.

    Parameters
    ----------
    opening : Opening
        Where it lies on the map.
    number : int
        Its number on the board, from 1.
    scene, tally : Scene, Tally
        Flux of every LED [lm], slab versions; light per lumen.
    light : BoardLight
        Light of the whole board, made of these two.
    room : RoomLight
        What the board returns of room light.
    blur_sigma_px : float
        Standard deviation of the eye's blur [map pixel], at least 0.

    Returns
    -------
    WindowLook

    Notes
    -----
    Ranges run over every slab version with all LEDs at the low, the nominal and the high end of their flux. LEDs made
    alike move together, so mixed ends are not tried: evenness and bleed then change with flux only where LEDs differ
    in how wide their ranges are. The relative error of a version is that of the batches traced with its scattering
    coefficient.
    """
    own = tuple(emitter.ref for emitter in scene.emitters if emitter.window == opening.name)
    scattering = scattering_of(scene)
    window = _mean_light(opening, tally=tally, weights=opening.coverage)
    mean, mean_se = _versions(window, flux_lm=light.flux_lm, scattering=scattering)
    chromaticity = hue = None
    spread = _dark_spread(len(mean))
    if float(mean[0]) > DARK_CD_M2:
        chromaticity = to_chromaticity(opening.mean(light.xyz))
        spread = _spread(opening, scene=scene, tally=tally, light=light, blur_sigma_px=blur_sigma_px)
    if chromaticity is not None:
        hue = hue_of(chromaticity)
    even = spread.ratio_versions
    return WindowLook(
        name=opening.name,
        area_mm2=opening.area_mm2,
        leds=own,
        mean_cd_m2=estimate(mean, errors=mean_se),
        peak_cd_m2=estimate(spread.peak_versions, errors=spread.peak_versions_se),
        evenness=estimate(even, errors=spread.ratio_versions_se, most=1.0),
        evenness_stops=estimate(
            stops_of(even), errors=spread.ratio_versions_se / np.maximum(even, 2.0**-MOST_STOPS) / math.log(2.0)
        ),
        evenness_nine_point=estimate(spread.nine_point_versions, errors=spread.nine_point_versions_se, most=1.0),
        bleed=_bleed(opening, window=window, scene=scene, flux_lm=light.flux_lm, scattering=scattering),
        contrast=_contrast(opening, window=window, tally=tally, light=light, room=room, scattering=scattering),
        chromaticity_x=None if chromaticity is None else chromaticity[0],
        chromaticity_y=None if chromaticity is None else chromaticity[1],
        dominant_wavelength_nm=None if hue is None else hue.useful_wavelength_nm,
        purity=None if hue is None else hue.purity,
        colour_word=colour_word(chromaticity),
        by_angle=build_by_angle(number, area_mm2=opening.area_mm2, scene=scene, tally=tally),
    )


def build_by_angle(number: int, *, area_mm2: float, scene: Scene, tally: Tally) -> tuple[AngleLuminance, ...]:
    """Mean luminance of one window in every bin of polar angle over all azimuths, from light counted as it leaves.

    Parameters
    ----------
    number : int
        The window's number in `scene.windows`, from 1.
    area_mm2 : float
        Area of its opening [mm2], above 0.
    scene, tally : Scene, Tally
        Flux of every LED [lm]; shares of it by window and angle.

    Returns
    -------
    tuple of AngleLuminance
        Empty where the tally holds no such window.

    Notes
    -----
    Bins are equal in the squared sine, so each holds the same projected solid angle, pi over their number: luminance is
    flux over area over that. LEDs are taken as independent, so their errors add in squares.
    """
    held = [(emitter.flux_lm, led) for emitter, led in zip(scene.emitters, tally.leds, strict=True)]
    if not held or number >= min(led.angles.shape[0] for _, led in held):
        return ()
    flux_lm = np.sum([lumen * led.angles[number, :, 0] for lumen, led in held], axis=0)
    variance = np.sum([(lumen * led.angles_se[number]) ** 2 for lumen, led in held], axis=0)
    n_bins = flux_lm.size
    to_luminance = n_bins / math.pi / area_mm2 * MM2_PER_M2
    edges_deg = np.degrees(np.arcsin(np.sqrt(np.linspace(0.0, 1.0, n_bins + 1))))
    return tuple(
        AngleLuminance(
            from_deg=float(edges_deg[i]),
            to_deg=float(edges_deg[i + 1]),
            mean_cd_m2=float(flux_lm[i] * to_luminance),
            se_cd_m2=float(math.sqrt(variance[i]) * to_luminance),
        )
        for i in range(n_bins)
    )


def stops_of(ratio: FloatArray) -> FloatArray:
    """Ratios of 0 to 1 as stops (log2) below 1, at most MOST_STOPS."""
    return np.asarray(-np.log2(np.maximum(ratio, 2.0**-MOST_STOPS)) + 0.0)


def scattering_of(scene: Scene) -> npt.NDArray[np.int64]:
    """Which scattering coefficient each slab version has, numbered as they first appear, shape (slab,)."""
    numbers = np.empty(len(scene.slabs), dtype=np.int64)
    for number, indices in enumerate(slabs_by_scattering(scene.slabs)):
        numbers[list(indices)] = number
    return numbers


def _mean_light(opening: Opening, *, tally: Tally, weights: FloatArray) -> MeanLight:
    """Light of every LED over the pixels of the opening's crop, by their weights."""
    n_led = len(tally.leds)
    slabs = [opening.led_mean(led.xyz[:, 1], corner=led.corner, weights=weights) for led in tally.leds]
    batches = [opening.led_mean(led.batches, corner=led.corner, weights=weights) for led in tally.leds]
    if n_led == 0:
        return MeanLight(slabs=np.zeros((0, len(tally.slab_names))), batches=np.zeros((0, 1, 2)))
    return MeanLight(slabs=np.stack(slabs), batches=np.stack(batches))


def _versions(
    area: MeanLight, *, flux_lm: FloatArray, scattering: npt.NDArray[np.int64]
) -> tuple[FloatArray, FloatArray]:
    """Mean luminance of every version and its standard error, each of shape (flux end x slab,)."""
    mean = (flux_lm @ area.slabs).ravel()
    batches = np.einsum("el,lsb->esb", flux_lm, area.batches)
    level = batches.mean(axis=-1)
    relative = np.divide(standard_error(batches), level, out=np.zeros_like(level), where=level > 0.0)
    return mean, mean * _at_slabs(relative, scattering=scattering)


def _at_slabs(by_scattering: FloatArray, *, scattering: npt.NDArray[np.int64]) -> FloatArray:
    """What is known for every flux end and scattering coefficient, for every version."""
    numbers = scattering if by_scattering.shape[-1] > 1 else np.zeros_like(scattering)
    return np.asarray(by_scattering[:, numbers].ravel())


def _dark_spread(n_versions: int) -> WindowSpread:
    """Figures of a window without light: not even at all, no peak."""
    none = np.zeros(n_versions)
    return WindowSpread(
        ratio_versions=none, ratio_versions_se=none, nine_point_versions=none, nine_point_versions_se=none,
        peak_versions=none, peak_versions_se=none,
    )  # fmt: skip


def _spread(opening: Opening, *, scene: Scene, tally: Tally, light: BoardLight, blur_sigma_px: float) -> WindowSpread:
    def seen(cropped: FloatArray) -> FloatArray:
        return blurred_inside(opening.as_if_full(cropped), inside=opening.inside, sigma_px=blur_sigma_px)

    scattering = scattering_of(scene)
    # One after the other: batches of a large window fill much memory
    batches = (
        seen(batches_of(tally, scattering=number, flux_lm=light.flux_lm[0], rows=opening.rows, columns=opening.columns))
        for number in range(int(scattering.max()) + 1)
    )
    versions = seen(opening.crop(light.versions))
    return build_spread(
        batches, versions=versions, scattering=np.tile(scattering, len(FLUX_ENDS)), inside=opening.inside
    )


def _bleed(
    opening: Opening, *, window: MeanLight, scene: Scene, flux_lm: FloatArray, scattering: npt.NDArray[np.int64]
) -> Estimate:
    """Share of the window's mean luminance from LEDs meant for another window; an LED meant for none is no bleed."""
    stray = np.asarray([emitter.window not in (None, opening.name) for emitter in scene.emitters], dtype=np.float64)
    if not stray.any():
        return estimate([0.0], errors=[0.0])
    total, other = flux_lm @ window.slabs, (flux_lm * stray) @ window.slabs
    shares = np.divide(other, total, out=np.zeros_like(other), where=total > DARK_CD_M2).ravel()
    se = ratio_se(
        np.einsum("el,lsb->esb", flux_lm * stray, window.batches),
        under=np.einsum("el,lsb->esb", flux_lm, window.batches),
    )
    return estimate(np.clip(shares, 0.0, 1.0), errors=_at_slabs(se, scattering=scattering), most=1.0)


def _contrast(
    opening: Opening,
    *,
    window: MeanLight,
    tally: Tally,
    light: BoardLight,
    room: RoomLight,
    scattering: npt.NDArray[np.int64],
) -> Estimate:
    """Window over surround in the lit room, both with their glow; at least DARK_CD_M2 is taken for the surround."""
    around = _mean_light(opening, tally=tally, weights=opening.surround)
    by_area = []
    for area, shares in ((window, opening.mean(room.shares)), (around, opening.surround_mean(room.shares))):
        room_cd_m2 = room.stack_y @ shares
        # Batches belong to the first slab of every scattering coefficient
        first = [int(np.flatnonzero(scattering == number)[0]) for number in range(area.batches.shape[1])]
        batches = np.einsum("el,lsb->esb", light.flux_lm, area.batches) + room_cd_m2[first][:, None]
        by_area.append((light.flux_lm @ area.slabs + room_cd_m2, batches))
    (inside, inside_batches), (outside, outside_batches) = by_area
    contrasts = inside / np.maximum(outside, DARK_CD_M2)
    se = ratio_se(inside_batches, under=np.maximum(outside_batches, DARK_CD_M2))
    return estimate(contrasts.ravel(), errors=_at_slabs(se, scattering=scattering))
