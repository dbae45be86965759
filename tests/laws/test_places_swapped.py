"""Reciprocity between a lamp and the viewer: swap the two, and light takes the same paths back.

A Lambertian lamp of area A that touches the back shows the radiance L over a spot of the front, along the view. Turn
the board over, send a parallel beam onto that spot against the view, and count the share that leaves where the lamp
was: pi A L. One side is scored toward the viewer, the other counted, so this ties the estimators together as well.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from paneglow.grid import Grid
from paneglow.scene import FaceClasses, InnerLayer
from sampling_checks import assert_mean_within
from slab_scenes import beam, lambertian, slab_scene, trace_slab

GRID = Grid(x_min_mm=-4.0, y_min_mm=-4.0, pitch_mm=0.1, n_x=80, n_y=80)
PHOTONS = 100_000
BARE, COPPER, MATT, FILM, BODY = range(5)
CLASSES = FaceClasses(
    names=("bare", "copper", "matt", "film", "body"),
    transmit=np.array([[1.0], [0.0], [1.0], [0.4], [1.0]]),
    reflect=np.array([[0.0], [0.4], [0.0], [0.5], [0.0]]),
    haze=np.zeros(5),
    backing_reflect=np.array([[0.0], [0.0], [0.0], [0.0], [0.7]]),
    roughness=np.array([0.0, 0.0, 0.4, 0.0, 0.0]),
)
LAMP_LOW, LAMP_SIZE = (-1.5, -0.5), (1.0, 1.5)  # mm, lower left corner and sides
SPOT_LOW, SPOT_SIDE = (0.2, -0.8), 1.2


def filled(*patches):
    """A map of zeros with rectangles (value, x_low, x_high, y_low, y_high) painted on."""
    values = np.zeros(GRID.shape, dtype=np.uint8)
    x, y = GRID.x_centres_mm()[None, :], GRID.y_centres_mm()[:, None]
    for value, x_low, x_high, y_low, y_high in patches:
        values[(x > x_low) & (x < x_high) & (y > y_low) & (y < y_high)] = value
    return values


COPPER_ALL = (COPPER, -9.0, 9.0, -9.0, 9.0)
# name: front patches, back patches, foil patches
BOARDS = {
    "bare slab": ((), (), ()),
    "windows in copper": ((COPPER_ALL, (BARE, -2.0, 2.0, -1.0, 2.0)), (COPPER_ALL, (BARE, -2.0, 1.0, -1.0, 1.5)), ()),
    "matt window": ((COPPER_ALL, (MATT, -2.0, 2.0, -1.0, 2.0)), ((MATT, -9.0, 9.0, -9.0, 9.0),), ()),
    "matt beside smooth": (((MATT, 0.6, 9.0, -9.0, 9.0),), ((MATT, -9.0, -1.0, -9.0, 9.0),), ()),
    "film on the front": (((FILM, 0.0, 3.0, -2.0, 2.0),), ((COPPER, -9.0, -1.2, -9.0, 9.0),), ()),
    "body behind": ((), ((BODY, 0.0, 2.0, -2.0, 1.0),), ()),
    "foil inside": ((), (), ((1, -0.3, 3.0, 0.0, 3.0), (1, -3.0, -1.0, -3.0, 3.0))),
}


def board(name, *, turned, emitter, view_angle_rad):
    """The board as it is, or turned over about the y axis."""
    front, back, foil = (filled(*patches) for patches in BOARDS[name])
    height = 0.45
    thickness = 1.2
    if turned:
        front, back, foil = (np.ascontiguousarray(face[:, ::-1]) for face in (back, front, foil))
        height = thickness - height
    scene = slab_scene(
        optical_depth=3.0, albedo=0.99, asymmetry=0.7, refractive_index=1.5, thickness_mm=thickness, classes=CLASSES,
        emitter=emitter, view_angle_rad=view_angle_rad,
    )  # fmt: skip
    layer = InnerLayer(height_mm=height, copper=foil.astype(np.bool_), reflect=np.array([0.5]))
    return replace(
        scene, grid=GRID, front=front, back=back, body=np.zeros_like(front), inner=(layer,) if foil.any() else ()
    )


def seen_of_the_lamp(name, angle):
    middle = (LAMP_LOW[0] + 0.5 * LAMP_SIZE[0], LAMP_LOW[1] + 0.5 * LAMP_SIZE[1], -1e-6)
    scene = board(
        name, turned=False, view_angle_rad=angle, emitter=replace(lambertian(size_mm=LAMP_SIZE), centre_mm=middle)
    )
    spot = Grid(x_min_mm=SPOT_LOW[0], y_min_mm=SPOT_LOW[1], pitch_mm=SPOT_SIDE, n_x=1, n_y=1)
    tally = trace_slab(replace(scene, map_grid=spot), photons=PHOTONS, seed=31)
    return tally.maps[:, 0, 1, 0, 0].astype(np.float64) * math.pi * LAMP_SIZE[0] * LAMP_SIZE[1] * 1e-6


def counted_where_the_lamp_was(name, angle):
    start = beam(angle_rad=angle)
    centre = np.array([-(SPOT_LOW[0] + 0.5 * SPOT_SIDE), SPOT_LOW[1] + 0.5 * SPOT_SIDE, 0.0])
    # Back along the beam, so that all of its slanted cross-section lies in air
    centre -= 3.0 * np.array(start.axis)
    emitter = replace(start, centre_mm=tuple(centre), size_mm=(SPOT_SIDE * math.cos(angle), SPOT_SIDE))
    scene = board(name, turned=True, view_angle_rad=0.0, emitter=emitter)
    x_low, y_low = -(LAMP_LOW[0] + LAMP_SIZE[0]), LAMP_LOW[1]
    place = filled((1, x_low, x_low + LAMP_SIZE[0], y_low, y_low + LAMP_SIZE[1]))
    tally = trace_slab(replace(scene, windows=place), photons=PHOTONS, seed=32)
    return tally.angles[:, 1, :, 0].sum(axis=1)


@pytest.mark.parametrize("angle_deg", [0.0, 40.0])
@pytest.mark.parametrize("name", BOARDS)
def test_lamp_and_viewer_may_be_swapped(name, angle_deg):
    angle = math.radians(angle_deg)
    counted = counted_where_the_lamp_was(name, angle)
    matt = "matt" in name
    assert_mean_within(
        seen_of_the_lamp(name, angle),
        expected=float(counted.mean()),
        # Directions toward the viewer through a matt face are drawn once: they leave some 0.3 % of a small spot
        expected_se=math.hypot(
            float(counted.std(ddof=1)) / math.sqrt(counted.size), 0.003 * float(counted.mean()) if matt else 0.0
        ),
        what=f"{name} at {angle_deg:g} deg",
    )
