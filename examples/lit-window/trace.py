"""A window of bare laminate in copper, lit from behind, from plain arrays: map, seen luminance and light by angle.

A window of 6 x 6 mm in copper (diffuse reflectance 0.3) on both faces of a slab of 1.6 mm, index 1.5, scattering 20 per
mm with asymmetry 0.8, absorption 0.02 per mm; a Lambertian lamp of 1 x 1 mm, 0.3 mm behind it. Seen straight on the
window is 0.00598 +- 0.00003 times as bright as the lamp, by an independent renderer (mitsuba 3.9.1, docs/speed.md).
"""

import math

import numpy as np

from paneglow.grid import Grid
from paneglow.scene import BODY_LAMINATE, BODY_OUTSIDE, FaceClasses, Scene, Slab, lambertian_rectangle
from paneglow.transport import trace

BARE, COPPER, BLACK = 0, 1, 2  # classes of face, in the order of `classes`
# The board is 40 x 40 mm about the origin. Row 0 of every map is its lowest row, at -y: flip rows to look at them
FACES = Grid(x_min_mm=-21.0, y_min_mm=-21.0, pitch_mm=0.1, n_x=420, n_y=420)
SEEN = Grid(x_min_mm=-3.0, y_min_mm=-3.0, pitch_mm=0.25, n_x=24, n_y=24)  # the window alone
LAMP = lambertian_rectangle("D1", centre_mm=(0.0, 0.0, -0.3), size_mm=(1.0, 1.0))


def lit_window() -> Scene:
    """Everything the transport knows."""
    x, y = np.abs(FACES.x_centres_mm())[None, :], np.abs(FACES.y_centres_mm())[:, None]
    face = np.full(FACES.shape, COPPER, dtype=np.uint8)
    face[(x < 3.0) & (y < 3.0)] = BARE
    body = np.full(FACES.shape, BODY_LAMINATE, dtype=np.uint8)
    body[(x > 20.0) | (y > 20.0)] = BODY_OUTSIDE
    windows = np.where(face == BARE, 1, 0).astype(np.uint8)
    # Light that reaches the outline is partly returned, as milled laminate does. Black on both faces of the last
    # 2 mm takes up what comes near it: a black rim
    face[(x > 18.0) | (y > 18.0)] = BLACK
    return Scene(
        grid=FACES,
        front=face,
        back=face,
        body=body,
        classes=FaceClasses(
            names=("bare", "copper", "black"),
            transmit=np.array([[1.0], [0.0], [0.0]]),  # [class, wavelength]
            reflect=np.array([[0.0], [0.3], [0.0]]),
            haze=np.zeros(3),
            backing_reflect=np.zeros((3, 1)),
        ),
        wavelength_nm=np.array([550.0]),
        thickness_mm=1.6,
        refractive_index=1.5,
        asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=20.0, absorb_per_mm=np.array([0.02])),),
        emitters=(LAMP,),
        view_angle_rad=0.0,
        map_grid=SEEN,
        windows=windows,
    )


def main() -> None:
    """Print the brightness of the window over that of the lamp, with one standard error, and its light by angle."""
    tally = trace(lit_window(), photons_per_led=40_000, seed=1)
    light = tally.leds[0]
    # Luminance of one emitted lumen, [cd/m2 per lm]. The map of an LED covers only what its light reaches: it begins
    # at `corner` of the map grid, and what lies beside it is dark
    whole = np.zeros((light.batches.shape[1], *tally.map_grid.shape))
    row, column = light.corner
    height, width = light.batches.shape[-2:]
    whole[:, row : row + height, column : column + width] = light.batches[0]
    per_lamp = math.pi * 1e-6 * LAMP.size_mm[0] * LAMP.size_mm[1]  # a lumen from 1 mm2 makes the lamp 1 / (pi A) cd/m2
    batches = whole.mean(axis=(1, 2)) * per_lamp
    error = batches.std(ddof=1) / math.sqrt(batches.size)
    print(f"window over lamp {batches.mean():.5f} +- {error:.5f}  ({light.photons} photons)")
    by_angle = light.angles[1, :, 0]  # [window, bin, slab version]; bins are equal in the squared sine
    print(f"leaves within 45 degrees {by_angle[:5].sum() / by_angle.sum():.3f} of the window's light (Lambert: 0.500)")


if __name__ == "__main__":
    main()
