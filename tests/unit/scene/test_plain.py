"""A scene of plain arrays: what is refused, and the lamp that most of them begin with."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from paneglow.errors import RangeError
from paneglow.grid import Grid
from paneglow.scene import (
    BODY_LAMINATE,
    Dome,
    Emitter,
    FaceClasses,
    InnerLayer,
    LightWall,
    Scene,
    Sheet,
    Slab,
    check_scene,
    lambertian_rectangle,
)
from paneglow.transport import trace

GRID = Grid(x_min_mm=0.0, y_min_mm=0.0, pitch_mm=1.0, n_x=4, n_y=3)
LAMP = lambertian_rectangle("D1", centre_mm=(2.0, 1.5, -0.3), size_mm=(1.0, 0.5))
CLASSES = FaceClasses(
    names=("bare", "ink"),
    transmit=np.array([[1.0], [0.4]]),
    reflect=np.array([[0.0], [0.5]]),
    haze=np.array([0.0, 1.0]),
    backing_reflect=np.zeros((2, 1)),
    roughness=np.array([0.1, 0.0]),
)
SHEET = Sheet(distance_mm=2.0, reflect=np.array([0.3]), transmit=np.array([0.6]), haze=0.5)
INNER = InnerLayer(height_mm=0.8, copper=np.zeros((3, 4), dtype=np.bool_), reflect=np.array([0.6]))
SCENE = Scene(
    grid=GRID,
    front=np.zeros((3, 4), dtype=np.uint8),
    back=np.ones((3, 4), dtype=np.uint8),
    body=np.full((3, 4), BODY_LAMINATE, dtype=np.uint8),
    classes=CLASSES,
    wavelength_nm=np.array([550.0]),
    thickness_mm=1.6,
    refractive_index=1.55,
    asymmetry=0.8,
    slabs=(Slab(name="nominal", scatter_per_mm=7.5, absorb_per_mm=np.array([0.05])),),
    emitters=(LAMP,),
    view_angle_rad=0.3,
    map_grid=GRID,
    inner=(INNER,),
    back_sheet=replace(SHEET, transmit=np.zeros(1)),
    front_sheet=SHEET,
    plating=np.array([0.5]),
    windows=np.zeros((3, 4), dtype=np.uint8),
)
DOME = Dome(radius_mm=2.0, height_mm=1.0, refractive_index=1.5, scatter_per_mm=0.1)
WALL = LightWall(length_mm=3.0, width_mm=3.0, reflect=np.array([0.8]))
IN_A_HOLE = replace(LAMP, centre_mm=(2.0, 1.5, 0.8), opening_mm=(1.6, 1.6), opening_round=True)


def with_lamp(**changes: object) -> Scene:
    return replace(SCENE, emitters=(replace(LAMP, **changes),))


def with_classes(**changes: object) -> Scene:
    return replace(SCENE, classes=replace(CLASSES, **changes))


def with_slab(**changes: object) -> Scene:
    return replace(SCENE, slabs=(replace(SCENE.slabs[0], **changes),))


def holding(values: np.ndarray, value: float) -> np.ndarray:
    changed = values.copy()
    changed.flat[0] = value
    return changed


def at_nan(values: np.ndarray) -> np.ndarray:
    return holding(values.astype(float), math.nan)


# What is wrong, and the words that name the field
WRONG: dict[str, tuple[Callable[[], Scene], str]] = {
    "a class that is not there": (lambda: replace(SCENE, front=holding(SCENE.front, 2)), "front holds 2"),
    "a class that is not there, behind": (lambda: replace(SCENE, back=holding(SCENE.back, 255)), "back holds 255"),
    "a body that is none": (lambda: replace(SCENE, body=holding(SCENE.body, 4)), "body holds 4"),
    "a face of another shape": (lambda: replace(SCENE, front=SCENE.front.T.copy()), "front is"),
    "a face of floats": (lambda: replace(SCENE, back=SCENE.back.astype(float)), "uint8"),
    "a face as a list": (lambda: replace(SCENE, front=SCENE.front.tolist()), "front is"),
    "a body of another shape": (lambda: replace(SCENE, body=SCENE.body[:2]), "body is"),
    "windows of another shape": (lambda: replace(SCENE, windows=SCENE.windows[:, :2]), "windows is"),
    "windows of another type": (lambda: replace(SCENE, windows=SCENE.windows.astype(int)), "windows is"),
    "no class": (
        lambda: with_classes(
            names=(), transmit=np.zeros((0, 1)), reflect=np.zeros((0, 1)), haze=np.zeros(0), roughness=None
        ),
        "classes.names is empty",
    ),
    "more out than in": (lambda: with_classes(transmit=np.array([[1.0], [0.9]])), "reaches 1.4"),
    "a negative transmittance": (lambda: with_classes(transmit=np.array([[1.0], [-0.1]])), "classes.transmit"),
    "a reflectance in percent": (lambda: with_classes(reflect=np.array([[0.0], [50.0]])), "classes.reflect"),
    "a body that returns more than it gets": (
        lambda: with_classes(backing_reflect=np.array([[1.2], [0.0]])),
        "classes.backing_reflect",
    ),
    "haze above one": (lambda: with_classes(haze=np.array([0.0, 1.5])), "classes.haze"),
    "coefficients without a wavelength axis": (lambda: with_classes(transmit=np.array([1.0, 0.4])), "shape (2, 1)"),
    "coefficients of another length": (lambda: with_classes(reflect=np.zeros((3, 1))), "classes.reflect"),
    "a rough coat": (lambda: with_classes(roughness=np.array([0.0, 0.1])), "only bare classes"),
    "no wavelength": (lambda: replace(SCENE, wavelength_nm=np.zeros(0)), "wavelength_nm"),
    "wavelengths in micrometres": (lambda: replace(SCENE, wavelength_nm=np.array([0.55])), "wavelength_nm"),
    "no thickness": (lambda: replace(SCENE, thickness_mm=0.0), "thickness_mm"),
    "a negative thickness": (lambda: replace(SCENE, thickness_mm=-1.6), "thickness_mm"),
    "a thickness as text": (lambda: replace(SCENE, thickness_mm="1.6"), "thickness_mm"),
    "an index below one": (lambda: replace(SCENE, refractive_index=0.9), "refractive_index"),
    "an index that is no number": (lambda: replace(SCENE, refractive_index=math.nan), "refractive_index"),
    "an asymmetry above one": (lambda: replace(SCENE, asymmetry=1.2), "asymmetry"),
    "degrees for radians": (lambda: replace(SCENE, view_angle_rad=45.0), "radians, not degrees"),
    "a view from behind": (lambda: replace(SCENE, view_angle_rad=-0.1), "view_angle_rad"),
    "no slab": (lambda: replace(SCENE, slabs=()), "slabs is empty"),
    "negative scattering": (lambda: with_slab(scatter_per_mm=-1.0), "slabs[0].scatter_per_mm"),
    "negative absorption": (lambda: with_slab(absorb_per_mm=np.array([-0.02])), "slabs[0].absorb_per_mm"),
    "absorption that is no number": (lambda: with_slab(absorb_per_mm=at_nan(np.ones(1))), "slabs[0].absorb_per_mm"),
    "absorption as one number": (lambda: with_slab(absorb_per_mm=0.02), "slabs[0].absorb_per_mm"),
    "absorption at other wavelengths": (lambda: with_slab(absorb_per_mm=np.zeros(3)), "slabs[0].absorb_per_mm"),
    "inner copper outside the slab": (lambda: replace(SCENE, inner=(replace(INNER, height_mm=2.0),)), "height_mm"),
    "inner copper of another shape": (
        lambda: replace(SCENE, inner=(replace(INNER, copper=np.zeros((2, 2), dtype=np.bool_)),)),
        "inner[0].copper",
    ),
    "inner copper of numbers": (
        lambda: replace(SCENE, inner=(replace(INNER, copper=np.zeros((3, 4))),)),
        "inner[0].copper",
    ),
    "a sheet in the board": (
        lambda: replace(SCENE, back_sheet=replace(SHEET, distance_mm=-1.0)),
        "back_sheet.distance_mm",
    ),
    "a sheet that makes light": (
        lambda: replace(SCENE, front_sheet=replace(SHEET, reflect=np.array([0.6]))),
        "front_sheet.transmit + front_sheet.reflect",
    ),
    "a plating in percent": (lambda: replace(SCENE, plating=np.array([50.0])), "plating"),
    "two lamps of one name": (lambda: replace(SCENE, emitters=(LAMP, LAMP)), "another ref"),
    "a lamp inside the slab": (lambda: with_lamp(centre_mm=(2.0, 1.5, 0.8)), "inside the slab"),
    "a lamp on the back face": (lambda: with_lamp(centre_mm=(2.0, 1.5, 0.0)), "inside the slab"),
    "a lamp without a height": (lambda: with_lamp(centre_mm=(2.0, 1.5)), "centre_mm"),
    "an axis that is no unit vector": (lambda: with_lamp(axis=(0.0, 0.0, 2.0)), "axis"),
    "sides that are not square": (lambda: with_lamp(v=(1.0, 0.0, 0.0)), "right angles"),
    "a negative side": (lambda: with_lamp(size_mm=(-1.0, 1.0)), "size_mm"),
    "cosines that rise": (lambda: with_lamp(cos_table=LAMP.cos_table[::-1].copy()), "cos_table"),
    "angles for cosines": (lambda: with_lamp(cos_table=np.linspace(0.0, 90.0, LAMP.cos_table.size)), "cos_table"),
    "shares that do not reach one": (lambda: with_lamp(cdf_table=0.5 * LAMP.cdf_table), "cdf_table"),
    "tables of two lengths": (lambda: with_lamp(cdf_table=LAMP.cdf_table[:-1]), "cdf_table"),
    "intensity in candela": (lambda: with_lamp(intensity_table=5.0 * LAMP.intensity_table), "needed is 1"),
    "a node beyond the axis": (lambda: with_lamp(nodes=np.array([1])), "indices into wavelength_nm"),
    "nodes as floats": (lambda: with_lamp(nodes=np.array([0.0])), "nodes"),
    "tristimulus values of another shape": (lambda: with_lamp(xyz_per_lm=np.ones(3)), "xyz_per_lm"),
    "tristimulus values of 683 lumen": (lambda: with_lamp(xyz_per_lm=np.full((1, 3), 683.0)), "one lumen"),
    "a negative flux": (lambda: with_lamp(flux_lm=-1.0, flux_lm_low=-1.0), "flux_lm"),
    "a flux beside its range": (lambda: with_lamp(flux_lm_low=2.0), "flux_lm is 1.0"),
    "a lamp larger than its hole": (
        lambda: replace(SCENE, emitters=(replace(IN_A_HOLE, opening_mm=(0.4, 0.4)),)),
        "must fit opening_mm",
    ),
    "a hole without size": (
        lambda: replace(SCENE, emitters=(replace(IN_A_HOLE, opening_mm=(0.0, 1.0)),)),
        "opening_mm",
    ),
    "a dome that does not hold its lamp": (lambda: with_lamp(dome=replace(DOME, height_mm=0.2)), "dome.height_mm"),
    "a dome higher than its sphere": (lambda: with_lamp(dome=replace(DOME, height_mm=3.0)), "dome.height_mm"),
    "a wall inside its lamp": (lambda: with_lamp(light_wall=replace(WALL, length_mm=0.5)), "light_wall.length_mm"),
}


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_input_is_refused_by_name_before_anything_is_traced(case: str) -> None:
    make, words = WRONG[case]
    with pytest.raises(RangeError) as refused:
        trace(make(), photons_per_led=16, seed=1)
    message = str(refused.value)
    assert words in message
    assert "\n" not in message
    assert len(message) < 300


@pytest.mark.parametrize(
    "scene",
    [
        SCENE,
        replace(SCENE, emitters=(IN_A_HOLE,)),
        with_lamp(dome=DOME, light_wall=WALL),
        replace(SCENE, emitters=(), inner=(), back_sheet=None, front_sheet=None, plating=None, windows=None),
        with_classes(roughness=None),
        with_lamp(start=np.ones(1), shifted=np.zeros((1, 1))),
    ],
)
def test_a_right_scene_passes(scene: Scene) -> None:
    check_scene(scene)


@pytest.mark.parametrize(
    "axis", [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.6, 0.0, 0.8), (0.0, -0.6, 0.8)]
)
def test_a_lambertian_rectangle_stands_square_whatever_it_faces(axis: tuple[float, float, float]) -> None:
    lamp: Emitter = lambertian_rectangle("D1", centre_mm=(0.0, 0.0, -2.0), size_mm=(1.0, 0.5), axis=axis)
    frame = np.array([lamp.u, lamp.v, lamp.axis])
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert frame[0][2] == 0.0  # the first side lies along the board
    # Lambert's law: cos / pi per unit flux, half of the flux within 45 degrees
    np.testing.assert_allclose(lamp.intensity_table, np.maximum(lamp.cos_table, 0.0) / math.pi, atol=1e-5)
    assert np.interp(-math.sqrt(0.5), -lamp.cos_table, lamp.cdf_table) == pytest.approx(0.5, abs=1e-5)
    check_scene(replace(SCENE, emitters=(lamp,)))
