"""Whether a trace is precise enough for what the user asks: mean and evenness of every window."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from paneglow.board import Board
from paneglow.design import Design
from paneglow.look.evenness import build_spread
from paneglow.look.eye import blur_sigma_mm, blurred_inside
from paneglow.look.figures import DARK_CD_M2, standard_error
from paneglow.look.luminance import count_batches
from paneglow.look.openings import Opening, build_openings
from paneglow.scene import Scene
from paneglow.transport import Tally, add_light

FloatArray = npt.NDArray[np.float64]

MATTERS_FRAC = 0.02  # LEDs that give less of a window's light than this need not go on for its sake


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """Standard errors to reach in every window: of its mean, as a share of it, and of its evenness."""

    mean_se_frac: float  # Greatest standard error of a window's mean, as a share of it
    evenness_se: float  # Greatest standard error of a window's evenness


def build_unfinished(
    board: Board, *, design: Design, scene: Scene, precision: Precision
) -> Callable[[Tally], frozenset[str]]:
    """A function that says which LEDs must be traced on, by ref: those that light a window not yet precise enough.

    Parameters
    ----------
    board, design, scene : Board, Design, Scene
        Windows; viewing distance; flux of every LED [lm].
    precision : Precision
        What every window must reach.

    Returns
    -------
    callable
        Takes the tally so far.
    """
    openings = build_openings(board, grid=scene.map_grid)
    sigma_px = blur_sigma_mm(design.view.distance_mm) / scene.map_grid.pitch_mm

    def unfinished(tally: Tally) -> frozenset[str]:
        lit = list(zip(scene.emitters, tally.leds, strict=True))
        batches = np.zeros((count_batches(tally), *tally.map_grid.shape))
        for emitter, led in lit:
            add_light(batches, emitter.flux_lm * led.batches[0], corner=led.corner)
        refs: set[str] = set()
        for opening in openings:
            mean = opening.mean(batches)
            enough = MATTERS_FRAC * float(mean.mean())
            if enough <= MATTERS_FRAC * DARK_CD_M2 or _is_precise(
                opening, batches=batches, mean=mean, sigma_px=sigma_px, precision=precision
            ):
                continue
            refs |= {
                emitter.ref
                for emitter, led in lit
                if emitter.flux_lm * float(opening.led_mean(led.batches[0], corner=led.corner).mean()) > enough
            }
        return frozenset(refs)

    return unfinished


def _is_precise(
    opening: Opening, *, batches: FloatArray, mean: FloatArray, sigma_px: float, precision: Precision
) -> bool:
    if float(standard_error(mean)) > precision.mean_se_frac * float(mean.mean()):
        return False
    seen = blurred_inside(opening.lit(batches), inside=opening.inside, sigma_px=sigma_px)
    spread = build_spread([seen], versions=seen.mean(axis=0, keepdims=True), scattering=[0], inside=opening.inside)
    return float(spread.ratio_versions_se[0]) <= precision.evenness_se
