"""Who lights a window: shares of its light by LED, and colour, from the traced light."""

import numpy as np
import numpy.typing as npt

from paneglow.board import Window
from paneglow.judge.geometry import pixels_inside
from paneglow.scene import Emitter, Scene
from paneglow.transport import Tally, cut_light

FloatArray = npt.NDArray[np.float64]
Chromaticity = tuple[float, float]


def window_xyz(window: Window, *, scene: Scene, tally: Tally) -> FloatArray:
    """Mean tristimulus values of a window by LED at the design's currents, shape (led, 3) [cd/m2].

    Rows are in the order of `scene.emitters`; the first slab version, which is the nominal one.
    """
    rows, columns = pixels_inside(window.polygon, grid=tally.map_grid)
    if rows.size == 0:
        return np.zeros((len(scene.emitters), 3))
    box = slice(int(rows.min()), int(rows.max()) + 1), slice(int(columns.min()), int(columns.max()) + 1)
    per_led = [
        cut_light(light.xyz[0], corner=light.corner, rows=box[0], columns=box[1])[
            :, rows - box[0].start, columns - box[1].start
        ].mean(axis=1)
        * emitter.flux_lm
        for emitter, light in zip(scene.emitters, tally.leds, strict=True)
    ]
    return np.array(per_led, dtype=np.float64).reshape(-1, 3)


def emitted_xyz(emitters: tuple[Emitter, ...]) -> FloatArray:
    """Tristimulus values of the light of some LEDs before it meets the board, shape (3,), Y in lm."""
    total = np.zeros(3)
    for emitter in emitters:
        total += emitter.flux_lm * emitter.xyz_per_lm.sum(axis=0)
    return total


def chromaticity_uv(xyz: FloatArray) -> Chromaticity | None:
    """CIE 1976 u', v' of tristimulus values, or None for no light.

    References
    ----------
    CIE 15:2018, *Colorimetry*, eq. for the 1976 uniform chromaticity scale: u' = 4X/(X + 15Y + 3Z), v' = 9Y/(...).

    Examples
    --------
    >>> u, v = chromaticity_uv(np.array([0.95047, 1.0, 1.08883]))
    >>> round(u, 4), round(v, 4)
    (0.1978, 0.4683)
    """
    x, y, z = (float(value) for value in xyz)
    total = x + 15.0 * y + 3.0 * z
    return (4.0 * x / total, 9.0 * y / total) if total > 0 else None


def chromaticity_uv_from_xy(x: float, y: float) -> Chromaticity:
    """CIE 1976 u', v' from CIE 1931 x, y; y above 0."""
    total = -2.0 * x + 12.0 * y + 3.0
    return 4.0 * x / total, 9.0 * y / total
