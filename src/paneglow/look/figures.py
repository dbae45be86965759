"""The figures of one window: means, evenness, bleed, contrast and colour, each with its error and range."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.look.angles import build_by_angle
from paneglow.look.colour import colour_word, hue_of, to_chromaticity
from paneglow.look.evenness import MOST_STOPS, WindowSpread, build_spread
from paneglow.look.eye import blurred_inside
from paneglow.look.luminance import FLUX_ENDS, BoardLight, batches_of
from paneglow.look.openings import Opening
from paneglow.look.records import WindowLook
from paneglow.scene import Scene, slabs_by_scattering
from paneglow.transport import Tally
from paneglow.units import Estimate

FloatArray = npt.NDArray[np.float64]

DARK_CD_M2 = 1e-6  # absolute threshold of vision, from memory: less than this is no light


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoomLight:
    """Room light returned by the board, on the map grid.

    `stack_y[version, stack]` is the luminance of each stack [cd/m2], `shares[stack, y, x]` what each covers.
    """

    stack_y: FloatArray
    shares: FloatArray


def estimate(value: float, *, se: float, versions: npt.ArrayLike) -> Estimate:
    """Value with its standard error and its range over versions, which include the value itself."""
    ends = np.append(np.asarray(versions, dtype=np.float64), value)
    return Estimate(value=value, se=se, low=float(ends.min()), high=float(ends.max()))


def standard_error(batches: FloatArray) -> float:
    """Standard error of the mean of equal independent batches, shape (batch,)."""
    return float(np.std(batches, ddof=1) / np.sqrt(len(batches)))


def ratio_se(over: FloatArray, *, under: FloatArray) -> float:
    """Jackknife standard error of a ratio of two means over the same batches, each of shape (batch,)."""
    n = len(over)
    rest_under = under.sum() - under
    if n < 2 or np.any(rest_under <= 0.0):
        return 0.0
    left_out = (over.sum() - over) / rest_under
    return float(np.sqrt((n - 1) / n * np.sum((left_out - left_out.mean()) ** 2)))


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
    """All figures of one window, the `number`-th of the board from 1.

    Notes
    -----
    Ranges run over every slab version with all LEDs at the low, the nominal and the high end of their flux. LEDs made
    alike move together, so mixed ends are not tried: evenness and bleed then change with flux only where LEDs differ
    in how wide their ranges are.
    """
    mean = opening.mean(light.versions)
    mean_batches = opening.mean(light.batches)
    own = tuple(emitter.ref for emitter in scene.emitters if emitter.window == opening.name)
    chromaticity = hue = None
    spread = _dark_spread(len(mean))
    if float(mean[0]) > DARK_CD_M2:
        chromaticity = to_chromaticity(opening.mean(light.xyz))
        spread = _spread(opening, scene=scene, tally=tally, light=light, blur_sigma_px=blur_sigma_px)
    if chromaticity is not None:
        hue = hue_of(chromaticity)
    even, even_se = spread.ratio, spread.ratio_se
    return WindowLook(
        name=opening.name,
        area_mm2=opening.area_mm2,
        leds=own,
        mean_cd_m2=estimate(float(mean[0]), se=standard_error(mean_batches), versions=mean),
        peak_cd_m2=estimate(spread.peak, se=spread.peak_se, versions=spread.peak_versions),
        evenness=estimate(even, se=even_se, versions=spread.ratio_versions),
        evenness_stops=estimate(
            stops_of(even),
            se=even_se / max(even, 2.0**-MOST_STOPS) / float(np.log(2.0)),
            versions=[stops_of(float(ratio)) for ratio in spread.ratio_versions],
        ),
        evenness_nine_point=estimate(spread.nine_point, se=spread.nine_point_se, versions=spread.nine_point_versions),
        bleed=_bleed(opening, scene=scene, tally=tally, light=light),
        contrast=_contrast(opening, light=light, room=room),
        chromaticity_x=None if chromaticity is None else chromaticity[0],
        chromaticity_y=None if chromaticity is None else chromaticity[1],
        dominant_wavelength_nm=None if hue is None else hue.useful_wavelength_nm,
        purity=None if hue is None else hue.purity,
        colour_word=colour_word(chromaticity),
        by_angle=build_by_angle(number, area_mm2=opening.area_mm2, scene=scene, tally=tally),
    )


def stops_of(ratio: float) -> float:
    """A ratio of 0 to 1 as stops (log2) below 1, at most MOST_STOPS."""
    return float(-np.log2(max(ratio, 2.0**-MOST_STOPS)) + 0.0)


def _dark_spread(n_versions: int) -> WindowSpread:
    """Figures of a window without light: not even at all, no peak."""
    none = np.zeros(n_versions)
    return WindowSpread(
        ratio=0.0, ratio_se=0.0, nine_point=0.0, nine_point_se=0.0, peak=0.0, peak_se=0.0,
        ratio_versions=none, nine_point_versions=none, peak_versions=none,
    )  # fmt: skip


def _spread(opening: Opening, *, scene: Scene, tally: Tally, light: BoardLight, blur_sigma_px: float) -> WindowSpread:
    def seen(cropped: FloatArray) -> FloatArray:
        return blurred_inside(opening.as_if_full(cropped), inside=opening.inside, sigma_px=blur_sigma_px)

    groups = slabs_by_scattering(scene.slabs)
    scattering = np.empty(len(scene.slabs), dtype=np.int64)
    for number, indices in enumerate(groups):
        scattering[list(indices)] = number
    # One after the other: batches of a large window fill much memory
    batches = (
        seen(batches_of(tally, scattering=number, flux_lm=light.flux_lm[0], rows=opening.rows, columns=opening.columns))
        for number in range(len(groups))
    )
    versions = seen(opening.crop(light.versions))
    return build_spread(
        batches, versions=versions, scattering=np.tile(scattering, len(FLUX_ENDS)), inside=opening.inside
    )


def _bleed(opening: Opening, *, scene: Scene, tally: Tally, light: BoardLight) -> Estimate:
    """Share of the window's mean luminance from LEDs meant for another window; an LED meant for none is no bleed."""
    stray = np.asarray([emitter.window not in (None, opening.name) for emitter in scene.emitters], dtype=np.float64)
    if not stray.any():
        return estimate(0.0, se=0.0, versions=[0.0])
    slabs = np.stack([opening.led_mean(led.xyz[:, 1], corner=led.corner) for led in tally.leds])
    batches = np.stack([opening.led_mean(led.batches[0], corner=led.corner) for led in tally.leds])
    total = light.flux_lm @ slabs
    other = (light.flux_lm * stray) @ slabs
    shares = np.divide(other, total, out=np.zeros_like(other), where=total > DARK_CD_M2).ravel()
    shares = np.clip(shares, 0.0, 1.0)
    nominal = light.flux_lm[0]
    se = ratio_se((nominal * stray) @ batches, under=nominal @ batches)
    return estimate(float(shares[0]), se=se, versions=shares)


def _contrast(opening: Opening, *, light: BoardLight, room: RoomLight) -> Estimate:
    """Window over surround in the lit room, both with their glow; at least DARK_CD_M2 is taken for the surround."""
    repeats = len(light.versions) // len(room.stack_y)
    room_window = np.tile(room.stack_y @ opening.mean(room.shares), repeats)
    room_around = np.tile(room.stack_y @ opening.surround_mean(room.shares), repeats)
    window = opening.mean(light.versions) + room_window
    around = np.maximum(opening.surround_mean(light.versions) + room_around, DARK_CD_M2)
    se = ratio_se(
        opening.mean(light.batches) + room_window[0],
        under=np.maximum(opening.surround_mean(light.batches) + room_around[0], DARK_CD_M2),
    )
    contrasts = window / around
    return estimate(float(contrasts[0]), se=se, versions=contrasts)
