"""Small windows and LEDs for the tests of responses."""

import math
from dataclasses import replace

import numpy as np

from paneglow.grid import Grid
from paneglow.physics import cosine_power_table
from paneglow.scene import Emitter, FaceClasses, Scene, Slab
from paneglow.transport import ResponseEffort, ready_response, trace_response
from paneglow.transport.cpu import trace_emitter
from sampling_checks import budget

BARE, COPPER = 0, 1
SIDE_MM, RIM_MM, RASTER_MM, PIXEL_MM = 6.0, 2.0, 0.1, 0.25
EFFORT = ResponseEffort(
    spread_photons=budget(80_000), difference_photons=budget(80_000), back_cell_mm=0.6, front_cell_mm=0.5
)


def window_scene(*, scatter_per_mm=7.5, absorb_per_mm=0.04, thickness_mm=1.6) -> Scene:
    """A 6 x 6 mm window in copper on both faces; one wavelength."""
    n, rim = round((SIDE_MM + 2 * RIM_MM) / RASTER_MM), round(RIM_MM / RASTER_MM)
    face = np.full((n, n), COPPER, dtype=np.uint8)
    face[rim : n - rim, rim : n - rim] = BARE
    low = -0.5 * SIDE_MM
    pixels = round(SIDE_MM / PIXEL_MM)
    return Scene(
        grid=Grid(x_min_mm=low - RIM_MM, y_min_mm=low - RIM_MM, pitch_mm=RASTER_MM, n_x=n, n_y=n),
        front=face,
        back=face.copy(),
        body=np.zeros_like(face),
        classes=FaceClasses(
            names=("bare", "copper"),
            transmit=np.array([[1.0], [0.0]]),
            reflect=np.array([[0.0], [0.25]]),
            haze=np.zeros(2),
            backing_reflect=np.zeros((2, 1)),
        ),
        wavelength_nm=np.array([590.0]),
        thickness_mm=thickness_mm,
        refractive_index=1.55,
        asymmetry=0.8,
        slabs=(Slab(name="nominal", scatter_per_mm=scatter_per_mm, absorb_per_mm=np.array([absorb_per_mm])),),
        emitters=(),
        view_angle_rad=0.0,
        map_grid=Grid(x_min_mm=low, y_min_mm=low, pitch_mm=PIXEL_MM, n_x=pixels, n_y=pixels),
    )


def led(*, at_mm=(0.0, 0.0), gap_mm=0.15, tilt_deg=0.0, turn_deg=0.0, flux_lm=1.0, half_angle_deg=60.0) -> Emitter:
    """A 0.8 x 0.5 mm emitter; tilt 0 faces the board, 90 shines along it, 180 away from it."""
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    cosine, sine = math.cos(turn), math.sin(turn)
    table = cosine_power_table(math.radians(half_angle_deg))
    return Emitter(
        ref="E1",
        window=None,
        centre_mm=(*at_mm, -gap_mm),
        axis=(math.sin(tilt) * cosine, math.sin(tilt) * sine, math.cos(tilt)),
        u=(-sine, cosine, 0.0),
        v=(-math.cos(tilt) * cosine, -math.cos(tilt) * sine, math.sin(tilt)),
        size_mm=(0.8, 0.2 if tilt_deg == 90.0 else 0.5),
        cos_table=table.cos_table,
        cdf_table=table.cdf_table,
        intensity_table=table.intensity_table,
        nodes=np.array([0]),
        xyz_per_lm=np.ones((1, 3)),
        flux_lm=flux_lm,
        flux_lm_low=flux_lm,
        flux_lm_high=flux_lm,
    )


def traced(scene, *, seed=1, absorb_range_per_mm=(0.01, 0.12), effort=EFFORT, lights=None):
    """A ready response of the whole map grid."""
    response = trace_response(
        scene,
        grid=scene.map_grid,
        seed=seed,
        lights=(led(),) if lights is None else lights,
        absorb_range_per_mm=absorb_range_per_mm,
        effort=effort,
    )
    return ready_response(response)


def fresh_luminance(scene, emitter, *, photons, seed=5, absorb_per_mm=None, scatter_per_mm=None):
    """Luminance [batch, y, x] of a fresh trace at the emitter's flux."""
    slab = scene.slabs[0]
    if absorb_per_mm is not None:
        slab = replace(slab, absorb_per_mm=np.array([absorb_per_mm]))
    if scatter_per_mm is not None:
        slab = replace(slab, scatter_per_mm=scatter_per_mm)
    tally = trace_emitter(
        scene, emitter, number=0, versions=(slab,), map_grid=scene.map_grid, photons=photons, n_batches=16, seed=seed
    )
    return tally.maps[:, 0, 1].astype(np.float64) * emitter.flux_lm
