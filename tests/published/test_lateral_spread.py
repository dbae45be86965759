"""How far light spreads sideways in a slab of index 1.5: radii that hold 50, 80 and 90 % of what is transmitted.

Reference: computed with one independent Monte Carlo code, 0.02 per mm absorption, light entering at a point; radii are
given to 0.01 mm without an error analysis, transmittances to 0.0006, far shares to two digits. The light that leaves is
counted here in rings that end at those radii.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, slab_scene, trace_slab

PHOTONS = 160_000
FRONT = 0
PITCH = 0.02  # mm of the rings' raster
REACH = 10.4  # mm; points beyond count to the outermost ring
# thickness, scattering, g, entry: T, r50, r80, r90 [mm], shares beyond 5 and 10 mm and half their last digit
CASES = {
    "0.8 mm, pencil": (0.8, 5.0, 0.8, "pencil", 0.598, (0.36, 1.77, 2.84), (0.022, 0.0005), (0.0005, 0.00005)),
    "0.8 mm, Lambertian": (0.8, 5.0, 0.8, "Lambertian", 0.529, (0.62, 2.10, 3.14), (0.027, 0.0006), (0.0005, 0.00005)),
    "1.6 mm, pencil": (1.6, 5.0, 0.8, "pencil", 0.459, (1.45, 3.25, 4.51), (0.076, 0.004), (0.0005, 0.0005)),
    "1.6 mm, Lambertian": (1.6, 5.0, 0.8, "Lambertian", 0.417, (1.63, 3.41, 4.66), (0.083, 0.004), (0.0005, 0.0005)),
    "1.6 mm, half the scattering": (
        1.6, 2.5, 0.8, "Lambertian", 0.498, (1.16, 3.92, 5.92), (0.138, 0.022), (0.0005, 0.0005)
    ),
    "1.6 mm, many small turns": (
        1.6, 50.0, 0.98, "Lambertian", 0.416, (1.69, 3.44, 4.66), (0.083, 0.004), (0.0005, 0.0005)
    ),
}  # fmt: skip
RADIUS_DIGIT = 0.005 / math.sqrt(3.0)  # mm, standard deviation of a value rounded to 0.01


def share_beyond(radii, *, thickness, scatter, asymmetry, entry):
    """Share of the transmitted light that leaves beyond each radius, shape (batch, radius), and T per batch."""
    extinction = scatter + 0.02
    scene = slab_scene(
        optical_depth=extinction * thickness, albedo=scatter / extinction, asymmetry=asymmetry, refractive_index=1.5,
        thickness_mm=thickness, emitter=beam() if entry == "pencil" else lambertian(),
    )  # fmt: skip
    n = round(2.0 * REACH / PITCH)
    grid = Grid(x_min_mm=-REACH, y_min_mm=-REACH, pitch_mm=PITCH, n_x=n, n_y=n)
    distance = np.hypot(grid.x_centres_mm()[None, :], grid.y_centres_mm()[:, None])
    order = np.argsort(radii)
    rings = np.searchsorted(np.asarray(radii)[order], distance).astype(np.uint8)
    bare = np.zeros(grid.shape, dtype=np.uint8)
    scene = replace(scene, grid=grid, front=bare, back=bare, body=bare, windows=rings)
    tally = trace_slab(scene, photons=PHOTONS if scatter < 20.0 else PHOTONS // 4, seed=17)
    by_ring = tally.angles[:, :, :, 0].sum(axis=2)
    transmitted = tally.fates[:, FRONT, 0]
    beyond = by_ring[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:]
    shares = np.empty_like(beyond)
    shares[:, order] = beyond / transmitted.mean()
    return shares, transmitted


@pytest.mark.parametrize("name", CASES)
def test_transmitted_light_spreads_as_computed_independently(name):
    thickness, scatter, asymmetry, entry, expected_t, radii, far, far_digit = CASES[name]
    nearby = tuple(radius + 0.1 for radius in radii)
    shares, transmitted = share_beyond(
        (*radii, 5.0, 10.0, *nearby), thickness=thickness, scatter=scatter, asymmetry=asymmetry, entry=entry
    )
    assert_mean_within(transmitted, expected=expected_t, expected_se=0.0006, what=f"{name}: T")
    for number, (radius, beyond) in enumerate(zip(radii, (0.5, 0.2, 0.1), strict=True)):
        # A radius rounded to 0.01 mm moves the share by the light of that ring
        per_mm = float(shares[:, number].mean() - shares[:, 5 + number].mean()) / 0.1
        assert_mean_within(
            shares[:, number], expected=beyond, expected_se=per_mm * RADIUS_DIGIT + 0.0005,
            what=f"{name}: beyond {radius} mm",
        )  # fmt: skip
    for number, at in ((3, "5"), (4, "10")):
        assert_mean_within(
            shares[:, number], expected=far[number - 3], expected_se=far_digit[number - 3],
            what=f"{name}: beyond {at} mm",
        )  # fmt: skip
