"""One window at the ends of its range, so that its fade shows: dimmest, nominal and brightest at one exposure."""

import numpy as np
import numpy.typing as npt

from paneglow.look.colour import in_gamut, to_pixels
from paneglow.look.records import Look

BRIGHTEST_PERCENTILE = 99.5  # of the brightest version, shown at full level: single grains may clip


def render_window_range(
    look: Look, *, bounds_mm: tuple[float, float, float, float]
) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint8], npt.NDArray[np.uint8]]:
    """Part of the board with its own light alone, in its dimmest, nominal and brightest version.

    Parameters
    ----------
    look : Look
        Maps of the three versions.
    bounds_mm : tuple of float
        x_min, y_min, x_max, y_max of the part, seen from the front [mm].

    Returns
    -------
    tuple of three ndarray of uint8, shape (y, x, 3)
        Top row first, in proportion to light and at one exposure: the brightest place of the brightest is full.

    Notes
    -----
    A proportional picture shows how far a window fades as a screen can: 1 % of the light is a tenth of the code. Colour
    is that of the nominal version; its change between versions is left out.
    """
    grid = look.grid
    x_min, y_min, x_max, y_max = bounds_mm
    columns = slice(*np.clip(np.searchsorted(grid.x_centres_mm(), (x_min, x_max)), 0, grid.n_x))
    rows = slice(*np.clip(np.searchsorted(grid.y_centres_mm(), (y_min, y_max)), 0, grid.n_y))
    colour = np.divide(
        look.xyz[:, rows, columns],
        look.luminance_cd_m2[rows, columns],
        out=np.zeros_like(look.xyz[:, rows, columns]),
        where=look.luminance_cd_m2[rows, columns] > 0.0,
    )
    versions = [maps[rows, columns] for maps in (look.low_cd_m2, look.luminance_cd_m2, look.high_cd_m2)]
    linear = [in_gamut(colour * luminance) for luminance in versions]
    brightest = linear[-1].max(axis=0)
    full = float(np.percentile(brightest[brightest > 0.0], BRIGHTEST_PERCENTILE)) if (brightest > 0.0).any() else 1.0
    low, nominal, high = (np.ascontiguousarray(to_pixels(one / full)[::-1]) for one in linear)
    return low, nominal, high
