"""Mean luminance that each LED alone gives to each window, per lumen: what drive and layout start from."""

import numpy as np
import numpy.typing as npt

from paneglow.board import Board
from paneglow.look.openings import build_openings
from paneglow.transport import Tally

FloatArray = npt.NDArray[np.float64]


def window_light_per_lm(board: Board, *, tally: Tally) -> tuple[tuple[str, ...], FloatArray]:
    """Light of every LED in every window.

    Returns
    -------
    names : tuple of str
        Windows, in the order of the board's survey.
    light : ndarray, shape (window, led)
        Mean luminance along the viewing direction per lumen, nominal laminate [cd/m2 per lm]; LEDs in the order of the
        tally.
    """
    openings = build_openings(board, grid=tally.map_grid)
    light = np.array(
        [[float(opening.led_mean(led.xyz[0, 1], corner=led.corner)) for led in tally.leds] for opening in openings]
    )
    return tuple(opening.name for opening in openings), light.reshape(len(openings), len(tally.leds))
