"""A scene from plain arrays, for those who want to check the light transport: no board, no parts, no catalogue.

A slab of 1.6 mm, index 1.5, scattering 5 per mm with asymmetry 0.8, absorption 0.02 per mm, lit by a Lambertian source
that touches its back. Computed references: returned 0.45698, crossed 0.41735 (an independent Monte Carlo, 8e-5).
"""

import math

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import BODY_LAMINATE, Emitter, FaceClasses, Scene, Slab
from paneglow.transport import trace

ONE_PIXEL = Grid(x_min_mm=-50.0, y_min_mm=-50.0, pitch_mm=100.0, n_x=1, n_y=1)  # points beside it take its value
MAP = Grid(x_min_mm=-10.0, y_min_mm=-10.0, pitch_mm=0.5, n_x=40, n_y=40)


def bare_slab() -> Scene:
    """Class rasters, coefficients, slab and emitter: everything the transport knows."""
    lambertian = cosine_power_table(math.radians(60.0))  # half brightness at 60 degrees is Lambertian exactly
    return Scene(
        grid=ONE_PIXEL,
        front=np.zeros((1, 1), dtype=np.uint8),  # class 0 everywhere
        back=np.zeros((1, 1), dtype=np.uint8),
        body=np.full((1, 1), BODY_LAMINATE, dtype=np.uint8),
        classes=FaceClasses(
            names=("bare",),
            transmit=np.ones((1, 1)),  # [class, wavelength]
            reflect=np.zeros((1, 1)),
            haze=np.zeros(1),
            backing_reflect=np.zeros((1, 1)),
        ),
        wavelength_nm=np.array([550.0]),
        thickness_mm=1.6,
        refractive_index=1.5,
        asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=5.0, absorb_per_mm=np.array([0.02])),),
        emitters=(
            Emitter(
                ref="source",
                window=None,
                centre_mm=(0.0, 0.0, -1e-6),
                axis=(0.0, 0.0, 1.0),
                u=(1.0, 0.0, 0.0),
                v=(0.0, 1.0, 0.0),
                size_mm=(0.0, 0.0),
                cos_table=lambertian.cos_table,
                cdf_table=lambertian.cdf_table,
                intensity_table=lambertian.intensity_table,
                nodes=np.array([0]),
                xyz_per_lm=np.ones((1, 3)),
                flux_lm=1.0,
                flux_lm_low=1.0,
                flux_lm_high=1.0,
            ),
        ),
        view_angle_rad=0.0,
        map_grid=MAP,
    )


def main() -> None:
    """Trace and print shares with one standard error, and luminance along the normal."""
    light = trace(bare_slab(), photons_per_led=400_000, seed=1).leds[0]
    for name in ("back", "front", "absorbed"):
        print(f"{name:9s} {getattr(light.fates, name)[0]:.5f} +- {getattr(light.fates_se, name)[0]:.5f}")
    centre = light.xyz[0, 1, 19:21, 19:21].mean()
    print(f"luminance over the source, per lumen: {centre:.4g} cd/m2")


if __name__ == "__main__":
    main()
